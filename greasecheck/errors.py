"""The one exception family. The command line prints it and exits with code 1."""

from typing import ClassVar


class GreasecheckError(Exception):
    """A foreseen failure: what is wrong, and what to do about it.

    Parameters
    ----------
    problem : str
        What is wrong, in one sentence a preparer understands.
    hint : str
        What to do about it.

    Examples
    --------
    >>> error = GreasecheckError("the file is empty", hint="take the photo again")
    >>> str(error), error.hint, error.code
    ('the file is empty', 'take the photo again', 'error')
    """

    code: ClassVar[str] = "error"

    def __init__(self, problem: str, *, hint: str) -> None:
        super().__init__(problem)
        self.problem = problem
        self.hint = hint

    def __reduce__(self) -> tuple[object, ...]:
        return _rebuild, (type(self), self.problem, self.hint)


def _rebuild(cls: type[GreasecheckError], problem: str, hint: str) -> GreasecheckError:
    """Unpickle an error that crossed a process boundary."""
    return cls(problem, hint=hint)


class PhotoError(GreasecheckError):
    """The picture file cannot be used: unreadable, too large, of the wrong kind."""

    code = "photo"


class SheetError(GreasecheckError):
    """The colour reference sheet is missing, doubled, mirrored, or unknown."""

    code = "sheet"


class ColourError(GreasecheckError):
    """No colour fit can be made from the patches."""

    code = "colour"


class WaterError(GreasecheckError):
    """The water cannot be measured."""

    code = "water"


class BoneError(GreasecheckError):
    """The bone cannot be measured."""

    code = "bone"


class DataFileError(GreasecheckError):
    """A data file (patch values, reference, calibration, CSV) is missing or malformed."""

    code = "data"


class LogbookError(GreasecheckError):
    """The logbook cannot be opened, read or written."""

    code = "logbook"


class ForecastError(GreasecheckError):
    """There is nothing sound to forecast from."""

    code = "forecast"


class LiveError(GreasecheckError):
    """The live page cannot be served, or cannot do what it was asked."""

    code = "live"


class MissingLibraryError(GreasecheckError):
    """A system library that a dependency needs is not installed."""

    code = "library"


class SystemRefusalError(GreasecheckError):
    """The operating system refuses: no room, no right, a name too long."""

    code = "system"


class OutOfRangeError(GreasecheckError):
    """A number on the command line lies beyond its limits."""

    code = "range"


class WrongUsageError(GreasecheckError):
    """The command line is not understood."""

    code = "usage"
