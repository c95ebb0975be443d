"""The package's shape: files and lines by room, the longest chain of imports, what a photo passes.

Run `python -m tests.benchmarks.house`; `--before REVISION` prints another revision's lines.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections import Counter
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import grimp

from greasecheck.measure import read_photo

if TYPE_CHECKING:
    from types import FrameType

ROOT = Path(__file__).parents[2]
PACKAGE = "greasecheck"
PHOTO = ROOT / "sample_images" / "05_tub17_march.jpg"
MOST_SHOWN = 12  # rooms, the largest first


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--before", metavar="REVISION")
    before = parser.parse_args().before
    files = sorted((ROOT / PACKAGE).rglob("*.py"))
    rooms = Counter(str(path.parent.relative_to(ROOT)) for path in files)
    largest = ", ".join(f"{room} {count}" for room, count in rooms.most_common(MOST_SHOWN))
    lines = sum(len(path.read_text(encoding="utf-8").splitlines()) for path in files)
    print(f"{len(files)} files in {len(rooms)} rooms: {largest}")
    print(f"{lines} lines" + (f", {lines_of(before)} in {before}" if before else ""))
    chain = longest_chain()
    print(f"longest chain of imports: {len(chain)} modules, {' > '.join(chain)}")
    print(f"one photo passes {len(passed(PHOTO))} modules")


def lines_of(revision: str) -> int:
    """Return how many lines of code the package had."""
    names = _git("ls-tree", "-r", "--name-only", revision, PACKAGE).split()
    texts = (_git("show", f"{revision}:{name}") for name in names if name.endswith(".py"))
    return sum(len(text.splitlines()) for text in texts)


def longest_chain() -> tuple[str, ...]:
    """Return the longest chain in which each module imports the next when it runs."""
    graph = grimp.build_graph(PACKAGE, exclude_type_checking_imports=True)

    @cache
    def below(module: str) -> tuple[str, ...]:
        chains = (below(one) for one in graph.find_modules_directly_imported_by(module))
        return (module, *max(chains, key=len, default=()))

    return max((below(module) for module in sorted(graph.modules)), key=len)


def passed(photo: Path) -> set[str]:
    """Return the modules whose code runs while a photo is read."""
    modules: set[str] = set()

    def note(frame: FrameType, event: str, _: object) -> None:
        if event == "call" and frame.f_code.co_name != "<module>":
            modules.add(frame.f_globals.get("__name__", ""))

    read_photo(photo)  # what is loaded when first needed is loaded
    sys.setprofile(note)
    try:
        read_photo(photo)
    finally:
        sys.setprofile(None)
    return {name for name in modules if name.partition(".")[0] == PACKAGE}


def _git(*words: str) -> str:
    return subprocess.run(
        ("git", *words), cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout


if __name__ == "__main__":
    main()
