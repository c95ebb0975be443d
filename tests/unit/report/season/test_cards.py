"""The figures of a tub's card and what they mean."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.model.verdicts import ChangeVerdict
from greasecheck.predict.forecast_records import ClearDates
from greasecheck.report.season.cards import advice_notes, tub_facts
from greasecheck.words.reasons import no_date_words, reason_words
from greasecheck.words.times import day_words
from tests.unit.report import season_samples as samples

CLEAR_DAYS, DEGREASED_DAYS = (30.0, 40.0, 90.0), (100.0, 110.0, 120.0)
TOLD = replace(
    samples.advice(),
    forecast=replace(
        samples.advice().forecast,
        dates=ClearDates(origin=samples.START, days=np.array(CLEAR_DAYS)),
        degreased=ClearDates(origin=samples.START, days=np.array(DEGREASED_DAYS)),
        probability_clear_now=0.0,
    ),
)


def facts(**changed: Any) -> dict[str, tuple[str, str]]:  # noqa: ANN401 - fields of TubAdvice
    """Return value and meaning of each figure, where an advice has these fields."""
    shown = samples.today(haze=samples.logged())
    found = tub_facts(shown, replace(TOLD, **changed), samples.bones()[:1])
    return {fact.name: (fact.value, fact.meaning) for fact in found}


def test_water_runs_clear_as_likely_before_as_after_the_day_told() -> None:
    assert facts()["Water runs clear"][0] == day_words(samples.at(CLEAR_DAYS[1]))


def test_water_that_runs_clear_last_has_no_day() -> None:
    swapped = replace(TOLD.forecast, dates=TOLD.forecast.degreased, degreased=TOLD.forecast.dates)
    value, meaning = facts(forecast=swapped)["Water runs clear"]
    assert value == "only after it is degreased"
    assert meaning.endswith("The last grease seeps out for long; nothing waits for it")


def test_a_date_that_is_withheld_is_told_nowhere() -> None:
    slow = tuple(replace(one, withheld=ReasonCode.SLOW) for one in TOLD.skulls)
    assert facts(skulls=slow)["Water runs clear"][0] == no_date_words(ReasonCode.SLOW)


def test_of_several_skulls_the_greasiest_is_told() -> None:
    assert ", of the greasiest skull" not in facts()["Grease left in the bone"][1]
    two = (*TOLD.skulls, replace(TOLD.skulls[0], name="vixen"))
    assert "8 in 10, of the greasiest skull;" in facts(skulls=two)["Grease left in the bone"][1]


def test_the_next_change_is_told_with_its_interval_or_why_there_is_none() -> None:
    leaching = Reason(code=ReasonCode.LEACHING, values=(6.0, 0.41))
    wait = replace(
        TOLD.change, verdict=ChangeVerdict.WAIT, due_at=samples.at(23), reasons=(leaching,)
    )
    value, meaning = facts(change=wait)["Next water change"]
    assert value == day_words(samples.at(23))
    assert meaning == reason_words(leaching)
    little = Reason(code=ReasonCode.LITTLE_GREASE)
    ends = replace(wait, verdict=ChangeVerdict.ENOUGH, reasons=(little,))
    assert facts(change=ends)["Next water change"] == ("not needed", reason_words(little))
    soaks_on = Reason(code=ReasonCode.SOAKS_ON, values=(7.0,))
    on = replace(wait, reasons=(soaks_on,))
    assert facts(change=on)["Next water change"] == (value, reason_words(soaks_on))
    assert reason_words(soaks_on) not in advice_notes(replace(TOLD, change=on))  # once is enough
    assert reason_words(little) not in advice_notes(replace(TOLD, change=ends))
    more = replace(on, reasons=(soaks_on, little))
    notes = advice_notes(replace(TOLD, change=more))
    assert (notes[0], reason_words(soaks_on) in notes) == (reason_words(little), False)


@pytest.mark.parametrize(
    ("temperature_c", "meaning"),
    [(38.5, "38.5 °C, filled "), (None, "filled ")],
)
def test_a_bath_has_its_temperature_where_it_was_entered(
    temperature_c: float | None, meaning: str
) -> None:
    shown = samples.today()
    assert shown.bath is not None
    held = replace(shown, bath=replace(shown.bath, temperature_c=temperature_c))
    [bath] = tub_facts(held, None, ())
    assert (bath.name, bath.value) == ("Bath", "soap")
    assert bath.meaning == f"{meaning}{day_words(shown.bath.filled_at)}"


def test_a_bone_s_figure_is_that_of_its_last_look_with_its_patches() -> None:
    bone = samples.bones()[0]
    last = bone.looks[-1]
    looks = (*bone.looks[:-1], replace(last, yi_std=None, yellow_share_std=0.04))
    [_, seen] = tub_facts(samples.today(), None, [replace(bone, looks=looks), samples.bones()[2]])
    assert seen.value == f"{last.yi_e313:.0f}"
    assert seen.meaning == f"read {day_words(last.at)}; 20 ± 4% of its area in yellow patches"
    bare = replace(last, yellow_patch_share=None)
    [_, seen] = tub_facts(samples.today(), None, [replace(bone, looks=(bare,))])
    assert seen.meaning == f"read {day_words(last.at)}"


def test_notes_name_the_skull_that_a_reason_is_about() -> None:
    why = Reason(code=ReasonCode.LITTLE_GREASE)
    told = replace(TOLD, skulls=(replace(TOLD.skulls[0], reasons=(why,)),))
    assert f"{TOLD.skulls[0].name}: {reason_words(why)}" in advice_notes(told)
