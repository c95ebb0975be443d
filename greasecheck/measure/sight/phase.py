"""Measures by harmonics of the bars how far they are moved and stretched, how sharp they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import medians

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.measure.sight.bars import Alignment, Strips
    from greasecheck.model import BoolArray, FloatArray

    ComplexArray = NDArray[np.complex128]

HALVES = ((-0.5, 0.0), (0.0, 0.5))  # of the field's width
LEAST_EDGES = 0.2  # of the print's third harmonic: less is lost in noise and JPEG blocks
SURE = 2.0  # standard errors that are put down to noise
TINY = 1e-9  # keeps the ratio of bars that murk hides finite
LEAST_KEPT = 0.5  # of the modulation of bare bars, of which an empty jar takes 0.15 (Fresnel)
MEDIAN_LOSS = 1.2533  # standard error of a median over that of a mean, normal distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Magnification of the bars, as in `Alignment`, with its standard error."""

    value: float
    std: float


def measure_stretch(strips: Strips, near: Alignment) -> Stretch:
    """Measure the stretch of a field from the bars' phase in its left and its right half.

    Parameters
    ----------
    strips : Strips
        The field of bars; each band is measured by itself, their scatter gives the error.
    near : Alignment
        Where the bars appear, within a quarter of their period.
    """
    edges_mm = (strips.x_mm - near.shift_mm) / near.stretch
    left, right = (_offsets_mm(strips, edges_mm, half) for half in HALVES)
    stretches = near.stretch * (1 + (right - left) / (strips.width_mm / 2))
    error = stretches.std(ddof=1) / np.sqrt(len(stretches))
    return Stretch(value=float(medians(stretches)), std=float(MEDIAN_LOSS * error))


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """How sharp the edges of bars behind the jar are, those of the dry ones = 1.

    Attributes
    ----------
    at_least, at_most : float
        Two standard errors below and above what was measured.
    """

    at_least: float
    at_most: float


def edges_kept(wet: Strips, wet_at: Alignment, dry: Strips, dry_at: Alignment) -> Edges | None:
    """Return how sharp the edges of bars behind the jar are.

    It is their third harmonic over the fundamental. Murk takes light from both alike, and what it
    scatters forward spreads so far that it makes neither; smear and mist on the glass blur a bar's
    edge by a fraction of a millimetre, which takes the third harmonic away.

    Returns
    -------
    Edges or None
        None where the photo does not show the edges of the dry bars either.
    """
    behind, plain = _third_harmonic(wet, wet_at), _third_harmonic(dry, dry_at)
    usual = float(medians(plain))
    if usual < LEAST_EDGES:
        return None
    middle = float(medians(behind))
    noise = SURE * MEDIAN_LOSS * float(behind.std(ddof=1) / np.sqrt(len(behind)))
    return Edges(at_least=(middle - noise) / usual, at_most=(middle + noise) / usual)


def _third_harmonic(strips: Strips, at: Alignment) -> FloatArray:
    """Third harmonic over the fundamental in each band, those of the print = 1, shape (bands,).

    A shift of the bars turns the third harmonic three times as far as the fundamental.
    """
    edges_mm = (strips.x_mm - at.shift_mm) / at.stretch
    place = (edges_mm[:-1] + edges_mm[1:]) / 2
    inside = np.abs(place) < strips.width_mm / 2
    window = np.cos(np.pi * place[inside] / strips.width_mm) ** 2
    ends = edges_mm + strips.width_mm / 2
    white = (np.diff(_white_up_to(ends, strips.bar_mm)) / np.diff(edges_mm))[inside]
    light = strips.light[:, inside].mean(axis=-1)
    first, third = (
        (light @ wave) / (white @ wave)
        for wave in (
            window * np.exp(-1j * np.pi * order * place[inside] / strips.bar_mm) for order in (1, 3)
        )
    )
    size = np.maximum(np.abs(first), TINY)
    return np.asarray((third * np.conj((first / size) ** 3)).real / size)


def as_printed(strips: Strips, through_water: Alignment, bare_modulation: float) -> BoolArray:
    """Return which bands show their bars where they were printed, as no water does.

    They are nearer to there than to where they appear through water, they spread by less than half
    of what it does, and they keep half of the modulation of bare bars at least: noise moves bars
    that murk hides.

    Parameters
    ----------
    strips : Strips
        The field of bars.
    through_water : Alignment
        Where the bars appear through water.
    bare_modulation : float
        (white - black) / (white + black) of the bars with nothing before them.

    Returns
    -------
    ndarray, shape (bands,), bool
    """
    halves = np.stack([_fundamental(strips, strips.x_mm, half) for half in HALVES])
    period = 2 * strips.bar_mm
    middles_mm = np.mean(HALVES, axis=1, keepdims=True) * strips.width_mm
    by_water = (through_water.stretch - 1) * middles_mm + through_water.shift_mm
    wave = np.exp(-2j * np.pi * by_water / period)
    from_print, from_water = (_offset_mm(seen, period) for seen in (halves, halves / wave))
    nearer = (from_print**2).sum(axis=0) < (from_water**2).sum(axis=0)
    spread = from_print[1] - from_print[0]
    unstretched = spread < (through_water.stretch - 1) * strips.width_mm / 4
    clear = np.abs(halves).min(axis=0) > LEAST_KEPT * bare_modulation
    return np.asarray(nearer & unstretched & clear)


def _offsets_mm(strips: Strips, edges_mm: FloatArray, half: tuple[float, float]) -> FloatArray:
    """How far the bars of one half lie to the right of their place, shape (bands,) [mm].

    The columns' edges are given as places on the print.
    """
    return _offset_mm(_fundamental(strips, edges_mm, half), 2 * strips.bar_mm)


def _offset_mm(fundamental: ComplexArray, period: float) -> FloatArray:
    return np.asarray(-np.angle(fundamental) * period / (2 * np.pi))


def _fundamental(strips: Strips, edges_mm: FloatArray, half: tuple[float, float]) -> ComplexArray:
    """Modulation of the bars of one half, (white - black) / (white + black), turned by its phase.

    Shape (bands,). That of the print is 1; a Hann window keeps uneven light out of the phase.
    """
    low, high = (share * strips.width_mm for share in half)
    place = (edges_mm[:-1] + edges_mm[1:]) / 2
    inside = (place > low) & (place < high)
    period = 2 * strips.bar_mm
    window = np.sin(np.pi * (place[inside] - low) / (high - low)) ** 2
    wave = window * np.exp(-2j * np.pi * place[inside] / period)
    white = np.diff(_white_up_to(edges_mm + strips.width_mm / 2, strips.bar_mm))[inside]
    white /= np.diff(edges_mm)[inside]
    light = strips.light[:, inside].mean(axis=-1)
    usual = light @ window / window.sum()
    return np.asarray((light @ wave) / (white @ wave) / np.maximum(2 * usual, TINY))


def _white_up_to(place_mm: FloatArray, bar_mm: float) -> FloatArray:
    """Width of white bars up to a place on the field, of which the first bar is black [mm]."""
    bars = place_mm / bar_mm
    pairs = np.floor(bars / 2)
    return np.asarray(bar_mm * (pairs + np.maximum(bars - 2 * pairs - 1, 0)))
