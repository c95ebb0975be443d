"""A fitted tub under fewer draws, for questions that are asked many times over."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.model.course import Course


def thinned_courses(fit: TubFit, draws: int) -> tuple[Course, ...]:
    """Return the course of each branch under every so-many-th draw, about `draws` in all."""
    total = sum(branch.course.speed.shape[1] for branch in fit.branches)
    every = max(1, total // draws)
    return tuple(branch.course.thinned(every) for branch in fit.branches)
