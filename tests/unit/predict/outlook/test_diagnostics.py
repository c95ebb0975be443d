from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.model import Recipe
from greasecheck.model.notes import NoteCode
from greasecheck.predict.outlook.diagnostics import notes_on
from greasecheck.predict.outlook.forecasting import fit_tub, forecast, project
from greasecheck.predict.records import SoakingSkull, TemperatureRecord, TubHistory, WaterChange
from greasecheck.words.notes import notes_words
from tests.unit.predict.tubs import day, fading_tub, reading


def test_readings_that_no_tub_could_give_are_called_so() -> None:
    generator = np.random.default_rng(5)
    wild = tuple(reading(d + 0.9, float(np.exp(generator.normal(2.5, 0.9)))) for d in range(40))
    found = forecast(replace(fading_tub(40), readings=wild), day(40))
    assert not found.diagnostics.describes_data
    assert any("follow no usual course" in note for note in notes_words(found.notes))


def test_haze_that_stays_high_for_some_baths_alone_is_called_so() -> None:
    """A course that no release, no growth and no leftover water makes."""
    hazes = (60 * 0.93**d + (40 if 15 < d < 25 else 0) for d in range(40))
    raised = tuple(reading(d + 0.9, haze) for d, haze in enumerate(hazes))
    found = forecast(replace(fading_tub(40), readings=raised), day(40))
    assert not found.diagnostics.describes_data
    assert found.diagnostics.residual_correlation > 0.4


def test_a_fit_that_did_not_settle_says_so() -> None:
    fit = fit_tub(fading_tub(20), day(20))
    stuck = tuple(replace(part, peak=replace(part.peak, converged=False)) for part in fit.fits)
    found = project(replace(fit, fits=stuck))
    assert not found.diagnostics.converged
    assert any("did not settle" in note for note in notes_words(found.notes))


@pytest.mark.parametrize(("stopped", "noted"), [(0.09, False), (0.11, True)])
def test_a_stop_is_noted_where_it_undoes_nine_in_ten(stopped: float, noted: bool) -> None:
    fit = fit_tub(fading_tub(3), day(3))
    found = project(fit)
    found = replace(found, diagnostics=replace(found.diagnostics, stop_share=stopped))
    codes = {note.code for note in notes_on(found, fit)}
    assert (NoteCode.STOPPED in codes) is noted


def test_what_grew_is_told_by_the_draws_of_every_form() -> None:
    fit = fit_tub(fading_tub(3), day(3))
    turned = replace(fit, form_draws=fit.form_draws[::-1])
    shares = [project(one).diagnostics.bloom_share for one in (fit, turned)]
    assert len(fit.form_draws) > 1
    assert shares[0] == pytest.approx(shares[1])


def test_a_long_silence_is_mentioned() -> None:
    found = forecast(fading_tub(20), day(50))
    assert "The last reading is 30 days old." in notes_words(found.notes)


def test_two_readings_say_little_and_the_forecast_says_so() -> None:
    history = fading_tub(3)
    found = forecast(replace(history, readings=history.readings[:1]), day(2))
    assert found.diagnostics.data_share < 0.15
    assert any("say little so far" in note for note in notes_words(found.notes))


@pytest.mark.parametrize(
    ("species", "bath_c", "cold"),
    [("sheep", 40.0, True), ("sheep", 45.0, False), ("deer", 20.0, False), ("hog", 25.0, True)],
)
def test_a_bath_in_which_fat_stays_solid_is_named(species: str, bath_c: float, cold: bool) -> None:
    tub = TubHistory(
        skulls=(SoakingSkull(name="one", species=species, since=day(0)),),
        changes=(WaterChange(at=day(0), temperature_c=30.0), WaterChange(at=day(3))),
        temperatures=(TemperatureRecord(at=day(2), temperature_c=bath_c),),
    )
    assert any("solid" in note for note in notes_words(forecast(tub, day(4)).notes)) is cold


@pytest.mark.parametrize(
    ("recipes", "solid"),
    [
        ((Recipe.ACETONE,), False),
        ((Recipe.SOAP, Recipe.ACETONE, Recipe.SOAP), True),
        ((Recipe.ACETONE, Recipe.SOAP, Recipe.ACETONE), False),
    ],
)
def test_the_present_bath_of_acetone_dissolves_solid_fat(
    recipes: tuple[Recipe, ...], solid: bool
) -> None:
    baths = (
        WaterChange(at=day(number), temperature_c=20.0, recipe=recipe)
        for number, recipe in enumerate(recipes)
    )
    tub = TubHistory(
        skulls=(SoakingSkull(name="one", species="sheep", since=day(0)),), changes=tuple(baths)
    )
    assert any("solid" in note for note in notes_words(forecast(tub, day(4)).notes)) is solid
