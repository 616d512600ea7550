"""Predicted against flown: a logged flight flown by the design, in the log's wind, with the log's brakes."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.caveats import Caveat
from parasim.dynamics.vehicle import Vehicle
from parasim.errors import ConvergenceError
from parasim.flight.uncertainty import axes
from parasim.learning.fit import DEVIATIONS, Prior, build_prior
from parasim.learning.path import DELAY, DRIFTS, Aloft, Path, over_ground, path_of
from parasim.learning.predictor import Predictor
from parasim.learning.refly import fly_again
from parasim.logs.segments import letter
from parasim.logs.track import STEADY_KINDS, LoggedFlight, Track
from parasim.rotations import FloatArray

HEADING_ERROR = 0.03
"""Of the way that it flies at first, by 0.2 m/s of noise over some moments. Our choice. [rad]"""

MANY = 0.1
"""Share of moments outside the band from which a prediction counts as outside: five of a hundred are, by
what a band of two deviations means. Our choice. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """One quantity over time, flown and predicted, each array of shape (n,).

    Attributes
    ----------
    name : str
        ``height``, ``sink``, ``ground_speed`` or ``distance_off``.
    kind : str
        Of quantity.
    flown, predicted, low, high : ndarray
        As logged, computed, and its band of two deviations. [SI]
    error : float
        One standard deviation of the flown, by its roughness. [SI]
    """

    name: str
    kind: str
    flown: FloatArray
    predicted: FloatArray
    low: FloatArray
    high: FloatArray
    error: float

    @property
    def words(self) -> str:
        """Its name in words."""
        return self.name.replace("_", " ")

    @property
    def outside(self) -> np.ndarray:
        """Moments at which band and flown, two errors each way, have nothing in common. Shape (n,)"""
        room = DEVIATIONS * self.error
        return np.asarray((self.flown > self.high + room) | (self.flown < self.low - room))

    def means(self, inside: np.ndarray) -> tuple[float, float, float, float]:
        """Flown, predicted and the ends of its band, averaged over some moments. [SI]"""
        rows = (self.flown, self.predicted, self.low, self.high)
        flown, predicted, low, high = (float(row[inside].mean()) for row in rows)
        return flown, predicted, low, high

    @property
    def misses(self) -> bool:
        """Whether more of it lies outside the band than may."""
        return float(self.outside.mean()) > MANY


@dataclass(frozen=True, kw_only=True, eq=False)
class Prediction:
    """A logged flight beside what the design does.

    Attributes
    ----------
    flight : LoggedFlight
        The log.
    path : Path
        What was compared, from the first steady stretch on.
    moments : int
        How many the computed flight came through.
    place : ndarray, shape (2, n), or None
        Predicted north and east; None where the log's wind is not known. [m]
    reach : ndarray, shape (n,)
        Half the width of its band. [m]
    series : tuple of Series
        What was compared over time.
    """

    flight: LoggedFlight
    path: Path
    moments: int
    place: FloatArray | None
    reach: FloatArray
    series: tuple[Series, ...]

    @property
    def time(self) -> FloatArray:
        """After release, shape (n,). [s]"""
        first = self.path.start - self.flight.course.release.time
        return self.path.time[: self.moments] + first

    def stretches(self) -> Iterator[tuple[str, str, Sequence[tuple[str, float, float, float, float]]]]:
        """Letter and words of each steady stretch; of each series name, flown, predicted, low, high."""
        for i, segment in enumerate(self.flight.course.segments):
            start, end = segment.start - self.path.start, segment.end - self.path.start
            time = self.path.time[: self.moments]
            inside = (time >= start) & (time <= end)
            if segment.kind in STEADY_KINDS and inside.any():
                means = [
                    (each.name, *each.means(inside))
                    for each in self.series
                    if each.name in ("sink", "ground_speed")
                ]
                yield letter(i), segment.words, means

    @property
    def missed(self) -> tuple[Series, ...]:
        """Series that lie outside their bands."""
        return tuple(each for each in self.series if each.misses)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PredictedTrack(Track):
    """Answer to `parasim track --design`: logged flights, and the same as the design flies them.

    Attributes
    ----------
    vehicle : Vehicle
        The design.
    predictions : tuple of Prediction
        Of those flights that could be flown again.
    lacking : tuple of (str, str)
        Names of the others, and why.
    """

    REPORT = "parasim.report.predicted:PredictedReport"

    vehicle: Vehicle
    predictions: tuple[Prediction, ...]
    lacking: tuple[tuple[str, str], ...]

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        # Named, since zero-argument super() is not for a class that a decorator makes anew.
        found = [*Track.caveats.fget(self)]  # type: ignore[attr-defined]
        found += [
            Caveat(f"{name.replace('{', '(')}: not flown again: {why}.", "lacks")
            for name, why in self.lacking
        ]
        return (*found, *self.vehicle.caveats)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """Numbers and drifts of a flight, and how far each may be off.

    Attributes
    ----------
    numbers, low, high : ndarray, shape (n_numbers,)
        The calibration and the ends of its ranges.
    moves : ndarray, shape (n_moves, n_numbers)
        In which it may be off, parts of the ranges.
    drift : ndarray, shape (11 + k,)
        As for `over_ground`.
    drift_moves : ndarray, shape (n, 11 + k)
        In which that may be off, two deviations each.
    """

    numbers: FloatArray
    low: FloatArray
    high: FloatArray
    moves: FloatArray
    drift: FloatArray
    drift_moves: FloatArray


def predicted_track(track: Track, vehicle: Vehicle) -> PredictedTrack:
    """Logged flights beside what a design does.

    Parameters
    ----------
    track : Track
        The logs; their mass is the design's where none was given.
    vehicle : Vehicle
        The design.
    """
    paths, lacking = made_ready(track, {})
    predictor = Predictor(vehicle, [each for path, _ in paths for each in path.conditions])
    prior = build_prior(build_ranges(vehicle.design), predictor.at)
    found = []
    for path, flight in paths:
        try:
            found.append(predict(predictor, path, flight, spread_before(prior, path, flight)))
        except ConvergenceError as error:
            lacking.append((flight.name, str(error)))
    return PredictedTrack(
        flights=track.flights, mass=track.mass, vehicle=vehicle, predictions=tuple(found),
        lacking=tuple(lacking),
    )  # fmt: skip


Ready = list[tuple[Path, LoggedFlight]]


def made_ready(track: Track, masses: Mapping[str, float | None]) -> tuple[Ready, list[tuple[str, str]]]:
    """Flights made ready, each with its mass [kg] or that of the track; names of the others, and why."""
    ready: Ready = []
    lacking = []
    for flight in track.flights:
        try:
            ready.append((path_of(flight, mass=masses.get(flight.name) or track.mass), flight))
        except ConvergenceError as error:
            lacking.append((flight.name, str(error)))
    return ready, lacking


def spread_before(prior: Prior, path: Path, flight: LoggedFlight) -> Spread:
    """What is known before a fit: the calibration's ranges, and what the log gives."""
    drift, drift_moves = drift_of(path, flight)
    return Spread(
        numbers=prior.value, low=prior.value - DEVIATIONS * prior.below,
        high=prior.value + DEVIATIONS * prior.above, moves=axes(prior.hang), drift=drift,
        drift_moves=drift_moves,
    )  # fmt: skip


def drift_of(path: Path, flight: LoggedFlight) -> tuple[FloatArray, FloatArray]:
    """What the log gives of wind, heading and start, shape (11,), and moves of two deviations, (k, 11)."""
    drift, wind = np.zeros(len(DRIFTS)), flight.winds.wind
    velocity = np.zeros(2) if wind is None else wind.velocity
    drift[2:4] = velocity
    if wind is not None and wind.changes:
        heights = np.array([layer.height for layer in wind.layers]) - path.middle
        rise, level = np.polyfit(heights, np.array([layer.velocity for layer in wind.layers]), 1)
        drift[2:4], drift[4:6] = level, rise
    through_air = path.velocity_at_start - drift[2:4] - drift[4:6] * (path.height[0] - path.middle)
    drift[0] = np.arctan2(through_air[1], through_air[0])
    first = path.time <= 6.0
    drift[7] = np.polyfit(path.time[first], path.height[first], 1)[1]
    drift[8:10] = path.place[:, 0]
    moves = [np.eye(len(DRIFTS))[0] * DEVIATIONS * HEADING_ERROR]
    if wind is not None:
        size, along = np.linalg.eigh(wind.covariance)
        for length, axis in zip(np.sqrt(np.maximum(size, 0.0)), along.T, strict=True):
            move = np.zeros(len(DRIFTS))
            move[2:4] = DEVIATIONS * length * axis
            across = through_air[0] * axis[1] - through_air[1] * axis[0]
            move[0] = -DEVIATIONS * length * across / float(through_air @ through_air)
            moves.append(move)
    return drift, np.array(moves)


def predict(predictor: Predictor, path: Path, flight: LoggedFlight, spread: Spread) -> Prediction:
    """One flight beside what a calibration makes of it.

    Raises
    ------
    ConvergenceError
        If the computed flight ends before the last steady stretch does.
    """
    for moments in (len(path.time), path.steady):
        aloft = fly_again(predictor, path, spread.numbers, moments, delay=float(spread.drift[DELAY]))
        if aloft is not None:
            break
    else:
        raise ConvergenceError("computed, it does not come so far")
    short = path.first(moments)
    value = _figures(short, aloft, spread.drift)
    down, up = np.zeros_like(value), np.zeros_like(value)
    reach = np.zeros(moments)
    for pair in _moved(predictor, path, spread, aloft, moments):
        off = np.array([_figures(short, *each) - value for each in pair])
        down += np.minimum(off.min(axis=0), 0.0) ** 2
        up += np.maximum(off.max(axis=0), 0.0) ** 2
        reach += np.max(off[:, 3] ** 2 + off[:, 4] ** 2, axis=0)
    low, high = value - np.sqrt(down), value + np.sqrt(up)
    return _beside(flight, short, value, low, high, np.sqrt(reach))


def _figures(path: Path, aloft: Aloft, drift: FloatArray) -> FloatArray:
    """Height, sink, ground speed, north and east, shape (5, n)."""
    place, velocity = over_ground(path, aloft, drift)
    return np.array([place[2], -velocity[2], np.hypot(*velocity[:2]), place[0], place[1]])


Moved = list[tuple[Aloft, FloatArray]]


def _moved(predictor: Predictor, path: Path, spread: Spread, aloft: Aloft, moments: int) -> Iterator[Moved]:
    """Flight and drift at both ends of every move."""
    for move in spread.moves:
        ends = []
        for parts in (-move, move):
            room = np.where(parts > 0, spread.high - spread.numbers, spread.numbers - spread.low)
            moved = fly_again(
                predictor,
                path,
                spread.numbers + parts * room,
                moments,
                delay=float(spread.drift[DELAY]),
            )
            if moved is not None:
                ends.append((moved, spread.drift))
        if ends:
            yield ends
    for move in spread.drift_moves:
        yield [(aloft, spread.drift - move), (aloft, spread.drift + move)]


def _beside(
    flight: LoggedFlight, path: Path, value: FloatArray, low: FloatArray, high: FloatArray, reach: FloatArray
) -> Prediction:
    windy = flight.winds.wind is not None
    motion = flight.motion
    sink = np.interp(path.time + path.start, motion.time, motion.sink)
    series = [_series("height", "length", path.height, 0, (value, low, high)),
              _series("sink", "speed", sink, 1, (value, low, high))]  # fmt: skip
    if windy:
        speed = np.hypot(*path.speed_source)
        series.append(_series("ground_speed", "speed", speed, 2, (value, low, high)))
        off = np.hypot(*(path.place - value[3:]))
        series.append(
            Series(
                name="distance_off", kind="length", flown=off, predicted=np.zeros_like(off),
                low=-reach, high=reach, error=_roughness(off),
            )
        )  # fmt: skip
    return Prediction(
        flight=flight, path=path, moments=len(path.time), place=value[3:] if windy else None, reach=reach,
        series=tuple(series),
    )  # fmt: skip


def _series(
    name: str, kind: str, flown: FloatArray, row: int, band: tuple[FloatArray, FloatArray, FloatArray]
) -> Series:
    value, low, high = (each[row] for each in band)
    return Series(
        name=name, kind=kind, flown=flown, predicted=value, low=low, high=high, error=_roughness(flown)
    )


def _roughness(values: FloatArray) -> float:
    """Standard deviation of one value about its neighbours.

    Of second differences, whose variance is six times that of the values.
    """
    bends = np.abs(np.diff(values, 2))
    return 1.4826 * float(np.median(bends)) / 6**0.5 if len(bends) else 0.0
