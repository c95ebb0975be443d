"""Finds the data folders, in the repository or in the installed wheel."""

from __future__ import annotations

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
