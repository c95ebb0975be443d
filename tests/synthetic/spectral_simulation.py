"""A printed sheet and bones as spectra, seen by cameras under lamps: known truth for the colour.

All spectra of inks and bones here are invented: smooth curves of the right kind, not measured ones.
Lamps, observer and two of the cameras are the published tables that colour-science carries.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import colour
import numpy as np
from scipy.optimize import least_squares

from greasecheck.model import PatchValues
from greasecheck.reference import known_cards, known_sheets
from greasecheck.reference.patches.values import nominal_values

if TYPE_CHECKING:
    from greasecheck.model import FloatArray, SheetGeometry

WAVELENGTHS_NM = np.arange(400.0, 701.0, 5.0)
LAMPS = ("A", "D50", "D65", "FL2", "FL11", "LED-B3", "LED-B5")
CAMERAS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)", "invented phone")
YULE_NIELSEN = 2.0
_SOLIDS = np.array(list(itertools.product((0.0, 1.0), repeat=4)))  # inks of the overprints
PRINTER_ERROR = 0.10  # of full coverage, at middle tones: about 3 Delta E00 in the mean
XYZ_FROM_SRGB = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)  # IEC 61966-2-1:1999


@cache
def lamp(name: str) -> FloatArray:
    """Spectral power of a lamp, shape (61,), mean 1."""
    return _unit(_aligned(colour.SDS_ILLUMINANTS[name]))


@cache
def camera(name: str) -> FloatArray:
    """Spectral sensitivities of a camera, shape (61, 3)."""
    if name in colour.MSDS_CAMERA_SENSITIVITIES:
        return np.maximum(_aligned(colour.MSDS_CAMERA_SENSITIVITIES[name]), 0)
    red = _bell(600, 35) + 0.08 * _bell(530, 30)
    green = _bell(535, 38) + 0.05 * _bell(460, 25)
    blue = _bell(462, 28) + 0.07 * _bell(530, 30)
    return np.column_stack([red, green, blue])


def xyz_of(reflectance: FloatArray) -> FloatArray:
    """CIE XYZ (D65/2), shape (n, 3), of reflectances, shape (n, 61); Y of white = 100."""
    white = np.array([95.047, 100.0, 108.883])
    return np.asarray(reflectance @ _observer() * white)


@cache
def _observer() -> FloatArray:
    """Weights of X, Y and Z under D65, shape (61, 3), each of sum 1."""
    observer = _aligned(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
    weights = observer * lamp("D65")[:, None]
    return np.asarray(weights / weights.sum(axis=0))


def camera_values(reflectance: FloatArray, lamp_name: str, camera_name: str) -> FloatArray:
    """Linear values of a camera that shows white as (1, 1, 1), by its own matrix to sRGB.

    The matrix is what a maker would fit under daylight, white preserved, whatever the lamp.
    """
    raw = _white_balanced(reflectance, lamp_name, camera_name)
    return raw @ _maker_matrix(camera_name)


def camera_values_under(
    reflectance: FloatArray, lamp_name: str, camera_name: str, balanced_for: str
) -> FloatArray:
    """Linear values under one lamp of a camera that is balanced for another of equal power."""
    raw = [
        values @ (camera(camera_name) * lamp(name)[:, None])
        for values, name in ((reflectance, lamp_name), (np.ones((1, 61)), balanced_for))
    ]
    return np.asarray(raw[0] / raw[1] @ _maker_matrix(camera_name))


def lamp_cast(lamp_name: str, camera_name: str) -> FloatArray:
    """Colour of white, shape (3,), that the camera would show without white balance; green 1."""
    raw = [lamp(name) @ camera(camera_name) for name in (lamp_name, "D65")]
    cast = raw[0] / raw[1]
    return np.asarray(cast / cast[1])


def bone_reflectances(count: int, seed: int) -> FloatArray:
    """Invented bones, shape (count, 61): Kubelka-Munk layers with grease, blood and browning."""
    rng = np.random.default_rng(seed)
    shape = (count, 1)
    wavelength = WAVELENGTHS_NM
    grease = rng.uniform(0.01, 1.3, shape) * np.exp(
        -(wavelength - 450) / rng.uniform(45, 90, shape)
    )
    brown = rng.uniform(0, 0.06, shape) * (wavelength / 500) ** -4.0
    bands = _bell(415, 16) * 2.0 + _bell(542, 14) + _bell(577, 12)
    blood = rng.exponential(0.006, shape) * bands
    grey = rng.uniform(0.004, 0.04, shape)
    absorption = grease + brown + blood + grey
    return np.asarray(1 + absorption - np.sqrt(absorption**2 + 2 * absorption))


@dataclass(frozen=True, slots=True, kw_only=True)
class Print:
    """One printing of the sheet: the spectra on paper and what an instrument says of them."""

    names: tuple[str, ...]
    reflectance: FloatArray
    nominal: PatchValues
    measured: PatchValues

    def of(self, name: str) -> FloatArray:
        """Reflectance of one patch, shape (61,)."""
        row: FloatArray = self.reflectance[self.names.index(name)]
        return row


@cache
def printed_sheet(seed: int = 5) -> Print:
    """Print the sheet with four invented dyes, each amount in error by about `PRINTER_ERROR`."""
    return _printed(known_sheets()[0], seed)


@cache
def printed_card(seed: int = 5) -> Print:
    """Print the bone card in the same way."""
    return _printed(known_cards()[-1], seed)


def _printed(geometry: SheetGeometry, seed: int) -> Print:
    nominal = nominal_values(geometry)
    stems = [name[:-1] if name[-1] in "abcd" else name for name in nominal.names]
    paper_y = xyz_of(_paper()[None])[0, 1] / 100
    colours = dict(zip(stems, nominal.xyz * paper_y, strict=True))
    rng = np.random.default_rng(seed)
    spectra = {stem: _print_colour(xyz, rng) for stem, xyz in colours.items()}
    spectra["paper"] = _paper()
    reflectance = np.stack([spectra[stem] for stem in stems])
    measured = PatchValues(
        names=nominal.names,
        xyz=xyz_of(reflectance) * (1 + rng.normal(0, 0.002, (len(stems), 3))),
        measured=True,
        source="simulated instrument",
    )
    return Print(names=nominal.names, reflectance=reflectance, nominal=nominal, measured=measured)


def _print_colour(xyz: FloatArray, rng: np.random.Generator) -> FloatArray:
    def miss(inks: FloatArray) -> FloatArray:  # black replaces most of what the three share
        return np.append(
            np.cbrt(xyz_of(_print(inks)[None])[0]) - np.cbrt(xyz), 0.05 * inks[:3].min()
        )

    inks = least_squares(miss, np.full(4, 0.2), bounds=(0, 1)).x
    gain = inks + PRINTER_ERROR * (4 * inks * (1 - inks)) * (0.5 + rng.normal(0, 0.5, 4))
    return _print(np.clip(gain, 0, 1))


def _print(inks: FloatArray) -> FloatArray:
    """Yule-Nielsen modified spectral Neugebauer model of a halftone (Viggiano 1985)."""
    shares = np.where(_SOLIDS == 1, inks, 1 - inks).prod(axis=1)
    return np.asarray((shares @ _solid_roots()) ** YULE_NIELSEN)


@cache
def _solid_roots() -> FloatArray:
    """Reflectance of each of `_SOLIDS` to the power of 1 / `YULE_NIELSEN`, shape (16, 61)."""
    return np.asarray((_paper() * 10 ** -(_SOLIDS @ _dye_densities())) ** (1 / YULE_NIELSEN))


def _paper() -> FloatArray:
    return np.asarray(0.88 - 0.06 * _bell(400, 25) + 0.02 * _bell(450, 25))


def _dye_densities() -> FloatArray:
    cyan = 1.5 * _bell(640, 62) + 0.12 * _bell(430, 60)
    magenta = 1.4 * _bell(548, 42) + 0.30 * _bell(420, 50)
    yellow = 1.4 * _bell(435, 42) + 0.04
    return np.stack([cyan, magenta, yellow, np.full(len(WAVELENGTHS_NM), 1.7)])


def _white_balanced(reflectance: FloatArray, lamp_name: str, camera_name: str) -> FloatArray:
    weights = camera(camera_name) * lamp(lamp_name)[:, None]
    return np.asarray(reflectance @ (weights / weights.sum(axis=0)))


@cache
def _maker_matrix(camera_name: str) -> FloatArray:
    spectra = np.concatenate([printed_sheet().reflectance, bone_reflectances(30, 1)])
    raw = _white_balanced(spectra, "D65", camera_name)
    wanted = np.linalg.solve(XYZ_FROM_SRGB, xyz_of(spectra).T / 100).T
    matrix = np.linalg.lstsq(raw, wanted, rcond=None)[0]
    return np.asarray(matrix / matrix.sum(axis=0))


def _aligned(
    spectrum: colour.SpectralDistribution | colour.MultiSpectralDistributions,
) -> FloatArray:
    columns = np.asarray(spectrum.values, dtype=np.float64).reshape(len(spectrum.wavelengths), -1)
    resampled = [np.interp(WAVELENGTHS_NM, spectrum.wavelengths, column) for column in columns.T]
    return np.squeeze(np.stack(resampled, axis=-1))


def _unit(values: FloatArray) -> FloatArray:
    return np.asarray(values / values.mean())


def _bell(centre_nm: float, width_nm: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * ((WAVELENGTHS_NM - centre_nm) / width_nm) ** 2))
