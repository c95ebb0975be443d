"""What goes into the risk of yellowing later and what comes out: plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A value with its standard error, in the same unit."""

    value: float
    std: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """What is known of a skull at the end of its soak; None where nobody measured.

    Attributes
    ----------
    residual_grease_share : Measured or None
        Share of its grease, 0 to 1, still in the bone.
    yellowness_at_end : Measured or None
        Yellowness index (ASTM E313, D65/2) above that of clean bone.
    yellowness_fall_per_week : Measured or None
        How fast the yellowness index still fell [1/week]; positive when falling.
    yellow_patch_share : Measured or None
        Share of its seen area in yellow patches, 0 to 1.
    log2_soak_over_usual : Measured or None
        Binary log of its soak over its species' usual one.
    resoaked_after_whitening : Measured or None
        1 when it was, 0 when not.
    """

    residual_grease_share: Measured | None = None
    yellowness_at_end: Measured | None = None
    yellowness_fall_per_week: Measured | None = None
    yellow_patch_share: Measured | None = None
    log2_soak_over_usual: Measured | None = None
    resoaked_after_whitening: Measured | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a whitened skull looked later.

    Attributes
    ----------
    days : float
        Days since its whitening, above 0.
    yellowed : bool
        Whether it had yellowed, by eye.
    yi_rise : float or None
        Rise of its yellowness index since the whitening, when measured; goes before the eye.
    """

    days: float
    yellowed: bool
    yi_rise: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """The looks at a skull in short: white until, and yellow by, so many days.

    `white_until_days` is 0 when it was never seen white, `yellow_by_days` None when never yellow.
    """

    white_until_days: float = 0.0
    yellow_by_days: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedSkull:
    """A whitened skull; without looks, such as one that went home, it teaches nothing."""

    name: str
    signs: Signs
    looks: tuple[Look, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskReason:
    """One reason for a risk.

    Attributes
    ----------
    feature : str
        Name of the sign.
    value, std : float
        What it was, with its standard error.
    odds_factor : float
        What it multiplies the odds of the usual skull by; above 1 raises the risk.
    """

    feature: str
    value: float
    std: float
    odds_factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskInterval:
    """A central interval of a risk, 0 to 1."""

    probability: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class YellowingRisk:
    """The risk that a skull yellows later.

    Attributes
    ----------
    probability : float
        0 to 1.
    intervals : tuple of RiskInterval
        Central 50 %, 80 % and 95 % intervals: what more follow-ups and better readings could
        still make of it.
    reasons : tuple of RiskReason
        The signs that were measured, weightiest first.
    unmeasured : tuple of str
        Signs that nobody measured.
    """

    probability: float
    intervals: tuple[RiskInterval, ...]
    reasons: tuple[RiskReason, ...]
    unmeasured: tuple[str, ...]

    @property
    def eight_in_ten(self) -> RiskInterval:
        """Return the 80 % interval, the one that people are shown."""
        return next(part for part in self.intervals if part.probability == 0.8)


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationPoint:
    """A group of skulls: their mean predicted risk, and the share that yellowed."""

    predicted: float
    observed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelCheck:
    """How well the risk predicted the follow-ups it had not seen (cross-validation).

    Attributes
    ----------
    outcomes, yellowed : int
        Follow-ups that were predicted, and how many of them had yellowed.
    brier : float
        Mean squared error of the risk; 0 is perfect.
    brier_base_rate : float
        The same of a risk alike for all skulls: the share that yellowed so far.
    curve : tuple of CalibrationPoint
        Calibration curve.
    """

    outcomes: int
    yellowed: int
    brier: float
    brier_base_rate: float
    curve: tuple[CalibrationPoint, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowUpValue:
    """What a follow-up photo of a skull would teach.

    Attributes
    ----------
    name : str
        The skull.
    day : float
        Days from its whitening to the photo.
    information_bits : float
        Expected gain of information on how the signs bear on yellowing [bit].
    probability_yellow : float
        Probability that the photo shows it yellowed.
    """

    name: str
    day: float
    information_bits: float
    probability_yellow: float
