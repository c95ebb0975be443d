"""The cells of a fiducial marker (Garrido-Jurado et al. 2014, as OpenCV's aruco draws them)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.reference.opencv import import_cv2

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def marker_cells(dictionary: str, number: int) -> NDArray[np.bool_]:
    """Return which cells of a marker are inked.

    Parameters
    ----------
    dictionary : str
        Name of an OpenCV aruco dictionary.
    number : int
        The marker's id in it.

    Returns
    -------
    ndarray, shape (6, 6), bool

    Examples
    --------
    >>> marker_cells("DICT_4X4_50", 0)[0].tolist()  # the border
    [True, True, True, True, True, True]
    """
    cv2 = import_cv2()
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    image: NDArray[np.uint8] = cv2.aruco.generateImageMarker(known, number, known.markerSize + 2)
    inked: NDArray[np.bool_] = image == 0
    return inked
