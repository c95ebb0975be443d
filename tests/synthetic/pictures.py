"""Pictures without a sheet: photographs, patterns, clutter, and markers that are not a sheet."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage import data

from greasecheck.measure.sheet.pose import box_corners
from greasecheck.print.marker import marker_cells
from greasecheck.reference import known_sheets
from tests.synthetic.views import clutter

Pixels = NDArray[np.uint8]

# Pictures that come inside scikit-image, none of which needs a download.
BUNDLED = (
    "astronaut", "brick", "camera", "cell", "chelsea", "checkerboard", "clock", "coffee", "coins",
    "colorwheel", "grass", "gravel", "horse", "hubble_deep_field", "immunohistochemistry", "logo",
    "moon", "page", "retina", "rocket", "text",
)  # fmt: skip
OTHER_DICTIONARIES = (
    "DICT_5X5_50", "DICT_6X6_250", "DICT_7X7_50", "DICT_ARUCO_ORIGINAL", "DICT_APRILTAG_36h11",
)  # fmt: skip
SIZE_PX = (1200, 900)


@cache
def bundled(name: str) -> Pixels:
    """A picture of scikit-image in RGB."""
    picture = np.asarray(getattr(data, name)())
    if picture.dtype == np.bool_:
        picture = picture * np.uint8(255)
    if picture.ndim == 2:
        picture = np.repeat(picture[..., None], 3, axis=2)
    return np.ascontiguousarray(picture[..., :3], dtype=np.uint8)


def picture_without_sheet(number: int, rng: np.random.Generator) -> Pixels:
    """The bundled pictures as they are first, then random ones of each kind in turn."""
    if number < len(BUNDLED):
        return bundled(BUNDLED[number])
    kinds = (photograph, checkerboard, board, scattered_markers, bare_corners, tagged_clutter)
    return kinds[number % len(kinds)](rng)


def photograph(rng: np.random.Generator) -> Pixels:
    """A random crop of a bundled picture, flipped, scaled and with noise."""
    picture = bundled(BUNDLED[rng.integers(len(BUNDLED))])
    height, width = (int(side * rng.uniform(0.4, 1)) for side in picture.shape[:2])
    top = int(rng.integers(picture.shape[0] - height + 1))
    left = int(rng.integers(picture.shape[1] - width + 1))
    crop = picture[top : top + height, left : left + width]
    flipped = crop[:: rng.choice([-1, 1]), :: rng.choice([-1, 1])]
    grown = cv2.resize(np.ascontiguousarray(flipped), SIZE_PX, interpolation=cv2.INTER_CUBIC)
    return _noisy(np.asarray(grown, dtype=np.uint8), rng)


def checkerboard(rng: np.random.Generator) -> Pixels:
    """A chessboard, seen at a slant."""
    rows, columns = rng.integers(4, 14, 2)
    squares = np.indices((rows, columns)).sum(axis=0) % 2 * 255
    cell = int(rng.integers(20, 80))
    board_px = np.kron(squares, np.ones((cell, cell))).astype(np.uint8)
    return _slanted(np.repeat(board_px[..., None], 3, axis=2), rng)


def board(rng: np.random.Generator) -> Pixels:
    """A grid of markers of another dictionary."""
    dictionary = OTHER_DICTIONARIES[rng.integers(len(OTHER_DICTIONARIES))]
    rows, columns = rng.integers(2, 5, 2)
    ids = rng.permutation(30)[: rows * columns].reshape(rows, columns)
    tiles = [[_tile(dictionary, int(number)) for number in row] for row in ids]
    return _slanted(np.concatenate([np.concatenate(row, axis=1) for row in tiles]), rng)


def scattered_markers(rng: np.random.Generator) -> Pixels:
    """The sheet's own markers, each somewhere on clutter."""
    picture = clutter(rng, SIZE_PX)
    for number, cell in enumerate(rng.permutation(6)[:5]):
        side = int(rng.integers(60, 200))
        left = int(cell % 3 * 400 + rng.integers(0, 390 - side))
        top = int(cell // 3 * 450 + rng.integers(0, 440 - side))
        tile = np.rot90(_tile("DICT_4X4_50", number), int(rng.integers(4)))
        picture[top : top + side, left : left + side] = cv2.resize(tile, (side, side))
    return picture


def bare_corners(rng: np.random.Generator) -> Pixels:
    """The sheet's markers at their places, but other print where its patches should be."""
    sheet = known_sheets()[0]
    photo = cv2.resize(photograph(rng), (int(sheet.width_mm) * 4, int(sheet.height_mm) * 4))
    page = np.asarray(photo, dtype=np.uint8)
    for marker in sheet.markers:
        (left, top), _, (right, bottom), _ = (box_corners(marker.box) * 4).astype(int)
        page[top - 8 : bottom + 8, left - 8 : right + 8] = 255
        size = right - left, bottom - top
        page[top:bottom, left:right] = cv2.resize(_cells(marker.id), size, interpolation=0)
    return _slanted(page, rng)


def tagged_clutter(rng: np.random.Generator) -> Pixels:
    """A few tub tags lying about."""
    picture = clutter(rng, SIZE_PX)
    for number in rng.integers(10, 50, 3):
        left, top = rng.integers(0, 1000), rng.integers(0, 700)
        picture[top : top + 160, left : left + 160] = _tile("DICT_4X4_50", int(number))[:160, :160]
    return picture


def _tile(dictionary: str, number: int) -> Pixels:
    """A marker with its white gap, 160 x 160 px."""
    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    marker = np.asarray(cv2.aruco.generateImageMarker(book, number, 120), dtype=np.uint8)
    return np.repeat(np.pad(marker, 20, constant_values=255)[..., None], 3, axis=2)


def _cells(number: int) -> Pixels:
    inked = marker_cells("DICT_4X4_50", number)
    return np.repeat(np.where(inked, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def _slanted(page: Pixels, rng: np.random.Generator) -> Pixels:
    width, height = SIZE_PX
    shift = rng.uniform(-0.08, 0.08, (4, 2))
    corners = np.array([[0.15, 0.15], [0.85, 0.15], [0.85, 0.85], [0.15, 0.85]]) + shift
    source = np.array(
        [[0, 0], [page.shape[1], 0], [page.shape[1], page.shape[0]], [0, page.shape[0]]]
    )
    matrix = cv2.getPerspectiveTransform(
        source.astype(np.float32), (corners * SIZE_PX).astype(np.float32)
    )
    warped = cv2.warpPerspective(page, matrix, (width, height), borderValue=(200, 200, 200, 0))
    return _noisy(np.asarray(warped, dtype=np.uint8), rng)


def _noisy(picture: Pixels, rng: np.random.Generator) -> Pixels:
    noise = rng.uniform(0, 8) * rng.standard_normal(picture.shape, dtype=np.float32)
    return np.clip(picture + noise, 0, 255).astype(np.uint8)
