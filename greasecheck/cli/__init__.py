"""The command line: the only part that talks to the terminal."""

INTERRUPTED = 130  # 128 and the number of SIGINT, as shells have it


def main() -> None:
    """Run greasecheck; Ctrl-C ends it at any moment, also while it is being loaded."""
    try:
        from greasecheck.cli.app import run  # noqa: PLC0415 - within reach of Ctrl-C

        run()
    except KeyboardInterrupt:
        raise SystemExit(INTERRUPTED) from None
