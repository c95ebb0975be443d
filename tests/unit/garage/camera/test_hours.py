from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.readings.photos import Outcome
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.model.camera_notices import NoticeKind
from tests.benchmarks import camera_hours

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_real_frames_are_each_read_once_and_hours_without_light_or_colour_are_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(camera_hours, "NIGHT", range(1, 2))
    monkeypatch.setattr(camera_hours, "DUSK", range(3, 4))
    rounds, _, book = camera_hours.watch_tubs(tmp_path, 4)
    with book:
        for tub in camera_hours.TUBS:
            readings = list_readings(book, tub)
            assert [one.taken_at for one in readings] == [rounds[0].at, rounds[2].at]
            assert len({one.key for one in readings}) == 2
    assert rounds[1].picture is None
    assert [notice.kind for notice in rounds[1].notices] == [NoticeKind.NO_PICTURE]
    assert {one.outcome for one in rounds[3].logged} == {Outcome.REFUSED}
    assert all("no colour" in one.problem for one in rounds[3].logged)
