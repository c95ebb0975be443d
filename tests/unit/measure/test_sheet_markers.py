import numpy as np
import pytest

from greasecheck.measure.sheet.corners import _meeting_points, refine
from greasecheck.measure.sheet.markers import SeenMarker, detect_near
from greasecheck.measure.sheet.pose import fit_pose
from greasecheck.reference import known_sheets
from tests.synthetic.views import draw_marker

CORNERS = np.array([[40.0, 40], [100, 40], [100, 100], [40, 100]])


def test_sharpens_corners_to_the_edges_of_the_ink() -> None:
    picture = np.full((140, 140, 3), 255, dtype=np.uint8)
    draw_marker(picture[40:100, 40:100], 12)
    slips = np.array([[1.5, -1], [-1, 1], [1, 1.2], [-0.5, 1]])
    rough = SeenMarker(id=12, corners_px=CORNERS + slips)
    (sharp,) = refine(np.ascontiguousarray(picture[..., 1]), [rough])
    # The outermost dark pixels are 40 to 99: the edges lie at 39.5 and 99.5.
    assert sharp.corners_px == pytest.approx(CORNERS - 0.5, abs=0.05)


@pytest.mark.parametrize("slope", [0, 1])
def test_leaves_corners_alone_where_no_edge_shows(slope: int) -> None:
    flat = (np.arange(140) * slope + np.full((140, 1), 60)).astype(np.uint8)
    marker = SeenMarker(id=1, corners_px=CORNERS)
    (left,) = refine(flat, [marker])
    moved = np.abs(left.corners_px - CORNERS).max()
    assert moved < marker.side_px / 6


def test_sees_nothing_outside_the_frame() -> None:
    assert detect_near(np.zeros((50, 50), dtype=np.uint8), "DICT_4X4_50", CORNERS + 100) == ()


def test_corners_of_parallel_edges_stay() -> None:
    starts = np.array([[[0.0, 9, 9, 0], [0, 0, 5, 5]]])
    ends = starts + np.array([[9.0, 9, -9, 0], [0, 0, 0, -5]])
    met = _meeting_points(starts, ends)[0]
    assert met.tolist() == [[0, 9, 9, 0], [0, 0, 5, 5]]


@pytest.mark.parametrize("side_px", [60, 24])
def test_markers_of_one_photo_are_sharpened_as_each_alone(side_px: int) -> None:
    picture = np.full((260, 200, 3), 255, dtype=np.uint8)
    boxes = [(40, 40, 60), (40, 150, side_px)]
    rough = []
    for number, (left, top, side) in enumerate(boxes):
        draw_marker(picture[top : top + side, left : left + side], 12 + number)
        corners = np.array([left, top]) + side * np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
        rough.append(SeenMarker(id=12 + number, corners_px=corners + 0.4))
    grey = np.ascontiguousarray(picture[..., 1])
    for one, alone in zip(refine(grey, rough), rough, strict=True):
        assert one.corners_px == pytest.approx(refine(grey, [alone])[0].corners_px, abs=0.02)


def test_no_pose_from_points_that_coincide() -> None:
    markers = [SeenMarker(id=number, corners_px=np.full((4, 2), 7.0)) for number in range(3)]
    assert fit_pose(markers, known_sheets()[0], None) is None
