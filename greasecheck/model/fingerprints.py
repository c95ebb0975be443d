"""Compares the fingerprints of photos: the same picture saved again, or another one."""

from __future__ import annotations

import base64

# Between frames of a burst, up to 0.65, and copies of JPEG quality 90, from 0.76; see
# measure/sheet/fingerprint.py. Higher, copies count twice; lower, frames are left out.
SAME = 0.70


def is_copy(one: str, other: str) -> bool:
    """Return whether two fingerprints are of the same picture; False where one is missing."""
    return agreement(one, other) >= SAME


def agreement(one: str, other: str) -> float:
    """Return the share of places where two fingerprints agree, 0.5 by chance; 0 without both.

    Examples
    --------
    >>> agreement("AAAA", "AAAP"), agreement("", "AAAA")
    (0.8333333333333334, 0.0)
    """
    first, second = base64.b64decode(one), base64.b64decode(other)
    if not first or len(first) != len(second):
        return 0.0
    differing = (int.from_bytes(first) ^ int.from_bytes(second)).bit_count()
    return 1 - differing / (8 * len(first))
