"""What the page of a photo shows: verdict, numbers, what failed, and what can become of it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.logbook.readings.earlier_looks import flag_unlike
from greasecheck.logbook.readings.photo_rules import flag_early
from greasecheck.logbook.readings.readings import reading_under
from greasecheck.logbook.skulls.stays import soaking
from greasecheck.logbook.store.tables import ATTEMPTS, READINGS
from greasecheck.logbook.undo import entry_of
from greasecheck.logbook.water.baths import list_tubs, tub_start
from greasecheck.model import ReadingKind, Verdict
from greasecheck.report.season.records import Fact
from greasecheck.words.figures import (
    attenuation_words,
    capital,
    listed,
    patch_share_words,
    with_error,
)
from greasecheck.words.photos.readings import (
    absent_words,
    causes,
    left_out_words,
    seen_words,
    too_murky,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.live.photos.waiting import Waiting
    from greasecheck.logbook.records import LoggedReading
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.model import BoneReading, Reading, WaterReading

VERDICTS = {
    Verdict.GOOD: ("Good", "✓"),
    Verdict.DOUBTFUL: ("Doubtful", "?"),
    Verdict.REFUSED: ("Refused", "✕"),
}
MEANING = {
    Verdict.GOOD: "It can be trusted within its errors.",
    Verdict.DOUBTFUL: "It can be logged, but it weighs less. Better:",
    Verdict.REFUSED: "Nothing of it can be trusted. What to do:",
}
TOO_MURKY = (
    "too murky for this jar: dilute it with clean water and tell how much, or use a thinner jar"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullChoice:
    """A skull that may lie on the rest, and the tub it soaks in."""

    name: str
    tub: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPage:
    """A photo on its page.

    Attributes
    ----------
    photo : Waiting
        The photo.
    reading : Reading
        As it would be logged.
    can_draw : bool
        Whether what is bone in it can be corrected with a finger.
    verdict, mark, meaning : str
        How far to trust it: a word, a sign and a sentence.
    facts : tuple of Fact
        Its numbers; none of a refused one, which nobody should use.
    advice : tuple of str
        What failed, and what to do about it.
    remarks : tuple of str
        What was left out of it.
    seen : tuple of str
        What it shows, without figures, a sentence for each reading.
    logged : LoggedReading or None
        Its reading in the logbook.
    entry : int or None
        The entry that logged it, or that keeps the attempt.
    tubs : tuple of int
        What tub it may be of.
    skulls : tuple of SkullChoice
        What may lie on the rest.
    """

    photo: Waiting
    reading: Reading
    can_draw: bool
    verdict: str
    mark: str
    meaning: str
    facts: tuple[Fact, ...]
    advice: tuple[str, ...]
    remarks: tuple[str, ...]
    seen: tuple[str, ...]
    logged: LoggedReading | None
    entry: int | None
    tubs: tuple[int, ...]
    skulls: tuple[SkullChoice, ...]

    @property
    def whose(self) -> str:
        """Return which tubs it tells of."""
        readings = (self.reading, *self.photo.found.others)
        numbers = sorted({one.tub for one in readings if one.tub is not None})
        if not numbers:
            return "No tub"
        return f"Tub{'s' * (len(numbers) > 1)} {listed(tuple(map(str, numbers)))}"

    @property
    def outlines_px(self) -> str:
        """Return the outline of each piece of bone in pixels of the photo, as JSON."""
        pieces = self.reading.bone.pieces if self.reading.bone else ()
        return json.dumps([piece.outline_px for piece in pieces])


def photo_page(book: Logbook, photo: Waiting) -> PhotoPage:
    """Return what to show of a photo.

    Parameters
    ----------
    book : Logbook
        Where it may be logged already.
    photo : Waiting
        The photo.
    """
    reading = as_logged(book, photo)
    word, mark = VERDICTS[reading.verdict]
    logged = reading_under(book, photo.sha256)
    tubs = {tub.number for tub in list_tubs(book)} | {reading.tub}
    return PhotoPage(
        photo=photo,
        reading=reading,
        can_draw=reading.bone is not None and not photo.done and _drawing_helps(reading),
        verdict=word,
        mark=mark,
        meaning=MEANING[reading.verdict],
        facts=tuple(_facts(reading)),
        advice=tuple(_advice(reading, photo.path.name)),
        remarks=left_out_words(reading),
        seen=tuple(_seen(reading, photo.found.others)),
        logged=logged,
        entry=_entry(book, photo, logged),
        tubs=tuple(sorted(number for number in tubs if number is not None)),
        skulls=tuple(SkullChoice(name=stay.skull, tub=stay.tub) for stay in soaking(book)),
    )


def _drawing_helps(reading: Reading) -> bool:
    """Return whether another outline may mend it: what refuses a sheet's photo is not its bone."""
    return reading.verdict is not Verdict.REFUSED or reading.kind is ReadingKind.BONE


def as_logged(book: Logbook, photo: Waiting) -> Reading:
    """Return a photo's reading as it would be logged.

    It is doubtful from before its tub's first day, or when the bone is unlike its earlier looks.
    """
    reading = photo.found.reading
    if reading.verdict is not Verdict.GOOD:
        return reading
    start = None if reading.tub is None else tub_start(book, reading.tub)
    return flag_unlike(book, flag_early(reading, start), None)


def _entry(book: Logbook, photo: Waiting, logged: LoggedReading | None) -> int | None:
    if logged is not None:
        return entry_of(book, READINGS, (logged.key,))
    return entry_of(book, ATTEMPTS, (photo.sha256,)) if photo.done else None


def _facts(reading: Reading) -> Iterator[Fact]:
    if reading.verdict is Verdict.REFUSED:
        return
    if reading.water is not None:
        yield from _water_facts(reading.water)
    if reading.bone is not None:
        yield from _bone_facts(reading.bone)


def _water_facts(water: WaterReading) -> Iterator[Fact]:
    haze = attenuation_words(water.main_per_m, water.std_per_m, water.bound)
    yield Fact(name="Haze", value=haze, meaning="1 is hardly seen, 10 is cloudy, 60 is milk")
    if water.turbidity is not None and water.turbidity_std is not None:
        value = f"{with_error(water.turbidity, water.turbidity_std)} {water.turbidity_unit}"
        rough = "rough" in water.turbidity_unit
        meaning = "within a factor of two at best" if rough else "by your dilution series"
        yield Fact(name="Turbidity", value=value, meaning=meaning)
    tint = f"{water.tint_yi:.0f}"
    yield Fact(name="Tint of the water", value=tint, meaning="brown is high, milky near zero")


def _bone_facts(bone: BoneReading) -> Iterator[Fact]:
    yellow = with_error(bone.yi_e313, bone.yi_std)
    yield Fact(name="Bone yellowness", value=yellow, meaning=f"{bone.state} bone; lower is whiter")
    share = patch_share_words(bone.yellow_patch_share, bone.yellow_share_std)
    yield Fact(name="Yellow patches", value=share, meaning="of the bone that is seen")


def _seen(reading: Reading, others: Sequence[Reading]) -> Iterator[str]:
    """Say what the photo shows; of one with several readings, whose each is and how it is."""
    if not others:
        if words := seen_words(reading):
            yield f"{capital(words)}."
        return
    for one in sorted((reading, *others), key=lambda one: one.tub or 0):
        of = str(one.kind) if one.tub is None else f"tub {one.tub}"
        words = seen_words(one) or "refused"
        doubt = " (doubtful)" if one.verdict is Verdict.DOUBTFUL else ""
        yield f"{capital(of)}: {words}{doubt}."


def _advice(reading: Reading, file_name: str) -> Iterator[str]:
    for advice in causes(reading):
        yield advice.removeprefix(f"{file_name}: ")
    if too_murky(reading):
        yield TOO_MURKY
    yield from absent_words(reading)
