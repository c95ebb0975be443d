"""The command line: the only part that talks to the terminal."""

import os

INTERRUPTED = 130  # 128 and the number of SIGINT, as shells have it


def main() -> None:
    """Run greasecheck; Ctrl-C ends it at any moment, also while it is being loaded.

    Linear algebra gets one thread, here and in all processes that are begun, where the user asks
    for no other number: matrices are small, and threads that wait for one another take many times
    the processor's time where cores are few or busy. It is settled when numpy is loaded.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        from greasecheck.cli.app import run  # noqa: PLC0415 - within reach of Ctrl-C

        run()
    except KeyboardInterrupt:
        raise SystemExit(INTERRUPTED) from None
