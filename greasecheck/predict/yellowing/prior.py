"""What is assumed of yellowing later, from calibration/yellowing.csv and yellowing_rule.csv."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.reference.advice import advice_value
from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import LookupTable, read_lookup

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.yellowing.records import Signs


@dataclass(frozen=True, slots=True, kw_only=True)
class SignPriors:
    """The signs of yellowing, the usual finished skull, and each sign's effect.

    Attributes
    ----------
    names : tuple of str
        The signs.
    centres, spreads : ndarray, shape (signs,)
        Mean and standard deviation over finished skulls, in the sign's unit.
    effect_means, effect_stds : ndarray, shape (1 + signs,)
        Log odds of the usual skull, then of one spread above the centre.
    """

    names: tuple[str, ...]
    centres: FloatArray
    spreads: FloatArray
    effect_means: FloatArray
    effect_stds: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowUpRule:
    """When a follow-up counts.

    Attributes
    ----------
    first_day : float
        Days from whitening from which on follow-up photos are taken and a white skull counts.
    yellowness_rise : float
        Rise of the yellowness index (ASTM E313) that counts as yellowed.
    onset_median_days, onset_log_std : float
        When a skull that will yellow has visibly done so: a log-normal law.
    """

    first_day: float
    yellowness_rise: float
    onset_median_days: float
    onset_log_std: float

    def shown_by(self, days: FloatArray | float) -> FloatArray:
        """Return the share of yellowing skulls that show it by so many days, 0 to 1.

        Examples
        --------
        >>> follow_up_rule().shown_by(np.array([0.0, 21.0, 90.0])).round(2).tolist()
        [0.0, 0.5, 0.87]
        """
        with np.errstate(divide="ignore"):
            late = np.log(np.asarray(days) / self.onset_median_days) / self.onset_log_std
        shown: FloatArray = special.ndtr(late)
        return shown


@cache
def _table() -> LookupTable:
    return read_lookup(data_folder("calibration") / "yellowing.csv")


@cache
def sign_priors() -> SignPriors:
    """Return the signs and what is assumed of them."""
    table = _table()
    return SignPriors(
        names=table.texts("feature")[1:],
        centres=table.numbers("centre")[1:],
        spreads=table.numbers("spread")[1:],
        effect_means=table.numbers("effect"),
        effect_stds=table.numbers("effect_std"),
    )


def yellowing_prior_words() -> str:
    """Return what is assumed, in plain words."""
    return _table().header["words"]


@cache
def follow_up_rule() -> FollowUpRule:
    """Return when a follow-up counts."""
    table = read_lookup(data_folder("calibration") / "yellowing_rule.csv")
    return FollowUpRule(
        first_day=advice_value("follow_up_first_days"),
        **dict(zip(table.texts("name"), table.numbers("value").tolist(), strict=True)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SignArrays:
    """Signs of several skulls in spreads above the centre; both of shape (skulls, signs)."""

    means: FloatArray
    variances: FloatArray


def standardise(signs: tuple[Signs, ...]) -> SignArrays:
    """Return signs as they are believed to be once measured.

    Notes
    -----
    What is known of a sign before it is measured, the spread over skulls, is combined with the
    measurement, so that a sign measured poorly counts for little and one not measured for nothing
    (regression calibration; Carroll et al., Measurement Error in Nonlinear Models, 2nd ed. 2006,
    chapter 4; from memory).
    """
    priors = sign_priors()
    cells = [[getattr(one, name) for name in priors.names] for one in signs]
    shape = (len(signs), len(priors.names))
    values = np.array([[c.value if c else np.nan for c in row] for row in cells]).reshape(shape)
    stds = np.array([[c.std if c else np.inf for c in row] for row in cells]).reshape(shape)
    variances = (stds / priors.spreads) ** 2
    weights = 1 / (1 + variances)
    raw = np.where(np.isfinite(values), (values - priors.centres) / priors.spreads, 0.0)
    return SignArrays(means=weights * raw, variances=1 - weights)
