"""Imports OpenCV; when a system library is missing, says which packages bring it."""

from __future__ import annotations

import importlib
from typing import Any

from greasecheck.errors import MissingLibraryError

SYSTEM_LIBRARY = ".so"


def import_cv2() -> Any:  # noqa: ANN401 - a module, whose members mypy cannot see this way
    """Import OpenCV.

    Returns
    -------
    module
        cv2.

    Raises
    ------
    MissingLibraryError
        When the system lacks a library that OpenCV needs.

    Examples
    --------
    >>> import_cv2().__name__
    'cv2'
    """
    try:
        return importlib.import_module("cv2")
    except ImportError as error:
        raise missing_library(error) from error


def missing_library(error: ImportError) -> MissingLibraryError:
    """Put into words why a compiled dependency could not be imported, and what to install."""
    if SYSTEM_LIBRARY in str(error):
        return MissingLibraryError(
            f"OpenCV cannot start on this system: {error}",
            hint="install the system libraries it needs: on Debian or Ubuntu "
            "'apt install libgl1 libglib2.0-0', on Fedora 'dnf install mesa-libGL glib2'",
        )
    return MissingLibraryError(
        f"a Python package that greasecheck needs cannot be imported: {error}",
        hint="install greasecheck again, with its dependencies",
    )
