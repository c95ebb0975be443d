"""What photos of the sheet in one light say about the camera."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

# Patches' luminance scatters around one tone curve by 0.01 to 0.025 in renders of a camera with one
# curve, by 0.04 to 0.08 in photos of a phone that maps tones by their surroundings.
LOCAL_TONES = 0.03
POOR_DELTA_E00 = 3.0  # beyond the phone that the README's table is of
EXPOSURE_APART = 0.1  # of the paper's level between photos, relative
UNEVEN_PAPER = 0.05  # as for the check of shadows


class CameraAdvice(StrEnum):
    """What to change about the camera or the light."""

    LOCK_EXPOSURE = "lock_exposure"
    NO_HDR = "no_hdr"
    RAW = "raw"
    LIGHT = "light"
    MEASURED_VALUES = "measured_values"


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraCheck:
    """What photos of the sheet in one light say about the camera.

    Attributes
    ----------
    photos : int
        How many.
    repeat_yi : float
        Standard deviation between the photos of the yellowness index of greys and bone tones, root
        mean square.
    repeat_delta_e00 : float
        Median CIEDE2000 of a patch from its mean over the photos.
    left_out_delta_e00 : float
        Mean CIEDE2000 of patches predicted by a fit that left them out.
    bone_yi_std : float
        Standard error stated for the yellowness of a typical bone.
    luminance_scatter : float
        Scatter of the patches' luminance around one tone curve, relative, root mean square.
    exposure_ratio : float
        Largest level of the bare paper over the smallest.
    light_misfit : float
        Largest departure of bare paper from a smooth light.
    absolute : bool
        Whether measured patch values were used.
    """

    photos: int
    repeat_yi: float
    repeat_delta_e00: float
    left_out_delta_e00: float
    bone_yi_std: float
    luminance_scatter: float
    exposure_ratio: float
    light_misfit: float
    absolute: bool

    @property
    def maps_tones_locally(self) -> bool:
        """Whether tones depend on their surroundings or colour, not on their own value alone."""
        return self.absolute and self.luminance_scatter > LOCAL_TONES

    @property
    def advice(self) -> tuple[CameraAdvice, ...]:
        """Return what to change, the most useful first."""
        wanted = {
            CameraAdvice.MEASURED_VALUES: not self.absolute,
            CameraAdvice.LOCK_EXPOSURE: self.exposure_ratio > 1 + EXPOSURE_APART,
            CameraAdvice.NO_HDR: self.maps_tones_locally,
            CameraAdvice.LIGHT: self.light_misfit > UNEVEN_PAPER,
            CameraAdvice.RAW: self.absolute and self.left_out_delta_e00 > POOR_DELTA_E00,
        }
        return tuple(advice for advice, needed in wanted.items() if needed)
