"""What other limits of the grease left would mean in days: 5 and 20 % against 10 %.

Run with `python -m tests.benchmarks.left_shares`: by every law of the invented bones, in water that
is always fresh, and by what the forecast assumes before it has read anything.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.predict.records import ClearRule, SoakingSkull, TubHistory, WaterChange
from tests.synthetic.judging_tubs import stores
from tests.synthetic.tubs import bones

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

SHARES = (0.2, 0.1, 0.05)
BONES = 100
DAYS = 100.0


def by_laws(count: int = BONES) -> Iterator[tuple[str, FloatArray]]:
    """Yield each law with the days until each share is left, shape (bones, shares)."""
    generator = np.random.default_rng(1)
    drawn: list[tuple[str, list[bones.Bone] | list[stores.Store]]] = [
        *(
            (law.value, [bones.draw_bone(generator, law, DAYS) for _ in range(count)])
            for law in bones.Law
        ),
        *(
            (law.value, [stores.draw_store(generator, law, DAYS) for _ in range(count)])
            for law in stores.Law
        ),
    ]
    for name, some in drawn:
        yield name, np.array([[_days(one, share) for share in SHARES] for one in some])


def _days(bone: bones.Bone | stores.Store, share: float) -> float:
    return float(np.exp(brentq(lambda log: bone.left(np.exp(log)) - share, -7, 12)))


def _told(days: FloatArray) -> str:
    low, middle, high = np.quantile(days, (0.1, 0.5, 0.9))
    return f"{middle:4.0f} ({low:.0f} to {high:.0f})"


def before_reading(species: str) -> FloatArray:
    """Return the median days until each share is left, as assumed of a species."""
    start = datetime(2026, 1, 5, tzinfo=UTC)
    tub = TubHistory(
        skulls=(SoakingSkull(name="one", species=species, since=start),),
        changes=(WaterChange(at=start, temperature_c=40.0),),
    )
    rules = [ClearRule(grease_left_share=share) for share in SHARES]
    found = [forecast(tub, start, rule=rule).degreased.quantile(0.5) for rule in rules]
    return np.array([(at - start) / timedelta(days=1) for at in found if at is not None])


def main() -> None:
    """Print the tables."""
    print(f"{'law':48s} days until 20 % and 5 % are left, 10 % after 100 (1 in 10, 9 in 10)")
    for name, days in by_laws():
        told = [_told(days[:, 0]), _told(days[:, 2])]
        print(f"{name:48s} {told[0]:20s} {told[1]}")
    for species in ("fox", "deer", "bear"):
        print(
            f"before any reading, {species}: "
            + ", ".join(
                f"{share:.0%} {days:.0f}"
                for share, days in zip(SHARES, before_reading(species), strict=True)
            )
        )


if __name__ == "__main__":
    main()
