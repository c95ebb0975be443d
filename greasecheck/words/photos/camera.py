"""What a check of the camera says, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model.camera_check import CameraAdvice

if TYPE_CHECKING:
    from greasecheck.model.camera_check import CameraCheck

ADVICE = {
    CameraAdvice.MEASURED_VALUES: "measure the sheet's patches, or have them measured, and name the"
    " file: with nominal values nothing can be said about local tone mapping, and little about"
    " colour",
    CameraAdvice.LOCK_EXPOSURE: "lock exposure and focus (hold the finger on the sheet, or the"
    " camera's manual mode): the photos are exposed differently",
    CameraAdvice.NO_HDR: "switch off HDR, filters, scene modes and portrait modes: the camera"
    " changes tones by their surroundings",
    CameraAdvice.LIGHT: "flatten the sheet and light it evenly: its paper departs from a smooth"
    " light",
    CameraAdvice.RAW: "try another camera app, or let the camera save raw and develop it without"
    " a look: this camera's colours are hard to undo",
}


def camera_words(check: CameraCheck) -> tuple[str, ...]:
    """Return the answer, a line each."""
    tones = "not known" if not check.absolute else "yes" if check.maps_tones_locally else "no"
    return (
        f"{check.photos} photos: bone yellowness repeats within {check.repeat_yi:.1f}, colours"
        f" within {check.repeat_delta_e00:.1f} (CIEDE2000)",
        f"patches left out are predicted within {check.left_out_delta_e00:.1f} (CIEDE2000); the"
        f" yellowness of a typical bone is stated as ± {check.bone_yi_std:.1f}",
        f"tones mapped by their surroundings: {tones} (luminance scatters by"
        f" {check.luminance_scatter:.1%} around one curve)",
        *(f"- {ADVICE[advice]}" for advice in check.advice),
    )
