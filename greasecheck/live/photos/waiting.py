"""Photos that were read and wait for a person's word: in a folder that is emptied at the end."""

from __future__ import annotations

import secrets
import shutil
import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import LiveError
from greasecheck.measure.photo.file import file_name, file_sha256

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime
    from pathlib import Path
    from typing import IO

    from greasecheck.live.photos.measuring import Measured, Told

MOST_WAITING = 30
MOST_DONE = 30
LONGEST_NAME = 60


class GoneError(LiveError):
    """A photo was thrown away, or was never here."""


class FullError(LiveError):
    """There is no room for another photo."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """A file as it came in: where it lies, its digest, and whether it was there already."""

    token: str
    path: Path
    sha256: str
    known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A photo that was read.

    Attributes
    ----------
    token : str
        Names it in addresses; cannot be guessed.
    name : str
        What the sender calls it, for display only.
    path : pathlib.Path
        Where it lies until it is decided.
    sha256 : str
        Digest of its bytes.
    arrived_at : datetime.datetime
        When it came in.
    told : Told
        What a person said of it.
    measured : Measured
        What was found.
    done : bool
        Whether it was decided; its file is then kept elsewhere.
    """

    token: str
    name: str
    path: Path
    sha256: str
    arrived_at: datetime
    told: Told
    measured: Measured
    done: bool = False


class WaitingRoom:
    """Holds the photos that wait, up to a number.

    Parameters
    ----------
    folder : pathlib.Path
        Where their files lie; nothing else lies there.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._photos: dict[str, Waiting] = {}

    def require_room(self, count: int) -> None:
        """Raise FullError unless `count` more photos may come in."""
        waiting = len(self.waiting())
        if waiting + count > MOST_WAITING:
            raise FullError(
                f"{waiting} photos wait to be logged or thrown away; "
                f"there is room for {MOST_WAITING}",
                hint="decide on some of them first; nothing was taken in",
            )

    def store(self, stream: IO[bytes]) -> Arrived:
        """Store an upload's bytes under a name of our own; the same bytes only once.

        Raises
        ------
        FullError
            When the disk refuses.
        """
        token = secrets.token_urlsafe(16)
        path = self._folder / token
        try:
            with path.open("xb") as file:
                shutil.copyfileobj(stream, file)
        except OSError as error:
            path.unlink(missing_ok=True)
            raise FullError(
                f"the photo cannot be taken in: {error.strerror or error}",
                hint="make room on this computer's disk; nothing was taken in",
            ) from error
        sha256 = file_sha256(path)
        for photo in self.waiting():
            if photo.sha256 == sha256:
                path.unlink()
                return Arrived(token=photo.token, path=photo.path, sha256=sha256, known=True)
        return Arrived(token=token, path=path, sha256=sha256, known=False)

    def forget(self, arrivals: Iterable[Arrived]) -> None:
        """Undo the arrival of files, but for those that had been there before."""
        with self._lock:
            for arrived in arrivals:
                if not arrived.known:
                    self._photos.pop(arrived.token, None)
                    arrived.path.unlink(missing_ok=True)

    def put(self, photo: Waiting) -> None:
        """Take a photo in, or change what is known of it."""
        with self._lock:
            self._photos[photo.token] = photo
            done = [one.token for one in self._photos.values() if one.done]
            for token in done[: -MOST_DONE or None]:
                del self._photos[token]

    def get(self, token: str) -> Waiting:
        """Return the photo under a token.

        Raises
        ------
        GoneError
            When there is none.
        """
        photo = self._photos.get(token)
        if photo is None:
            raise GoneError("this photo is not here any more", hint="send it again if need be")
        return photo

    def waiting(self) -> tuple[Waiting, ...]:
        """Return the photos that are not decided, in order of arrival."""
        with self._lock:
            return tuple(photo for photo in self._photos.values() if not photo.done)

    def done(self) -> tuple[Waiting, ...]:
        """Return the photos that were decided, the last first."""
        with self._lock:
            return tuple(photo for photo in reversed(self._photos.values()) if photo.done)

    def throw_away(self, token: str) -> None:
        """Forget a photo that waits, and remove its file."""
        with self._lock:
            photo = self._photos.get(token)
            if photo is not None and not photo.done:
                del self._photos[token]
                photo.path.unlink(missing_ok=True)


def shown_name(sent: str | None) -> str:
    """Return a sender's file name for display: no folders, controls or endless lengths.

    Examples
    --------
    >>> shown_name("/fakepath/../tub 12.jpg"), shown_name("")
    ('tub 12.jpg', 'photo')
    """
    name = "".join(letter for letter in file_name(sent or "") if letter.isprintable()).strip()
    return f"{name[: LONGEST_NAME - 1]}…" if len(name) > LONGEST_NAME else name or "photo"
