"""Fuzzes the readers of users' files, led by coverage: `python -m tests.benchmarks.fuzz_readers`.

It needs atheris (`pip install atheris`). Each reader runs in a process of its own; an input that
breaks one is saved and the process ends with its traceback.
"""

from __future__ import annotations

import argparse
import importlib.util
import subprocess
import sys
import tempfile
from pathlib import Path

MISSING = "atheris is not installed, nothing was fuzzed: pip install atheris"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0, help="in all")
    parser.add_argument("--reader", help="only this one")
    parser.add_argument("--corpus", type=Path, help="keep what was found interesting here")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    options, rest = parser.parse_known_args()
    if importlib.util.find_spec("atheris") is None:
        print(MISSING)
        return 0
    if options.one:
        _fuzz(options.one, rest)
        return 0
    return _fuzz_all(options.minutes, options.reader, options.corpus)


def _fuzz_all(minutes: float, only: str | None, corpus: Path | None) -> int:
    from tests.property.readers import ODD, READERS, samples  # noqa: PLC0415 - loads OpenCV

    names = [only] if only else list(READERS)
    seconds = max(int(minutes * 60 / len(names)), 1)
    broken = []
    with tempfile.TemporaryDirectory() as folder:
        words = Path(folder) / "words"
        words.write_text("".join(map(_dictionary_line, ODD)), encoding="ascii")
        for name in names:
            found = (corpus or Path(folder)) / name
            found.mkdir(parents=True, exist_ok=True)
            for number, content in enumerate(samples()[name]):
                (found / f"sample{number}").write_bytes(content)
            command = [sys.executable, "-m", "tests.benchmarks.fuzz_readers", "--one", name]
            limits = [
                f"-max_total_time={seconds}",
                "-timeout=20",
                "-rss_limit_mb=2048",
                f"-dict={words}",
            ]
            crashes = f"-artifact_prefix={found.parent}/{name}-"
            done = subprocess.run(
                [*command, *limits, crashes, str(found)], capture_output=True, check=False
            )
            told = done.stderr.decode(errors="replace") + done.stdout.decode(errors="replace")
            runs = next((line for line in told.splitlines() if line.startswith("Done ")), "")
            print(f"{name}: {'BROKEN' if done.returncode else 'sound'} {runs}", flush=True)
            if done.returncode:
                broken.append(name)
                print(told[-3000:])
    return int(bool(broken))


def _dictionary_line(word: bytes) -> str:
    """One word as libFuzzer wants it."""
    return '"' + "".join(f"\\x{byte:02x}" for byte in word[:64]) + '"\n'


def _fuzz(name: str, arguments: list[str]) -> None:
    import atheris  # type: ignore[import-not-found,import-untyped,unused-ignore] # noqa: PLC0415 - may be missing

    with atheris.instrument_imports(include=["greasecheck"]):
        from tests.property.readers import READERS, read_from  # noqa: PLC0415 - instrumented

    reader = READERS[name]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "file"
        atheris.Setup([sys.argv[0], *arguments], lambda data: read_from(reader, data, path))
        atheris.Fuzz()


if __name__ == "__main__":
    sys.exit(main())
