"""What is known of a photo that waits, beside its file, so that a crash does not lose it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.live.photos.measuring import PhotoFacts
from greasecheck.logbook.readings.drawings import drawn_of, drawn_text
from greasecheck.model import BoneState

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """A photo's name, when it came in, and what a person said of it."""

    name: str
    arrived_at: datetime
    facts: PhotoFacts


def about_text(photo: About) -> str:
    """Return what `read_about` reads."""
    facts = photo.facts
    return json.dumps(
        {
            "name": photo.name,
            "arrived_at": photo.arrived_at.isoformat(),
            "tub": facts.tub,
            "state": facts.state,
            "dilution": facts.dilution,
            "taken_at": facts.taken_at.isoformat() if facts.taken_at else None,
            "drawn": drawn_text(facts.drawn),
        }
    )


def read_about(path: Path, photo: Path) -> About:
    """Read what is known of a photo; of one without, the time of its file.

    Parameters
    ----------
    path, photo : pathlib.Path
        The note, and the photo beside it.
    """
    try:
        noted = json.loads(path.read_text(encoding="utf-8"))
        taken_at = noted["taken_at"]
        facts = PhotoFacts(
            tub=noted["tub"],
            state=BoneState(noted["state"]),
            dilution=float(noted["dilution"]),
            taken_at=datetime.fromisoformat(taken_at) if taken_at else None,
            drawn=drawn_of(noted.get("drawn")),
        )
        arrived_at = datetime.fromisoformat(noted["arrived_at"])
        return About(name=str(noted["name"]), arrived_at=arrived_at, facts=facts)
    except (OSError, ValueError, KeyError, TypeError, LogbookError):
        came = datetime.fromtimestamp(photo.stat().st_mtime, UTC)
        return About(name="photo", arrived_at=came, facts=PhotoFacts())
