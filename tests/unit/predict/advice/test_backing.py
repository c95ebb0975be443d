from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from greasecheck.model import Bound, Recipe
from greasecheck.predict.advice.backing import Backing, backing_of
from greasecheck.predict.advice.proof import Proof, proofs_of
from greasecheck.predict.fit.tub_fit import fit_tub
from greasecheck.predict.records import ClearRule, SoakingSkull, TemperatureRecord, TubHistory
from greasecheck.predict.tables import species_mass_kg
from tests.unit.predict.tubs import START, day, fading_tub, reading

if TYPE_CHECKING:
    from datetime import datetime

DAYS = 40


def ask(history: TubHistory, days: float = DAYS, *, checked_at: datetime | None = None) -> Backing:
    return backing_of(fit_tub(history, day(days)), history, ClearRule(), checked_at=checked_at)


def newest_proof(history: TubHistory) -> Proof:
    warm = tuple(one.at for one in history.temperatures)
    proof = proofs_of(fit_tub(history, day(DAYS)), warm, ClearRule())[-1]
    assert proof is not None
    return proof


def felt(*pairs: tuple[float, float]) -> tuple[TemperatureRecord, ...]:
    return tuple(TemperatureRecord(at=day(at), temperature_c=warm) for at, warm in pairs)


def left_alone(*, last: float, measured: float | None = 36.0, end: float = 39.0) -> TubHistory:
    """Return a tub whose water was left from day 24 on, and what it read at the end."""
    usual = fading_tub(25, half_life=5.0)
    return replace(
        usual,
        readings=(*usual.readings[:-1], reading(24.5, 1.5), reading(end, last)),
        temperatures=() if measured is None else felt((measured, 40.0)),
    )


@pytest.mark.parametrize(
    ("temperatures", "warm"),
    [
        ((), False),
        (felt((35, 39.0)), True),
        (felt((35, 15.0)), False),
        (felt((35, 30.5)), True),  # no more than 10 degrees below what goes in
        (felt((35, 29.5)), False),
        (felt((20, 39.0)), False),  # too long ago
        (felt((39.5, 39.0)), False),  # no photo a day later
    ],
)
def test_warm_is_what_a_thermometer_said_of_late_with_a_photo_after(
    temperatures: tuple[TemperatureRecord, ...], warm: bool
) -> None:
    assert ask(replace(fading_tub(DAYS), temperatures=temperatures)).warm is warm


def test_somebody_who_found_all_well_found_it_warm() -> None:
    assert ask(fading_tub(DAYS), checked_at=day(36)).warm
    assert not ask(fading_tub(DAYS), checked_at=day(10)).warm


def test_a_tub_at_room_temperature_needs_no_heater() -> None:
    usual = fading_tub(DAYS)
    cool = tuple(replace(change, temperature_c=20.0) for change in usual.changes)
    assert ask(replace(usual, changes=cool)).warm


@pytest.mark.parametrize(
    ("last", "measured", "proved", "refuted"),
    [
        (2.0, 36.0, True, False),
        (9.0, 36.0, False, True),
        (2.0, None, False, False),
        (9.0, 26.0, False, False),  # not measured late enough
    ],
)
def test_the_proof_is_warm_water_left_alone_that_stays_clear(
    last: float, measured: float | None, proved: bool, refuted: bool
) -> None:
    backing = ask(left_alone(last=last, measured=measured))
    assert (backing.proved, backing.refuted) == (proved, refuted)


def test_water_that_had_gone_cold_by_its_second_half_proves_nothing() -> None:
    quiet = left_alone(last=2.0)
    assert ask(quiet).proved
    cooled = replace(quiet, temperatures=felt((25.0, 39.0), (36.0, 29.0)))
    assert ask(cooled).proof_span == 0


@pytest.mark.parametrize(
    ("end", "last", "days"),
    [
        (30.5, 1.6, 0.0),  # before a week nothing is proved
        (31.5, 1.6, 7.5),
        (31.5, 2.8, 0.0),  # by less than two errors
        (39.0, 2.8, 14.0),
    ],
)
def test_a_proof_holds_from_a_week_on_by_two_standard_errors_and_at_the_end_by_none(
    end: float, last: float, days: float
) -> None:
    tub = left_alone(last=last, end=end, measured=end - 0.5)
    backing = ask(tub, end + 0.1)
    assert backing.proof_span == pytest.approx(days / 14, rel=0.01)
    assert (backing.proved, backing.refuted) == (days >= 14, False)


def test_the_same_haze_is_less_grease_in_less_water() -> None:
    tub, standard_l = left_alone(last=4.0), 25.0 * species_mass_kg("deer")
    shares = [
        newest_proof(replace(tub, volume_l=times * standard_l)).gain_share for times in (1.0, 0.25)
    ]
    assert 4 * shares[1] == pytest.approx(shares[0], rel=0.01)


def test_more_readings_of_a_bath_make_its_proof_surer() -> None:
    few = left_alone(last=1.6, end=33.0, measured=32.0)
    more = tuple(reading(days, 1.5 + 0.01 * (days - 24)) for days in (26.0, 28.0, 30.0, 32.0))
    stds = [newest_proof(replace(few, readings=(*few.readings, *some))).std for some in ((), more)]
    assert stds[1] < 0.97 * stds[0]


def test_water_too_murky_to_read_proves_nothing() -> None:
    murky = left_alone(last=60.0)
    last = replace(murky.readings[-1], bound=Bound.ABOVE)
    assert newest_proof(replace(murky, readings=(*murky.readings[:-1], last))).is_refuted


@pytest.mark.parametrize(("gain", "proved"), [(4.0, True), (20.0, False)])
def test_water_as_quiet_as_a_degreased_skull_leaves_it_is_proof(
    gain: float, *, proved: bool
) -> None:
    # of a skull with so much grease that a tenth of it makes more haze than clear water may
    usual = left_alone(last=1.5)
    rich = tuple(
        replace(one, attenuation_per_m=1.5 + 12 * (one.attenuation_per_m - 1.5))
        for one in usual.readings[:-1]
    )
    last = replace(usual.readings[-1], attenuation_per_m=1.5 + gain)
    assert ask(replace(usual, readings=(*rich, last))).proved is proved


def test_how_sure_it_may_be_grows_with_time_and_with_the_proof() -> None:
    early, late = (ask(fading_tub(days), days).most_sure["buck"] for days in (30, 90))
    assert early < 0.2 < late < 0.9
    fox = replace(
        left_alone(last=2.0), skulls=(SoakingSkull(name="vixen", species="fox", since=START),)
    )
    unproved = replace(fox, temperatures=())
    sure = [ask(one).most_sure["vixen"] for one in (unproved, _ended(fox, 31.5), fox)]
    assert sure[0] < 0.9 < sure[2]
    assert sure[0] < sure[1] < sure[2]


def _ended(tub: TubHistory, end: float) -> TubHistory:
    """Return the tub as if its last bath had been read last at `end`, and was warm then."""
    last = replace(tub.readings[-1], at=day(end))
    return replace(tub, readings=(*tub.readings[:-1], last), temperatures=felt((end, 40.0)))


def test_days_in_cold_water_count_less() -> None:
    usual = fading_tub(DAYS)
    cool = replace(
        usual, changes=tuple(replace(change, temperature_c=20.0) for change in usual.changes)
    )
    assert ask(usual).soaked_days["buck"] == pytest.approx(DAYS, rel=0.05)
    assert ask(cool).soaked_days["buck"] < DAYS / 2
    assert ask(cool).most_sure["buck"] < ask(usual).most_sure["buck"]


def test_acetone_is_never_backed_since_it_shows_no_haze() -> None:
    usual = left_alone(last=2.5)
    changes = tuple(replace(one, recipe=Recipe.ACETONE) for one in usual.changes)
    dissolved = ask(replace(usual, changes=changes))
    assert ask(usual).proved
    assert not dissolved.proved
    assert not dissolved.warm


def test_a_smaller_share_left_is_believed_later() -> None:
    tub = fading_tub(DAYS)
    fit = fit_tub(tub, day(DAYS))
    sure = [
        backing_of(fit, tub, ClearRule(grease_left_share=share)).most_sure["buck"]
        for share in (0.2, 0.1, 0.05)
    ]
    assert sure == sorted(sure, reverse=True)
    assert sure[0] > 1.2 * sure[2]
