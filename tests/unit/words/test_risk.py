"""Signs of yellowing later, in words: their amounts, and what they do to the odds."""

import pytest

from greasecheck.predict.yellowing.prior import sign_priors
from greasecheck.words.risk import MEANINGS, risk_words, trust_words


def test_every_sign_of_the_table_has_words() -> None:
    assert tuple(MEANINGS) == sign_priors().names


@pytest.mark.parametrize(
    ("feature", "value", "words"),
    [
        ("residual_grease_share", 0.123, "(12%)"),
        ("residual_grease_share", 0.001, "(under 1%)"),
        ("yellowness_at_end", -3.2, "(3 below clean bone)"),
        ("yellowness_at_end", 8.0, "(8 above clean bone)"),
        ("yellowness_fall_per_week", 0.44, "(0.4 a week)"),
        ("yellowness_fall_per_week", -0.04, "(0.0 a week)"),
        ("yellowness_fall_per_week", -0.23, "(none: it rose by 0.2 a week)"),
        ("yellow_patch_share", 0.21, "(21%)"),
        ("log2_soak_over_usual", 1.0, "(2 times as long)"),
        ("log2_soak_over_usual", -3.0, "(0.12 times as long or less)"),
        ("resoaked_after_whitening", 1.0, "(yes)"),
        ("resoaked_after_whitening", 0.0, "(no)"),
    ],
)
def test_amounts_have_their_units(feature: str, value: float, words: str) -> None:
    assert f"{MEANINGS[feature]} {words}: " in risk_words(feature, value, 2.0)


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1.04, "hardly matters"),
        (0.96, "hardly matters"),
        (1.06, "raises the odds by a factor of 1.1"),
        (0.5, "lowers the odds by a factor of 2"),
        (19.9, "raises the odds by a factor of 20"),
        (20.1, "raises the odds by a factor of more than 20"),
        (1 / 21, "lowers the odds by a factor of more than 20"),
    ],
)
def test_the_odds_are_raised_or_lowered(factor: float, words: str) -> None:
    assert risk_words("yellow_patch_share", 0.2, factor).endswith(f": {words}")


@pytest.mark.parametrize(
    ("model", "told"), [(0.19, "it is better than"), (0.2, "it is no better than")]
)
def test_a_model_as_good_as_one_risk_for_all_is_no_better(model: float, told: str) -> None:
    assert told in trust_words(30, 10, (model, 0.2))
