"""Finds the folders of calibration data and samples, and guards the files that users name."""

from __future__ import annotations

import errno
import stat
from pathlib import Path

from greasecheck.errors import DataFileError

PACKAGE = Path(__file__).parent.parent


def data_folder(name: str) -> Path:
    """Return a data folder shipped with the package.

    Parameters
    ----------
    name : str
        "calibration" or "sample_images".

    Returns
    -------
    pathlib.Path
        The folder inside the installed wheel, or that of the repository.

    Raises
    ------
    DataFileError
        When neither exists.

    Examples
    --------
    >>> data_folder("calibration").name
    'calibration'
    """
    for folder in (PACKAGE / "_data" / name, PACKAGE.parent / name):
        if folder.is_dir():
            return folder
    raise DataFileError(
        f"the data folder '{name}' is missing from this installation",
        hint="install greasecheck again",
    )


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
