"""The calibration fitted to whole flights: every second of logged flights against the same flight computed.

Fitted along with it is what differs from flight to flight: wind and its change with height, air that rises, a
turn that is built in, gusts that turn it off its way, where and how it flies at first
(`parasim.learning.path`). Without those a minute of circles would be taken to hold its heading to a hundredth
of a turn. Of ground speeds and places only the speeds are used where both are logged, for one receiver makes
both and they would count twice.

Residuals of neighbouring seconds hang together, and a hundred of them are not a hundred measurements. Each
channel's are taken as noise whose correlation falls by a factor from one second to the next; the factor is
found from the residuals themselves, the largest that is about as likely as the likeliest, and they are
whitened by it. Noise and factor are found anew after each round of the fit, whose tails are those of
`parasim.learning.fit`. The first rounds know the beginning of the flights only.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import radians

import numpy as np

from parasim.errors import ConvergenceError
from parasim.learning.blend import NAMES, SKIN
from parasim.learning.fit import LOST, Posterior, Prior, fit
from parasim.learning.path import (
    DELAY,
    DRIFTS,
    FEWEST_MOMENTS,
    Aloft,
    Path,
    drift_names,
    over_ground,
    wander_count,
)
from parasim.learning.predictor import Predictor
from parasim.learning.refly import fly_again
from parasim.learning.ridge import Ridges, walk
from parasim.rotations import FloatArray

PARTS = (1 / 3, 2 / 3, 1.0, 1.0)
"""Of every flight, fitted to in turn; the noise is found anew after each but the last. Swings that hardly die
away, or many circles, lead a fit to the whole of it at once to a wrong number of them. Our choice."""

FACTORS = np.append(np.arange(0.0, 0.96, 0.05), (0.97, 0.985))
"""Correlation from one second to the next that noise may have. [-]"""

ABOUT_AS_LIKELY = 1.0
"""Difference of log-likelihoods. Our choice."""

FIRST_NOISE, FIRST_FACTOR = {"speed": 0.3, "height": 0.5, "place": 1.0}, 0.5
"""Before anything was seen. Our choice. [m/s], [m], [m]; [-]"""

LEAST_NOISE = {"speed": 0.03, "height": 0.05, "place": 0.1}
"""However smooth a log looks. Our choice. [m/s], [m], [m]"""

FINER = 0.3
"""Step to either side by which flights are differenced, over that of steady flights: one-sided, over a minute
of circles, a hundredth of a range bends too far, and much smaller ones drown in the integrator's error. Our
choice. [-]"""

DELAY_STEP = 0.02
"""By which flights with later brakes are differenced. [s]"""

SPREAD = {
    "heading": 0.5, "turning": radians(1.0), "wind_north": 2.0, "wind_east": 2.0, "rise_north": 0.01,
    "rise_east": 0.01, "air": 0.1, "height": 2.0, "north": 5.0, "east": 5.0, "delay": 0.3, "wander": 0.1,
}  # fmt: skip
"""One deviation of what differs from flight to flight, about what the log says at first. Our choice, no
source; of the air, the notes' own. [SI, as of `DRIFTS`]"""

Progress = Callable[[int, int], object]

Others = tuple[Callable[[FloatArray], FloatArray], Callable[[FloatArray], FloatArray], FloatArray, FloatArray]
"""Other data: what is expected of them, its slopes, measured and errors."""


@dataclass(slots=True, kw_only=True)
class Channel:
    """Residuals of one kind in a row: which noise they have.

    Attributes
    ----------
    flight : str
        Name.
    kind : str
        ``speed``, ``height`` or ``place``.
    rows : slice
        Of the residuals.
    gaps : ndarray, shape (n - 1,)
        Time from one to the next. [s]
    noise, factor : float
        Standard deviation, and correlation from one second to the next.
    """

    flight: str
    kind: str
    rows: slice
    gaps: FloatArray
    noise: float
    factor: float

    @property
    def count(self) -> int:
        """Residuals."""
        return len(self.gaps) + 1

    @property
    def effective(self) -> float:
        """How many independent ones they are worth, for what is alike in all. [-]"""
        return self.count * (1 - self.factor) / (1 + self.factor)

    def whitened(self, residuals: FloatArray) -> FloatArray:
        """Residuals, shape (n, ...), over their noise and free of what hangs together."""
        hold = (self.factor**self.gaps).reshape(-1, *(1,) * (residuals.ndim - 1))
        left = (residuals[1:] - hold * residuals[:-1]) / np.sqrt(1 - hold**2)
        return np.asarray(np.concatenate([residuals[:1], left]) / self.noise)

    def learn(self, residuals: FloatArray) -> None:
        """Find noise and factor from residuals, shape (n,), those far off cut back."""
        spread = 1.4826 * float(np.median(np.abs(residuals - np.median(residuals)))) or self.noise
        near = np.clip(residuals, -4 * spread, 4 * spread)
        likely, noises = [], []
        for factor in FACTORS:
            hold = factor**self.gaps
            innovations = np.append(near[0], (near[1:] - hold * near[:-1]) / np.sqrt(1 - hold**2))
            noises.append(float(np.sqrt((innovations**2).mean())))
            likely.append(-self.count * np.log(noises[-1]) - 0.5 * np.log(1 - hold**2).sum())
        best = max(i for i, each in enumerate(likely) if each >= max(likely) - ABOUT_AS_LIKELY)
        self.factor, self.noise = float(FACTORS[best]), max(noises[best], LEAST_NOISE[self.kind])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trajectories:
    """What a fit to whole flights gave.

    Attributes
    ----------
    posterior : Posterior
        Of the calibration alone; its residuals and slopes are those of the other data, then of the flights.
    drifts : ndarray, shape (n_flights, 11 + k)
        Likeliest, of `DRIFTS`, then wanders.
    drift_spread : ndarray, shape (n_flights, 11 + k)
        One deviation of each.
    channels : tuple of Channel
        Of every flight.
    """

    posterior: Posterior
    drifts: FloatArray
    drift_spread: FloatArray
    channels: tuple[Channel, ...]


@dataclass(slots=True, kw_only=True, eq=False)
class _Flights:
    """All flights at once: what is expected of every second.

    Attributes
    ----------
    predictor : Predictor
        Flies them.
    paths : sequence of Path
        Cut to their steady part.
    known : dict
        Flights computed, by number, delay and calibration.
    """

    predictor: Predictor
    paths: Sequence[Path]
    known: dict[tuple[int, float, bytes], Aloft | None] = field(default_factory=dict)

    def aloft(self, i: int, numbers: FloatArray, drift: FloatArray) -> Aloft | None:
        """One of them in still air."""
        delay = float(drift[DELAY])
        key = (i, delay, numbers.tobytes())
        if key not in self.known:
            self.known[key] = fly_again(self.predictor, self.paths[i], numbers, delay=delay)
        return self.known[key]

    def one_expected(self, i: int, numbers: FloatArray, drift: FloatArray) -> FloatArray:
        """Of one flight's channels in a row."""
        return _channels_of(self.paths[i], self.aloft(i, numbers, drift), drift)

    def expected(self, numbers: FloatArray, drifts: FloatArray) -> FloatArray:
        """Of every channel in a row; not a number where it does not fly so."""
        return np.concatenate([self.one_expected(i, numbers, drift) for i, drift in enumerate(drifts)])

    def slopes(self, numbers: FloatArray, drifts: FloatArray) -> FloatArray:
        """Change with every number and drift, shape (n_data, n_numbers + n_drifts n_flights)."""
        here = self.expected(numbers, drifts)
        found = np.zeros((len(here), len(NAMES) + drifts.size))
        for k, name in enumerate(NAMES):
            if name in SKIN[1:]:
                found[:, k] = self.predictor.blend.skin[name] * found[:, NAMES.index(SKIN[0])]
                continue
            step = FINER * self.predictor.step[k] * np.eye(len(NAMES))[k]
            ahead, behind = (self.expected(numbers + side * step, drifts) for side in (1.0, -1.0))
            found[:, k] = np.nan_to_num(ahead - behind) / (2 * step[k])
        self.known = {key: each for key, each in self.known.items() if key[2] == numbers.tobytes()}
        first, column = 0, len(NAMES)
        for i, drift in enumerate(drifts):
            rows = slice(first, first := first + 3 * len(self.paths[i].time))
            for k, name in enumerate(drift_names(drift)):
                step = DELAY_STEP if name == "delay" else 1e-4 * SPREAD[name]
                moved = self.one_expected(i, numbers, drift + step * (np.arange(len(drift)) == k))
                found[rows, column] = np.nan_to_num((moved - here[rows]) / step)
                column += 1
        return found


def _channels_of(path: Path, aloft: Aloft | None, drift: FloatArray) -> FloatArray:
    """North and east, then heights, in a row; not a number where it is not flown so far."""
    if aloft is None:
        return np.full(3 * len(path.time), np.nan)
    place, velocity = over_ground(path, aloft, drift)
    pair = place if path.velocity is None else velocity
    return np.concatenate([pair[0], pair[1], place[2]])


def _measured(path: Path) -> FloatArray:
    pair = path.place if path.velocity is None else path.velocity
    return np.concatenate([pair[0], pair[1], path.height])


def channels_of(paths: Sequence[Path], known: Sequence[Channel] = ()) -> list[Channel]:
    """Channels of all paths, in a row, with the noise that is known, or taken at first."""
    found, first = [], 0
    for path in paths:
        level = "place" if path.velocity is None else "speed"
        for kind in (level, level, "height"):
            rows = slice(first, first + len(path.time))
            found.append(
                Channel(
                    flight=path.name, kind=kind, rows=rows, gaps=np.diff(path.time),
                    noise=FIRST_NOISE[kind], factor=FIRST_FACTOR,
                )
            )  # fmt: skip
            first = rows.stop
    for channel, before in zip(found, known, strict=False):
        channel.noise, channel.factor = before.noise, before.factor
    return found


def with_drifts(prior: Prior, drifts: FloatArray, air: float) -> Prior:
    """Prior of the calibration and, after it, of what differs from flight to flight."""
    names = drift_names(drifts) * len(drifts)
    spread = np.array([{**SPREAD, "air": max(air, 1e-3)}[name] for name in names])
    n, m = len(prior.value), drifts.size
    hang = np.eye(n + m)
    hang[:n, :n] = prior.hang
    return Prior(
        names=prior.names + names,
        value=np.append(prior.value, drifts.ravel()),
        below=np.append(prior.below, spread),
        above=np.append(prior.above, spread),
        least=np.append(prior.least, np.full(m, -np.inf)),
        most=np.append(prior.most, np.full(m, np.inf)),
        hang=hang,
    )


def fit_trajectories(
    predictor: Predictor,
    prior: Prior,
    paths: Sequence[Path],
    drifts: FloatArray,
    *,
    start: FloatArray,
    air: float = 0.1,
    others: Others | None = None,
    progress: Progress | None = None,
) -> Trajectories:
    """Calibration that whole flights, and other data beside them, make likeliest.

    Parameters
    ----------
    predictor : Predictor
        Built with the paths' conditions.
    prior : Prior
        Of the calibration.
    paths : sequence of Path
        Logged flights.
    drifts : ndarray, shape (n_flights, 11)
        Of `DRIFTS`, as the logs give them.
    start : ndarray, shape (n_numbers,)
        Deviations to begin at: the fit to steady quantities.
    air : float
        One deviation of how fast the air rises. [m/s]
    others : tuple, optional
        Of other data: what is expected, its slopes, measured and errors, as for `parasim.learning.fit.fit`.
    progress : callable, optional
        Called with the number of each round.

    Raises
    ------
    ConvergenceError
        If the design does not fly one of them at the start.
    """
    steady = [path.first(path.steady) for path in paths]
    n, shape = len(prior.value), (len(paths), len(DRIFTS) + max(map(wander_count, steady)))
    whole = with_drifts(prior, np.pad(drifts, ((0, 0), (0, shape[1] - len(DRIFTS)))), air)
    fewer = others or (lambda x: np.empty(0), lambda x: np.empty((0, n)), np.empty(0), np.empty(0))
    begin, channels = np.append(start, np.zeros(shape[0] * shape[1])), channels_of(steady)
    at = begin
    for path in steady:
        if fly_again(predictor, path, prior.numbers(start)) is None:
            raise ConvergenceError(f"{path.name}: the design does not fly it so far")
    for number, part in enumerate(PARTS):
        if progress is not None:
            progress(number + 1, len(PARTS))
        shown = [path.first(max(FEWEST_MOMENTS, round(part * len(path.time)))) for path in steady]
        stage = _Stage(
            flights=_Flights(predictor=predictor, paths=shown), channels=channels_of(shown, channels),
            whole=whole, others=fewer, shape=shape,
        )  # fmt: skip
        found, channels = stage.fitted(at if stage.flies(at) else begin), stage.channels
        at = found.z
        if number + 1 < len(PARTS):
            stage.learn(found)
    ridges = stage.walked(found)
    if ridges.gain > ABOUT_AS_LIKELY:
        found = stage.fitted(ridges.best)
        ridges = stage.walked(found)
    spread = (np.append(prior.below, whole.above[n:]) * found.spread)[n:]
    posterior = Posterior(
        prior=prior, z=found.z[:n], covariance=found.hang[:n, :n] * np.outer(ridges.spread, ridges.spread),
        slopes=found.slopes[:, :n], residuals=found.residuals,
    )  # fmt: skip
    return Trajectories(
        posterior=posterior, drifts=found.values[n:].reshape(shape), drift_spread=spread.reshape(shape),
        channels=tuple(channels),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stage:
    """A fit to a part of every flight.

    Attributes
    ----------
    flights : _Flights
        Cut to it.
    channels : list of Channel
        Of them.
    whole : Prior
        Of calibration and drifts.
    others : tuple
        Other data.
    shape : tuple of int
        Of the drifts.
    """

    flights: _Flights
    channels: list[Channel]
    whole: Prior
    others: Others
    shape: tuple[int, ...]

    def left(self, numbers: FloatArray) -> FloatArray:
        """Expected less measured of every second; not a number where it does not fly so."""
        n = len(NAMES)
        flown = self.flights.expected(numbers[:n], numbers[n:].reshape(self.shape))
        return flown - np.concatenate([_measured(path) for path in self.flights.paths])

    def flies(self, z: FloatArray) -> bool:
        """Whether the design comes so far on every flight, so many deviations off."""
        return bool(np.isfinite(self.left(self.whole.numbers(z))).all())

    def white(self, rows: FloatArray) -> FloatArray:
        """Rows of all channels, whitened."""
        return np.concatenate([channel.whitened(rows[channel.rows]) for channel in self.channels])

    def residuals(self, numbers: FloatArray) -> FloatArray:
        """Of the other data, then of the flights. [deviations]"""
        expect, _, value, error = self.others
        flown = self.left(numbers)
        flown = np.where(np.isfinite(flown), self.white(flown), LOST)
        return np.concatenate([(expect(numbers[: len(NAMES)]) - value) / error, flown])

    def slopes(self, numbers: FloatArray) -> FloatArray:
        """Their change by unit of every number."""
        _, slope, value, error = self.others
        n = len(NAMES)
        flown = self.white(self.flights.slopes(numbers[:n], numbers[n:].reshape(self.shape)))
        beside = np.zeros((len(value), len(numbers)))
        beside[:, :n] = slope(numbers[:n]) / (error[:, None] if len(error) else 1.0)
        return np.concatenate([beside, flown])

    def fitted(self, start: FloatArray) -> Posterior:
        """Likeliest numbers and drifts, the noise as known."""
        count = len(self.others[2]) + self.channels[-1].rows.stop
        return fit(self.whole, self.residuals, self.slopes, np.zeros(count), np.ones(count), start=start)

    def learn(self, found: Posterior) -> None:
        """Find the noise from what a fit leaves, which its numbers have made smaller."""
        left, count = self.left(found.values), len(found.residuals)
        fitted = float((1 - found.spread**2).sum())
        for channel in self.channels:
            channel.learn(left[channel.rows] * np.sqrt(count / max(count - fitted, 1.0)))

    def walked(self, found: Posterior) -> Ridges:
        """Ridges of the calibration; all drifts but late brakes follow for next to nothing."""
        drift = np.arange(len(NAMES), len(found.z))
        quick = drift[(drift - len(NAMES)) % self.shape[1] != DELAY]
        return walk(found, self.residuals, len(NAMES), quick)
