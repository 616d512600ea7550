"""A logged flight made ready to be flown again: moments, brakes, what was logged, and where it begins.

It is flown in still air, from a steady flight at the log's first steady stretch. A steady wind then only
carries it along, and air that rises evenly only lifts it: so wind, heading and places are put to it
afterwards, at no cost. What a wind that changes with height does to the canopy itself is left out; it drifts
with it.
"""

from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from parasim.errors import ConvergenceError
from parasim.learning.predictor import Condition
from parasim.logs.segments import Segment
from parasim.logs.track import STEADY_KINDS, LoggedFlight
from parasim.rotations import FloatArray

EVERY, MOST_MOMENTS = 1.0, 400
"""Time from one moment to the next at least [s], and moments of a flight at most. Our choice."""

DENSE = 2.5
"""Step of a log up to which it can be flown along. Our choice, no source. [s]"""

FEWEST_MOMENTS = 20
"""Of a flight. Our choice."""

ABOUT = 3.0
"""Time about the start over which the log's velocity is averaged. Our choice. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """What a log has of a flight, from its first steady stretch on.

    Attributes
    ----------
    name : str
        Of the flight.
    start : float
        After the log's first fix. [s]
    time : ndarray, shape (n,)
        Moments after the start, from zero. [s]
    moves : ndarray, shape (m, 4)
        Of the brakes, as for `parasim.dynamics.brakes.control.brake_position`, after the start.
    condition : Condition
        Steady flight that it begins in.
    place : ndarray, shape (2, n)
        North and east. [m]
    height : ndarray, shape (n,)
        Above the ground. [m]
    velocity : ndarray or None
        Over the ground, north and east, where it is logged. Shape (2, n), [m/s]
    middle : float
        Height at which the air has the condition's density. [m]
    steady : int
        Moments until the last steady stretch ends: what comes after is not fitted to.
    """

    name: str
    start: float
    time: FloatArray
    moves: FloatArray
    condition: Condition
    place: FloatArray
    height: FloatArray
    velocity: FloatArray | None
    middle: float
    steady: int

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Steady flights that its coefficients have to reach: that of the start, and one with each brake."""
        most = [replace(self.condition, left=left, right=right) for _, _, left, right in self.moves.tolist()]
        return (self.condition, *dict.fromkeys(most))

    @property
    def speed_source(self) -> FloatArray:
        """Ground velocity, logged or by differences of places, shape (2, n). [m/s]"""
        if self.velocity is not None:
            return self.velocity
        return np.asarray(np.gradient(self.place, self.time, axis=1))

    def first(self, moments: int) -> "Path":
        """Its first moments alone."""
        velocity = None if self.velocity is None else self.velocity[:, :moments]
        return replace(
            self, time=self.time[:moments], place=self.place[:, :moments], height=self.height[:moments],
            velocity=velocity,
        )  # fmt: skip

    @property
    def velocity_at_start(self) -> FloatArray:
        """Over the ground, about the start. Shape (2,), [m/s]"""
        return np.asarray(self.speed_source[:, self.time <= ABOUT].mean(axis=1))


def path_of(flight: LoggedFlight, *, mass: float | None = None) -> Path:
    """A logged flight made ready.

    Parameters
    ----------
    flight : LoggedFlight
        As `parasim track` reads it.
    mass : float, optional
        All-up; else the design's. [kg]

    Raises
    ------
    ConvergenceError
        If its brakes are not known, it has no steady stretch, or its fixes are too far apart.
    """
    log, steady = flight.log, flight.course.of_kind(*STEADY_KINDS)
    if not steady:
        raise ConvergenceError("no steady stretch to begin in")
    if not flight.brakes_known:
        raise ConvergenceError("its brakes are not known; give --brakes or --segments")
    step = max(log.speeds.step, log.height.step)
    if step > DENSE:
        raise ConvergenceError(f"fixes are {step:.1f} s apart; flown along it needs {DENSE:g} s at most")
    start, end = steady[0].start, flight.course.touchdown.time
    time = _moments(log.speeds.time, start, end)
    if len(time) < FEWEST_MOMENTS:
        raise ConvergenceError(f"{len(time)} moments only; flown along it needs {FEWEST_MOMENTS}")
    left, right = steady[0].left or 0.0, steady[0].right or 0.0
    return Path(
        name=flight.name,
        start=float(time[0]),
        time=time - time[0],
        moves=brake_moves(flight, float(time[0])),
        condition=Condition(mass=mass, air_density=flight.density, left=left, right=right),
        place=log.place.at(time),
        height=log.height.at(time)[0],
        velocity=None if log.velocity is None else log.velocity.at(time),
        middle=flight.height / 2,
        steady=int((time <= steady[-1].end).sum()),
    )


def _moments(time: FloatArray, start: float, end: float) -> FloatArray:
    """Times of fixes between two, thinned."""
    inside = time[(time >= start) & (time <= end)]
    if not len(inside):
        return inside
    every = max(EVERY, (end - start) / MOST_MOMENTS)
    block = np.floor((inside - inside[0]) / every + 1e-6)
    return np.asarray(inside[np.flatnonzero(np.diff(block, prepend=-1.0))])


def brake_moves(flight: LoggedFlight, start: float) -> FloatArray:
    """Brakes as logged, even from row to row; else as given, at once. Shape (m, 4)"""
    logged = flight.log.brakes
    if logged is not None:
        return _evenly(logged.time - start, logged.value)
    pulls = flight.course.pulls
    if pulls:
        after = flight.course.release.time - start
        rows = [(pull.at + after, 0.0, pull.left, pull.right) for pull in pulls]
    else:
        rows = list(_between(flight.course.of_kind(*STEADY_KINDS, "flare"), start))
    first = [row for row in rows if row[0] <= 0.0][-1:]
    return np.array([(-np.inf, 0.0, *row[2:]) for row in first] + [r for r in rows if r[0] > 0.0]).reshape(
        -1, 4
    )


def _evenly(time: FloatArray, values: FloatArray) -> FloatArray:
    """Moves from row to row where the brakes change."""
    begin = np.array([np.interp(0.0, time, row) for row in values])
    rows = [(-np.inf, 0.0, *begin)]
    for i in np.flatnonzero((np.diff(values, axis=1) != 0.0).any(axis=0)):
        at = max(float(time[i]), 0.0)
        if time[i + 1] > 0.0:
            rows.append((at, float(time[i + 1]) - at, *values[:, i + 1]))
    return np.array(rows)


def _between(segments: tuple[Segment, ...], start: float) -> list[tuple[float, float, float, float]]:
    """Brakes of segments; they move in the time between two."""
    rows = []
    end = segments[0].start
    for segment in segments:
        at = min(end, segment.start) - start
        rows.append((at, segment.start - start - at, segment.left or 0.0, segment.right or 0.0))
        end = segment.end
    return rows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Aloft:
    """A flight in still air that begins northwards at the origin.

    Attributes
    ----------
    place : ndarray, shape (3, n)
        North, east, down, of the payload. [m]
    velocity : ndarray, shape (3, n)
        Of it. [m/s]
    """

    place: FloatArray
    velocity: FloatArray


DRIFTS = ("heading", "turning", "wind_north", "wind_east", "rise_north", "rise_east", "air", "height",
          "north", "east", "delay")  # fmt: skip
"""What is put to a flight in still air: the way it flies at first [rad]; a turn that is built in [rad/s];
wind [m/s] and its change with height [1/s]; how fast the air rises [m/s]; height and place at first [m];
by how much later the brakes moved than logged [s]. After these come turns one by one, as many as
`wander_count` says: by how much the way that is flown turns off in each `WANDER` seconds [rad]."""

DELAY = DRIFTS.index("delay")

WANDER = 10.0
"""Time in which gusts turn a canopy's way off by an amount of its own. Our choice. [s]"""


def wander_count(path: Path) -> int:
    """How many times a flight's way may turn off."""
    return ceil(float(path.time[-1]) / WANDER)


def drift_names(drift: FloatArray) -> tuple[str, ...]:
    """Of every drift in a row, shape (11 + k,): `DRIFTS`, then a wander each."""
    return DRIFTS + ("wander",) * (drift.shape[-1] - len(DRIFTS))


def wandered(time: FloatArray, wander: FloatArray) -> FloatArray:
    """By how much the way has turned off in all, wander after wander, each evenly in its time. [rad]"""
    return np.asarray(np.interp(time, WANDER * np.arange(len(wander) + 1), np.append(0.0, wander.cumsum())))


def over_ground(path: Path, aloft: Aloft, drift: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Place and velocity over the ground, each north, east and up, shape (3, n). [m], [m/s]

    Parameters
    ----------
    path : Path
        The logged flight.
    aloft : Aloft
        The same in still air.
    drift : ndarray, shape (11 + k,)
        Of `DRIFTS`, then wanders.

    Notes
    -----
    A turn that is built in turns the way that is flown evenly with time. The change of the wind is taken
    along the logged heights.
    """
    heading, turning, north, east, rise_north, rise_east, air, height, at_north, at_east, _, *wander = drift
    time = path.time
    angle = heading + turning * time - np.arctan2(aloft.velocity[1, 0], aloft.velocity[0, 0])
    angle += wandered(time, np.array(wander))
    c, s = np.cos(angle), np.sin(angle)
    ahead, side = aloft.velocity[:2]
    above = path.height - path.middle
    velocity = np.array([
        c * ahead - s * side + north + rise_north * above,
        s * ahead + c * side + east + rise_east * above,
        air - aloft.velocity[2],
    ])  # fmt: skip
    place = np.array([*(at + _way(time, row) for at, row in zip((at_north, at_east), velocity, strict=False)),
                      height + air * time - (aloft.place[2] - aloft.place[2, 0])])  # fmt: skip
    return place, velocity


def _way(time: FloatArray, velocity: FloatArray) -> FloatArray:
    """Way of a velocity, by a cubic spline through it, shape (n,)."""
    from scipy.interpolate import CubicSpline

    return np.asarray(CubicSpline(time, velocity).antiderivative()(time))
