"""Derives calibration/ladder_slopes.csv from path-traced tubs.

Run as ``python -m tests.synthetic.ladder_light.fit_slopes``; it writes the table anew. The tubs are
those of design.npz, gain.npz, bath_gain.npz, colour.npz, clear.npz and tinted.npz (see make_light);
none of those by which readings are judged is among them.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize
from sklearn.linear_model import Ridge
from sklearn.preprocessing import PolynomialFeatures

from greasecheck.measure.ladder.limits import STEP
from greasecheck.measure.ladder.signs.stripes import largest_step
from greasecheck.measure.ladder.slopes import fit_slopes
from greasecheck.reference.folder import data_folder
from greasecheck.reference.ladder.slopes import (
    CLEAR_DECAYS_PER_M,
    KINDS,
    TABLE,
    Polynomial,
    SlopeFit,
    clear_variables,
    colour_signs,
    kind_signs,
    log_decay_of,
    murky_variables,
)
from tests.synthetic.ladder_light.make_light import (
    BATH_GAIN_TUBS,
    CLEAR_TUBS,
    COLOUR_TUBS,
    DESIGNS,
    GAIN_TUBS,
    TINTED_TUBS,
)
from tests.synthetic.ladder_light.scenes import (
    GAIN_STEPS,
    bath_gain_scenes,
    clear_scenes,
    colour_scenes,
    design_scenes,
    gain_scenes,
    profiles_of,
    scene_of,
    tinted_scenes,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.measure.ladder.slopes import Profile
    from greasecheck.model import BoolArray, FloatArray
    from tests.synthetic.ladder_light.scenes import Tub, Water

# Waters that baths can be: fat emulsions g 0.48 to 0.80 (Michels, Foschum & Kienle 2008), larger
# particles up to 0.95; what lies outside is not fitted.
SCATTER = (0.55, 0.95)
FAMILIES, OTHER_FAMILIES = 5, 2  # kinds of water, each as likely; those that no bath is known by
LEAST_PALE_ALBEDO = 0.8  # below it water absorbs so much that its gain is another
MURKY_PER_M, CLEAR_PER_M = (6.0, 120.0), (0.5, 14.0)
LEAST_FAR_PER_M = 0.05
FEWEST_STEPS, CROSSED_LOG_STD = 7, 0.2  # of a tub whose gain is fitted
POWERS = 3  # of the decay, along which kinds of water change
GREY_STD = 0.05  # of what colours tell of grey water, by the noise of tracing
HEADER = """\
# title: Haze of a bath from the decay of a ladder's contrast
# source: tests/synthetic/ladder_light/fit_slopes.py, from path-traced tubs of many kinds
# author: the greasecheck founders
# year: 2026
# doi: none
# licence: as the package
# units: slopes in 1/m; logarithms are natural; powers are of the variables of SlopeLaw
"""


def seen_of(
    pairs: list[tuple[Tub, Water]], name: str, *, in_photos: bool = False
) -> tuple[FloatArray, FloatArray, FloatArray, BoolArray, list[SlopeFit]]:
    """Return haze, g, cosine of the angle of view, crossed ones, and slopes of each traced tub."""
    traced = np.load(Path(__file__).with_name(f"{name}.npz"))
    light, error = traced["light"][:, 0], traced["error"][:, 0].astype(float)
    scenes = [scene_of(tub, water, 0) for tub, water in pairs]
    profiles = profiles_of(scenes, light, error, in_photos=in_photos)
    haze = np.array([water.attenuation_per_m[0] for _, water in pairs])
    forward = np.array([water.g_forward for _, water in pairs])
    view = np.cos(np.radians([tub.view_deg for tub, _ in pairs]))
    crossed = np.array([is_crossed(*both) for both in zip(profiles, haze, strict=True)])
    return haze, forward, view, crossed, [fit_slopes(profile) for profile in profiles]


def is_crossed(profile: Profile, haze_per_m: float) -> bool:
    """Whether the edge of a shadow crosses the stripes."""
    fields = (profile.fine, profile.fine_std), (profile.coarse, profile.coarse_std)
    return largest_step(fields, haze_per_m) > STEP.doubtful


def solved(design_matrix: FloatArray, wanted: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the factors of the columns of a design matrix, hardly shrunk."""
    model = Ridge(alpha=1e-3, fit_intercept=False)
    return np.asarray(model.fit(design_matrix, wanted, weights).coef_, dtype=np.float64)


def rows_of(part: str, terms: PolynomialFeatures, factors: FloatArray) -> list[str]:
    """Write a polynomial as lines of the table."""
    return [
        f"{part},{' '.join(str(int(power)) for power in powers)},{factor:.6g}"
        for powers, factor in zip(terms.powers_, factors, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class Tubs:
    """Water in one colour of each of many tubs.

    Numbers of the tubs, kinds of water, colours (R, G, B: 0, 1, 2), hazes [1/m] and cosines of the
    angle of view, each of shape (n,), what colours tell, shape (n, 3), which are crossed by the
    edge of a shadow, shape (n,), and n fits of slopes.
    """

    number: NDArray[np.int_]
    kind: NDArray[np.str_]
    channel: NDArray[np.int_]
    haze_per_m: FloatArray
    view_cos: FloatArray
    colours: FloatArray
    crossed: BoolArray
    slopes: list[SlopeFit]

    def of(self, name: str) -> FloatArray:
        """Return a decay of all, shape (n,) [1/m]."""
        return np.array([getattr(one, name)[0] for one in self.slopes])

    @property
    def clear(self) -> FloatArray:
        """Return the variables of the law of clear water, shape (n, 2)."""
        return clear_variables(self.of("far_per_m"), self.view_cos)

    @property
    def murky(self) -> FloatArray:
        """Return the variables of the law of murky water, shape (n, 6)."""
        each = zip(self.slopes, self.view_cos, self.colours, strict=True)
        return np.concatenate([murky_variables(one, view, own[1:2]) for one, view, own in each])

    @property
    def signs(self) -> FloatArray:
        """Return the signs of the kind of water, shape (n, 4)."""
        own = np.concatenate([kind_signs(one) for one in self.slopes])
        return np.column_stack([own, self.colours[:, [0, 2]]])

    def where(self, chosen: BoolArray) -> Tubs:
        """Return those chosen by a mask of shape (n,)."""
        return Tubs(
            self.number[chosen],
            self.kind[chosen],
            self.channel[chosen],
            self.haze_per_m[chosen],
            self.view_cos[chosen],
            self.colours[chosen],
            self.crossed[chosen],
            [one for one, used in zip(self.slopes, chosen, strict=True) if used],
        )


def grey_tubs(*, in_photos: bool) -> Tubs:
    """Return the tubs of any grey water."""
    pairs = design_scenes(DESIGNS)
    haze, forward, view, crossed, slopes = seen_of(pairs, "design", in_photos=in_photos)
    number, grey = np.arange(len(haze)), np.zeros((len(haze), 3))
    albedo = np.array([water.albedo[0] for _, water in pairs])
    kind = np.where(albedo < LEAST_PALE_ALBEDO, "dark grey", "grey")
    tubs = Tubs(number, kind, 0 * number, haze, view, grey, crossed, slopes)
    return tubs.where(_between_limits(forward, SCATTER))


def coloured_tubs(*, in_photos: bool) -> Tubs:
    """Return all colours of the tubs whose waters differ in colour."""
    pairs, profiles = [], []
    for name, own in (
        ("colour", colour_scenes(COLOUR_TUBS)),
        ("clear", clear_scenes(CLEAR_TUBS)),
        ("tinted", tinted_scenes(TINTED_TUBS)),
    ):
        traced = np.load(Path(__file__).with_name(f"{name}.npz"))
        light, error = traced["light"], traced["error"].astype(float)
        colours = (
            profiles_of(
                [scene_of(tub, water, one) for tub, water in own],
                light[:, one],
                error[:, one],
                in_photos=in_photos,
            )
            for one in range(3)
        )
        profiles += [profile for of_tub in zip(*colours, strict=True) for profile in of_tub]
        pairs += own
    slopes = [fit_slopes(profile) for profile in profiles]
    haze = np.ravel([water.attenuation_per_m for _, water in pairs])
    signs = [colour_signs(*both) for both in zip(slopes[::3], slopes[2::3], strict=True)]
    return Tubs(
        np.repeat(np.arange(len(pairs)), 3),
        np.repeat([_kind_of(water) for _, water in pairs], 3),
        np.tile(np.arange(3), len(pairs)),
        haze,
        np.repeat(np.cos(np.radians([tub.view_deg for tub, _ in pairs])), 3),
        np.repeat(np.concatenate(signs), 3, axis=0),
        np.array([is_crossed(*both) for both in zip(profiles, haze, strict=True)]),
        slopes,
    )


def _kind_of(water: Water) -> str:
    dark = water.kind == "tinted" and water.albedo[0] < LEAST_PALE_ALBEDO
    return f"dark {water.kind}" if dark else water.kind


def derive() -> list[str]:
    """Fit everything; return the lines of the table.

    Murky water's law goes by stripes as photos show them. Those of clear water go by stripes from
    the surface on: by photos' stripes they calibrate a tub less well (tests/benchmarks/README.md).
    """
    murky = _murky_parts(grey_tubs(in_photos=True), coloured_tubs(in_photos=True))
    grey, baths = (_clear_ones(tubs(in_photos=False)) for tubs in (grey_tubs, coloured_tubs))
    lines = ["part,powers,value", *murky]
    lines += _clear_parts(grey.where(grey.kind == "grey"))
    every = _joined(baths, grey)
    lines += _usual_parts(lines, every)
    lines += _kind_parts(lines, every)
    return lines + _gain_parts(_polynomial(_split(lines), "clear"))


def _joined(baths: Tubs, grey: Tubs) -> Tubs:
    """Return baths' own waters and grey ones, which are alike in all colours."""
    each = np.repeat(np.arange(len(grey.slopes)), 3)
    return Tubs(
        np.concatenate([baths.number, baths.number.max() + 1 + grey.number[each]]),
        np.concatenate([baths.kind, grey.kind[each]]),
        np.concatenate([baths.channel, np.tile(np.arange(3), len(grey.slopes))]),
        np.concatenate([baths.haze_per_m, grey.haze_per_m[each]]),
        np.concatenate([baths.view_cos, grey.view_cos[each]]),
        np.concatenate([baths.colours, grey.colours[each]]),
        np.concatenate([baths.crossed, grey.crossed[each]]),
        [*baths.slopes, *(grey.slopes[place] for place in each)],
    )


def _between_limits(values: FloatArray, limits: tuple[float, float]) -> BoolArray:
    inside: BoolArray = (values >= limits[0]) & (values <= limits[1])
    return inside


def _clear_ones(tubs: Tubs) -> Tubs:
    decays = tubs.of("far_per_m") > LEAST_FAR_PER_M
    return tubs.where(decays & _between_limits(tubs.haze_per_m, CLEAR_PER_M))


def _murky_parts(grey: Tubs, baths: Tubs) -> list[str]:
    """Fit the law of murky water."""
    both = [
        tubs.where(
            np.isfinite(tubs.murky).all(axis=1) & _between_limits(tubs.haze_per_m, MURKY_PER_M)
        )
        for tubs in (grey, baths)
    ]
    wanted = [np.log(seen.haze_per_m / seen.of("fine_per_m")) for seen in both]
    variables, number = ([seen.murky for seen in both], [seen.number for seen in both])
    weights = _alike(_family(np.concatenate([seen.kind for seen in both])))
    joined = (np.concatenate(variables), np.concatenate(wanted), np.concatenate(number))
    return _fit_part("murky", *joined, weights)


def _alike(kind: NDArray[np.str_]) -> FloatArray:
    """Return weights by which each kind of water counts as much as any other."""
    _, places, counts = np.unique(kind, return_inverse=True, return_counts=True)
    return np.asarray(len(kind) / len(counts) / counts[places])


def _clear_parts(grey: Tubs) -> list[str]:
    """Fit the mean law of clear water; how far others differ from it is in `_usual_parts`."""
    wanted = np.log(grey.haze_per_m / grey.of("far_per_m"))
    return _fit_part("clear", grey.clear, wanted, grey.number, np.ones(len(wanted)))[:-1]


def _usual_parts(lines: list[str], tubs: Tubs) -> list[str]:
    """Return what all waters differ from that law, each kind counting alike."""
    clear = _polynomial(_split(lines), "clear")
    gain = np.log(tubs.haze_per_m / tubs.of("far_per_m")) - clear(tubs.clear)
    weights = _alike(_family(tubs.kind))
    mean = float(np.average(gain, weights=weights))
    std = float(np.sqrt(np.average((gain - mean) ** 2, weights=weights)))
    return [f"clear_log_mean,,{mean:.4f}", f"clear_log_std,,{std:.4f}"]


def _family(kind: NDArray[np.str_]) -> NDArray[np.str_]:
    """Return the kinds of water whether they are dark or not."""
    return np.array([one.removeprefix("dark ") for one in kind])


def _kind_parts(lines: list[str], baths: Tubs) -> list[str]:
    """Fit how the gain follows from the kind of water and its signs, and what these are in each.

    Its error is that of tubs which no edge of a shadow crosses: readings of others are doubtful.
    """
    clear, signs = _polynomial(_split(lines), "clear"), baths.signs
    gain = np.log(baths.haze_per_m / baths.of("far_per_m")) - clear(baths.clear)
    along = baths.clear[:, :1] ** np.arange(POWERS)
    own = [(baths.kind == kind)[:, None] * along for kind in KINDS]
    terms = PolynomialFeatures(2, include_bias=False)
    design_matrix = np.column_stack([terms.fit_transform(signs), *own])
    weights = np.ones(len(gain))
    left = _left_out(design_matrix, gain, baths.number, weights)
    stds = [
        _log_std_line(baths.clear[own, 0], left[own])
        for own in ((baths.kind == kind) & ~baths.crossed for kind in KINDS)
    ]
    print(
        f"kind: {len(gain)} colours of tubs, errors of {KINDS} where decay is least:"
        f" {np.exp(np.array(stds)[:, 0]).round(3)}"
    )
    factors, gains = np.split(solved(design_matrix, gain, weights), [terms.n_output_features_])
    return [
        *rows_of("kind", terms, factors),
        *_entries("kind_log_std_line", np.array(stds)),
        *_entries("kind_gain", gains.reshape(len(KINDS), POWERS)),
        *(line for kind in KINDS for line in _kind_rows(kind, signs, along, baths)),
    ]


def _log_std_line(log_decay: FloatArray, errors: FloatArray) -> FloatArray:
    """Return the line of the logarithm of a standard error under which errors are likeliest."""

    def unlikely(line: FloatArray) -> float:
        logs = line[0] + line[1] * log_decay
        return float(np.sum(logs + errors**2 * np.exp(-2 * logs) / 2))

    start = [np.log(errors.std()), 0.0]
    line: FloatArray = minimize(unlikely, start, method="Nelder-Mead").x
    return line


def _kind_rows(kind: str, signs: FloatArray, along: FloatArray, baths: Tubs) -> list[str]:
    """Write the share of a kind of water and the normal law of its signs, in each colour."""
    colours = [baths.channel == channel for channel in range(3)]
    chosen = [colour & (baths.kind == kind) for colour in colours]
    family = _family(baths.kind)
    own = baths.kind[family == kind.removeprefix("dark ")]
    shares = np.full(3, np.mean(own == kind) / FAMILIES)
    means = [np.linalg.lstsq(along[one], signs[one])[0] for one in chosen]
    left = [signs[one] - along[one] @ mean for one, mean in zip(chosen, means, strict=True)]
    return [
        *_entries(f"{kind}_share", shares),
        *_entries(f"{kind}_mean", np.array(means)),
        *_entries(f"{kind}_covariance", np.array([_spread(one) for one in left])),
    ]


def _spread(signs: FloatArray) -> FloatArray:
    """Return the covariance of signs; of what does not vary, that of tracing's noise."""
    covariance = np.cov(signs.T)
    fixed = np.diag(covariance) < GREY_STD**2
    covariance[fixed, fixed] = GREY_STD**2
    return covariance


def _entries(part: str, values: FloatArray) -> list[str]:
    """Write an array as lines of the table."""
    places = np.ndindex(values.shape)
    return [f"{part},{' '.join(map(str, place))},{values[place]:.6g}" for place in places]


def _split(lines: list[str]) -> list[list[str]]:
    return [line.split(",") for line in lines]


def _gain_parts(clear: Polynomial) -> list[str]:
    """Fit how haze over decay runs along the hazes of one tub, and how that differs between tubs.

    Lines with random coefficients (Swamy 1970, Econometrica 38, 311): those of single tubs by least
    squares, their covariance less that of the errors of each. The kinds of baths and the others
    count as they do in `_kind_rows`.
    """
    baths = _tubs_lines(bath_gain_scenes(BATH_GAIN_TUBS), "bath_gain", clear)
    others = _tubs_lines(gain_scenes(GAIN_TUBS), "gain", clear)
    dark = np.array([one.albedo < LEAST_PALE_ALBEDO for one in others])
    rest = OTHER_FAMILIES / FAMILIES
    return [
        *_gain_rows("bath", baths, 1 - rest),
        *_gain_rows("pale", _chosen(others, ~dark), rest * float(np.mean(~dark))),
        *_gain_rows("dark", _chosen(others, dark), rest * float(np.mean(dark))),
    ]


@dataclass(frozen=True, slots=True)
class TubLine:
    """The line of a tub's gain.

    Albedo of its water, the line's two numbers, the variance of single photos about it, and the
    line's covariance in units of that.
    """

    albedo: float
    line: FloatArray
    variance: float
    shape: FloatArray


def _tubs_lines(pairs: list[tuple[Tub, Water]], name: str, clear: Polynomial) -> list[TubLine]:
    """Fit the line of each tub.

    Where the edge of a shadow crosses the stripes no line fits; readings of such photos are
    doubtful, and they are left out here.
    """
    haze, forward, view, _, slopes = seen_of(pairs, name)
    far = np.array([one.far_per_m[0] for one in slopes])
    decay = far * np.exp(clear(clear_variables(np.clip(far, *CLEAR_DECAYS_PER_M), view)))
    used = (far > LEAST_FAR_PER_M) & (decay < 2 * CLEAR_DECAYS_PER_M[1])
    used &= _between_limits(forward, SCATTER)
    found = []
    for start in range(0, len(pairs), GAIN_STEPS):
        own = start + np.flatnonzero(used[start : start + GAIN_STEPS])
        lines = np.column_stack([np.ones(len(own)), log_decay_of(decay[own])])
        if len(own) < FEWEST_STEPS:
            continue
        line, (left,), *_ = np.linalg.lstsq(lines, np.log(haze / decay)[own], rcond=None)
        if left < len(own) * CROSSED_LOG_STD**2:
            albedo, variance = pairs[start][1].albedo[0], left / (len(own) - 2)
            found.append(TubLine(albedo, line, variance, np.linalg.inv(lines.T @ lines)))
    return found


def _chosen(lines: list[TubLine], chosen: BoolArray) -> list[TubLine]:
    return [one for one, used in zip(lines, chosen, strict=True) if used]


def _gain_rows(name: str, lines: list[TubLine], share: float) -> list[str]:
    """Write the law of the lines of tubs: what they vary by beside their own errors."""
    photo = float(np.mean([one.variance for one in lines]))
    fits = np.array([one.line for one in lines])
    covariance = np.cov(fits.T) - photo * np.mean([one.shape for one in lines], axis=0)
    print(f"{name} gain: {len(lines)} tubs, photos stray by {photo**0.5:.3f} from their lines")
    return [
        f"{name}_gain_share,,{share:.4f}",
        *_entries(f"{name}_gain", fits.mean(axis=0)),
        *_entries(f"{name}_gain_covariance", covariance),
        f"{name}_photo_log_std,,{photo**0.5:.4f}",
    ]


def _polynomial(rows: list[list[str]], part: str) -> Polynomial:
    own = [(powers.split(), factor) for name, powers, factor in rows if name == part]
    return Polynomial(
        powers=np.array([powers for powers, _ in own], dtype=float),
        factors=np.array([factor for _, factor in own], dtype=float),
    )


def _fit_part(
    part: str,
    variables: FloatArray,
    wanted: FloatArray,
    number: NDArray[np.int_],
    weights: FloatArray,
) -> list[str]:
    """Fit a quadratic; its error is that of tubs left out."""
    terms = PolynomialFeatures(2)
    design_matrix = terms.fit_transform(variables)
    left = _left_out(design_matrix, wanted, number, weights)
    std = float(np.sqrt(np.average(left**2, weights=weights)))
    print(
        f"{part}: {len(wanted)} colours of tubs, error {std:.3f}, in 4 of 5 within "
        f"{np.percentile(np.abs(left), 80):.3f}"
    )
    lines = rows_of(part, terms, solved(design_matrix, wanted, weights))
    return [*lines, f"{part}_log_std,,{std:.4f}"]


def _left_out(
    design_matrix: FloatArray, wanted: FloatArray, number: NDArray[np.int_], weights: FloatArray
) -> FloatArray:
    """Return the errors of tubs left out by their number, four at a time of five."""
    left = np.empty_like(wanted)
    for fold in range(5):
        out = number % 5 == fold
        factors = solved(design_matrix[~out], wanted[~out], weights[~out])
        left[out] = wanted[out] - design_matrix[out] @ factors
    return left


if __name__ == "__main__":
    table = data_folder("calibration") / TABLE
    table.write_text(HEADER + "\n".join(derive()) + "\n", encoding="utf-8")
