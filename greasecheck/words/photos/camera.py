"""A check of the camera, and the notices of a fixed one, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model.camera_check import CameraAdvice
from greasecheck.model.camera_notices import NoticeKind

if TYPE_CHECKING:
    from greasecheck.model.camera_check import CameraCheck
    from greasecheck.model.camera_notices import Notice

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
NOTICES = {
    NoticeKind.NO_PICTURE: "no picture: {problem}; {hint}",
    NoticeKind.NOT_KEPT: "{problem}; {hint}",
    NoticeKind.UNREADABLE: "the picture cannot be read: {problem}",
    NoticeKind.NO_LADDER: "no ladder is seen",
    NoticeKind.MOVED: "the camera or the tubs have moved: look whether all ladders are in view",
    NoticeKind.WATER_CHANGED: "tub {tub}: the water seems to have been changed; confirm it",
    NoticeKind.LEVEL_FALLS: "tub {tub}: the water stands {amount_mm:.0f} mm below its highest: top"
    " it up?",
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


def notice_words(notice: Notice) -> str:
    """Return a notice of a camera's round.

    Examples
    --------
    >>> from greasecheck.model.camera_notices import Notice
    >>> notice_words(Notice(kind=NoticeKind.LEVEL_FALLS, tub=12, amount_mm=9.6))
    'tub 12: the water stands 10 mm below its highest: top it up?'
    """
    return NOTICES[notice.kind].format(
        tub=notice.tub,
        amount_mm=notice.amount_mm or 0.0,
        problem=notice.problem,
        hint=notice.hint,
    )
