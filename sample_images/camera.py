"""The invented camera that takes the sample photographs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.synthetic.camera import Camera

if TYPE_CHECKING:
    from tests.synthetic.camera import Matrix

SENSITIVITY: Matrix = (  # raw R, G, B from linear R, G, B; invented, typical in crosstalk
    (0.72, 0.25, 0.03),
    (0.20, 0.70, 0.10),
    (0.02, 0.22, 0.76),
)
UNMIXING = 0.92  # share of the crosstalk that the camera's own colour matrix takes back
BALANCE = (1.0, 0.875, 0.765)  # the usual light on the sheet; the white balance is fixed


def garage_camera(balance: tuple[float, float, float] = BALANCE) -> Camera:
    """Return the camera, its white balance set to a linear R, G, B that it makes grey."""
    response = np.array(SENSITIVITY)
    grey = response @ balance
    mixed = response / response.sum(axis=1, keepdims=True)
    matrix = UNMIXING * np.linalg.inv(mixed) + (1 - UNMIXING) * np.eye(3)
    return Camera(
        name="GO-16",
        make="Garage Optics",
        response=SENSITIVITY,
        colour=tuple(map(tuple, matrix / (grey / grey.max()))),
        vignetting=0.14,
        noise=0.0079,
        dark_noise=3.1e-4,
        curve=0.05,
    )
