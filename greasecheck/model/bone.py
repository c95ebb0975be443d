"""What a photo says of a bone, and what a person drew on it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class LeftOutReason(StrEnum):
    """Why a piece of what lies with the bone was not measured."""

    CRUMB = "crumb"
    AT_EDGE = "at_edge"
    BACKGROUND = "background"
    COLOUR = "colour"
    PAPER = "paper"
    REDDISH = "reddish"
    BROWN = "brown"
    DRAWN = "drawn"


class Stroke(StrEnum):
    """What a person drew to correct what was taken for bone."""

    OUTLINE = "outline"
    LEAVE_OUT = "leave_out"
    TAP = "tap"


class BoneState(StrEnum):
    """How wet the bone was when photographed; only like is compared with like."""

    WET = "wet"
    BLOTTED = "blotted"
    DRY = "dry"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A correction of what is bone.

    Attributes
    ----------
    stroke : Stroke
        An outline around bone, a loop around what to leave out, or a tap on a piece.
    points : tuple of (float, float)
        Its corners, or the one place tapped.
    in_px : bool
        Whether they are pixels of the upright photo, the first one's centre (0, 0); otherwise mm
        on the card or sheet.
    """

    stroke: Stroke
    points: tuple[tuple[float, float], ...]
    in_px: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BonePiece:
    """A piece of bone that was measured.

    Attributes
    ----------
    area_mm2 : float
        Its seen area [mm2], holes left open.
    outline_px : tuple of (float, float)
        Its outer outline in the upright photo [px]; the centre of the first pixel is (0, 0).
    holes_px : tuple of tuple of (float, float)
        Outlines of its holes [px].
    """

    area_mm2: float
    outline_px: tuple[tuple[float, float], ...]
    holes_px: tuple[tuple[tuple[float, float], ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """What lies with the bone and was not measured, all of one reason together.

    Attributes
    ----------
    reason : LeftOutReason
        Why.
    count : int
        Number of pieces.
    area_mm2 : float
        Their area together [mm2].
    """

    reason: LeftOutReason
    count: int
    area_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneReading:
    """The bone on the rest.

    Attributes
    ----------
    yi_e313, yi_std : float
        Median yellowness index (ASTM E313, D65/2) and its standard error.
    yi_spread : float
        Interquartile range of the yellowness index over the bone.
    lab : tuple of float
        Median CIELAB (D65/2) of the better lit half, as are the three figures that follow.
    whiteness_cie, tint_cie : float
        CIE whiteness and tint (CIE 15, D65/2).
    delta_e00_clean : float
        CIEDE2000 to the clean-bone target.
    yellow_patch_share : float
        Share of the bone's seen area that lies in yellow patches, 0 to 1.
    yellow_share_std : float
        Its standard error, by that of the yellowness index.
    area_mm2 : float
        Seen area of the bone [mm2].
    state : BoneState
        Wet, blotted or dry.
    pieces : tuple of BonePiece
        The pieces that were measured, largest first.
    left_out : tuple of LeftOut
        What lies with them and was not.
    """

    yi_e313: float
    yi_std: float
    yi_spread: float
    lab: tuple[float, float, float]
    whiteness_cie: float
    tint_cie: float
    delta_e00_clean: float
    yellow_patch_share: float
    yellow_share_std: float
    area_mm2: float
    state: BoneState
    pieces: tuple[BonePiece, ...] = ()
    left_out: tuple[LeftOut, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundLight:
    """Light on the dark ground of the rest, beside what lies on it.

    Attributes
    ----------
    hue : float
        Logarithm of X over Z less that of grey: 0 is grey, positive is redder.
    luminance : float
        Y, of the perfect diffuser in the sheet's light = 100.
    """

    hue: float
    luminance: float
