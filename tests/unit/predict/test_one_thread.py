from __future__ import annotations

import numpy as np
import pytest

from greasecheck.errors import ForecastError
from greasecheck.predict.advice import decisions
from greasecheck.predict.fit import tub_fit
from greasecheck.predict.one_thread import ONE_THREAD, linear_algebra, on_one_thread
from greasecheck.predict.outlook import forecasting


def threads() -> set[int]:
    return {library["num_threads"] for library in linear_algebra().info()}


@on_one_thread
def asked(*, fails: bool) -> set[int]:
    """Return how many threads there are meanwhile, or fail."""
    np.linalg.inv(np.eye(300))
    if fails:
        raise ForecastError("no skull", hint="put one in")
    return threads()


def test_a_process_has_its_threads_back_after_an_answer_and_after_a_fault() -> None:
    with linear_algebra().limit(limits=2):
        before = threads()
        assert asked(fails=False) == {1}
        assert threads() == before
        with pytest.raises(ForecastError):
            asked(fails=True)
        assert threads() == before
    assert before == {2}


@pytest.mark.parametrize("entry", [tub_fit.fit_tub, forecasting.project, decisions.advise])
def test_all_that_fits_or_projects_runs_on_one_thread(entry: object) -> None:
    assert hasattr(entry, "__wrapped__")


def test_two_that_overlap_keep_to_one_thread_and_give_all_back() -> None:
    with linear_algebra().limit(limits=2):
        before = threads()
        ONE_THREAD.__enter__()
        ONE_THREAD.__enter__()  # another asks
        ONE_THREAD.__exit__()  # the first is done
        assert threads() == {1}
        ONE_THREAD.__exit__()
        assert threads() == before
