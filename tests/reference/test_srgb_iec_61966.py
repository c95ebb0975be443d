"""The sRGB curve against the implementation of the library colour-science, both ways."""

import colour
import numpy as np

from greasecheck.reference.srgb import linear_of_srgb, srgb_of_linear

LEVELS = np.arange(256) / 255


def test_decoding_is_that_of_colour_science() -> None:
    assert np.allclose(linear_of_srgb(LEVELS), colour.models.eotf_sRGB(LEVELS), rtol=0, atol=1e-6)


def test_encoding_is_that_of_colour_science() -> None:
    found = srgb_of_linear(LEVELS)
    assert np.allclose(found, colour.models.eotf_inverse_sRGB(LEVELS), rtol=0, atol=1e-6)


def test_every_level_returns_to_itself() -> None:
    there_and_back = np.rint(srgb_of_linear(linear_of_srgb(LEVELS)) * 255)
    assert there_and_back.tolist() == list(range(256))
