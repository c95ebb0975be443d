"""Prints readings as a table that fits 80 columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.measure.photo.file import file_name
from greasecheck.model import Bound, Verdict
from greasecheck.words.figures import patch_share_words
from greasecheck.words.photos.readings import causes, remarks, too_murky

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.table import Table

    from greasecheck.measure.moments import Moment
    from greasecheck.model import BoneReading, Reading, WaterReading

STYLES = {Verdict.GOOD: "green", Verdict.DOUBTFUL: "yellow", Verdict.REFUSED: "red"}
NOTHING = "-"
TOO_MURKY = (
    "too murky for this jar: dilute it with clean water and tell --dilution, or use a thinner jar"
)


def print_readings(readings: Sequence[Reading]) -> None:
    """Print a table of readings on stdout, then what to do about those that are not good."""
    from rich.console import Console  # noqa: PLC0415 - keeps start-up light

    console = Console(highlight=False)
    if readings:
        console.print(_table(readings))
    for reading in readings:
        for advice in _advice(reading):
            named = advice.removeprefix(f"{_name(reading)}: ")
            console.print(f"{_name(reading)}: {named}", style=STYLES[reading.verdict], markup=False)
        for remark in remarks(reading):
            console.print(f"{_name(reading)}: {remark}", markup=False)


def print_moments(moments: Sequence[Moment]) -> None:
    """Tell on stdout what photos of one moment say together."""
    from rich.console import Console  # noqa: PLC0415 - keeps start-up light

    for moment in moments:
        Console(highlight=False).print(_moment_words(moment), markup=False)


def _moment_words(moment: Moment) -> str:
    where = "no tub" if moment.tub is None else f"tub {moment.tub}"
    named = (("haze", moment.attenuation, " per m"), ("bone YI", moment.yellowness, ""))
    values = [f"{name} {one.value:.1f} ± {one.std:.1f}{unit}" for name, one, unit in named if one]
    spoilt = ", ".join(file_name(photo) for photo in moment.left_out)
    return (
        f"{where}: {len(moment.photos)} photos of one moment count as one reading"
        f"{''.join(f', {words}' for words in values)}{f'; left out: {spoilt}' if spoilt else ''}"
    )


def _advice(reading: Reading) -> list[str]:
    return [*_shown(reading), TOO_MURKY] if too_murky(reading) else _shown(reading)


def _shown(reading: Reading) -> list[str]:
    """Return what is wrong; of a refused photo the most telling cause, the rest mostly follows."""
    first, *more = causes(reading) or ("",)
    if reading.verdict is not Verdict.REFUSED or not more:
        return [one for one in (first, *more) if one]
    return [f"{first} ({len(more)} more, which mostly follow from it: --json)"]


def _table(readings: Sequence[Reading]) -> Table:
    from rich.box import SIMPLE_HEAD  # noqa: PLC0415 - keeps start-up light
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=0)
    table.add_column("photo", overflow="fold")
    table.add_column("tub", justify="right")
    table.add_column("haze [1/m]", justify="right", no_wrap=True)
    table.add_column("tint YI", justify="right")
    table.add_column("bone YI", justify="right", no_wrap=True)
    table.add_column("yellow", justify="right")
    table.add_column("verdict")
    for reading in readings:
        table.add_row(
            Text(_name(reading)),
            NOTHING if reading.tub is None else str(reading.tub),
            *_figures(reading),
            Text(reading.verdict, style=STYLES[reading.verdict]),
        )
    return table


def _figures(reading: Reading) -> tuple[str, str, str, str]:
    """Give the figures of a reading; none of a refused one, which nobody should use."""
    if reading.verdict is Verdict.REFUSED:
        return NOTHING, NOTHING, NOTHING, NOTHING
    water, bone = reading.water, reading.bone
    return (
        haze_words(water),
        f"{water.tint_yi:.0f}" if water else NOTHING,
        _yellowness(bone),
        patch_share_words(bone.yellow_patch_share, bone.yellow_share_std) if bone else NOTHING,
    )


def haze_words(water: WaterReading | None) -> str:
    """Say the attenuation with its error, or as a bound."""
    if water is None:
        return NOTHING
    if water.bound is Bound.ABOVE:
        return f"> {water.main_per_m:.0f}"
    if water.bound is Bound.BELOW:
        return f"< {water.main_per_m:.2f}"
    return f"{water.main_per_m:.2f} ± {water.std_per_m:.2f}"


def _yellowness(bone: BoneReading | None) -> str:
    return NOTHING if bone is None else f"{bone.yi_e313:.1f} ± {bone.yi_std:.1f}"


def _name(reading: Reading) -> str:
    return file_name(reading.photo_path)
