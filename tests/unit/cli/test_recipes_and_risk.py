from __future__ import annotations

import json
import math
import shutil
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
import typer
from typer.testing import CliRunner

from greasecheck.cli.answers import recipes, risk
from greasecheck.cli.answers.recipes import comparison_lines
from greasecheck.cli.app import CommandGroup
from greasecheck.cli.entries import cautions
from greasecheck.garage.cautions import subjects_of, used_before
from greasecheck.garage.risk.risk import Lessons, trust_line
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import FollowUp, HandReading, Tub
from greasecheck.logbook.skulls.skulls import enter_follow_up
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import BoneState, Recipe
from greasecheck.model.recipe_ratios import (
    Hindrance,
    RateRatio,
    RecipeNote,
    RecipeNoteCode,
    RecipeVerdict,
)
from greasecheck.predict.recipes.records import RecipeComparison
from greasecheck.predict.yellowing.records import ModelCheck
from greasecheck.predict.yellowing.regression import learn_yellowing
from greasecheck.reference.cautions import Ingredient, new_cautions
from greasecheck.stages import EventKind
from tests.logbook_samples import day
from tests.skull_log import happen, put_in

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from typer.testing import Result

app = typer.Typer(cls=CommandGroup)
for commands in (recipes, risk, cautions):
    commands.register(app)

SOAK_DAYS = 30
NOW = day(-5)


def soak(book: Logbook, tub: int, recipe: Recipe, decay_per_day: float) -> None:
    """Enter a fox's soak of a month, its water changed every three days and read before."""
    start, name = day(-120), f"fox {tub}"
    begin(book, tub, recipe, name, "fox", start)
    for number in range(3, SOAK_DAYS, 3):
        at = start + timedelta(days=number)
        haze = 1.0 + 40.0 * math.exp(-decay_per_day * number)
        enter_by_hand(book, reading(tub, at, haze, yellowness=20.0 + 20.0 * 0.9**number))
        change_water(book, [tub], at + timedelta(hours=1), Filling())
    log(book, name, EventKind.DEGREASED, SOAK_DAYS)
    log(book, name, EventKind.WHITENED, SOAK_DAYS + 1)


def begin(
    book: Logbook, tub: int, recipe: Recipe, name: str, species: str | None, at: datetime
) -> None:
    enter_tub(book, Tub(number=tub))
    change_water(book, [tub], at, Filling(recipe=recipe, temperature_c=40.0))
    put_in(book, name, at, tub, species=species)


def reading(tub: int, at: datetime, haze: float, yellowness: float) -> HandReading:
    return HandReading(
        tub=tub,
        taken_at=at,
        attenuation_per_m=haze,
        attenuation_std_per_m=0.3,
        bone_yi_e313=yellowness,
        bone_yi_std=0.5,
        bone_state=BoneState.BLOTTED,
    )


def log(
    book: Logbook, skull: str, kind: EventKind, after_days: int, tub: int | None = None
) -> None:
    happen(book, skull, kind, day(-120 + after_days), tub)


@pytest.fixture(scope="module")
def made_season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two tubs of soap, two of ammonia which leach quicker; follow-ups of two foxes.

    Two more skulls have just begun to soak, one of them in a tub that was used before.
    """
    path = tmp_path_factory.mktemp("made") / "season.logbook"
    with Logbook(path, create=True) as book:
        for tub in (11, 12):
            soak(book, tub, Recipe.SOAP, 0.06)
        for tub in (13, 14):
            soak(book, tub, Recipe.AMMONIA, 0.15)
        log(book, "fox 13", EventKind.RETURNED, 40)
        begin(book, 15, Recipe.SOAP, "fox 15", "fox", day(-20))
        begin(book, 11, Recipe.SOAP, "late", None, day(-15))
        for skull, yellowed in (("fox 11", True), ("fox 12", False)):
            enter_follow_up(book, FollowUp(skull=skull, seen_at=day(-120 + 80), yellowed=yellowed))
    return path


@pytest.fixture
def season(made_season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "season.logbook"
    shutil.copy(made_season, path)
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(path))
    return path


def call(*words: str) -> Result:
    return CliRunner().invoke(app, words, catch_exceptions=False)


def run(*words: str) -> str:
    result = call(*words)
    assert result.exit_code == 0, result.output
    return result.stdout


def answer(*words: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(run(*words, "--json"))
    assert found["schema"] == 1
    return found


def at_now(*words: str) -> tuple[str, ...]:
    return (*words, "--now", NOW.isoformat())


def test_recipes(season: Path) -> None:
    found = answer(*at_now("recipes"))
    (ratio,) = found["ratios"]
    assert (ratio["recipe"], ratio["baseline"]) == ("ammonia", "soap")
    assert (ratio["tubs"], ratio["baseline_tubs"]) == (2, 2)
    assert ratio["verdict"] in {"faster", "open"}
    assert ratio["probability_faster"] > 0.6
    assert 1 < ratio["ratio"] < ratio["intervals"][1]["high"]
    assert {tub["name"].split(" from")[0] for tub in found["tubs"]} == {
        f"tub {number}" for number in (11, 12, 13, 14)
    }
    assert len(found["left_out"]) == 2
    assert "No recipe is taken to be faster" in found["assumed"]


def test_recipes_in_words(season: Path) -> None:
    said = run(*at_now("recipes"))
    assert " (2 against 2 tubs)" in said
    assert "times as fast" in said
    assert "where soap takes 100 days, " in said
    assert said.count("left out:") == 2


def test_recipes_of_an_early_season_are_not_ranked(season: Path) -> None:
    said = run("recipes", "--now", day(-119).isoformat())
    assert "No tub has readings enough yet" in said


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (4, "4 more tubs of each, on the same species, would settle it in 4 cases of 5"),
        (None, "they may well be equal: 60 more tubs of each might not settle it"),
    ],
)
def test_more_tubs_in_words(more: int | None, words: str) -> None:
    ratio = RateRatio(
        recipe=Recipe.WATER,
        baseline=Recipe.SOAP,
        tubs=1,
        baseline_tubs=2,
        verdict=RecipeVerdict.NOT_RANKED,
        hindrance=Hindrance.FEW_TUBS,
        ratio=None,
        intervals=(),
        probability_faster=None,
        plain_ratio=None,
        more_tubs_each=more,
    )
    note = RecipeNote(code=RecipeNoteCode.WARMTH_APART)
    lines = comparison_lines(
        RecipeComparison(tubs=(), ratios=(ratio,), tub_scatter_log_std=0.3, notes=(note,)), []
    )
    assert lines[0] == "water against soap: not ranked (1 against 2 tubs)"
    assert words in lines[2]
    assert lines[3].startswith("note: The recipes were held at different temperatures")


def test_risk(season: Path) -> None:
    found = answer(*at_now("risk"))
    skulls = {one["skull"]: one for one in found["skulls"]}
    assert {name: one["standing"] for name, one in skulls.items()} == {
        "fox 11": "yellowed",
        "fox 12": "whitened",
        "fox 13": "returned",
        "fox 14": "whitened",
        "fox 15": "soaking",
        "late": "soaking",
    }
    assert skulls["fox 11"]["probability"] == pytest.approx(1.0)
    assert skulls["fox 12"]["probability"] < skulls["fox 14"]["probability"]  # seen white
    signs = {reason["feature"]: reason for reason in skulls["fox 14"]["reasons"]}
    assert 0 < signs["residual_grease_share"]["value"] < 0.1
    assert signs["log2_soak_over_usual"]["value"] == pytest.approx(-0.5)  # 30 of 30 to 60 days
    assert signs["yellowness_fall_per_week"]["value"] > 0
    assert skulls["fox 14"]["unmeasured"] == ["yellow_patch_share"]
    assert "log2_soak_over_usual" in skulls["late"]["unmeasured"]
    assert found["model"]["outcomes"] == 2
    assert found["model"]["without_outcome"] == 2
    assert found["model"]["check"] is None
    assert [photo["name"] for photo in found["photos"]] == ["fox 14", "fox 12"]
    assert found["photos"][0]["photo_at"] == NOW.isoformat()


def test_risk_in_words(season: Path) -> None:
    said = run(*at_now("risk", "--no-fit", "fox 14", "fox 11"))
    assert said.startswith("fox 14 (fox, whitened): yellows later with ")
    assert "fox 11 (fox, yellowed): it has yellowed" in said
    assert "not known: grease left in the bone, yellow patches" in said
    assert "follow-up photos that would teach most, the best first:" in said
    assert "learned from the follow-up of 2 skulls, of which 1 yellowed: too few" in said


def test_the_skulls_that_most_likely_yellow_come_first(season: Path) -> None:
    said = run(*at_now("risk", "--no-fit"))
    found = answer(*at_now("risk", "--no-fit"))["skulls"]
    chances = {one["skull"]: one["probability"] for one in found if one["standing"] != "yellowed"}
    named = sorted((one["skull"] for one in found), key=lambda name: said.index(f"{name} ("))
    assert len(chances) > 3
    assert named[:-1] == sorted(chances, key=lambda name: -chances[name])
    assert named[-1] == "fox 11"  # has yellowed


def test_risk_of_a_soak_just_begun_claims_no_more_than_is_known(season: Path) -> None:
    soon = (day(-20) + timedelta(hours=1)).isoformat()
    said = run("risk", "--no-fit", "fox 15", "--now", soon).splitlines()
    assert said[0].startswith("fox 15 (fox, soaking): if taken out now, yellows later with ")
    assert "(0.12 times as long or less): raises the odds by a factor of " in said[1]
    found = answer("risk", "--no-fit", "fox 15", "--now", soon)["skulls"][0]
    widest = found["intervals"][-1]
    assert widest["low"] <= found["probability"] <= widest["high"]


def test_risk_without_follow_ups_says_what_it_assumes(season: Path) -> None:
    said = run("risk", "--no-fit", "--now", day(-80).isoformat())
    assert "no follow-up yet; assumed: About one finished skull in eight" in said


def test_risk_as_of_then_looks_at_nothing_later(season: Path) -> None:
    found = answer("risk", "--no-fit", "--now", day(-100).isoformat())
    assert {one["standing"] for one in found["skulls"]} == {"soaking"}
    assert found["model"]["outcomes"] == 0


def test_risk_of_an_unknown_skull(season: Path) -> None:
    result = call(*at_now("risk", "--no-fit", "fox 99"))
    assert result.exit_code == 1
    assert "no skull called 'fox 99' has soaked" in result.stderr


def test_readings_of_the_white_bone_count_as_looks(season: Path) -> None:
    with Logbook(season) as book:
        for after, yellowness in ((35, 12.0), (80, 26.0)):
            seen = reading(12, day(-120 + after), 2.0, yellowness)
            enter_by_hand(book, replace(seen, skull="fox 14", bone_state=BoneState.DRY))
        log(book, "fox 14", EventKind.RESOAKED, 32, tub=12)
    found = answer(*at_now("risk", "--no-fit", "fox 14"))
    (skull,) = found["skulls"]
    assert skull["standing"] == "yellowed"
    assert skull["looks"] == [{"days": 49.0, "yellowed": False, "yi_rise": 14.0}]
    assert any(reason["feature"] == "resoaked_after_whitening" for reason in skull["reasons"])


def test_a_second_whitening_starts_anew_and_forgets_nothing(season: Path) -> None:
    with Logbook(season) as book:
        log(book, "fox 11", EventKind.WHITENED, 90)
    found = answer(*at_now("risk", "--no-fit", "fox 11"))
    assert found["skulls"][0]["standing"] == "whitened"
    assert found["skulls"][0]["looks"] == []
    assert (found["model"]["outcomes"], found["model"]["yellowed"]) == (2, 1)


def test_a_second_soak_starts_anew_and_forgets_nothing(season: Path) -> None:
    with Logbook(season) as book:
        log(book, "fox 11", EventKind.DRIED, 45)
        enter_tub(book, Tub(number=12))
        change_water(book, [12], day(-30), Filling(recipe=Recipe.SOAP, temperature_c=40.0))
        log(book, "fox 11", EventKind.RESOAKED, 90, tub=12)
    found = answer(*at_now("risk", "--no-fit", "fox 11"))
    assert found["skulls"][0]["standing"] == "soaking"
    assert (found["model"]["outcomes"], found["model"]["yellowed"]) == (2, 1)


def test_a_check_in_words() -> None:
    model = learn_yellowing([])
    known = replace(model, outcomes=40, yellowed=12)
    check = ModelCheck(outcomes=40, yellowed=12, brier=0.15, brier_base_rate=0.21, curve=())
    lessons = Lessons(cases=(), model=known, check=check, photos=())
    line = trust_line(lessons)
    assert "better than one risk for all (Brier 0.150 against 0.210)" in line
    line = trust_line(replace(lessons, check=replace(check, brier=0.22)))
    assert "no better than" in line


def test_cautions() -> None:
    said = run("cautions", "ammonia").splitlines()
    assert said[0].startswith("danger: Never let ammonia meet chlorine bleach")
    assert not any("Acetone vapour" in line for line in said)
    every = answer("cautions")["cautions"]
    assert len(every) > len(said)
    assert {"name", "level", "words", "subjects"} == set(every[0])


def test_what_was_used_before(season: Path, tmp_path: Path) -> None:
    with Logbook(season) as book:
        assert set(used_before(book)) == {
            Recipe.SOAP,
            Recipe.AMMONIA,
            Ingredient.HEATER,
            Ingredient.PEROXIDE,
        }
    with Logbook(tmp_path / "new.logbook", create=True) as book:
        assert used_before(book) == ()
        assert len(new_cautions(subjects_of(Recipe.ACETONE, 20.0), used_before(book))) > 5
        enter_tub(book, Tub(number=11))
        change_water(book, [11], day(-20), Filling(recipe=Recipe.ACETONE))
        assert new_cautions(subjects_of(Recipe.ACETONE, None), used_before(book)) == ()
        heated = new_cautions(subjects_of(Recipe.SOAP, 40.0), used_before(book))
        assert [caution.name for caution in heated] == ["heater and water", "hot bath"]
