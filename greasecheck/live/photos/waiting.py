"""Photos that wait for a person's word: each in a folder of its own, which a crash leaves whole."""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import threading
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from greasecheck.errors import LiveError
from greasecheck.live.photos.about import About, about_text, read_about
from greasecheck.logbook.store.drafts import (
    draft_folder,
    held,
    make_private_folder,
    sweep,
    whole_file,
)
from greasecheck.logbook.store.file import fsync_folder
from greasecheck.measure.photo.file import file_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path
    from typing import IO

    from greasecheck.live.photos.measuring import Measured, PhotoFacts

MOST_WAITING = 30
MOST_DONE = 30
LONGEST_NAME = 60
PHOTO, ABOUT = "photo", "about.json"  # what lies in the folder of a photo that waits


class GoneError(LiveError):
    """A photo was thrown away, or was never here."""


class FullError(LiveError):
    """There is no room for another photo."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """A photo as it came in, and whether it was there already."""

    photo: Waiting
    known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A photo that came in.

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
    facts : PhotoFacts
        What a person said of it.
    measured : Measured or None
        What was found; None while it is being read.
    done : bool
        Whether it was decided; its file is then kept elsewhere.
    logged_before : bool
        Whether the logbook held it when it came in.
    """

    token: str
    name: str
    path: Path
    sha256: str
    arrived_at: datetime
    facts: PhotoFacts
    measured: Measured | None = None
    done: bool = False
    logged_before: bool = False

    @property
    def found(self) -> Measured:
        """Return what was found in a photo that was read.

        Raises
        ------
        LiveError
            While it is still being read.
        """
        if self.measured is None:
            raise LiveError("this photo is still being read", hint="look again in a few seconds")
        return self.measured


@dataclass(slots=True)
class Room:
    """Places that are kept for photos on their way; `left` of them are not taken yet."""

    left: int


class WaitingRoom:
    """Holds the photos that wait, up to a number; those of a server that was killed are there.

    Parameters
    ----------
    folder : pathlib.Path
        Where they lie; nothing else lies there.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._coming = 0
        self._photos = {photo.token: photo for photo in _left_by_another(folder)}

    @contextmanager
    def room(self, count: int) -> Iterator[Room]:
        """Keep room for `count` more photos while they come in.

        Raises
        ------
        FullError
            When there is none.
        """
        with self._lock:
            waiting = self._coming + sum(not photo.done for photo in self._photos.values())
            if waiting + count > MOST_WAITING:
                raise FullError(
                    f"{waiting} photos wait to be logged or thrown away; "
                    f"there is room for {MOST_WAITING}",
                    hint="decide on some of them first; nothing was taken in",
                )
            self._coming += count
        room = Room(count)
        try:
            yield room
        finally:
            with self._lock:
                self._coming -= room.left

    def store(self, stream: IO[bytes], name: str, facts: PhotoFacts, room: Room) -> Arrived:
        """Store an upload's bytes under a name of our own; the same bytes only once.

        Parameters
        ----------
        stream : file
            The bytes.
        name : str
            What the sender calls it.
        facts : PhotoFacts
            What a person said of it.
        room : Room
            From `room`; the photo takes a place of it.

        Raises
        ------
        FullError
            When the disk refuses.
        """
        token = secrets.token_urlsafe(16)
        path = self._folder / token / PHOTO
        try:
            with draft_folder(self._folder) as draft:
                _write(draft / PHOTO, stream)
                sha256 = _digest(draft / PHOTO)
                photo = Waiting(
                    token=token,
                    name=name,
                    path=path,
                    sha256=sha256,
                    arrived_at=datetime.now(UTC),
                    facts=facts,
                )
                return self._take_in(photo, draft, room)
        except OSError as error:
            raise FullError(
                f"the photo cannot be taken in: {error.strerror or error}",
                hint="make room on this computer's disk; nothing was taken in",
            ) from error

    def forget(self, arrivals: Iterable[Arrived]) -> None:
        """Undo the arrival of photos, except for those that had been there before."""
        for arrived in arrivals:
            if not arrived.known:
                self.throw_away(arrived.photo.token)

    def put(self, photo: Waiting) -> None:
        """Change what is known of a photo, unless it was thrown away; a decided one leaves."""
        with self._lock:
            if photo.token not in self._photos:
                return
            self._photos[photo.token] = photo
            if photo.done:
                shutil.rmtree(photo.path.parent, ignore_errors=True)
            done = [one.token for one in self._photos.values() if one.done]
            for token in done[: -MOST_DONE or None]:
                del self._photos[token]

    def update(self, photo: Waiting) -> None:
        """Change what is known of a photo, and keep what a person said of it."""
        about = photo.path.with_name(ABOUT)
        with suppress(OSError), whole_file(about) as draft:  # it is asked again after a crash
            draft.write_text(_about(photo), encoding="utf-8")
        self.put(photo)

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
                shutil.rmtree(photo.path.parent, ignore_errors=True)

    def _take_in(self, photo: Waiting, draft: Path, room: Room) -> Arrived:
        """Give a photo its place by one rename, unless the same waits already."""
        (draft / ABOUT).write_text(_about(photo), encoding="utf-8")
        with self._lock:
            for other in self._photos.values():
                if other.sha256 == photo.sha256 and not other.done:
                    return Arrived(photo=other, known=True)
            draft.rename(photo.path.parent)
            draft.mkdir()  # for the end of the draft
            self._photos[photo.token] = photo
            room.left -= 1  # its place is taken now, not kept
            self._coming -= 1
        fsync_folder(self._folder)
        return Arrived(photo=photo, known=False)


@contextmanager
def waiting_folder(folder: Path) -> Iterator[Path]:
    """Hold the folder of photos that wait, which no other server may use meanwhile.

    Raises
    ------
    LiveError
        When another live page of this logbook runs, or the disk refuses.
    """
    try:
        make_private_folder(folder)
        with held(folder) as ours:
            if not ours and os.name != "nt":
                raise LiveError(
                    f"another live page of this logbook runs: {folder} is in use",
                    hint="stop the other one first, or open its page",
                )
            sweep(folder)
            yield folder
            with suppress(OSError):
                folder.rmdir()  # goes when nothing waits
    except OSError as error:
        raise LiveError(
            f"photos cannot wait in {folder}: {error.strerror or error}",
            hint="allow writing to the logbook's folder",
        ) from error


def shown_name(sent: str | None) -> str:
    """Return a sender's file name for display: no folders, controls or endless lengths.

    Examples
    --------
    >>> shown_name("/fakepath/../tub 12.jpg"), shown_name("")
    ('tub 12.jpg', 'photo')
    """
    name = "".join(letter for letter in file_name(sent or "") if letter.isprintable()).strip()
    return f"{name[: LONGEST_NAME - 1]}…" if len(name) > LONGEST_NAME else name or "photo"


def _write(path: Path, stream: IO[bytes]) -> None:
    with path.open("xb") as file:
        shutil.copyfileobj(stream, file)
        file.flush()
        os.fsync(file.fileno())


def _digest(path: Path) -> str:
    """Return the SHA-256 of a file; one that is no photo is refused when it is read."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _left_by_another(folder: Path) -> list[Waiting]:
    """Return the photos that a server before this one took in, the oldest first."""
    found = []
    for place in folder.iterdir():
        path = place / PHOTO
        if path.is_file() and not place.name.startswith("."):
            about = read_about(place / ABOUT, path)
            photo = Waiting(
                token=place.name,
                name=shown_name(about.name),
                path=path,
                sha256=_digest(path),
                arrived_at=about.arrived_at,
                facts=about.facts,
            )
            found.append(photo)
    return sorted(found, key=lambda photo: photo.arrived_at)


def _about(photo: Waiting) -> str:
    return about_text(About(name=photo.name, arrived_at=photo.arrived_at, facts=photo.facts))
