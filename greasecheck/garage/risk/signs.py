"""Gathers from the logbook what a skull showed at the end of its soak."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.garage.series import bone_looks
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.model import Verdict
from greasecheck.model.reasons import SHORTEST_LOG2_SOAK
from greasecheck.predict.advice.bone_trend import UNSTATED_YI_STD, bone_trend
from greasecheck.predict.records import SECONDS_PER_DAY
from greasecheck.predict.tables import UNKNOWN_SPECIES, species_range
from greasecheck.predict.yellowing.records import Measured, Signs
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.logbook.skulls.soaks import Soak
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.advice.bone_trend import BoneLook, BoneTrend

END_LOOKS = 3
A_SECOND = timedelta(seconds=1)
YELLOWNESS_STD = 1.5  # from photo to photo of the same bone; common practice, no source
PATCH_SHARE_STD = 0.03  # common practice, no source


def signs_at_end(
    book: Logbook, span: PastSoak, soak: Soak, end: datetime, left: Mapping[Soak, Measured]
) -> Signs:
    """Return what a skull showed at the end of a soak.

    Parameters
    ----------
    book : Logbook
        Where to look.
    span : PastSoak
        The tub's span that the soak lies in.
    soak : Soak
        The skull's soak.
    end : datetime.datetime
        Its end, or now while it lasts.
    left : mapping
        The share of grease that soaks left, where it is known.
    """
    trend, ends = _bone_at_end(book, span, soak, end)
    return Signs(
        residual_grease_share=left.get(soak),
        yellowness_at_end=_yellowness(ends),
        yellowness_fall_per_week=_fall(trend),
        yellow_patch_share=_patches(trend),
        log2_soak_over_usual=_soak_over_usual(soak, end),
    )


def _patches(trend: BoneTrend) -> Measured | None:
    share, std = trend.yellow_patch_share, trend.yellow_share_std or 0.0
    return None if share is None else Measured(value=share, std=max(std, PATCH_SHARE_STD))


def _bone_at_end(
    book: Logbook, span: PastSoak, soak: Soak, end: datetime
) -> tuple[BoneTrend, list[BoneLook]]:
    """Return the bone's trend and its last good looks in one state at the end of the soak."""
    readings = list_readings(book, span.tub, since=soak.since, until=end + A_SECOND)
    looks = bone_looks(readings, soak.skull, alone=len(span.soaks) == 1)
    good = [look for look in looks if look.verdict is Verdict.GOOD]
    alike = [look for look in good if look.state is good[-1].state]
    return bone_trend(looks, end), alike[-END_LOOKS:]


def _yellowness(ends: Sequence[BoneLook]) -> Measured | None:
    """Return how much yellower than clean bone it was.

    What looks state is the error of sheet or card and camera, common to all of them; what photos
    differ by shrinks with their number.
    """
    if not ends:
        return None
    clean = float(yellowness_e313(clean_bone().xyz))
    value = float(np.median([look.yi_e313 for look in ends])) - clean
    stated = [look.yi_std for look in ends if look.yi_std is not None]
    common = float(np.median(stated)) if stated else UNSTATED_YI_STD
    return Measured(value=value, std=float(np.hypot(common, YELLOWNESS_STD / np.sqrt(len(ends)))))


def _fall(trend: BoneTrend) -> Measured | None:
    """Return how fast the yellowness fell, its error from the ends of the slope's interval."""
    slope, low, high = (
        trend.slope_per_week,
        trend.slope_low_per_week,
        trend.slope_high_per_week,
    )
    if slope is None or low is None or high is None:
        return None
    reach = float(special.ndtri(advice_value("settled_confidence")))
    return Measured(value=-slope, std=(high - low) / 2 / reach)


def _soak_over_usual(soak: Soak, end: datetime) -> Measured | None:
    usual = species_range(soak.species or UNKNOWN_SPECIES)
    days = (end - soak.since).total_seconds() / SECONDS_PER_DAY
    if usual.species == UNKNOWN_SPECIES or days <= 0:
        return None
    log2_soak = float(np.log2(days / np.sqrt(usual.low_days * usual.high_days)))
    return Measured(value=max(log2_soak, SHORTEST_LOG2_SOAK))
