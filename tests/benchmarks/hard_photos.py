"""New ways to spoil photos, and sound ones that must not be refused.

    python -m tests.benchmarks.hard_photos [count] [seed]

Judged as in `degraded_photos`: good and wrong by more than three stated errors is the fault that
matters. Of the sound ways (a brighter exposure, another white balance, a lens that bends lines a
little) a refusal is a fault, too; a messenger's small copy may be doubted.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.degraded_photos import (
    Outcome,
    Spoiling,
    Trial,
    draw_truth,
    line,
    spoil_and_read,
)
from tests.synthetic.degraded import glass, jars, lights, sound, things
from tests.synthetic.degraded.kinds import Kind

if TYPE_CHECKING:
    from collections.abc import Iterator

SEED, COUNT = 20261129, 1000
ON_THE_REST = (things.card_on_rest, things.strip_on_rest, lights.lamp_on_rest)
SPOILT = tuple(
    Kind(name=spoil.__name__, spoil=spoil, needs_bone=spoil in ON_THE_REST)
    for spoil in (
        glass.smear, glass.film, glass.scratches, jars.drops, *ON_THE_REST, sound.passed_on,
    )
)  # fmt: skip
SOUND = tuple(
    Kind(name=spoil.__name__, spoil=spoil)
    for spoil in (sound.brighter, sound.white_balanced, sound.bent)
)
KINDS = (*SPOILT, *SOUND)


def trials(count: int, seed: int = SEED) -> Iterator[Trial]:
    """Spoil and read photographs, each kind in turn."""
    with tempfile.TemporaryDirectory() as folder:
        for number in range(count):
            rng = np.random.default_rng([seed, number])
            kind = KINDS[number % len(KINDS)]
            truth = draw_truth(rng, kind)
            spoiling = Spoiling(kind=kind, truth=truth, severity=float(rng.uniform()))
            yield spoil_and_read(number, spoiling, rng, Path(folder))


def main() -> None:
    """Run it and print a table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else COUNT
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    found = list(trials(count, seed))
    counts = Counter((trial.kind, trial.outcome) for trial in found)
    print(f"{'':<16}" + "".join(f"{outcome:>17}" for outcome in Outcome))
    for kind in KINDS:
        print(f"{kind.name:<16}" + "".join(f"{counts[kind.name, one]:>17}" for one in Outcome))
    wrong = [trial for trial in found if trial.outcome is Outcome.GOOD_WRONG]
    print("\n".join(map(line, wrong)))
    names = {kind.name for kind in SOUND}
    sound_ones = [trial for trial in found if trial.kind in names]
    refused = [trial for trial in sound_ones if trial.outcome is Outcome.REFUSED]
    print(f"{len(wrong)} of {len(found)} good and wrong;", end=" ")
    print(f"{len(refused)} of {len(sound_ones)} sound ones refused")
    for trial in refused:
        failed = [check.name for check in trial.reading.checks if check.hard and not check.passed]
        print(f"  {trial.kind} {trial.severity:.2f} {trial.file}: {', '.join(failed)}")


if __name__ == "__main__":
    main()
