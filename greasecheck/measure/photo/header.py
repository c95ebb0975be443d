"""Reads a picture file's header and refuses what cannot be measured, before decoding pixels."""

from __future__ import annotations

import re
import struct
import warnings
import zlib
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from itertools import islice, takewhile
from typing import TYPE_CHECKING, Any

from PIL import Image, UnidentifiedImageError
from PIL.ExifTags import IFD, Base
from PIL.TiffImagePlugin import TiffImageFile

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.exif import interoperability, orientation, xmp_orientation
from greasecheck.measure.photo.file import RETAKE_HINT
from greasecheck.measure.photo.raw import is_makers_raw, raw_size_px
from greasecheck.measure.photo.tone_profile import SAVE_HINT, refuse_hdr

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

RAW_KIND = "RAW"
TIFF_STARTS = (b"II*\0", b"MM\0*")
MAX_PIXELS = 120_000_000
STARTS = (b"\xff\xd8\xff", b"\x89PNG")  # of JPEG and PNG
HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1")
LOSSY_TIFF = ("jpeg", "tiff_jpeg")  # damage in these cannot be found
BITS_PER_SAMPLE_TAG, PLANES_TAG = 258, 284  # TIFF 6.0, section 8
SEPARATE_PLANES = 2
PNG_END, PNG_EXIF, PNG_TEXT = b"IEND", b"eXIf", b"iTXt"
XMP_KEYWORD = b"XML:com.adobe.xmp\0"  # ISO 16684-1:2019; XMP specification part 3, 1.1.5
PNG_START, PNG_DEPTH_AT = 8, 24  # signature before the first chunk; bit depth in IHDR
# SubIFDs (Adobe TIFF technical note 1), CFAPattern (TIFF/EP), DNGVersion (Adobe DNG 1.7)
RAW_TAGS = (330, 33422, 50706)
JPEG_END, JPEG_SCAN, JPEG_FILL = b"\xff\xd9", 0xDA, 0xFF  # ITU-T T.81, table B.1
SCAN_OR_END = re.compile(re.escape(bytes((JPEG_FILL, JPEG_SCAN))) + b"|" + re.escape(JPEG_END))
MOST_SCANS = 40  # usual progressive photos have 10
UNUSABLE_MODES = {
    "1": "only black and white",
    "CMYK": "inks for printing (CMYK)",
    "P": "a palette of few colours",
}
COLOUR_MODES = ("RGB", "RGBA")
DAMAGED = (  # what Pillow and libheif raise over damaged bytes
    ArithmeticError, EOFError, LookupError, OSError, RuntimeError, SyntaxError, TypeError,
    ValueError, struct.error,
)  # fmt: skip
KIND_HINT = "use JPEG, HEIC, PNG, TIFF or WebP; on a camera, choose JPEG"


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What a picture file states before its pixels are decoded.

    Attributes
    ----------
    kind : str
        JPEG, MPO (a JPEG with more pictures behind it), PNG, TIFF, WEBP, HEIC or RAW.
    width_px, height_px : int
        Size as stored [px].
    mode : str
        Pillow's name for the kind of pixels.
    deep : bool
        Whether a PNG or TIFF holds 16 bits a channel.
    pictures : int
        How many pictures the file holds.
    exif : PIL.Image.Exif
        Possibly empty.
    orientation : int
        The EXIF orientation that decoding leaves to be undone, 1 to 8.
    profile : bytes or None
        The embedded ICC profile.
    gamma : float or None
        The exponent from light to device values that a PNG states (its gAMA chunk).
    heif : pillow_heif.HeifFile or None
        The opened HEIC file.
    """

    kind: str
    width_px: int
    height_px: int
    mode: str
    deep: bool
    pictures: int
    exif: Image.Exif
    orientation: int
    profile: bytes | None
    gamma: float | None
    heif: Any

    @property
    def is_jpeg(self) -> bool:
        """Whether the file is a JPEG, alone or with more pictures behind it."""
        return self.kind in ("JPEG", "MPO")


def read_header(name: str, content: bytes) -> Header:
    """Read a picture's header.

    Parameters
    ----------
    name : str
        File name, for messages.
    content : bytes
        All of the file; it decides the kind, whatever its name is.

    Raises
    ------
    PhotoError
        When it is no picture, too large, without colour, raw, HDR, cut short, or an animation.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # Pillow's doubts about odd EXIF and large pictures
            header = _reader_of(content)(name, content)
    except Image.DecompressionBombError as error:
        raise _too_large(name) from error
    except UnidentifiedImageError as error:
        if content.startswith(STARTS):
            raise PhotoError(f"{name}: its header is damaged", hint=RETAKE_HINT) from error
        raise PhotoError(f"{name}: it is not a picture that can be read", hint=KIND_HINT) from error
    except DAMAGED as error:
        raise PhotoError(f"{name}: its header is damaged: {error}", hint=RETAKE_HINT) from error
    _check_pixels(name, header)
    if _is_cut_short(header, content):
        raise PhotoError(f"{name}: the file is cut short or damaged", hint=RETAKE_HINT)
    if header.is_jpeg and _scans(content) > MOST_SCANS:
        raise PhotoError(f"{name}: it is built to take for ever to read", hint=RETAKE_HINT)
    return header


def _reader_of(content: bytes) -> Callable[[str, bytes], Header]:
    if _is_heif(content):
        return _read_heif
    return _read_raw if _is_raw(content) else _read


def _is_raw(content: bytes) -> bool:
    """Whether it is a maker's raw file, or like a TIFF with the tags of one."""
    if content.startswith(TIFF_STARTS):
        exif = _exif(partial(_exif_of, content))
        return any(tag in exif for tag in RAW_TAGS)
    return is_makers_raw(content)


def _is_heif(content: bytes) -> bool:
    return content[4:8] == b"ftyp" and content[8:12] in HEIF_BRANDS


def _read_heif(name: str, content: bytes) -> Header:
    from pillow_heif import open_heif  # noqa: PLC0415 - loads a decoder that few photos need

    heif = open_heif(content)
    colour = heif.info.get("nclx_profile") or {}
    refuse_hdr(name, colour.get("transfer_characteristics", 0))
    return Header(
        kind="HEIC",
        width_px=heif.size[0],
        height_px=heif.size[1],
        mode=heif.mode,
        deep=False,
        pictures=1,  # of several, the primary one is taken
        exif=_exif(partial(_exif_of, heif.info.get("exif") or b"")),
        orientation=1,  # the decoder turns it upright
        profile=heif.info.get("icc_profile"),
        gamma=None,
        heif=heif,
    )


def _read(name: str, content: bytes) -> Header:
    with Image.open(BytesIO(content), formats=["JPEG", "PNG", "TIFF", "WEBP"]) as image:
        kind = str(image.format)
        if image.width * image.height > MAX_PIXELS:
            raise _too_large(name)  # before anything of it is decoded
        if kind == "TIFF" and image.info.get("compression") in LOSSY_TIFF:
            raise PhotoError(f"{name}: it is a TIFF that holds a JPEG", hint=SAVE_HINT)
        deep = _is_deep(image, content)
        if deep and isinstance(image, TiffImageFile) and _is_planar(image):
            raise PhotoError(f"{name}: its colours are kept in separate planes", hint=SAVE_HINT)
        exif = _exif(partial(_exif_of, _png_exif(content)) if kind == "PNG" else image.getexif)
        return Header(
            kind=kind,
            width_px=image.width,
            height_px=image.height,
            mode=image.mode,
            deep=deep,
            pictures=1 if kind == "MPO" else getattr(image, "n_frames", 1),
            exif=exif,
            orientation=_orientation(kind, exif, content),
            profile=image.info.get("icc_profile"),
            gamma=None if "srgb" in image.info else image.info.get("gamma"),
            heif=None,
        )


def _read_raw(name: str, content: bytes) -> Header:
    width_px, height_px = raw_size_px(name, content)
    if width_px * height_px > MAX_PIXELS:
        raise _too_large(name)
    return Header(
        kind=RAW_KIND,
        width_px=width_px,
        height_px=height_px,
        mode="RGB",
        deep=True,
        pictures=1,
        exif=_exif(partial(_exif_of, content if content.startswith(TIFF_STARTS) else b"")),
        orientation=1,  # LibRaw turns it upright
        profile=None,
        gamma=1.0,
        heif=None,
    )


def _orientation(kind: str, exif: Image.Exif, content: bytes) -> int:
    """Return the orientation to be undone; a TIFF's is undone by its decoder, as HEIC's is."""
    if kind == "TIFF":
        return 1
    if kind == "PNG" and Base.Orientation not in exif:
        return xmp_orientation(_png_xmp(content))
    return orientation(exif)


def _is_planar(image: TiffImageFile) -> bool:
    return bool(image.tag_v2.get(PLANES_TAG) == SEPARATE_PLANES)


def _is_deep(image: Image.Image, content: bytes) -> bool:
    if isinstance(image, TiffImageFile):
        return bool(max(image.tag_v2.get(BITS_PER_SAMPLE_TAG, (8,))) > 8)
    return image.format == "PNG" and content[PNG_DEPTH_AT] > 8


def _exif(read: Callable[[], Image.Exif]) -> Image.Exif:
    """Return the EXIF, decoded in all its parts; none of it when it is garbage."""
    try:
        exif = read()
        list(exif.values())  # Pillow decodes a value when it is first asked for
        for part in (IFD.Exif, IFD.GPSInfo):
            exif.get_ifd(part)
        interoperability(exif)
    except DAMAGED:
        return Image.Exif()
    return exif


def _exif_of(content: bytes) -> Image.Exif:
    exif = Image.Exif()
    if content:
        exif.load(content)
    return exif


def _check_pixels(name: str, header: Header) -> None:
    if header.width_px * header.height_px > MAX_PIXELS:
        raise _too_large(name)
    if header.pictures > 1:
        raise PhotoError(
            f"{name}: it holds {header.pictures} pictures or pages", hint="save the one you mean"
        )
    if header.mode not in COLOUR_MODES:
        reason = UNUSABLE_MODES.get(header.mode, "no colour (RGB)")
        raise PhotoError(f"{name}: it holds {reason}", hint=SAVE_HINT)


def _too_large(name: str) -> PhotoError:
    return PhotoError(
        f"{name}: it has more than {MAX_PIXELS // 1_000_000} million pixels",
        hint="take photos with 8 to 24 million pixels; more add nothing",
    )


def _is_cut_short(header: Header, content: bytes) -> bool:
    """Whether the end mark is missing; some decoders would fill the rest with grey."""
    if header.is_jpeg:
        return content.rfind(JPEG_END) < _scan_start(content)
    return header.kind == "PNG" and not _is_sound_png(content)


def _is_sound_png(content: bytes) -> bool:
    return any(name == PNG_END for name, _ in _png_chunks(content))


def _png_exif(content: bytes) -> bytes:
    return next((bytes(data) for name, data in _png_chunks(content) if name == PNG_EXIF), b"")


def _png_xmp(content: bytes) -> bytes:
    """Return the XMP of a PNG that keeps it uncompressed, as the XMP specification asks."""
    texts = (bytes(data) for name, data in _png_chunks(content) if name == PNG_TEXT)
    return next((text for text in texts if text.startswith(XMP_KEYWORD)), b"")


def _png_chunks(content: bytes) -> Iterator[tuple[bytes, memoryview]]:
    """Name and content of each chunk that keeps its checksum, up to the first that does not.

    References
    ----------
    Portable Network Graphics, third edition (W3C 2025), section 5.3.
    """
    view, at = memoryview(content), PNG_START
    while at + 12 <= len(content):
        end = at + 8 + int.from_bytes(view[at : at + 4], "big")
        if zlib.crc32(view[at + 4 : end]) != int.from_bytes(view[end : end + 4], "big"):
            return
        yield bytes(view[at + 4 : at + 8]), view[at + 8 : end]
        at = end + 4


def _scan_start(content: bytes) -> int:
    """Where a JPEG's pixels start; end marks before belong to thumbnails."""
    return next((at for at, marker in _segments(content) if marker == JPEG_SCAN), len(content))


def _scans(content: bytes) -> int:
    """How many times a JPEG goes over its pixels; the marks never occur inside a scan."""
    marks = (found[0] for found in SCAN_OR_END.finditer(content, _scan_start(content)))
    scans = takewhile(lambda mark: mark != JPEG_END, marks)
    return sum(1 for _ in islice(scans, MOST_SCANS + 1))


def _segments(content: bytes) -> Iterator[tuple[int, int]]:
    """Position and marker of each segment up to the first scan."""
    at, marker = 2, 0
    while marker != JPEG_SCAN and at + 4 <= len(content) and content[at] == JPEG_FILL:
        marker = content[at + 1]
        yield at, marker
        length = int.from_bytes(content[at + 2 : at + 4], "big")
        at += 1 if marker == JPEG_FILL else 2 + length
