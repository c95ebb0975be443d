"""Turns the logbook's rows into what forecasts and advice take."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.garage.ladder.eye import with_eye_gain
from greasecheck.garage.ladder.gain import ladder_gain, shares_gain, with_gain
from greasecheck.garage.stories import story_skulls, tub_story
from greasecheck.logbook.changes import denied_spans
from greasecheck.logbook.looks import join_looks
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.skulls.soaks import list_soaks, present_soaks
from greasecheck.logbook.skulls.stays import rinse_soaks, soaking
from greasecheck.logbook.water.baths import bath_at, list_baths, list_tubs
from greasecheck.logbook.water.between import list_temperatures, list_top_ups
from greasecheck.measure.moments import group_moments, join
from greasecheck.model import BodyCondition, Verdict
from greasecheck.predict.advice.bone_trend import BoneLook
from greasecheck.predict.advice.done import SkullBone
from greasecheck.predict.records import (
    SECONDS_PER_DAY,
    FinishedTub,
    HazeReading,
    SameWater,
    SoakingSkull,
    TemperatureRecord,
    TopUp,
    TubHistory,
    WaterChange,
)
from greasecheck.predict.tables import UNKNOWN_SPECIES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from greasecheck.garage.ladder.gain import LadderGain
    from greasecheck.logbook.records import Bath, LoggedReading
    from greasecheck.logbook.skulls.soaks import Soak
    from greasecheck.logbook.store.book import Logbook

# What the surest way of measuring is sure of: turbidity meters state 2 % of the reading (makers'
# data, from memory); photos of one water in lamps that nothing was fitted to scatter by 3 % from
# 30 to 60 per m (path-traced stands). No smaller stated error, typed or imported, is believed.
SUREST_SHARE = 0.02


def tub_history(book: Logbook, tub: int, now: datetime) -> TubHistory | None:
    """Return the story of a tub's present soak; None without water or a degreasing skull in it.

    Parameters
    ----------
    book : Logbook
        Where to look.
    tub : int
        Number of the tub.
    now : datetime.datetime
        Zone-aware.

    Notes
    -----
    Only changes that a person entered or confirmed go in: the forecast finds the others itself.
    A skull that soaks after whitening is left out; it has no grease left to speak of. Skulls that
    left the tub while others stayed are in it, and where each skull soaked before.
    """
    story = tub_story(book, tub, now)
    if story is None or bath_at(book, tub, now) is None:
        return None
    since = story.since
    baths = list_baths(book, tub, since=since)
    return TubHistory(
        skulls=story_skulls(book, story, now, tub_history),
        changes=water_changes(baths),
        readings=haze_readings(list_readings(book, tub, since=since)),
        temperatures=temperature_records(book, baths, now),
        same_water=same_water(book, tub),
        top_ups=top_ups(book, baths, now),
        volume_l=tub_volume_l(book, tub),
    )


def tub_volume_l(book: Logbook, tub: int) -> float | None:
    """Return the volume of the full tub [L]; None when nobody entered it."""
    return next((one.volume_l for one in list_tubs(book) if one.number == tub), None)


def temperature_records(
    book: Logbook, baths: Sequence[Bath], until: datetime
) -> tuple[TemperatureRecord, ...]:
    """Return the temperatures entered of a tub's baths, oldest first, as the forecast takes them.

    Parameters
    ----------
    book : Logbook
        Where to look.
    baths : sequence of Bath
        Those of one tub, oldest first.
    until : datetime.datetime
        Later ones are left out.
    """
    measured = [
        TemperatureRecord(at=found.at, temperature_c=found.temperature_c)
        for first in baths[:1]
        for found in list_temperatures(book, first.tub, first.filled_at, until)
    ]
    return tuple(sorted([*measured, *_found_well(book, baths, until)], key=lambda one: one.at))


def _found_well(
    book: Logbook, baths: Sequence[Bath], until: datetime
) -> Iterator[TemperatureRecord]:
    """Yield that a bath was as warm as it was filled when somebody found the heater well."""
    checks = {tub.number: tub.checked_at for tub in list_tubs(book)}
    checked_at = checks.get(baths[0].tub) if baths else None
    if checked_at is None or checked_at > until:
        return
    for bath in [bath for bath in baths if bath.filled_at <= checked_at][-1:]:
        if bath.temperature_c is not None:
            yield TemperatureRecord(at=checked_at, temperature_c=bath.temperature_c)


def top_ups(book: Logbook, baths: Sequence[Bath], until: datetime) -> tuple[TopUp, ...]:
    """Return how a tub's baths were topped up; parameters as for `temperature_records`.

    What was poured in is a share of the full tub; without its volume it is unknown.
    """
    return tuple(
        TopUp(at=poured.at, share=poured.litres / holds_l)
        for first in baths[:1]
        if (holds_l := tub_volume_l(book, first.tub)) is not None
        for poured in list_top_ups(book, first.tub, first.filled_at, until)
        if poured.litres < holds_l
    )


def same_water(book: Logbook, tub: int) -> tuple[SameWater, ...]:
    """Return the spans in which a change was denied, as the forecast takes them."""
    return tuple(
        SameWater(after=earliest, before=latest) for earliest, latest in denied_spans(book, tub)
    )


def degreasing(book: Logbook, tub: int, now: datetime) -> tuple[Soak, ...]:
    """Return the soaks in a tub that have not ended and are meant to draw grease."""
    return tuple(soak for soak in present_soaks(book, tub) if soak.since <= now and not soak.rinses)


def degreasing_tubs(book: Logbook, now: datetime) -> frozenset[int]:
    """Return the tubs in which a soak that is meant to draw grease has not ended."""
    rinsing = rinse_soaks(book)
    return frozenset(
        stay.tub
        for stay in soaking(book)
        if stay.soak_since <= now and (stay.skull, stay.soak_since) not in rinsing
    )


def finished_tubs(book: Logbook) -> tuple[FinishedTub, ...]:
    """Return how long the user's own skulls took until they were called degreased."""
    return tuple(
        FinishedTub(
            species=soak.species or UNKNOWN_SPECIES,
            days=(soak.until - soak.since).total_seconds() / SECONDS_PER_DAY,
        )
        for soak in list_soaks(book)
        if soak.degreased and soak.until is not None and soak.until > soak.since
    )


def skull_bones(book: Logbook, tub: int, now: datetime) -> tuple[SkullBone, ...]:
    """Return the bone readings before `now` of each skull that degreases in a tub.

    A reading that names no skull is of the only one there; among several it is nobody's.
    """
    soaks = degreasing(book, tub, now)
    alone = len(soaks) == 1
    return tuple(
        SkullBone(
            name=soak.skull,
            looks=bone_looks(
                list_readings(book, tub, since=soak.since, until=now), soak.skull, alone=alone
            ),
        )
        for soak in soaks
    )


def bone_looks(
    readings: Sequence[LoggedReading], skull: str, *, alone: bool
) -> tuple[BoneLook, ...]:
    """Return the looks at one skull among a tub's readings, as the advice takes them.

    Parameters
    ----------
    readings : sequence of LoggedReading
        Those of the tub.
    skull : str
        Its name.
    alone : bool
        Whether it is the only one in the tub, so that readings that name no skull are of it.
    """
    of_it = [one for one in readings if one.skull == skull or (alone and one.skull is None)]
    return tuple(
        BoneLook(
            at=look.at,
            yi_e313=look.yi_e313,
            yi_std=look.yi_std if any(side.bone_yi_std for side in look.sides) else None,
            yellow_patch_share=look.yellow_patch_share,
            yellow_share_std=look.yellow_share_std,
            state=look.state,
            verdict=look.verdict,
        )
        for look in join_looks(of_it)
    )


def soaking_skulls(soaks: Sequence[Soak], until: datetime) -> tuple[SoakingSkull, ...]:
    """Return the skulls of soaks as the forecast takes them at a time.

    Those that left before it are out of the tub; one that is taken out just then is still in it.
    """
    return tuple(
        SoakingSkull(
            name=soak.skull,
            species=soak.species or UNKNOWN_SPECIES,
            since=soak.since,
            until=soak.until if soak.until is not None and soak.until < until else None,
            condition=soak.condition or BodyCondition.UNKNOWN,
        )
        for soak in soaks
    )


def water_changes(baths: Sequence[Bath]) -> tuple[WaterChange, ...]:
    """Return fillings as the forecast takes them."""
    return tuple(
        WaterChange(
            at=bath.filled_at,
            recipe=bath.recipe,
            temperature_c=bath.temperature_c,
            carry_over=bath.carry_over_share,
        )
        for bath in baths
    )


def haze_readings(readings: Sequence[LoggedReading]) -> tuple[HazeReading, ...]:
    """Return readings as the forecast takes them; those of bones alone are left out.

    Several photos of one moment become one reading. Readings of a ladder in clear water are
    calibrated by its gain, whose error they share, and those by eye by the eye's gain.
    """
    gain = ladder_gain(readings)
    views: dict[str, list[LoggedReading]] = {}
    for reading in with_eye_gain(readings):
        if reading.attenuation_per_m is not None:
            calibrated = with_gain(reading, gain)
            views.setdefault(reading.key.partition(":")[2], []).append(calibrated)
    found = [
        _haze(moment, gain)
        for view in views.values()
        for moment in group_moments(view, lambda reading: reading.taken_at)
    ]
    return tuple(sorted(found, key=lambda reading: reading.at))


def _gain_std(sound: Sequence[LoggedReading], gain: LadderGain) -> float:
    """Return the error of the gain in what the readings of a moment say together."""
    if not all(map(shares_gain, sound)):
        return 0.0
    return max(gain.at(one.decay_per_m or 0.0)[1] for one in sound)


def _haze(moment: Sequence[LoggedReading], gain: LadderGain) -> HazeReading:
    """Join the readings of one moment; a value counts before a bound."""
    plain = [reading for reading in moment if reading.bound is None]
    used = plain or list(moment)[:1]
    joined = join(
        [reading.attenuation_per_m or 0.0 for reading in used],
        [reading.attenuation_std_per_m or 0.0 for reading in used],
    )
    sound = [reading for reading, good in zip(used, joined.sound, strict=True) if good]
    good = all(reading.verdict is Verdict.GOOD for reading in sound)
    return HazeReading(
        at=sound[0].taken_at,
        attenuation_per_m=joined.value,
        std_per_m=max(joined.std, SUREST_SHARE * joined.value),
        bound=sound[0].bound,
        verdict=Verdict.GOOD if good else Verdict.DOUBTFUL,
        log_gain_std=_gain_std(sound, gain),
        instrument=sound[0].tub,
    )
