"""Days and names of files are those of this computer's zone; kept dates serve until renewed."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from greasecheck.garage.soaks.answers import Answer
from greasecheck.garage.soaks.refresh import brief_of
from greasecheck.live.photos.keeping import _kept_path
from greasecheck.live.tubs import answering
from greasecheck.live.tubs.fact_views import _day_in
from tests.logbook_samples import make_reading
from tests.unit.live.phones import TUB12, waiting_photo
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from tests.unit.live.phones import Phone


@pytest.mark.usefixtures("twelve_hours_ahead")
def test_a_chosen_day_begins_at_midnight_here() -> None:
    assert _day_in({"started": "2026-07-05"}) == datetime(2026, 7, 4, 12, tzinfo=UTC)
    assert _day_in({"started": " "}) is None


@pytest.mark.usefixtures("twelve_hours_ahead")
def test_a_kept_photo_is_named_by_the_clock_here() -> None:
    at = datetime(2026, 7, 4, 21, tzinfo=UTC)
    kept = _kept_path(Path("kept"), waiting_photo(make_reading(at=at), TUB12))
    assert kept.name.startswith("20260705-090000-")


def test_until_a_tub_is_worked_out_its_kept_dates_serve(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    brief = brief_of(samples.advice())
    kept = Answer(tub=12, made_at=samples.NOW, stale=True, overtaken=False, brief=brief)
    monkeypatch.setattr(answering, "kept_answers", lambda *_: {12: kept})
    found = answering.garage_answers(phone.live)
    assert found.being_weighed == 2
    assert set(found.dates) == {samples.NASTY}
