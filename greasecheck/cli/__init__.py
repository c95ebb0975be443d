"""The command line: the only part that talks to the terminal."""

from greasecheck.cli.app import main

__all__ = ["main"]
