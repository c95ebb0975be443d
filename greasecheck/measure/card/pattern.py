"""Tells patterned cloth from plain cloth by how often something stands out along the rim."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from greasecheck.model import BoolArray

# Plain cloth on a pale table leaves one run of table at each corner of the picture at most.
MOST_RUNS = 4
NARROW = 3  # samples; narrower is lint


def runs_at_rim(standing: BoolArray) -> int:
    """Count the runs along the picture's rim in which something stands out from the cloth.

    Checks, stripes and flowers make one wherever they meet the rim.

    Parameters
    ----------
    standing : ndarray, shape (rows, columns), bool
        What stands out from the cloth.

    Examples
    --------
    >>> stripes = np.tile(np.arange(60) % 20 < 10, (40, 1))
    >>> runs_at_rim(stripes)
    5
    """
    top, right, bottom, left = standing[0], standing[:, -1], standing[-1, ::-1], standing[::-1, 0]
    once_round = np.concatenate([top[:-1], right[:-1], bottom[:-1], left[:-1]])
    wide = np.all([np.roll(once_round, away) for away in range(NARROW)], axis=0)
    return int((wide & ~np.roll(wide, 1)).sum())
