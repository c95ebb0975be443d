"""Good readings of spoilt photographs must be right: `python -m tests.benchmarks.degraded_photos`.

Path-traced photographs of known truth are spoilt in many ways, from hardly to grossly, and read
against the reference made from the unspoilt clear water. A reading is WRONG when the attenuation
or the bone's yellowness lies more than three of its stated standard errors from the truth, or the
yellow-patch share more than its tolerance. Right readings that say good, doubtful or refused are
all honest; a wrong one that says good is not.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.reference import make_clear_water
from greasecheck.model import Bound, Verdict
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import read_patch_values
from tests.synthetic.degraded.kinds import KINDS
from tests.synthetic.degraded.picture import SAMPLES, WATERS, load, save, truths

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from greasecheck.model import BoneReading, Reading, WaterReading
    from tests.synthetic.degraded.kinds import Kind
    from tests.synthetic.degraded.picture import Truth

SEED = 20261125
COUNT, QUICK_COUNT = 1024, len(KINDS)  # the quick version has one of each kind
PATH_MM = 60.0
WRONG_STD = 3.0
SHARE_TOLERANCE = 0.12  # three standard errors, where good photos keep 0.08, about two


class Outcome(StrEnum):
    """What became of a spoilt photograph."""

    REFUSED = "refused"
    DOUBTFUL = "doubtful"
    DOUBTFUL_WRONG = "doubtful, wrong"
    GOOD_RIGHT = "good, right"
    GOOD_WRONG = "GOOD, WRONG"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoiling:
    """How a photograph is to be spoilt; the severity is 0 to 1."""

    kind: Kind
    truth: Truth
    severity: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One spoilt photograph and how it was read; errors are in limits, above 1 is wrong."""

    number: int
    kind: str
    severity: float
    file: str
    reading: Reading
    water_error: float
    bone_error: float
    share_error: float

    @property
    def error(self) -> float:
        """The largest of the errors."""
        return max(self.water_error, self.bone_error, self.share_error)

    @property
    def outcome(self) -> Outcome:
        """Verdict against truth."""
        if self.reading.verdict is Verdict.REFUSED:
            return Outcome.REFUSED
        wrong = self.error > 1
        if self.reading.verdict is Verdict.DOUBTFUL:
            return Outcome.DOUBTFUL_WRONG if wrong else Outcome.DOUBTFUL
        return Outcome.GOOD_WRONG if wrong else Outcome.GOOD_RIGHT


@cache
def settings_for(folder: Path) -> ReadSettings:
    """Return the settings of a folder of photographs, with its own clear water."""
    if folder == SAMPLES:
        values = read_patch_values(SAMPLES / "sheet_measured.cgats", known_sheets()[0])
        plain, clear = ReadSettings(values=values), SAMPLES / "01_tap_water.jpg"
    else:
        plain, clear = ReadSettings(), WATERS / "reference.jpg"
    reference = make_clear_water([view_clear_water(clear, plain, tap_water=True)], PATH_MM)
    return ReadSettings(values=plain.values, jar=Jar(clear=reference))


@cache
def sound_truths() -> tuple[Truth, ...]:
    """Return the photographs that read good and right before they are spoilt."""
    return tuple(truth for truth in truths() if _is_sound(truth))


def _is_sound(truth: Truth) -> bool:
    reading = view_photo(truth.file, settings_for(truth.file.parent)).reading
    return reading.verdict is Verdict.GOOD and max(_errors(reading, truth)) <= 1


def spoilt(count: int, seed: int = SEED, folder: Path | None = None) -> Iterable[Trial]:
    """Spoil and read photographs, each kind in turn; keep them in `folder` if it is given."""
    with tempfile.TemporaryDirectory() as passing:
        for number in range(count):
            yield trial(number, seed, folder or Path(passing))


def trial(number: int, seed: int, folder: Path) -> Trial:
    """Spoil one photograph and read it."""
    rng = np.random.default_rng([seed, number])
    kind = KINDS[number % len(KINDS)]
    truth = draw_truth(rng, kind)
    severity = float(rng.uniform())
    return spoil_and_read(number, Spoiling(kind=kind, truth=truth, severity=severity), rng, folder)


def spoil_and_read(
    number: int, spoiling: Spoiling, rng: np.random.Generator, folder: Path
) -> Trial:
    """Spoil a photograph as told and read it."""
    kind, truth, severity = spoiling.kind, spoiling.truth, spoiling.severity
    path = folder / f"{number:04d}_{kind.name}.jpg"
    save(kind.spoil(load(truth), rng, severity), truth, path)
    reading = view_photo(path, settings_for(truth.file.parent)).reading
    water, bone, share = _errors(reading, truth)
    return Trial(
        number=number,
        kind=kind.name,
        severity=severity,
        file=truth.file.name,
        reading=reading,
        water_error=water,
        bone_error=bone,
        share_error=share,
    )


def draw_truth(rng: np.random.Generator, kind: Kind) -> Truth:
    """Draw a photograph, half of the time one with a bone."""
    with_bone = [truth for truth in sound_truths() if truth.yi_e313 is not None]
    others = [truth for truth in sound_truths() if truth.yi_e313 is None]
    chosen = with_bone if kind.needs_bone or rng.random() < 0.5 else others
    return chosen[rng.integers(len(chosen))]


def _errors(reading: Reading, truth: Truth) -> tuple[float, float, float]:
    """Errors of attenuation, yellowness and yellow share over what makes them wrong."""
    water = 0.0 if reading.water is None else _water_std(reading.water, truth.red_per_m)
    bone, share = _bone_errors(reading.bone, truth)
    return water / WRONG_STD, bone / WRONG_STD, share / SHARE_TOLERANCE


def _water_std(water: WaterReading, true_per_m: float) -> float:
    """Error in standard errors; a bound errs only when the truth lies on its other side."""
    error = (water.main_per_m - true_per_m) / water.std_per_m
    if water.bound is None:
        return abs(error)
    return max(error if water.bound is Bound.ABOVE else -error, 0.0)


def _bone_errors(bone: BoneReading | None, truth: Truth) -> tuple[float, float]:
    if bone is None:
        return 0.0, 0.0
    if truth.yi_e313 is None or truth.yellow_patch_share is None:
        return np.inf, 0.0  # a bone seen where there is none
    yellowness = abs(bone.yi_e313 - truth.yi_e313) / bone.yi_std
    return yellowness, abs(bone.yellow_patch_share - truth.yellow_patch_share)


def table(trials: Sequence[Trial]) -> str:
    """Return the table of kinds and outcomes."""
    counts = Counter((trial.kind, trial.outcome) for trial in trials)
    lines = [f"{'':<18}" + "".join(f"{outcome:>17}" for outcome in Outcome)]
    lines += [
        f"{kind.name:<18}" + "".join(f"{counts[kind.name, outcome]:>17}" for outcome in Outcome)
        for kind in KINDS
    ]
    sums = Counter(trial.outcome for trial in trials)
    return "\n".join([*lines, f"{'all':<18}" + "".join(f"{sums[one]:>17}" for one in Outcome)])


def line(trial: Trial) -> str:
    """Describe one trial in a line."""
    water, bone = trial.reading.water, trial.reading.bone
    head = f"{trial.number:4d} {trial.kind:<16} severity {trial.severity:4.2f} {trial.file:<24}"
    said = "" if water is None else (
        f" water {water.bound or ''} {water.main_per_m:.2f} +- {water.std_per_m:.2f} per m:"
        f" {trial.water_error * WRONG_STD:.1f} std"
    )  # fmt: skip
    if bone is None:
        return head + said
    return (
        f"{head}{said}; YI {bone.yi_e313:.1f} +- {bone.yi_std:.1f}: "
        f"{trial.bone_error * WRONG_STD:.1f} std; share {bone.yellow_patch_share:.2f} off by "
        f"{trial.share_error * SHARE_TOLERANCE:.2f}"
    )


def main() -> int:
    """Print the table and every good reading that is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_COUNT} photographs")
    parser.add_argument("--count", type=int, default=COUNT, help="how many photographs")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--keep", type=Path, help="folder to keep the photographs in")
    given = parser.parse_args()
    trials = list(spoilt(QUICK_COUNT if given.quick else given.count, given.seed, given.keep))
    wrong = [trial for trial in trials if trial.outcome is Outcome.GOOD_WRONG]
    print(table(trials))
    print("\n".join(["", "good and wrong:", *(line(trial) for trial in wrong)]))
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
