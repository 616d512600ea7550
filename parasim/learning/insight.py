"""What a fit shows of itself: which measurement moved what, and what the next would narrow.

All of it about the likeliest numbers in a straight line: what is expected changes in proportion, and spreads
are normal.
"""

from dataclasses import dataclass

import numpy as np

from parasim.learning.fit import CORE, Posterior
from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeftOut:
    """What would be known without one measurement.

    Attributes
    ----------
    moved : ndarray, shape (n_numbers,)
        What the measurement moves each number by, in deviations of the prior.
    covariance : ndarray, shape (n_numbers, n_numbers)
        Without it.
    """

    moved: FloatArray
    covariance: FloatArray


def left_out(posterior: Posterior, datum: int) -> LeftOut:
    """The fit without one of its measurements, by one Newton step."""
    slope, residual = posterior.slopes[datum], float(posterior.residuals[datum])
    precision = np.linalg.inv(posterior.covariance)
    if abs(residual) <= CORE:
        precision = precision - np.outer(slope, slope)
    covariance = np.linalg.inv(precision)
    return LeftOut(moved=-covariance @ slope * float(np.clip(residual, -CORE, CORE)), covariance=covariance)


def deviation(slopes: FloatArray, covariance: FloatArray) -> FloatArray:
    """Standard deviation of figures, shape (n,), by their change with each number, shape (n, n_numbers)."""
    return np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", slopes, covariance, slopes), 0.0))


def with_datum(covariance: FloatArray, slope: FloatArray, error: float) -> FloatArray:
    """Covariance of the numbers once a measurement is known.

    Parameters
    ----------
    covariance : ndarray, shape (n, n)
        Before.
    slope : ndarray, shape (n,)
        Change of what is measured by each number.
    error : float
        One standard deviation of the measurement.

    Examples
    --------
    >>> with_datum(np.eye(1), np.ones(1), 1.0).tolist()
    [[0.5]]
    """
    along = covariance @ slope
    return np.asarray(covariance - np.outer(along, along) / (slope @ along + error**2))


def narrowing(before: FloatArray, after: FloatArray) -> FloatArray:
    """Part by which deviations shrink, same shape; none where there was none. [-]"""
    return 1.0 - np.divide(after, before, out=np.ones_like(after), where=before > 0)
