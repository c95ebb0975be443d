"""From a photograph to a reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.reference.opencv import import_cv2

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.measure.reading import ReadSettings
    from greasecheck.model import Reading


def read_photo(path: Path, settings: ReadSettings | None = None) -> Reading:
    """Read one photo.

    Parameters
    ----------
    path : pathlib.Path
        JPEG, PNG, TIFF or HEIC file.
    settings : ReadSettings, optional
        The stand: jar, clear-water reference, patch values, lens.

    Returns
    -------
    Reading
        With verdict refused, and the reason among its checks, when the photo cannot be used.

    Raises
    ------
    MissingLibraryError
        When a system library is not installed.

    Examples
    --------
    >>> from pathlib import Path
    >>> reading = read_photo(Path("no such photo.jpg"))
    >>> str(reading.verdict)
    'refused'
    """
    import_cv2()
    from greasecheck.measure import reading  # noqa: PLC0415 - keeps OpenCV out of start-up

    return reading.view_photo(path, settings or reading.ReadSettings()).reading
