import pytest

from greasecheck.measure.checks.limits import Limit
from greasecheck.measure.checks.verdict import refusal, requirement, verdict_of
from greasecheck.model import Verdict

MAXIMUM = Limit(name="blur_mm", doubtful=1.0, refused=2.0)
MINIMUM = Limit(name="px_per_mm", doubtful=3.0, refused=2.0, case="far")


@pytest.mark.parametrize(
    ("limit", "value", "verdict"),
    [
        (MAXIMUM, 0.5, Verdict.GOOD),
        (MAXIMUM, 1.0, Verdict.GOOD),
        (MAXIMUM, 1.5, Verdict.DOUBTFUL),
        (MAXIMUM, 2.5, Verdict.REFUSED),
        (MINIMUM, 5.0, Verdict.GOOD),
        (MINIMUM, 2.5, Verdict.DOUBTFUL),
        (MINIMUM, 1.0, Verdict.REFUSED),
    ],
)
def test_two_step_limit(limit: Limit, value: float, verdict: Verdict) -> None:
    check = limit.check(value)
    assert verdict_of([check]) is verdict
    assert check.passed is (verdict is Verdict.GOOD)
    assert check.note == ("" if check.passed else limit.case)
    assert check.limit == (limit.refused if check.hard else limit.doubtful)


def test_not_a_number_never_passes() -> None:
    assert not MAXIMUM.check(float("nan")).passed
    assert not MINIMUM.check(float("nan")).passed


def test_worst_check_decides() -> None:
    good = requirement("a", True, note="never said")
    soft = requirement("b", False, note="soft")
    hard = refusal("c")
    assert (good.note, soft.note) == ("", "soft")
    assert verdict_of([good]) is Verdict.GOOD
    assert verdict_of([good, soft]) is Verdict.DOUBTFUL
    assert verdict_of([hard, good, soft]) is Verdict.REFUSED
