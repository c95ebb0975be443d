"""Assembles the commands and turns foreseen failures into clear words and exit code 1."""

import os
import re
import sys
from typing import Any, NoReturn, cast

import typer
from typer.core import TyperGroup

from greasecheck import __version__
from greasecheck.cli.commands import MARKUP, Commands
from greasecheck.cli.ranges import out_of_range
from greasecheck.cli.shared.output import print_error
from greasecheck.cli.shared.refusals import REFUSALS
from greasecheck.errors import GreasecheckError, SystemRefusalError, WrongUsageError
from greasecheck.reference.opencv import missing_library

EXIT_USAGE = 2
DECIMAL_COMMA = re.compile(r"^(-?|--[a-z-]+=)\d+,\d+$")
NO_NUMBER = re.compile(r"Input should be a valid (integer|number), unable to parse .*")
# click's, or that of the copy which newer typers carry: typer itself does not name it
UsageError = cast("type[typer.BadParameter]", typer.BadParameter.__bases__[0])


class CommandGroup(TyperGroup):
    """Runs a command; a foreseen failure is printed and ends with exit code 1, wrong usage with 2.

    With ``--json`` both are printed as JSON.
    """

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - typer's
        super().__init__(**settings)
        self.commands = Commands()

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401 - click's context, or the copy typer carries
        """Run the command that `ctx` names."""
        as_json, typed = "--json" in ctx.args, list(ctx.args)
        try:
            return super().invoke(ctx)
        except ImportError as error:
            return _fail(missing_library(error), as_json=as_json)
        except GreasecheckError as error:
            return _fail(error, as_json=as_json)
        except OSError as error:
            return _fail(_refusal(error), as_json=as_json)
        except UsageError as error:
            beyond = out_of_range(error)
            if beyond is not None:
                return _fail(beyond, as_json=as_json)
            error.message = _plain_words(error.message, typed)
            if not as_json:
                raise
            hint = "see how it is used: --help after the command"
            print_error(WrongUsageError(error.format_message(), hint=hint), as_json=True)
            raise typer.Exit(EXIT_USAGE) from error


def _plain_words(message: str, typed: list[str]) -> str:
    """Return what is wrong with a number in plain words, and how to write a decimal comma.

    Examples
    --------
    >>> message = "Input should be a valid number, unable to parse string as a number"
    >>> _plain_words(message, ["12", "--volume", "60,5"])
    'write 60.5 for 60,5'
    >>> _plain_words(message, ["12", "--volume", "much"])
    'write a number, such as 12'
    """
    comma = next((word for word in typed if DECIMAL_COMMA.search(word)), None)
    point = f"write {comma.replace(',', '.')} for {comma}" if comma else ""
    message = message.removeprefix("Value error, ")
    found = NO_NUMBER.search(message)
    if found is None:
        return f"{message}; {point}" if point else message
    whole = "whole " if found[1] == "integer" else ""
    return message.replace(found[0], point or f"write a {whole}number, such as 12")


def _refusal(error: OSError) -> GreasecheckError:
    """Return in words what the system refuses; raise what is a bug."""
    if error.errno not in REFUSALS:
        raise error
    what = f" {error.filename}" if error.filename else ""
    return SystemRefusalError(
        f"the system refuses{what}: {error.strerror}", hint=REFUSALS[error.errno]
    )


def _fail(error: GreasecheckError, *, as_json: bool) -> NoReturn:
    print_error(error, as_json=as_json)
    raise typer.Exit(1) from error


app = typer.Typer(
    name="greasecheck",
    cls=CommandGroup,
    help="Read degreasing baths and bones from photographs; know the day a tub runs clear.",
    invoke_without_command=True,
    rich_markup_mode=MARKUP,
    pretty_exceptions_enable=False,
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(__version__)
        raise typer.Exit


@app.callback()
def common(
    ctx: typer.Context,
    version: bool = typer.Option(
        False,
        "--version",
        help="Print the version and stop.",
        callback=_print_version,
        is_eager=True,
    ),
) -> None:
    """Read degreasing baths and bones from photographs; know the day a tub runs clear.

    Without a command it opens the page in the browser.
    """
    if ctx.invoked_subcommand is None:
        from greasecheck.cli.setup import serve  # noqa: PLC0415 - needed here alone

        serve.open_page()


def run() -> None:
    """Run greasecheck."""
    try:
        app()
        sys.stdout.flush()
    except OSError as error:
        # What Python still holds of an output that is full would fail once more at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        print_error(_refusal(error), as_json="--json" in sys.argv)
        sys.exit(1)
