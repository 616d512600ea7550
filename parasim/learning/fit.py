"""Calibration numbers from measurements: the likeliest, and how far they are known.

The prior is a design's calibration: each number normal on either side of its value, its range two deviations
each way, as bands have it. Measurements are normal about what the model expects, but for the tails: a
residual beyond `CORE` deviations counts in proportion, not by its square, so that a slip of the pen pulls no
harder than a poor measurement. Source: [Huber1964]. The likeliest numbers come by least squares, their spread
from the curvature there, Laplace's approximation. Source: [Tarantola2005]
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from parasim.aerodynamics.factors import FactorRange
from parasim.config.calibration import DEFAULTS, INLET_DRAG
from parasim.flight.uncertainty import correlation
from parasim.rotations import FloatArray

DEVIATIONS = 2.0
"""Standard deviations from a value to the end of its range."""

CORE = 2.0
"""Residual beyond which a measurement counts in proportion. Huber's constant; our choice. [deviations]"""

LOST = 1e3
"""Residual of a flight that the model does not have at a calibration. [deviations]"""

SETTLED = 30
"""Rounds after which the spread has long settled."""

Expect = Callable[[FloatArray], FloatArray]
"""From numbers, shape (n_numbers,), to what is expected of every datum, shape (n_data,). [SI]"""

Slope = Callable[[FloatArray], FloatArray]
"""From numbers to the change of that by unit of each, shape (n_data, n_numbers)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """What is known of the numbers beforehand.

    Each is its value, and so many deviations up or down: those are normal, and hang together.

    Attributes
    ----------
    names : tuple of str
        In order.
    value, below, above : ndarray, shape (n,)
        Value and a deviation to either side.
    least, most : ndarray, shape (n,)
        Hard limits.
    hang : ndarray, shape (n, n)
        Correlations of the deviations. [-]
    """

    names: tuple[str, ...]
    value: FloatArray
    below: FloatArray
    above: FloatArray
    least: FloatArray
    most: FloatArray
    hang: FloatArray

    def numbers(self, z: FloatArray) -> FloatArray:
        """Numbers so many deviations off, same shape, kept to their limits."""
        return np.clip(self.value + np.where(z > 0, self.above, self.below) * z, self.least, self.most)

    def deviations(self, numbers: FloatArray) -> FloatArray:
        """How many deviations off numbers are, same shape; none where there is no spread."""
        off = numbers - self.value
        side = np.where(off > 0, self.above, self.below)
        return np.divide(off, side, out=np.zeros_like(off), where=side > 0)

    def stretch(self, z: FloatArray, spread: FloatArray) -> FloatArray:
        """Change of the numbers by deviation about z, over a spread either way, shape (n,)."""
        return (self.numbers(z + spread) - self.numbers(z - spread)) / (2 * spread)


def build_prior(ranges: Sequence[FactorRange], values: FloatArray) -> Prior:
    """Prior of a design's calibration.

    Parameters
    ----------
    ranges : sequence of FactorRange
        Of every number.
    values : ndarray, shape (n,)
        In the same order.
    """
    hard = {**DEFAULTS, "inlet_drag_factor": INLET_DRAG["open"]}
    return Prior(
        names=tuple(each.name for each in ranges),
        value=values,
        below=(values - np.array([each.low for each in ranges])) / DEVIATIONS,
        above=(np.array([each.high for each in ranges]) - values) / DEVIATIONS,
        least=np.array([hard[each.name].minimum for each in ranges]),
        most=np.array([hard[each.name].most for each in ranges]),
        hang=correlation(tuple(ranges)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Posterior:
    """What is known of the numbers after the measurements.

    Attributes
    ----------
    prior : Prior
        What was known before.
    z : ndarray, shape (n,)
        The likeliest numbers, in deviations of the prior.
    covariance : ndarray, shape (n, n)
        Of them. [-]
    slopes : ndarray, shape (n_data, n)
        Change of every residual by deviation. [deviations]
    residuals : ndarray, shape (n_data,)
        Expected less measured, over the error. [deviations]
    """

    prior: Prior
    z: FloatArray
    covariance: FloatArray
    slopes: FloatArray
    residuals: FloatArray

    @property
    def spread(self) -> FloatArray:
        """A deviation of each, over the prior's: 1 where nothing was learnt. [-]"""
        return np.sqrt(np.diag(self.covariance))

    @property
    def hang(self) -> FloatArray:
        """Correlations. [-]"""
        return self.covariance / np.outer(self.spread, self.spread)

    @property
    def values(self) -> FloatArray:
        """The likeliest numbers."""
        return self.prior.numbers(self.z)

    def ends(self, deviations: float = DEVIATIONS) -> tuple[FloatArray, FloatArray]:
        """Ends of the ranges, so many deviations each way."""
        reach = deviations * self.spread
        return self.prior.numbers(self.z - reach), self.prior.numbers(self.z + reach)


def huber(square: FloatArray) -> FloatArray:
    """Loss of squared residuals and its first two derivatives, shape (3, n): square up to `CORE`."""
    root = np.sqrt(square)
    inside = root <= CORE
    safe = np.where(inside, 1.0, root)
    return np.array(
        [
            np.where(inside, square, 2 * CORE * root - CORE**2),
            np.where(inside, 1.0, CORE / safe),
            np.where(inside, 0.0, -CORE / (2 * safe**3)),
        ]
    )


def fit(
    prior: Prior,
    expect: Expect,
    slope: Slope,
    measured: FloatArray,
    error: FloatArray,
    *,
    start: FloatArray | None = None,
) -> Posterior:
    """Numbers that measurements and prior together make likeliest, and their spread.

    Parameters
    ----------
    prior : Prior
        What was known.
    expect, slope : callable
        The model.
    measured, error : ndarray, shape (n_data,)
        With one standard deviation. [SI]
    start : ndarray, shape (n,), optional
        Deviations to begin at; at the prior's values if left out.
    """
    from scipy.optimize import least_squares

    count = len(measured)
    rigid = np.linalg.inv(np.linalg.cholesky(prior.hang))

    def residuals(z: FloatArray) -> FloatArray:
        return np.concatenate([_residuals(prior, expect, measured, error, z), rigid @ z])

    def jacobian(z: FloatArray) -> FloatArray:
        return np.concatenate([_slopes(prior, slope, error, z, np.full(len(z), 1e-3)), rigid])

    begin = np.zeros(len(prior.value)) if start is None else start
    found = least_squares(
        residuals, begin, jacobian, loss=partial(_loss, count), xtol=1e-4, ftol=1e-5, max_nfev=SETTLED
    )
    return _about(prior, expect, slope, measured, error, np.asarray(found.x))


def _loss(count: int, square: FloatArray) -> FloatArray:
    """Huber's for the data, squares for the prior."""
    plain = np.array([square, np.ones_like(square), np.zeros_like(square)])
    plain[:, :count] = huber(square[:count])
    return plain


def _residuals(
    prior: Prior, expect: Expect, measured: FloatArray, error: FloatArray, z: FloatArray
) -> FloatArray:
    found = (expect(prior.numbers(z)) - measured) / error
    return np.where(np.isfinite(found), found, LOST)


def _slopes(prior: Prior, slope: Slope, error: FloatArray, z: FloatArray, spread: FloatArray) -> FloatArray:
    return np.asarray(slope(prior.numbers(z)) * prior.stretch(z, spread) / error[:, None])


def _about(
    prior: Prior, expect: Expect, slope: Slope, measured: FloatArray, error: FloatArray, z: FloatArray
) -> Posterior:
    """Spread about the likeliest numbers; across the step of a lopsided prior, by the chord over it."""
    residuals = _residuals(prior, expect, measured, error, z)
    by_number = slope(prior.numbers(z)) / error[:, None]
    inside = (np.abs(residuals) <= CORE).astype(float)
    stiff = np.linalg.inv(prior.hang)
    covariance = prior.hang
    for _ in range(SETTLED):
        slopes = by_number * prior.stretch(z, np.sqrt(np.diag(covariance)))
        before, covariance = covariance, np.linalg.inv(slopes.T @ (inside[:, None] * slopes) + stiff)
        if np.abs(covariance - before).max() < 1e-6:
            break
    return Posterior(prior=prior, z=z, covariance=covariance, slopes=slopes, residuals=residuals)
