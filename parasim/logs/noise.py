"""Means of noisy rates and how far they may be off, whatever the noise is like from one moment to the next.

A logged speed has a noise of its own, which may last for some seconds; a speed that is a difference of places
has the noise of the places, so that each error comes back with the other sign in the next one. Which of them
it is a log does not say. So every fit is made under several kinds of noise, each weighed by how likely it
makes the residuals, and the error takes in what the kinds differ by.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
from scipy.linalg import cho_solve, solve_triangular

from parasim.logs.channel import Channel, IntArray, Mask
from parasim.rotations import FloatArray

MOST_RATES = 300
"""Rates of one fit; longer stretches are averaged over longer blocks. [-]"""

FEWEST_RATES = 5
"""Of one fit. [-]"""

LASTING = ((0.0, 0.5), (0.3, 0.25), (0.6, 0.15), (0.85, 0.1))
"""Correlation from one rate to the next, and how much it is believed beforehand. Our choice, no source."""

MIXED = {
    True: (
        (0.0, 0.0, 0.35), (0.03, 0.7, 0.15), (0.1, 0.7, 0.15), (0.3, 0.7, 0.1), (0.1, 0.0, 0.1),
        (1.0, 0.0, 0.05),
    ),
    False: (
        (0.0, 0.0, 0.02), (0.1, 0.7, 0.05), (0.3, 0.7, 0.15), (0.3, 0.0, 0.1), (1.0, 0.0, 0.3),
    ),
}  # fmt: skip
"""For rates that are differences: share of a noise of the rates themselves, such as gusts, beside that of the
places, its correlation from one rate to the next, and how much the two are believed beforehand; of heights
and rounded places, and of other places, which a receiver has smoothed. The rest is `LASTING` noise of the
rates. Our choice, no source."""

ROUNDED = 0.3
"""Last digit from which places count as rounded. [m]"""

USUAL, BELIEVED = 0.15, 2
"""Noise of one rate that is believed beforehand, as if so many had been seen: few rates cannot show their
own. Our choice, no source. [m/s], [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rates:
    """Mean rates over short blocks of time.

    Attributes
    ----------
    time : ndarray, shape (n,)
        Middle of each. [s]
    value : ndarray, shape (k, n)
        k components, such as north and east. [m/s]
    span : ndarray, shape (n,)
        Time between the two places of a difference, or covered by the mean. [s]
    node : ndarray of int, shape (n,)
        Number of the first of the two places.
    differenced : bool
        Whether they are differences of places, else means of logged rates.
    samples : float
        Samples in a block.
    step : float
        Time from one block to the next. [s]
    quantum : float
        Step of the last digit that was logged. [SI of what was logged]
    rough : bool
        Whether noise of each place by itself is likelier than noise of the rate.
    """

    time: FloatArray
    value: FloatArray
    span: FloatArray
    node: IntArray
    differenced: bool
    samples: float
    step: float
    quantum: float
    rough: bool

    def attenuation(self, turn_rate: float) -> float:
        """What is left of a speed that turns steadily, once averaged over blocks. [-]

        Notes
        -----
        A mean of m samples a time d apart leaves sin(m w d/2)/(m sin(w d/2)); a chord over a time T leaves
        sin(w T/2)/(w T/2) of the arc.
        """
        half = abs(turn_rate) * self.step / 2
        count = max(self.samples, 1.0)
        mean = np.sin(half) / (count * np.sin(half / count)) if half > 0 and count > 1 else 1.0
        chord = np.sinc(half / np.pi) if self.differenced else 1.0
        return float(mean * chord)

    def part(self, chosen: IntArray | Mask) -> "Rates":
        """Some of them, by a mask or by numbers."""
        return replace(
            self, time=self.time[chosen], value=self.value[:, chosen], span=self.span[chosen],
            node=self.node[chosen],
        )  # fmt: skip

    def kinds(self) -> list[tuple[FloatArray, float]]:
        """Covariances the noise may have, up to a factor, shape (n, n), and how much each is believed."""
        lasting = [(self._lasting(rho), weight) for rho, weight in LASTING]
        if not self.differenced:
            return lasting
        places = self.of_places() * float(np.mean(self.span)) ** 2 / 2
        mixed = [
            ((1 - share) * places + share * self._lasting(rho), weight)
            for share, rho, weight in MIXED[self.rough]
        ]
        left = 1.0 - sum(weight for _, weight in mixed)
        return mixed + [(cov, 2 * left * weight) for cov, weight in lasting[1:]]

    def of_places(self) -> FloatArray:
        """Covariance of rates whose places have errors of their own, of 1 m. Shape (n, n), [1/s²]"""
        apart = self.node[:, None] - self.node[None, :]
        return (2.0 * (apart == 0) - 1.0 * (np.abs(apart) == 1)) / np.outer(self.span, self.span)

    def _lasting(self, rho: float) -> FloatArray:
        apart = np.abs(self.time[:, None] - self.time[None, :]) / self.step
        return np.where(apart < 0.5, 1.0, rho**apart) if rho > 0 else np.eye(len(self.time))


def rates(
    channel: Channel, start: float, end: float, *, shortest: float = 1.0, most: int = MOST_RATES
) -> Rates:
    """Mean rates of a channel between two times.

    Parameters
    ----------
    channel : Channel
        Places, whose differences are taken, or logged rates.
    start, end : float
        [s]
    shortest : float
        Blocks are at least so long. [s]
    most : int
        Blocks at most; they are made longer for that.

    Notes
    -----
    Samples are averaged in blocks; the blocks of places are then differenced. Differences over a gap are
    kept: they are means all the same, over a longer `span`.
    """
    inside = (channel.time >= start - 1e-9) & (channel.time <= end + 1e-9)
    time, value = channel.time[inside], channel.value[:, inside]
    step = max(shortest, (end - start) / most, channel.step)
    if np.isfinite(channel.step) and channel.step > 0:
        step = max(1, round(step / channel.step)) * channel.step  # as many samples in each
    first = float(time[0]) - min(channel.step, step) / 2 if len(time) else start
    mean_time, mean_value, count = _block_means(time, value, first, step)
    samples = float(np.median(count)) if len(count) else 1.0
    rough = len(value) == 1 or channel.quantum > ROUNDED
    if not channel.is_rate:
        span = np.diff(mean_time)
        return Rates(
            time=(mean_time[1:] + mean_time[:-1]) / 2, value=np.diff(mean_value) / span, span=span,
            node=np.arange(len(span)), differenced=True, quantum=channel.quantum, rough=rough,
            samples=samples, step=step,
        )  # fmt: skip
    n = len(mean_time)
    return Rates(
        time=mean_time, value=mean_value, span=np.full(n, step), node=2 * np.arange(n), differenced=False,
        quantum=channel.quantum, rough=rough, samples=samples, step=step,
    )  # fmt: skip


def _block_means(
    time: FloatArray, value: FloatArray, start: float, step: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean time and value of the samples in each block of time that has any, and their number."""
    if not len(time):
        return time, value, time
    block = np.floor((time - start) / step + 1e-6).astype(np.int64)
    begins = np.flatnonzero(np.diff(block, prepend=block[0] - 1))
    count = np.diff(np.append(begins, len(time))).astype(float)
    return np.add.reduceat(time, begins) / count, np.add.reduceat(value, begins, axis=1) / count, count


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Fitted numbers.

    Attributes
    ----------
    value : ndarray, shape (p,)
        Weighted mean over the kinds of noise. [SI]
    covariance : ndarray, shape (p, p)
        Of its error. [SI²]
    scatter : float
        Standard deviation of one rate about the fit. [SI]
    count : int
        Rates that went in.
    """

    value: FloatArray
    covariance: FloatArray
    scatter: float
    count: int

    @property
    def error(self) -> FloatArray:
        """Standard deviation of each. Shape (p,), [SI]"""
        return np.sqrt(np.diag(self.covariance))


Model = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""From parameters (p,) to residuals (n,) and their derivatives (n, p)."""


def fit_line(y: FloatArray, X: FloatArray, kinds: list[tuple[FloatArray, float]]) -> Fit:
    """Linear model y = X b. Shapes (n,), (n, p)."""
    start: FloatArray = np.asarray(np.linalg.lstsq(X, y, rcond=None)[0], dtype=np.float64)
    return fit(lambda b: (X @ b - y, X), start, kinds, rounds=1)


def fit(
    model: Model,
    start: FloatArray,
    kinds: list[tuple[FloatArray, float]],
    *,
    rounds: int = 6,
    usual: float = USUAL,
) -> Fit:
    """Generalised least squares under each kind of noise, by Gauss and Newton, averaged over the kinds.

    Parameters
    ----------
    model : callable
        From parameters to residuals and derivatives.
    start : ndarray, shape (p,)
        Parameters near the answer.
    kinds : list of (ndarray of shape (n, n), float)
        Covariances up to a factor, and how much each is believed beforehand.
    rounds : int
        Of Gauss and Newton's iteration.
    usual : float
        Noise believed beforehand, as if `BELIEVED` residuals of it had been seen.

    Notes
    -----
    A kind weighs by its restricted likelihood, -½ (log|C| + log|X' C⁻¹ X| + (n - p) log r' C⁻¹ r). With the
    scale of the noise unknown each answer has Student's distribution; the error is its standard deviation,
    with n - p - 2 in the place of n - p (3 at least).
    """
    found = [_fit_one(model, start, cov, rounds, usual) for cov, _ in kinds]
    likely = np.array([log + np.log(weight) for (*_, log), (_, weight) in zip(found, kinds, strict=True)])
    weight = np.exp(likely - likely.max())
    weight /= weight.sum()
    values = np.array([value for value, *_ in found])
    mean = weight @ values
    between = np.einsum("m,mi,mj->ij", weight, values - mean, values - mean)
    within = np.einsum("m,mij->ij", weight, np.array([cov for _, cov, *_ in found]))
    scatter = sqrt(float(weight @ np.array([spread for _, _, spread, _ in found])))
    return Fit(value=mean, covariance=within + between, scatter=scatter, count=len(kinds[0][0]))


def _fit_one(
    model: Model, start: FloatArray, cov: FloatArray, rounds: int, usual: float
) -> tuple[FloatArray, FloatArray, float, float]:
    """Parameters, their covariance, variance of one residual, and the restricted likelihood's logarithm."""
    n, p = len(cov), len(start)
    root = np.linalg.cholesky(cov + 1e-9 * np.trace(cov) / n * np.eye(n))
    value = start
    for _ in range(rounds):
        residual, slopes = model(value)
        white = solve_triangular(root, np.column_stack([residual, slopes]), lower=True)
        value = value - np.linalg.lstsq(white[:, 1:], white[:, 0], rcond=None)[0]
    residual, slopes = model(value)
    white = solve_triangular(root, np.column_stack([residual, slopes]), lower=True)
    squares = float(white[:, 0] @ white[:, 0]) + BELIEVED * usual**2
    normal = white[:, 1:].T @ white[:, 1:]
    upper = np.linalg.cholesky(normal + 1e-12 * np.trace(normal) * np.eye(p))
    log = (
        -np.log(np.diag(root)).sum() - np.log(np.diag(upper)).sum() - (n - p + BELIEVED) / 2 * np.log(squares)
    )
    scale = squares / max(n - p + BELIEVED - 2, 1)
    return value, scale * cho_solve((upper, True), np.eye(p)), scale * float(np.trace(cov)) / n, float(log)


def fit_mean(of: Rates, row: int = 0) -> Fit:
    """Mean of one component of some rates.

    Notes
    -----
    Where the last digit logged is coarse, residuals can look smaller than they are: a steady sink of 3 m/s in
    whole metres has none. The error is no less than that of rounding alone, q/√6 at the two ends over the
    time between.
    """
    found = fit_line(of.value[row], np.ones((len(of.time), 1)), of.kinds())
    duration = float(of.time[-1] - of.time[0]) + of.step
    least = (of.quantum / sqrt(6) / duration) if of.differenced else of.quantum / sqrt(12 * len(of.time))
    return replace(found, covariance=np.maximum(found.covariance, least**2))
