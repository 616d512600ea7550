"""The period of a swing in a logged angle or acceleration."""

from math import pi

import numpy as np
from scipy.signal import lombscargle
from scipy.special import fdtrc

from parasim.errors import ConvergenceError
from parasim.logs.channel import Channel
from parasim.logs.noise import Model, fit
from parasim.rotations import FloatArray

FASTEST, SLOWEST = 0.4, 12.0
"""Periods that are looked for. Our choice, no source. [s]"""

PERIODS = 3.0
"""That a stretch has to hold. Our choice, no source. [-]"""

CHANCE = 1e-3
"""Chance that noise alone has such a line, under which it counts as a swing. Our choice. [-]"""

MOST_SAMPLES = 400
"""Of one fit."""


def swing_period(channel: Channel, start: float, end: float) -> tuple[float, float]:
    """Period of the strongest swing of a channel's first component between two times, and its error. [s]

    Raises
    ------
    ConvergenceError
        If it is sampled too rarely or too briefly, or no swing stands out of the noise.

    Notes
    -----
    The frequency of the highest line of the Lomb-Scargle periodogram [Lomb1976], then a decaying sine with a
    trend by least squares under several kinds of noise (`parasim.logs.noise`). Source: [Lomb1976], from
    memory.
    """
    part = channel.between(start, end)
    if len(part.time) < 20 or part.step > SLOWEST / 8:
        raise ConvergenceError("logged too rarely for a swing")
    thin = max(1, len(part.time) // MOST_SAMPLES)
    time, signal = _thinned(part.time, thin), _thinned(part.value[0], thin)
    time = time - (start + end) / 2
    trend = np.polyval(np.polyfit(time, signal, 1), time)
    line = signal - trend
    duration = float(np.ptp(time))
    shortest = max(FASTEST, 2.5 * float(np.median(np.diff(time))))
    longest = min(SLOWEST, duration / PERIODS)
    if longest <= shortest:
        raise ConvergenceError(f"{duration:.0f} s are too short for a swing")
    frequencies = np.arange(2 * pi / longest, 2 * pi / shortest, 0.1 * 2 * pi / duration)
    power = lombscargle(time, line, frequencies)
    best = float(frequencies[int(power.argmax())])
    _require_line(time, line, best, len(frequencies) / 10)
    found = fit(
        _decaying(time, signal), _start(time, signal, best), _noise(time), usual=0.05 * float(line.std())
    )
    w, error = float(found.value[4]), float(found.error[4])
    if not 0.5 * best < w < 2.0 * best or error > 0.3 * w:
        raise ConvergenceError("no swing stands out of the noise")
    return 2 * pi / w, 2 * pi / w**2 * error


def _thinned(values: FloatArray, thin: int) -> FloatArray:
    """Means of so many samples each."""
    whole = len(values) // thin * thin
    means: FloatArray = values[:whole].reshape(-1, thin).mean(axis=1)
    return means


def _waves(time: FloatArray, w: float) -> FloatArray:
    return np.column_stack([np.ones_like(time), time, np.cos(w * time), np.sin(w * time)])


def _require_line(time: FloatArray, line: FloatArray, w: float, tried: float) -> None:
    """Refuse a line that noise would have by chance: F test of two more numbers, times the lines tried."""
    X = _waves(time, w)
    left = line - X @ np.linalg.lstsq(X, line, rcond=None)[0]
    free = len(line) - 4
    ratio = (float(line @ line) - float(left @ left)) / 2 / max(float(left @ left) / free, 1e-30)
    if tried * float(fdtrc(2, free, ratio)) > CHANCE:
        raise ConvergenceError("no swing stands out of the noise")


def _start(time: FloatArray, signal: FloatArray, w: float) -> FloatArray:
    X = _waves(time, w)
    return np.array([*np.linalg.lstsq(X, signal, rcond=None)[0], w, 0.0])


def _decaying(time: FloatArray, signal: FloatArray) -> Model:
    """Model: level, trend, cosine, sine, frequency and decay."""

    def model(guess: FloatArray) -> tuple[FloatArray, FloatArray]:
        level, trend, a, b, w, decay = guess
        envelope = np.exp(-np.clip(decay * time, -5.0, 5.0))
        c, s = envelope * np.cos(w * time), envelope * np.sin(w * time)
        wave = a * c + b * s
        slopes = [np.ones_like(time), time, c, s, time * (b * c - a * s), -time * wave]
        return level + trend * time + wave - signal, np.column_stack(slopes)

    return model


def _noise(time: FloatArray) -> list[tuple[FloatArray, float]]:
    """White noise, or such as lasts for some samples."""
    apart = np.abs(time[:, None] - time[None, :]) / float(np.median(np.diff(time)))
    kinds = [np.eye(len(time)), 0.4**apart, 0.8**apart]
    return [(cov, 1 / len(kinds)) for cov in kinds]
