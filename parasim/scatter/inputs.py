"""Inputs of a drop that may be off: their nominal values, their spreads, and members drawn from them.

Every member has its own numbers, made from the seed and its number alone: member 17 is the same whether ten
drops or a million are asked for, in whatever chunks and order they are flown. Each input has its own column
of those numbers, so that switching one spread off leaves the others as they were.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parasim.aerodynamics.factors import calibrated
from parasim.config.calibration import CalibratedNumber
from parasim.config.design import Design
from parasim.config.scatter import Spread
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.drop import Release
from parasim.rotations import FloatArray
from parasim.scatter.ensemble_model import FACTORS, nominal_inputs

IntArray = NDArray[np.int64]

FLIGHT_INPUTS: dict[str, str] = {
    "release_north": "length",
    "release_east": "length",
    "release_height": "length",
    "heading": "angle",
    "wind_speed": "wind_speed",
    "wind_from": "angle",
    "payload_mass": "mass",
    "rigging_angle": "angle",
    "left_trim": "percent",
    "right_trim": "percent",
}
"""Name of an input to the kind of quantity it is."""

COLUMNS = {name: i for i, name in enumerate((*FLIGHT_INPUTS, *sorted(FACTORS), "opening", "delay"))}
"""Column of each input in a member's numbers. Add new ones at the end, lest every seed means other drops."""

WIDTH = 32
"""Numbers that a member has, a multiple of four. Some are left for inputs to come."""

OUTERMOST = 2.0
"""Standard deviations at which the range of a calibration number ends, and the spread with it."""

LIGHTEST = 0.05
"""Minimum payload of a member, over the nominal one. Our choice. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Spread of a calibration number over its own range.

    Attributes
    ----------
    below, above : float
        Standard deviations to either side of the value: half the way to the end of the range.
    correlated : tuple of (str, float)
        Other calibration numbers, and how it hangs together with each. [-]
    """

    below: float
    above: float
    correlated: tuple[tuple[str, float], ...] = ()

    @property
    def is_none(self) -> bool:
        """Whether nothing varies."""
        return self.below == 0 and self.above == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One input that varies.

    Attributes
    ----------
    name : str
        A key of `COLUMNS`.
    nominal : float
        As the design has it. [SI]
    spread : Spread or Calibration
        Of the offset.
    """

    name: str
    nominal: float
    spread: Spread | Calibration

    def values(self, u: FloatArray) -> FloatArray:
        """Values for numbers between zero and one, evenly distributed. Same shape. [SI]"""
        return np.asarray(_limited(self.name, self.nominal, self._unlimited(u)))

    def _unlimited(self, u: FloatArray) -> FloatArray:
        if isinstance(self.spread, Calibration):
            return self.nominal + two_piece_normal(u, self.spread.below, self.spread.above)
        if self.spread.kind == "lognormal":
            return self.nominal * np.exp(self.spread.numbers[0] * _normal(u))
        offset = offsets(self.spread, u)
        return self.nominal * (1 + offset) if self.spread.relative else self.nominal + offset


def varied_inputs(vehicle: Vehicle, release: Release) -> tuple[Input, ...]:
    """Inputs of a design that vary, in the order of `COLUMNS`."""
    nominal, spec = nominal_inputs(vehicle, release), vehicle.design.scatter
    found = []
    for name in COLUMNS:
        if name not in nominal:
            continue
        spread = getattr(spec, name) or over_range(vehicle.design, name)
        relative = isinstance(spread, Spread) and (spread.relative or spread.kind == "lognormal")
        if not spread.is_none and not (relative and nominal[name] == 0):
            found.append(Input(name=name, nominal=nominal[name], spread=spread))
    return tuple(found)


def over_range(design: Design, name: str) -> Calibration:
    """Spread of a calibration number over its own range."""
    number: CalibratedNumber = calibrated(design, name)
    others = ((other, design.calibration.correlation(name, other)) for other in FACTORS if other != name)
    return Calibration(
        below=(number.value - number.low) / OUTERMOST,
        above=(number.high - number.value) / OUTERMOST,
        correlated=tuple((other, r) for other, r in others if r),
    )


def numbers_of(seed: int, first: int, count: int) -> FloatArray:
    """Numbers between zero and one of members in a row, shape (count, WIDTH).

    Notes
    -----
    A counter-based generator: its key comes from the seed, its counter from the member's number.
    """
    key = np.random.SeedSequence(seed).generate_state(2, np.uint64)
    bits = np.random.Philox(key=key, counter=first * WIDTH // 4)
    return np.random.Generator(bits).random((count, WIDTH))


def draw(inputs: tuple[Input, ...], u: FloatArray) -> dict[str, FloatArray]:
    """Values of the inputs that vary, each of shape (n,).

    Parameters
    ----------
    inputs : tuple of Input
        What varies.
    u : ndarray, shape (n, WIDTH)
        A row for each member.
    """
    together = {each.name: u[:, COLUMNS[each.name]] for each in inputs}
    together |= _hanging_together(inputs, together)
    return {each.name: each.values(together[each.name]) for each in inputs}


def _hanging_together(inputs: tuple[Input, ...], u: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """Numbers of a calibration that correlates, each still evenly distributed by itself: a normal copula."""
    known = {
        each.name: dict(each.spread.correlated)
        for each in inputs
        if isinstance(each.spread, Calibration) and each.spread.correlated
    }
    if not known:
        return {}
    from scipy.special import ndtr

    matrix = np.array([[1.0 if a == b else known[a].get(b, 0.0) for b in known] for a in known])
    normal = np.array([_normal(u[name]) for name in known])
    return dict(zip(known, ndtr(np.linalg.cholesky(matrix) @ normal), strict=True))


def offsets(spread: Spread, u: FloatArray) -> FloatArray:
    """Offsets of a spread for numbers between zero and one, by its inverse distribution. Same shape."""
    match spread.kind:
        case "normal":
            mean, deviation = spread.numbers
            return mean + deviation * _normal(u)
        case "uniform":
            low, high = spread.numbers
            return low + (high - low) * u
        case "triangular":
            low, likely, high = spread.numbers
            width, split = high - low, (likely - low) / (high - low)
            rising = low + np.sqrt(u * width * (likely - low))
            falling = high - np.sqrt((1 - u) * width * (high - likely))
            return np.where(u < split, rising, falling)
        case _:
            return np.expm1(spread.numbers[0] * _normal(u))


def two_piece_normal(u: FloatArray, below: float, above: float) -> FloatArray:
    """Offsets of a normal with another deviation on either side, cut off at `OUTERMOST` of each.

    Its density is that of a normal on each side and meets in the middle, the likeliest value; so the wider
    side holds more of the members, and a side without width holds none.
    """
    from scipy.special import ndtr

    split = below / (below + above)
    tail, half = ndtr(-OUTERMOST), 0.5
    lower = np.minimum(u / split, 1.0) if split > 0 else np.ones_like(u)
    upper = np.maximum((u - split) / (1 - split), 0.0) if split < 1 else np.zeros_like(u)
    z_lower, z_upper = _inverse(tail + lower * (half - tail)), _inverse(half + upper * (half - tail))
    return np.where(u < split, below * z_lower, above * z_upper)


def _normal(u: FloatArray) -> FloatArray:
    """Standard normal for numbers between zero and one; zero itself counts as half the minimum step."""
    return _inverse(np.maximum(u, 2.0**-54))


def _inverse(p: FloatArray) -> FloatArray:
    from scipy.special import ndtri

    return np.asarray(ndtri(p))


def _limited(name: str, nominal: float, values: FloatArray) -> FloatArray:
    """Keep wind from blowing backwards and the payload from vanishing."""
    if name == "wind_speed":
        return np.maximum(values, 0.0)
    if name == "payload_mass":
        return np.maximum(values, LIGHTEST * nominal)
    return values
