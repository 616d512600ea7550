"""The calibration fitted to whole flights: every second of logged flights against the same flight computed.

Fitted along with it is what differs from flight to flight: wind and its change with height, air that rises, a
turn that is built in, where and how it flies at first (`parasim.learning.path`). Of ground speeds and places
only the speeds are used where both are logged, for one receiver makes both and they would count twice.

Residuals of neighbouring seconds hang together, and a hundred of them are not a hundred measurements. Each
channel's are taken as noise whose correlation falls by a factor from one second to the next; the factor is
found from the residuals themselves, the largest that is about as likely as the likeliest, and they are
whitened by it. Noise and factor are found anew after each round of the fit, whose tails are those of
`parasim.learning.fit`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import radians

import numpy as np

from parasim.errors import ConvergenceError
from parasim.learning.blend import NAMES, SKIN
from parasim.learning.fit import LOST, Posterior, Prior, fit
from parasim.learning.path import DRIFTS, Aloft, Path, over_ground
from parasim.learning.predictor import Predictor
from parasim.learning.refly import fly_again
from parasim.rotations import FloatArray

ROUNDS = 3
"""In which noise and numbers are found in turn."""

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

LARGE = 1e6
"""Limit of what has none."""

SPREAD = {
    "heading": 0.5, "turning": radians(1.0), "wind_north": 2.0, "wind_east": 2.0, "rise_north": 0.01,
    "rise_east": 0.01, "air": 0.1, "height": 2.0, "north": 5.0, "east": 5.0, "delay": 0.3,
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
    drifts : ndarray, shape (n_flights, 11)
        Likeliest, of `DRIFTS`.
    drift_spread : ndarray, shape (n_flights, 11)
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

    def aloft(self, numbers: FloatArray, drifts: FloatArray) -> list[Aloft | None]:
        """Every flight in still air."""
        found = []
        for i, (path, delay) in enumerate(zip(self.paths, drifts[:, -1].tolist(), strict=True)):
            key = (i, delay, numbers.tobytes())
            if key not in self.known:
                self.known[key] = fly_again(self.predictor, path, numbers, delay=delay)
            found.append(self.known[key])
        return found

    def expected(self, numbers: FloatArray, drifts: FloatArray) -> FloatArray:
        """Of every channel in a row; not a number where it does not fly so."""
        count = len(NAMES)
        flown = self.aloft(numbers[:count], drifts)
        parts = [_channels_of(*each) for each in zip(self.paths, flown, drifts, strict=True)]
        return np.concatenate(parts)

    def slopes(self, numbers: FloatArray, drifts: FloatArray) -> FloatArray:
        """Change with every number and drift, shape (n_data, n_numbers + 11 n_flights)."""
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
        for i in range(drifts.size):
            name = DRIFTS[i % len(DRIFTS)]
            step = DELAY_STEP if name == "delay" else 1e-4 * SPREAD[name]
            moved = drifts.copy()
            moved.flat[i] += step
            found[:, len(NAMES) + i] = (self.expected(numbers, moved) - here) / step
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


def channels_of(paths: Sequence[Path]) -> list[Channel]:
    """Channels of all paths, in a row, with the noise that is taken at first."""
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
    return found


def with_drifts(prior: Prior, drifts: FloatArray, air: float) -> Prior:
    """Prior of the calibration and, after it, of what differs from flight to flight."""
    spread = np.tile([{**SPREAD, "air": max(air, 1e-3)}[name] for name in DRIFTS], len(drifts))
    n, m = len(prior.value), drifts.size
    hang = np.eye(n + m)
    hang[:n, :n] = prior.hang
    return Prior(
        names=prior.names + DRIFTS * len(drifts),
        value=np.append(prior.value, drifts.ravel()),
        below=np.append(prior.below, spread),
        above=np.append(prior.above, spread),
        least=np.append(prior.least, np.full(m, -LARGE)),
        most=np.append(prior.most, np.full(m, LARGE)),
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
    flights, n = _Flights(predictor=predictor, paths=steady), len(prior.value)
    whole, channels = with_drifts(prior, drifts, air), channels_of(steady)
    measured = np.concatenate([_measured(path) for path in steady])
    for path, aloft in zip(steady, flights.aloft(prior.numbers(start), drifts), strict=True):
        if aloft is None:
            raise ConvergenceError(f"{path.name}: the design does not fly it so far")
    fewer = others or (lambda x: np.empty(0), lambda x: np.empty((0, n)), np.empty(0), np.empty(0))
    at = np.append(start, np.zeros(drifts.size))
    for number in range(ROUNDS):
        if progress is not None:
            progress(number + 1, ROUNDS)
        found = _round(flights, whole, channels, measured, fewer, at, drifts.shape)
        at = found.z
        if number + 1 < ROUNDS:
            left = flights.expected(found.values[:n], found.values[n:].reshape(drifts.shape)) - measured
            for channel in channels:
                channel.learn(left[channel.rows])
    spread = (np.append(prior.below, whole.above[n:]) * found.spread)[n:]
    posterior = Posterior(
        prior=prior, z=found.z[:n], covariance=found.covariance[:n, :n], slopes=found.slopes[:, :n],
        residuals=found.residuals,
    )  # fmt: skip
    return Trajectories(
        posterior=posterior, drifts=found.values[n:].reshape(drifts.shape),
        drift_spread=spread.reshape(drifts.shape), channels=tuple(channels),
    )  # fmt: skip


def _round(
    flights: _Flights,
    whole: Prior,
    channels: Sequence[Channel],
    measured: FloatArray,
    others: Others,
    start: FloatArray,
    shape: tuple[int, ...],
) -> Posterior:
    """One fit, the noise as known."""
    expect, slope, value, error = others
    n = len(NAMES)

    def white(rows: FloatArray) -> FloatArray:
        return np.concatenate([channel.whitened(rows[channel.rows]) for channel in channels])

    def expected(numbers: FloatArray) -> FloatArray:
        flown = flights.expected(numbers[:n], numbers[n:].reshape(shape)) - measured
        return np.concatenate(
            [(expect(numbers[:n]) - value) / error, np.where(np.isfinite(flown), white(flown), LOST)]
        )

    def slopes(numbers: FloatArray) -> FloatArray:
        flown = white(flights.slopes(numbers[:n], numbers[n:].reshape(shape)))
        beside = np.zeros((len(value), len(numbers)))
        beside[:, :n] = slope(numbers[:n]) / (error[:, None] if len(error) else 1.0)
        return np.concatenate([beside, flown])

    count = len(value) + len(measured)
    return fit(whole, expected, slopes, np.zeros(count), np.ones(count), start=start)
