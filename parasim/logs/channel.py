"""One quantity of a log over its own times."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from parasim.rotations import FloatArray

IntArray = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channel:
    """Samples of one quantity.

    Attributes
    ----------
    time : ndarray, shape (n,)
        Rising, after the log's first fix. [s]
    value : ndarray, shape (k, n)
        k components. [SI]
    is_rate : bool
        Whether it is a speed as logged, else a place.
    quantum : float
        Step of the last digit logged, by `quantum_of`. [SI]
    """

    time: FloatArray
    value: FloatArray
    is_rate: bool = False
    quantum: float = 0.0

    @property
    def step(self) -> float:
        """Usual time from one sample to the next. [s]"""
        return float(np.median(np.diff(self.time))) if len(self.time) > 1 else np.inf

    def between(self, start: float, end: float) -> "Channel":
        """Samples of a stretch of time."""
        inside = (self.time >= start - 1e-9) & (self.time <= end + 1e-9)
        return replace(self, time=self.time[inside], value=self.value[:, inside])

    def at(self, time: FloatArray) -> FloatArray:
        """Interpolated, shape (k, m)."""
        return np.array([np.interp(time, self.time, row) for row in self.value])


def quantum_of(values: FloatArray) -> float:
    """Step that all values are multiples of, but for rounding; 0 where there is none.

    Parameters
    ----------
    values : ndarray, shape (n,)

    Examples
    --------
    >>> quantum_of(np.array([412.0, 409.0, 406.0, 408.0])), quantum_of(np.array([0.1, 0.31415, 0.7]))
    (1.0, 0.0)
    """
    distinct = np.unique(values)
    steps = np.diff(distinct)
    steps = steps[steps > 1e-9 * max(float(np.abs(distinct).max(initial=0.0)), 1e-9)]
    if not len(steps):
        return 0.0
    step = float(steps.min())
    many = (distinct - distinct[0]) / step
    return step if float(np.abs(many - np.round(many)).max()) < 0.02 else 0.0
