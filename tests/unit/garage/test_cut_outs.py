"""Which side of a look stands for it: the largest whose photo is there and can be read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.garage.pictures import cut_outs as module
from greasecheck.garage.pictures.cut_outs import cut_outs
from greasecheck.logbook.readings.readings import insert_reading
from greasecheck.logbook.records import Skull
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.measure.reading import ReadSettings
from tests.logbook_samples import START, make_bone, make_reading

if TYPE_CHECKING:
    from greasecheck.logbook.records import LoggedReading
    from greasecheck.logbook.store.book import Logbook

AREAS_MM2 = {"small": 900.0, "large": 4000.0, "middle": 2000.0}


@pytest.mark.parametrize(
    ("gone", "unreadable", "shown"),
    [
        ((), (), "large"),
        (("large",), (), "middle"),
        ((), ("large",), "middle"),
        (("large", "middle"), ("small",), None),
    ],
)
def test_the_largest_side_that_can_be_shown_stands_for_a_look(
    book: Logbook,
    monkeypatch: pytest.MonkeyPatch,
    gone: tuple[str, ...],
    unreadable: tuple[str, ...],
    shown: str | None,
) -> None:
    enter_skull(book, Skull(name="fox"))
    with book.entry("photos") as entry:
        for name, area_mm2 in AREAS_MM2.items():
            bone = replace(make_bone(), area_mm2=area_mm2)
            reading = replace(make_reading(name, at=START), bone=bone)
            insert_reading(entry, reading, 12, "fox")

    def picture(side: LoggedReading, file: Path, _: ReadSettings) -> object:
        if file.stem in unreadable:
            return None
        return np.full((1, 1, 3), side.bone_area_mm2), np.ones((1, 1), bool)

    monkeypatch.setattr(module, "_picture", picture)
    [cut] = cut_outs(
        book, "fox", ReadSettings(), lambda path: None if Path(path).stem in gone else Path(path)
    )
    if shown is None:
        assert cut.rgb is None
    else:
        assert cut.rgb is not None
        assert cut.rgb[0, 0, 0] == AREAS_MM2[shown]
