"""From a photograph to a reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.reference.opencv import import_cv2

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.measure.reading import ReadSettings
    from greasecheck.model import Reading


def read_photo(path: Path, settings: ReadSettings | None = None) -> Reading:
    """Read one photo; parameters, errors and refusals as for `read_all`.

    Returns
    -------
    Reading
        The first of the photo's readings: that of the sheet, where there is one.

    Examples
    --------
    >>> from pathlib import Path
    >>> reading = read_photo(Path("no such photo.jpg"))
    >>> str(reading.verdict)
    'refused'
    """
    return read_all(path, settings)[0]


def read_all(path: Path, settings: ReadSettings | None = None) -> tuple[Reading, ...]:
    """Read all that one photo shows.

    Parameters
    ----------
    path : pathlib.Path
        JPEG, PNG, TIFF or HEIC file.
    settings : ReadSettings, optional
        The stand: jar, clear-water reference, patch values, lens.

    Returns
    -------
    tuple of Reading
        One for the sheet, and one for each ladder and bone beside it; with verdict refused, and
        the reason among its checks, where it cannot be used. At least one.

    Raises
    ------
    MissingLibraryError
        When a system library is not installed.

    Examples
    --------
    >>> from pathlib import Path
    >>> [str(reading.verdict) for reading in read_all(Path("no such photo.jpg"))]
    ['refused']
    """
    import_cv2()
    from greasecheck.measure import reading  # noqa: PLC0415 - keeps OpenCV out of start-up

    return reading.view_photo(path, settings or reading.ReadSettings()).readings
