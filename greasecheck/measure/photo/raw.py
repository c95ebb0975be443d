"""Cameras' raw files: proportional to light, with no tone curve to guess.

They are read by LibRaw through rawpy, which `greasecheck[raw]` installs. The colours stay the
camera's own, balanced for its white; the sheet's patches calibrate them.
"""

from __future__ import annotations

from importlib.util import find_spec
from io import BytesIO
from typing import TYPE_CHECKING

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.file import RETAKE_HINT

if TYPE_CHECKING:
    from types import ModuleType

    import numpy as np
    from numpy.typing import NDArray

# First bytes of makers' raw files that are no TIFF (LibRaw's identify())
STARTS = (b"IIU\0", b"IIRO", b"IIRS", b"MMOR", b"FUJIFILMCCD-RAW")
BOXED_BRAND = b"ftypcrx "  # in place of an ISO base media file's brand
INSTALL_HINT = "install what reads it: pip install 'greasecheck[raw]'; or choose JPEG on the camera"


def is_makers_raw(content: bytes) -> bool:
    """Whether a file is a raw file of a maker's own kind; DNG and others are like TIFF."""
    return content.startswith(STARTS) or content[4:12] == BOXED_BRAND


def reads_raw() -> bool:
    """Return whether what reads raw files is installed."""
    return find_spec("rawpy") is not None


def raw_size_px(name: str, content: bytes) -> tuple[int, int]:
    """Return width and height of a raw file's picture as LibRaw turns it [px].

    Raises
    ------
    PhotoError
        When it cannot be read, or nothing is installed to read it.
    """
    rawpy = _rawpy(name)
    try:
        with rawpy.imread(BytesIO(content)) as raw:
            sizes = raw.sizes
            size_px = int(sizes.width), int(sizes.height)
    except rawpy.LibRawError as error:
        raise _unreadable(name) from error
    return size_px[::-1] if sizes.flip in (5, 6) else size_px


def develop(name: str, content: bytes) -> NDArray[np.uint16]:
    """Return a raw file's pixels, R, G, B, shape (height, width, 3), proportional to light.

    Only what lacks from the sensor's mosaic is filled in, and the white balance of the camera is
    kept; no tone curve, no brightening, no colour matrix.

    Raises
    ------
    PhotoError
        As for `raw_size_px`.
    """
    rawpy = _rawpy(name)
    try:
        with rawpy.imread(BytesIO(content)) as raw:
            pixels: NDArray[np.uint16] = raw.postprocess(
                gamma=(1, 1),
                no_auto_bright=True,
                output_bps=16,
                use_camera_wb=True,
                output_color=rawpy.ColorSpace.raw,
                demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR,
            )
    except rawpy.LibRawError as error:
        raise _unreadable(name) from error
    return pixels


def _rawpy(name: str) -> ModuleType:
    try:
        import rawpy  # noqa: PLC0415 - optional, and few photos need it
    except ImportError as error:
        raise PhotoError(f"{name}: it is a camera's raw file", hint=INSTALL_HINT) from error
    return rawpy


def _unreadable(name: str) -> PhotoError:
    return PhotoError(f"{name}: it is no raw file that can be read", hint=RETAKE_HINT)
