"""What a camera does to tones: one curve, used in two ways at once, and a power for each channel.

Cameras put their curve on R, G and B each, which raises saturation, or on the luminance, which
keeps hue and saturation (Adobe DNG specification 1.7, ProfileToneCurve, from memory); phones do
something between. How far follows from the chromatic patches (`model.py`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.colour.tone_curve import ToneCurve, fit_tones, identity_tone
from greasecheck.reference.srgb import LUMINANCE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.measure.sheet.samples import PointSamples
    from greasecheck.model import BoolArray, FloatArray

# Of the channels' powers around that of green. Without them the yellowness of left-out dark greys
# of real photos is off by 4.7 instead of 3.4 (root mean square), with three times of it by 3.1, and
# that of lighter greys by 2.1 instead of 1.8.
POWER_STD = 0.01
GREY_STD = 0.01  # relative, of a grey's red over green and blue over green: print and photo noise
LEAST_VALUE = 1e-6  # keeps logarithms finite
RED, GREEN, BLUE = 0, 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraTone:
    """From profile-linear values to linear scene light.

    Attributes
    ----------
    curve : ToneCurve
        The curve to undo.
    powers : ndarray, shape (3,)
        Exponents of R, G, B to be undone before, less 1; 0 for green.
    pivot : ndarray, shape (3,)
        Values that the powers leave as they are.
    luminance_share : float
        How far the curve is put on the luminance, the rest on each channel, 0 to 1.
    """

    curve: ToneCurve
    powers: FloatArray
    pivot: FloatArray
    luminance_share: float

    def __call__(self, linear: FloatArray | NDArray[np.float32]) -> FloatArray:
        """Return the scene light of profile-linear values, shape (..., 3); below 0 counts as 0."""
        level = self.levelled(linear)
        scene = self.curve(level)
        return self._on_luminance(level, scene) if self.luminance_share else scene

    def of_samples(self, samples: PointSamples, white: FloatArray) -> FloatArray:
        """Return the scene light of samples over that of white, shape (3,).

        Each device value is worked out once.
        """
        levels = self.levelled(samples.light_of_levels)
        scene = self.curve(levels)
        if not self.luminance_share:
            return samples.looked_up(scene / white)
        return self._on_luminance(samples.looked_up(levels), samples.looked_up(scene)) / white

    def _on_luminance(
        self, level: FloatArray | NDArray[np.float32], scene: FloatArray | NDArray[np.float32]
    ) -> FloatArray:
        """Mix in what the curve on the luminance gives."""
        luminance = np.maximum(level @ LUMINANCE, LEAST_VALUE)
        by_luminance = level * (self.curve(luminance) / luminance)[..., np.newaxis]
        return np.asarray(scene + self.luminance_share * (by_luminance - scene))

    def levelled(self, linear: FloatArray | NDArray[np.float32]) -> FloatArray:
        """Return values whose channels share one curve."""
        level = np.maximum(linear, 0)
        for channel in (RED, BLUE):
            if self.powers[channel]:
                ratio = np.maximum(level[..., channel], LEAST_VALUE) / float(self.pivot[channel])
                level[..., channel] *= ratio ** float(self.powers[channel])
        return level


def no_camera_tone() -> CameraTone:
    """Return the tone that changes nothing."""
    return CameraTone(
        curve=identity_tone(), powers=np.zeros(3), pivot=np.ones(3), luminance_share=0.0
    )


def fit_camera_tone(
    linear: FloatArray,
    expected: FloatArray,
    relative_std: FloatArray,
    *,
    luminance_share: float = 0.0,
) -> CameraTone:
    """Fit what takes the greys' values to the light they should send.

    Parameters
    ----------
    linear : ndarray, shape (n, 3)
        Profile-linear values of neutral patches, above 0.
    expected : ndarray, shape (n, 3)
        Light each should send, linear sRGB in any scale, above 0.
    relative_std : ndarray, shape (n,)
        Relative standard error of the luminance of `expected`.
    luminance_share : float
        As in `CameraTone`; greys do not determine it.

    Returns
    -------
    CameraTone
        The channels' powers from the change of the greys' hue with their lightness, then the curve.

    Examples
    --------
    >>> grey = np.geomspace(0.02, 0.8, 8)[:, np.newaxis] * np.ones(3)
    >>> tone = fit_camera_tone(grey ** np.array([1.0, 1.0, 1.1]), grey, np.full(8, 0.001))
    >>> scene = tone(np.array([[0.4, 0.4, 0.4**1.1], [0.1, 0.1, 0.1**1.1]]))
    >>> bool(abs(scene[0, 2] / scene[1, 2] - 4) < 0.15)
    True
    """
    every = np.ones((1, len(linear)), dtype=bool)
    (tone,) = fit_camera_tones(
        linear, expected, relative_std, every, luminance_share=luminance_share
    )
    return tone


def fit_camera_tones(
    linear: FloatArray,
    expected: FloatArray,
    relative_std: FloatArray,
    used: BoolArray,
    *,
    luminance_share: float,
) -> list[CameraTone]:
    """Do the same for several choices of the greys, `used`, shape (k, n), bool."""
    plain = [
        CameraTone(
            curve=identity_tone(), powers=powers, pivot=pivot, luminance_share=luminance_share
        )
        for powers, pivot in zip(*_powers(linear, expected, relative_std, used), strict=True)
    ]
    mixed = luminance_share * LUMINANCE + (1 - luminance_share) * np.eye(3)[GREEN]
    levels = np.stack([tone.levelled(linear) for tone in plain]) @ mixed
    curves = fit_tones(levels, expected @ mixed, relative_std, used)
    return [replace(tone, curve=curve) for tone, curve in zip(plain, curves, strict=True)]


def _powers(
    linear: FloatArray, expected: FloatArray, relative_std: FloatArray, used: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Ridge regression of the greys' hue on their level: powers and mean levels, (k, 3) each."""
    seen, wanted = np.log(np.maximum(linear, LEAST_VALUE)), np.log(expected)
    weights = used / (GREY_STD**2 + relative_std**2)
    mean = weights @ seen / weights.sum(axis=1, keepdims=True)
    missing = (wanted - wanted[:, [GREEN]]) - (seen - seen[:, [GREEN]])
    level = seen[:, GREEN] - mean[:, [GREEN]]
    pull = weights * level  # sums to 0, so that what is missing needs no mean taken out
    spread = (pull * level).sum(axis=1, keepdims=True)
    return pull @ missing / (spread + POWER_STD**-2), np.exp(mean)
