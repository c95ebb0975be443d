"""Three days of a camera over three tubs, with its failures: is anything lost, doubled, or kept?

Run ``python -m tests.benchmarks.camera_hours [HOURS]``: a device delivers the sample day's frames
hour by hour, with noise; at dusk it sees by infrared light, by night it is dark, for four hours it
is unplugged, for two the disk is full, and once it is moved. Prints what came of it, and the memory
in use, as JSON.
"""

from __future__ import annotations

import errno
import json
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.garage.camera.rounds import RoundSettings, Watch, do_round
from greasecheck.garage.camera.source import take_picture
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.model import Recipe
from greasecheck.model.camera_notices import NoticeKind
from greasecheck.reference import data_folder

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.garage.camera.rounds import Round

START = datetime(2026, 6, 1, 6, tzinfo=UTC)
TUBS = (11, 15, 19)
HOURS = 72
DUSK, NIGHT = range(16, 17), range(17, 24)
UNPLUGGED, FULL, MOVED = range(30, 34), range(36, 38), 50
NOISE, SHIFT_PX = 1.5, 120
PAGE_BYTES = 4096


@dataclass(slots=True)
class Camera:
    """A device whose frames are those of the sample day, by the hour; it fails at times."""

    frames: Sequence[NDArray[np.uint8]]
    hour: int = 0
    rng: np.random.Generator = field(default_factory=lambda: np.random.default_rng(1))

    def isOpened(self) -> bool:  # noqa: N802 - OpenCV's name
        """Return whether it delivers."""
        if self.hour in FULL:  # where the picture would be written
            raise OSError(errno.ENOSPC, "No space left on device")
        return self.hour not in UNPLUGGED

    def set(self, _prop: int, _value: float, /) -> bool:
        """Take any setting."""
        return True

    def read(self) -> tuple[bool, NDArray[np.uint8]]:
        """Return a frame in B, G, R."""
        frame = self.frames[self.hour // 2 % len(self.frames)]
        if self.hour % 24 in NIGHT:
            return True, np.zeros_like(frame)
        if self.hour >= MOVED:
            frame = np.roll(frame, SHIFT_PX, axis=1)
        noise = NOISE * self.rng.standard_normal(frame.shape, dtype=np.float32)
        seen = np.clip(frame + noise, 0, 255).astype(np.uint8)
        if self.hour % 24 in DUSK:
            seen = np.repeat(seen[:, :, :1], 3, axis=2)
        return True, seen

    def release(self) -> None:
        """Be given back."""


def memory_mb() -> float:
    """Return the memory in use now [MB]; 0 where it cannot be told."""
    told = Path("/proc/self/statm")
    return int(told.read_text().split()[1]) * PAGE_BYTES / 1e6 if told.exists() else 0.0


def watch_tubs(folder: Path, hours: int) -> tuple[list[Round], list[float], Logbook]:
    """Do a round an hour; return the rounds, the memory after each, and the open logbook."""
    camera = Camera(sample_frames())
    settings = RoundSettings(
        folder=folder / "rounds",
        newest=folder / "newest",
        keep=timedelta(days=30),
        take=partial(take_picture, "0", lambda _: camera),
        view=partial(view_photo, settings=ReadSettings()),
    )
    book = Logbook(folder / "season.logbook", create=True)
    for tub in TUBS:
        enter_tub(book, Tub(number=tub))
    change_water(book, TUBS, START - timedelta(hours=1), Filling(recipe=Recipe.SOAP))
    rounds, memory, watch = [], [], Watch()
    for hour in range(hours):
        camera.hour = hour
        rounds.append(do_round(book, settings, watch, START + timedelta(hours=hour)))
        memory.append(memory_mb())
    return rounds, memory, book


def sample_frames() -> list[NDArray[np.uint8]]:
    """Return the frames of the sample day in B, G, R."""
    paths = sorted((data_folder("sample_images") / "ladders").glob("2026-05-20_*.jpg"))
    return [np.asarray(cv2.imread(str(path)), dtype=np.uint8) for path in paths]


def main(hours: int = HOURS) -> None:
    """Print what came of the hours; exit with 1 when anything was lost or doubled."""
    with tempfile.TemporaryDirectory() as name:
        rounds, memory, book = watch_tubs(Path(name), hours)
        readings = {tub: list_readings(book, tub) for tub in TUBS}
        refused = [(one.at, logged.tub) for one in rounds for logged in one.logged
                   if logged.problem]  # fmt: skip
        book.close()
    seen = [one.at for one in rounds if one.picture is not None]
    lost = sum(
        (at, tub) not in {(one.taken_at, tub) for one in readings[tub]} | set(refused)
        for at in seen
        for tub in TUBS
    )
    keys = [one.key for rows in readings.values() for one in rows]
    notices = Counter(str(notice.kind) for one in rounds for notice in one.notices)
    print(
        json.dumps(
            {
                "rounds": len(rounds),
                "pictures": len(seen),
                "without_picture": notices[str(NoticeKind.NO_PICTURE)],
                "not_kept": notices[str(NoticeKind.NOT_KEPT)],
                "readings": {tub: len(rows) for tub, rows in readings.items()},
                "refused": len(refused),
                "lost": lost,
                "doubled": len(keys) - len(set(keys)),
                "notices": dict(notices),
                "memory_mb_each_12_h": [round(one) for one in memory[::12]],
                "memory_mb_at_the_end": round(memory[-1]),
            }
        )
    )
    sys.exit(bool(lost or len(keys) != len(set(keys))))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
