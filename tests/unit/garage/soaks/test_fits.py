"""The season's page fits each soak once, however many of its parts ask."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, NoReturn

import pytest

from greasecheck.errors import LogbookError
from greasecheck.garage.risk.left import grease_left
from greasecheck.garage.risk.risk import learn
from greasecheck.garage.season import page as season_data
from greasecheck.garage.soaks import fits as soak_fits
from greasecheck.garage.soaks import kept as kept_fits
from greasecheck.garage.soaks.kept import all_soak_fits
from greasecheck.garage.soaks.past import as_of, past_soaks
from greasecheck.garage.tub_advice import running_advice
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.readings.corrections import mark_wrong
from greasecheck.logbook.readings.readings import find_reading
from greasecheck.logbook.soak_facts import kept_facts
from greasecheck.logbook.store.book import Logbook
from greasecheck.predict.advice import decisions as advice
from greasecheck.predict.outlook.forecasting import fit_tub
from greasecheck.predict.yellowing.residual import residual_grease
from tests.benchmarks import logbook_scale

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from greasecheck.logbook.skulls.soaks import Soak
    from greasecheck.predict.yellowing.records import Measured

TUBS = range(13, 16)
DAYS = 60
NOW = datetime.now(UTC)


@pytest.fixture
def book(
    tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Logbook]:
    monkeypatch.setattr(logbook_scale, "SOAK_DAYS", request.param)
    monkeypatch.setattr(logbook_scale, "CYCLE_DAYS", request.param + 2)
    logbook_scale.write_season(tmp_path, DAYS, TUBS)
    with Logbook(tmp_path / "season.logbook", create=True) as found:
        import_tables(found, [tmp_path])
        yield found


@pytest.fixture
def fitted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the fits as they are made."""
    made: list[str] = []

    def counted(*args: Any, **options: Any) -> object:  # noqa: ANN401 - passed on
        made.append("fit")
        return fit_tub(*args, **options)

    for module in (advice, soak_fits):
        monkeypatch.setattr(module, "fit_tub", counted)
    return made


@pytest.mark.parametrize("book", [1000], indirect=True)
def test_present_soaks_are_fitted_once(book: Logbook, fitted: list[str]) -> None:
    found = season_data.gather_season(book, NOW)
    assert len(found.tubs) == len(fitted) == len(TUBS)
    assert all(row.risk.reasons for row in found.risks)


@pytest.mark.parametrize("book", [30], indirect=True)
def test_finished_tubs_bend_the_advice_but_no_rate(book: Logbook, fitted: list[str]) -> None:
    soaks = past_soaks(book, NOW)
    season_data.gather_season(book, NOW)
    present = [soak for soak in soaks if soak.until == NOW]
    assert 0 < len(present) < len(soaks)
    assert len(fitted) == len(soaks) + len(present)


@pytest.mark.parametrize("book", [30], indirect=True)
def test_a_fit_made_for_recipes_tells_the_risk_what_its_own_would(
    book: Logbook, fitted: list[str]
) -> None:
    own = grease_left(book, past_soaks(book, NOW), NOW, {})
    fits = all_soak_fits(book, NOW)
    shared = grease_left(book, [fit.soak for fit in fits], NOW, {}, made=fits)
    assert shared == own
    assert len(shared) == len(fitted) == len(fits)


@pytest.mark.parametrize("book", [30], indirect=True)
def test_the_risk_fits_running_soaks_once_and_nothing_again(
    book: Logbook, fitted: list[str]
) -> None:
    soaks = past_soaks(book, NOW)

    def left() -> dict[Soak, Measured]:
        return grease_left(book, soaks, NOW, running_advice(book, soaks, NOW))

    first = left()
    assert len(first) == len(fitted) == len(soaks)
    assert left() == first
    assert len(fitted) == len(soaks)


@pytest.mark.parametrize("book", [1000], indirect=True)
def test_a_skull_that_left_before_the_others_is_fitted_as_of_then_and_once(
    book: Logbook, fitted: list[str]
) -> None:
    [lasting] = [soak for soak in past_soaks(book, NOW) if soak.tub == TUBS[0]]
    left_at = NOW - timedelta(days=20)
    [stays] = lasting.soaks
    leaves = replace(stays, skull="other", until=left_at, degreased=True)
    [skull] = lasting.history.skulls
    skulls = (skull, replace(skull, name="other", until=left_at))
    both = replace(lasting, soaks=(stays, leaves), history=replace(lasting.history, skulls=skulls))
    found = grease_left(book, [both], NOW, {})
    then = as_of(both, left_at).history
    assert found[leaves] == residual_grease(fit_tub(then, left_at))["other"]
    assert len(fitted) == 2
    assert grease_left(book, [both], NOW + timedelta(hours=1), {})[leaves] == found[leaves]
    assert len(fitted) == 2


@pytest.mark.parametrize("book", [30], indirect=True)
def test_the_risk_tells_the_grease_left_that_the_forecast_does(book: Logbook) -> None:
    soaks = past_soaks(book, NOW)
    advised = running_advice(book, soaks, NOW)
    left = grease_left(book, soaks, NOW, advised)
    cases = {one.known.name: one.known for one in learn(book, soaks, NOW, left).cases}
    told = [one for advice in advised.values() if advice for one in advice.forecast.skulls]
    assert told
    for one in told:
        share = cases[one.name].signs.residual_grease_share
        assert share is not None
        assert share.value == one.grease_left_share[1]


@pytest.mark.parametrize("book", [30], indirect=True)
def test_an_ended_soak_is_fitted_once_and_for_all(book: Logbook, fitted: list[str]) -> None:
    first = all_soak_fits(book, NOW)
    made = len(fitted)
    assert all_soak_fits(book, NOW) == first
    assert len(fitted) == made == len(first)
    later = NOW + kept_fits.SERVES_FOR + timedelta(hours=1)
    lasting = [fit for fit in all_soak_fits(book, later) if fit.soak.until == later]
    assert 0 < len(lasting) < len(first)
    assert len(fitted) == made + len(lasting)


@pytest.mark.parametrize("book", [30], indirect=True)
def test_a_corrected_soak_is_fitted_anew(book: Logbook, fitted: list[str]) -> None:
    ended = next(fit.soak for fit in all_soak_fits(book, NOW) if fit.soak.until < NOW)
    middle = ended.history.readings[len(ended.history.readings) // 2].at
    mark_wrong(book, find_reading(book, ended.tub, middle).key)
    before = len(fitted)
    again = {fit.soak.name: fit for fit in all_soak_fits(book, NOW)}
    assert len(fitted) == before + 1
    assert again[ended.name].soak != ended


@pytest.mark.parametrize("book", [30], indirect=True)
def test_other_code_fits_every_soak_anew(
    book: Logbook, fitted: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    first = all_soak_fits(book, NOW)
    monkeypatch.setattr(kept_fits, "model_version", lambda: "the next release")
    assert all_soak_fits(book, NOW) == first
    assert len(fitted) == 2 * len(first)


@pytest.mark.parametrize("book", [30], indirect=True)
def test_what_cannot_be_kept_is_told_all_the_same(
    book: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def locked(*_: object) -> NoReturn:
        raise LogbookError("it is locked", hint="wait")

    monkeypatch.setattr(Logbook, "transaction", locked)
    assert all_soak_fits(book, NOW)
    assert kept_facts(book) == {}
