"""The wind of a logged flight: from circles, from straight legs on several headings, or as given."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import acos, degrees, hypot, pi, radians, sin

import numpy as np
from scipy.optimize import least_squares
from scipy.special import chdtrc

from parasim.environment.wind import from_direction
from parasim.errors import ConvergenceError
from parasim.logs.circle import FEWEST, CircleFit, circle_through, fit_circle, wind_errors
from parasim.logs.log import Log
from parasim.logs.noise import Rates, fit_mean, rates
from parasim.logs.segments import Course, Segment
from parasim.rotations import FloatArray
from parasim.units import System, convert, show

GIVEN_ERROR = 0.5
"""Of each component of a wind that was given. Our choice, no source. [m/s]"""

STEADY = 10.0
"""Time that a figure needs at least. Our choice, no source. [s]"""

OPPOSITE, CRAB = radians(20.0), radians(15.0)
"""How far two legs may be from opposite tracks, and how far, as one standard deviation, their headings may
then be from opposite: over the ground this cannot be seen. Our choice, no source. [rad]"""

LARGEST_GAP = radians(220.0)
"""Between neighbouring headings, of legs that a circle is laid through. Our choice, no source. [rad]"""

IN_DOUBT = 0.001
"""Chance under which circles that differ count as a wind that changes. Our choice. [-]"""

TEN = 10
"""Velocities of one layer at least. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindLayer:
    """Wind over some circles.

    Attributes
    ----------
    time, height : float
        Of their middle: after the log's first fix [s], above ground [m].
    velocity : ndarray, shape (2,)
        Of the air over the ground: north, east. [m/s]
    covariance : ndarray, shape (2, 2)
        Of its error. [m²/s²]
    circles : float
        How many.
    """

    time: float
    height: float
    velocity: FloatArray
    covariance: FloatArray
    circles: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogWind:
    """Wind of a flight.

    Attributes
    ----------
    velocity : ndarray, shape (2,)
        Of the air over the ground: north, east. [m/s]
    covariance : ndarray, shape (2, 2)
        Of its error. [m²/s²]
    how : str
        Where it is from, in words.
    layers : tuple of WindLayer
        By circles, in order of time.
    changes : bool
        Whether the layers differ by more than their errors.
    legs_speed : (float, float) or None
        Horizontal airspeed that straight legs gave with it, and its error. [m/s]
    """

    velocity: FloatArray
    covariance: FloatArray
    how: str
    layers: tuple[WindLayer, ...] = ()
    changes: bool = False
    legs_speed: tuple[float, float] | None = None

    def words(self, units: System) -> str:
        """Speed and direction with their errors, and where they are from."""
        along, across = wind_errors(self.velocity, self.covariance)
        direction = round(degrees(from_direction(self.velocity))) % 360
        return (
            f"wind {show(hypot(*self.velocity), 'wind_speed', units)} "
            f"(± {convert(along, 'wind_speed', units):.2f}) from {direction} deg "
            f"(± {degrees(across):.{0 if degrees(across) >= 0.95 else 1}f}), "
            f"{self.how}"
        )

    def at(self, height: float) -> tuple[FloatArray, FloatArray] | None:
        """Velocity and covariance at a height; of a wind that changes, None beyond its layers."""
        if not self.changes:
            return self.velocity, self.covariance
        layers = sorted(self.layers, key=lambda layer: layer.height)
        heights = np.array([layer.height for layer in layers])
        if not heights[0] - 5.0 <= height <= heights[-1] + 5.0:
            return None
        share = np.array([np.interp(height, heights, row) for row in np.eye(len(layers))])
        velocity = share @ np.array([layer.velocity for layer in layers])
        return velocity, np.einsum("l,lij->ij", share, np.array([layer.covariance for layer in layers]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Winds:
    """What was found of the wind.

    Attributes
    ----------
    wind : LogWind or None
        None where it is not known.
    why_not : str
        Then why, in words.
    circles : dict of Segment to CircleFit
        Fits of whole segments.
    """

    wind: LogWind | None
    why_not: str = ""
    circles: dict[Segment, CircleFit] = field(default_factory=dict)


def given_wind(velocity: FloatArray) -> LogWind:
    """A wind that a person gave; its error is `GIVEN_ERROR`. Shape (2,), [m/s]"""
    return LogWind(velocity=velocity, covariance=GIVEN_ERROR**2 * np.eye(2), how="as given, error assumed")


def find_wind(log: Log, course: Course, given: LogWind | None = None) -> Winds:
    """Wind of a flight: as given, else from circles, else from straight legs; else why not."""
    fits: dict[Segment, CircleFit] = {}
    failed = ""
    for segment in course.of_kind("circles"):
        try:
            fits[segment] = fit_circle(circle_rates(log, segment), turn_rate(segment))
        except ConvergenceError as error:
            failed = str(error)
    if given is not None:
        return Winds(wind=given, circles=fits)
    if fits:
        return Winds(wind=_from_circles(log, fits), circles=fits)
    wind = _from_legs(log, course)
    if wind is not None:
        return Winds(wind=wind)
    why = (
        f"circles could not be used ({failed})"
        if failed
        else "no full circle, and straight legs on one heading only"
    )
    return Winds(wind=None, why_not=f"{why}: it cannot be parted from the canopy's own speed")


def turn_rate(segment: Segment) -> float:
    """Mean turn rate of circles, as they were found; to the right. [rad/s]"""
    return segment.turned / max(segment.duration, 1e-9)


def circle_rates(log: Log, segment: Segment) -> Rates:
    """Ground velocities of circles, a dozen in each where there are so many."""
    period = 2 * pi / max(abs(turn_rate(segment)), 1e-3)
    of = rates(log.speeds, segment.start, segment.end, shortest=min(1.0, period / 12))
    return of.part(of.span <= 1.5 * of.step)  # over a gap a difference is a chord


def _from_circles(log: Log, fits: dict[Segment, CircleFit]) -> LogWind:
    velocity, covariance = combined(
        [f.wind for f in fits.values()], [f.covariance[:2, :2] for f in fits.values()]
    )
    layers = tuple(layer for segment in fits for layer in _layers(log, segment))
    changes = False
    if len(layers) > 1:
        off = [layer.velocity - velocity for layer in layers]
        squares = sum(
            float(d @ np.linalg.solve(layer.covariance, d)) for d, layer in zip(off, layers, strict=True)
        )
        changes = float(chdtrc(2 * (len(layers) - 1), squares)) < IN_DOUBT
        if changes:
            covariance = covariance + np.cov(np.array(off).T)
    count = sum(abs(segment.turned) for segment in fits) / (2 * pi)
    words = f"{int(count + 0.05)} circle{'s' if int(count + 0.05) != 1 else ''}"
    return LogWind(
        velocity=velocity, covariance=covariance, how=f"from {words}", layers=layers, changes=changes
    )


def _layers(log: Log, segment: Segment) -> Iterator[WindLayer]:
    """Wind over every one circle, or over so many that enough velocities come together."""
    whole = int(abs(segment.turned) / (2 * pi) + 0.05)
    of = circle_rates(log, segment)
    at_once = max(1, int(np.ceil(TEN * whole / max(len(of.time), 1))))
    parts = max(1, whole // at_once)
    ends = np.linspace(segment.start, segment.end, parts + 1)
    for start, end in pairwise(ends):
        part = of.part(np.flatnonzero((of.time >= start) & (of.time <= end)))
        if len(part.time) < FEWEST:
            continue
        try:
            found = fit_circle(part, turn_rate(segment))
        except ConvergenceError:
            continue
        middle = float((start + end) / 2)
        yield WindLayer(
            time=middle, height=float(log.height.at(np.array([middle]))[0, 0]), velocity=found.wind,
            covariance=found.covariance[:2, :2], circles=abs(segment.turned) / (2 * pi) / parts,
        )  # fmt: skip


def combined(
    values: Sequence[FloatArray], covariances: Sequence[FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Weighted mean of vectors and its covariance, larger where they differ by more than their errors.

    Parameters
    ----------
    values : sequence of ndarray, shape (k,)
    covariances : sequence of ndarray, shape (k, k)

    Notes
    -----
    The covariance is multiplied by the reduced sum of squares where that is over 1. Source: [Birge1932], from
    memory.
    """
    inverse = [np.linalg.inv(cov) for cov in covariances]
    covariance = np.linalg.inv(sum(inverse, np.zeros_like(inverse[0])))
    mean = covariance @ sum((i @ v for i, v in zip(inverse, values, strict=True)), np.zeros(len(values[0])))
    free = len(mean) * (len(values) - 1)
    if free:
        squares = sum(float((v - mean) @ i @ (v - mean)) for i, v in zip(inverse, values, strict=True))
        covariance = covariance * max(1.0, squares / free)
    return mean, covariance


def _from_legs(log: Log, course: Course) -> LogWind | None:
    """From straight legs that were flown with the same brakes, or with brakes not known."""
    legs = [segment for segment in course.of_kind("straight") if segment.duration >= STEADY]
    groups: dict[tuple[float, float] | None, list[Segment]] = {}
    for leg in legs:
        brakes = None if leg.left is None or leg.right is None else (round(leg.left, 2), round(leg.right, 2))
        groups.setdefault(brakes, []).append(leg)
    legs = max(groups.values(), key=len, default=[])
    if len(legs) < 2:
        return None
    means = [_leg(log, leg) for leg in legs]
    points, errors = np.array([mean for mean, _ in means]).T, np.array([error for _, error in means])
    return _through(points, errors) or _opposite(points, errors)


def _leg(log: Log, leg: Segment) -> tuple[FloatArray, float]:
    """Mean ground velocity of a leg and the error of its components. [m/s]"""
    of = rates(log.speeds, leg.start, leg.end)
    north, east = fit_mean(of, 0), fit_mean(of, 1)
    return np.array([north.value[0], east.value[0]]), hypot(north.error[0], east.error[0]) / np.sqrt(2)


def _through(points: FloatArray, errors: FloatArray) -> LogWind | None:
    """Circle through the mean ground velocities of three legs and more, where their headings go all round."""
    if points.shape[1] < 3:
        return None
    center, radius = circle_through(points[:, _widest(points)])
    if not np.isfinite(radius) or radius > 50.0:
        return None

    def off(guess: FloatArray) -> FloatArray:
        return (np.hypot(points[0] - guess[0], points[1] - guess[1]) - guess[2]) / errors

    found = least_squares(off, np.array([*center, radius]))
    angles = np.sort(np.arctan2(points[1] - found.x[1], points[0] - found.x[0]))
    if np.diff(angles, append=angles[0] + 2 * pi).max() > LARGEST_GAP:
        return None
    slopes = np.asarray(found.jac, dtype=np.float64)
    covariance: FloatArray = np.asarray(np.linalg.pinv(slopes.T @ slopes), dtype=np.float64)
    free = points.shape[1] - 3
    covariance = covariance * max(1.0, 2 * float(found.cost) / free if free else 1.0)
    return LogWind(
        velocity=found.x[:2], covariance=covariance[:2, :2],
        how=f"from straight legs on {points.shape[1]} headings",
        legs_speed=(float(found.x[2]), float(np.sqrt(covariance[2, 2]))),
    )  # fmt: skip


def _widest(points: FloatArray) -> list[int]:
    """Three points that span the largest triangle."""
    n = points.shape[1]
    triples = [[i, j, k] for i in range(min(n, 12)) for j in range(i) for k in range(j)]

    def area(triple: list[int]) -> float:
        a, b, c = points[:, triple].T
        return abs(float((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]))

    return max(triples, key=area)


def _opposite(points: FloatArray, errors: FloatArray) -> LogWind | None:
    """Half the sum of two ground velocities on opposite tracks; across the tracks the wind is assumed."""
    pairs = [(i, j) for i in range(points.shape[1]) for j in range(i)]
    angle = {(i, j): _between(points[:, i], points[:, j]) for i, j in pairs}
    i, j = max(pairs, key=lambda pair: angle[pair])
    if angle[i, j] < pi - OPPOSITE:
        return None
    half = (points[:, i] - points[:, j]) / 2
    speed = hypot(*half)
    across = np.array([-half[1], half[0]]) / speed
    error = hypot(errors[i], errors[j]) / 2
    covariance = error**2 * np.eye(2) + (speed * sin(CRAB)) ** 2 * np.outer(across, across)
    how = f"from two opposite legs; across them assumed as none, ± {degrees(CRAB):.0f} deg of heading"
    return LogWind(
        velocity=(points[:, i] + points[:, j]) / 2, covariance=covariance, how=how,
        legs_speed=(speed, hypot(error, speed * (1 - np.cos(CRAB)))),
    )  # fmt: skip


def _between(one: FloatArray, other: FloatArray) -> float:
    """Angle between two vectors. [rad]"""
    size = hypot(*one) * hypot(*other)
    return acos(min(max(float(one @ other) / size, -1.0), 1.0)) if size > 1e-9 else 0.0
