import hashlib
import struct
from io import BytesIO

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.tone_profile import gamma_transfer, profile_transfer, srgb_transfer
from tests.unit.measure.photo_files import (
    SRGB_CURVE,
    curve_formula,
    curve_table,
    icc_profile,
    levels,
)


def srgb_light(device: NDArray[np.float64]) -> NDArray[np.float64]:
    # IEC 61966-2-1:1999, written out once more on purpose
    light: NDArray[np.float64] = np.where(
        device <= 0.04045, device / 12.92, ((device + 0.055) / 1.055) ** 2.4
    )
    return light


def refusal(profile: bytes) -> str:
    with pytest.raises(PhotoError) as caught:
        profile_transfer("a.jpg", profile)
    assert "sRGB" in caught.value.hint
    return caught.value.problem


def test_srgb_curve_is_that_of_the_standard() -> None:
    assert srgb_transfer().shape == (1021, 3)
    assert srgb_transfer().dtype == np.float32
    np.testing.assert_allclose(srgb_transfer()[:, 0], srgb_light(levels()), atol=1e-7)


def test_shared_curves_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        srgb_transfer()[0] = 1
    with pytest.raises(ValueError, match="read-only"):
        gamma_transfer(2.0)[0] = 1


def test_display_p3_has_the_curve_of_srgb() -> None:
    transfer = profile_transfer("a.jpg", icc_profile(SRGB_CURVE))
    np.testing.assert_allclose(transfer, srgb_transfer(), atol=2e-5)  # parameters in 1/65536


def test_little_cms_reads_the_profile_made_here_alike() -> None:
    # through Little CMS: device red, green, blue to linear sRGB of its own making
    profile = icc_profile(curve_table(0x0180))
    source = ImageCms.ImageCmsProfile(BytesIO(profile))
    ramp = np.repeat(np.arange(0, 256, 5, dtype=np.uint8)[np.newaxis, :, np.newaxis], 3, axis=2)
    there = ImageCms.profileToProfile(
        Image.fromarray(ramp),
        source,
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )
    assert there is not None
    theirs = srgb_light(np.asarray(there)[0, :, 1] / 255)
    ours = profile_transfer("a.jpg", profile)[::4, 1][::5]
    np.testing.assert_allclose(ours, theirs, atol=0.006)  # 8 bits there and 8 bits back


def test_the_profile_that_little_cms_makes_is_read() -> None:
    made = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    np.testing.assert_allclose(profile_transfer("a.jpg", made), srgb_transfer(), atol=5e-4)


def test_each_channel_keeps_its_own_curve() -> None:
    profile = icc_profile(curve_table(0x0200), curve_table(0x0210), curve_table(0x0220))
    expected = np.stack([levels() ** 2, levels() ** 2.0625, levels() ** 2.125], axis=1)
    np.testing.assert_allclose(profile_transfer("a.jpg", profile), expected, atol=1e-6)


@pytest.mark.parametrize(
    ("curve", "expected"),
    # ICC.1:2022, tables 35 and 68
    [
        (curve_table(), lambda x: x),
        (curve_table(0, 65535), lambda x: x),
        (curve_table(0, 16384, 65535), lambda x: np.interp(x, [0, 0.5, 1], [0, 0.25, 1])),
        (curve_formula(0, 2.0), lambda x: x**2),
        (curve_formula(1, 2.0, 1.25, -0.25), lambda x: np.maximum(1.25 * x - 0.25, 0) ** 2),
        (
            curve_formula(2, 2.0, 1.0, -0.25, 0.25),
            lambda x: np.maximum(x - 0.25, 0) ** 2 + 0.25,
        ),
        (
            curve_formula(3, 2.0, 1.0, 0.0, 0.5, 0.5),
            lambda x: np.where(x >= 0.5, x**2, 0.5 * x),
        ),
        (
            curve_formula(4, 2.0, 1.0, 0.0, 0.5, 0.5, 0.125, 0.125),
            lambda x: np.minimum(np.where(x >= 0.5, x**2, 0.5 * x) + 0.125, 1),
        ),
    ],
)
def test_every_form_of_curve(curve: bytes, expected: object) -> None:
    assert callable(expected)
    transfer = profile_transfer("a.jpg", icc_profile(curve))
    np.testing.assert_allclose(transfer[:, 0], expected(levels()), atol=1e-4)


@pytest.mark.parametrize(
    ("space", "name"), [(b"GRAY", "GRAY"), (b"CMYK", "CMYK"), (b"Lab ", "Lab")]
)
def test_profiles_for_other_than_rgb_are_refused(space: bytes, name: str) -> None:
    assert f"is for {name}, not RGB" in refusal(icc_profile(SRGB_CURVE, space=space))


def test_profiles_without_tone_curves_are_refused() -> None:
    assert "no tone curves" in refusal(icc_profile(extra=((b"A2B0", bytes(40)),)))
    assert "no tone curves" in refusal(icc_profile(SRGB_CURVE, SRGB_CURVE))


@pytest.mark.parametrize(("code", "name"), [(16, "PQ"), (18, "HLG")])
def test_hdr_profiles_are_refused(code: int, name: str) -> None:
    cicp = b"cicp" + bytes(4) + bytes([9, code, 0, 1])
    assert f"coded for HDR ({name})" in refusal(icc_profile(SRGB_CURVE, extra=((b"cicp", cicp),)))


def test_a_profile_that_names_srgb_in_that_way_is_read() -> None:
    cicp = b"cicp" + bytes(4) + bytes([1, 13, 0, 1])
    profile = icc_profile(SRGB_CURVE, extra=((b"cicp", cicp),))
    assert profile_transfer("a.jpg", profile).shape == (1021, 3)


@pytest.mark.parametrize(
    "curves",
    [
        (curve_table(0x0180), curve_table(0x0220), curve_table(0x0220)),
        (curve_table(0x0080),),
        (curve_table(0x0400),),
        (curve_table(0, 1000),),
        (curve_table(30_000, 65_535),),
    ],
)
def test_tone_curves_of_no_camera_are_refused(curves: tuple[bytes, ...]) -> None:
    assert "profile is damaged" in refusal(icc_profile(*curves))


def test_a_profile_must_keep_the_checksum_that_it_states() -> None:
    profile = bytearray(icc_profile(SRGB_CURVE))
    digest = hashlib.md5(bytes(profile), usedforsecurity=False).digest()
    profile[84:100] = digest  # flags and intent are zero, as the sum takes them
    profile_transfer("a.jpg", bytes(profile))
    profile[-1] ^= 1
    assert "profile is damaged" in refusal(bytes(profile))


@pytest.mark.parametrize(
    "profile",
    [
        icc_profile(SRGB_CURVE)[:140],
        icc_profile(SRGB_CURVE)[:120],
        icc_profile(b"sf32" + bytes(20)),
        icc_profile(curve_table(0, 65535)[:-2]),
        icc_profile(curve_table(65535, 0)),
        icc_profile(curve_table(0, 0)),
        icc_profile(curve_formula(9, 1.0)),
        icc_profile(curve_formula(0, -2.0)),
        icc_profile(curve_formula(1, 2.0, 0.0, 0.0)),
        icc_profile(curve_formula(3, 2.0, 1.0)),
        icc_profile(b"curv" + bytes(4) + struct.pack(">I", 2**31)),
        icc_profile(SRGB_CURVE, extra=((b"cicp", b"cicp"),)),
    ],
)
def test_damaged_profiles_are_refused(profile: bytes) -> None:
    assert "colour profile" in refusal(profile)
