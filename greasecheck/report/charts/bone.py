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
    from greasecheck.report.charts.data import TubData

MARKERS = ("o", "s", "D", "^", "v", "P")
DASHES = ("-", "--", ":", "-.")


def bone_chart(data: TubData) -> Chart | None:
    """Chart how yellow the bones of a tub are; None where none was read."""
    seen = [bone for bone in data.bones if bone.looks]
    if not seen:
        return None
    lasts = ", ".join(f"{bone.name} {bone.looks[-1].yi_e313:.0f} at last" for bone in seen)
    return Chart(
        name=f"bone-{data.number}",
        title="Yellowness of the bone",
        words=f"Yellowness of the bones in tub {data.number}: {lasts}; "
        f"clean bone has {data.clean_yi:.0f}.",
        height_pt=TUB_HEIGHT_PT,
        draw=lambda axes: _draw_bones(axes, seen, data.clean_yi, data.now),
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
    axes.set_ylabel("yellowness")
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
