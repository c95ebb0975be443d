"""The chart of one tub's bones: how yellow they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.ticker import MaxNLocator

from greasecheck.model import Verdict
from greasecheck.report.charts.style import BONE, MUTED, PAPER, TUB_HEIGHT_PT, Chart, date_axis

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime, tzinfo

    from matplotlib.axes import Axes

    from greasecheck.predict.advice.done import SkullBone

MARKERS = ("o", "s", "D", "^", "v", "P")
DASHES = ("-", "--", ":", "-.")


def bone_chart(
    number: int,
    bones: Sequence[SkullBone],
    clean_yi: float,
    now: datetime,
) -> Chart | None:
    """Chart how yellow the bones of a tub are; None where none was read.

    Parameters
    ----------
    number : int
        The tub.
    bones : sequence of SkullBone
        Their readings.
    clean_yi : float
        Yellowness (ASTM E313) of clean bone.
    now : datetime.datetime
        Zone-aware; its zone is that of the axes.
    """
    seen = [bone for bone in bones if bone.looks]
    if not seen:
        return None
    lasts = ", ".join(f"{bone.name} {bone.looks[-1].yi_e313:.0f} at last" for bone in seen)
    return Chart(
        name=f"bone-{number}",
        words=f"Yellowness of the bones in tub {number}: {lasts}; clean bone has {clean_yi:.0f}.",
        height_pt=TUB_HEIGHT_PT,
        draw=lambda axes: _draw_bones(axes, seen, clean_yi, now),
    )


def _draw_bones(
    axes: Axes,
    bones: Sequence[SkullBone],
    clean_yi: float,
    now: datetime,
) -> None:
    for index, bone in enumerate(bones):
        _draw_looks(axes, bone, index, now.tzinfo)
    axes.axhline(clean_yi, color=MUTED, linewidth=1.2, linestyle="--")
    axes.annotate(
        "clean bone",
        (0.0, clean_yi),
        xycoords=("axes fraction", "data"),
        xytext=(4, -3),
        textcoords="offset points",
        va="top",
        fontsize=11,
    )
    axes.margins(y=0.18)
    axes.set_ylabel("yellowness E313")
    axes.yaxis.set_major_locator(MaxNLocator(5))
    date_axis(axes, now.tzinfo)
    if len(bones) > 1:
        axes.legend(loc="best")


def _draw_looks(
    axes: Axes,
    bone: SkullBone,
    index: int,
    zone: tzinfo | None,
) -> None:
    """Draw one bone by the marks of its index; doubtful readings are hollow and not joined."""
    for good in (True, False):
        looks = [look for look in bone.looks if (look.verdict is Verdict.GOOD) is good]
        if looks:
            axes.errorbar(
                [look.at.astimezone(zone) for look in looks],  # type: ignore[arg-type]
                [look.yi_e313 for look in looks],
                yerr=[look.yi_std or 0.0 for look in looks],
                fmt=MARKERS[index % len(MARKERS)],
                color=BONE,
                markersize=5.0,
                elinewidth=1.0,
                linewidth=0.8,
                linestyle=DASHES[index % len(DASHES)] if good else "none",
                markerfacecolor=BONE if good else PAPER,
                label=bone.name if good else None,
            )
