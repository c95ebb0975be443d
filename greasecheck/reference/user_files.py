"""Guards the reading of files that users name."""

from __future__ import annotations

import errno
import stat
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def plain_file(path: Path) -> Path:
    """Return a path that can be read without waiting for ever.

    Raises
    ------
    OSError
        When there is nothing, or a pipe or a device.

    Examples
    --------
    >>> from pathlib import Path
    >>> plain_file(Path("/dev/null"))
    Traceback (most recent call last):
    OSError: [Errno 22] it is no file, but a pipe or a device
    """
    mode = path.stat().st_mode
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        raise OSError(errno.EINVAL, "it is no file, but a pipe or a device")
    return path
