"""Prints errors and JSON; messages go to stderr, answers to stdout."""

import json

import typer

from greasecheck.errors import GreasecheckError

SCHEMA = 1


def print_error(error: GreasecheckError, *, as_json: bool) -> None:
    """Print what is wrong and what to do, in words or as one JSON object, on stderr."""
    if as_json:
        body = {"code": error.code, "problem": error.problem, "hint": error.hint}
        typer.echo(json.dumps({"schema": SCHEMA, "error": body}), err=True)
    else:
        typer.echo(f"error[{error.code}]: {error.problem}\n\nhint: {error.hint}", err=True)


def print_json(answer: dict[str, object]) -> None:
    """Print one JSON object on stdout; NaN is refused, not printed."""
    typer.echo(json.dumps({"schema": SCHEMA, **answer}, allow_nan=False, indent=2))
