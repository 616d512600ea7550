"""What a log holds, whatever its format: columns over time, and what could not be used, counted."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fixes:
    """Rows of a log as they were read.

    Attributes
    ----------
    kind : str
        Format of the file.
    time : ndarray, shape (n,)
        Seconds, of 1970 (UTC), of a day, or from any start; not a number where a row has none.
    columns : dict of str to ndarray, shape (n,)
        By the names of `parasim.config.log_columns.QUANTITIES`; not a number where a row has no value. [SI]
    dated, timed : bool
        Whether the time is that of 1970, and whether it is at least a time of day.
    counts : dict of str to int
        What was left out or put right: in words, and how often.
    """

    kind: str
    time: FloatArray
    columns: dict[str, FloatArray]
    dated: bool = False
    timed: bool = False
    counts: dict[str, int] = field(default_factory=dict)


def numbers(texts: Sequence[str]) -> FloatArray:
    """Numbers of texts, shape (n,); what is none is not a number."""
    try:
        return np.array([text or "nan" for text in texts], dtype=np.float64)
    except ValueError:
        return np.array([_number(text) for text in texts])


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def rolled_over(time: FloatArray) -> FloatArray:
    """Times of day that go on over midnight. [s]

    Examples
    --------
    >>> rolled_over(np.array([86399.0, 0.0, 1.0])).tolist()
    [86399.0, 86400.0, 86401.0]
    """
    known = np.flatnonzero(np.isfinite(time))
    step = np.diff(time[known], prepend=time[known[:1]])
    days: FloatArray = np.cumsum(np.where(step < -43200.0, 1.0, np.where(step > 43200.0, -1.0, 0.0)))
    whole = time.copy()
    whole[known] += 86400.0 * np.maximum.accumulate(days) if len(known) else 0.0
    return whole


def clock(texts: Sequence[str]) -> FloatArray:
    """Seconds of the day of texts such as 140552.40; not a number where there is none."""
    digits = numbers(texts)
    hours, rest = np.divmod(digits, 10000.0)
    minutes, seconds = np.divmod(rest, 100.0)
    valid = (hours >= 0) & (hours < 24) & (minutes < 60) & (seconds < 61)
    return np.where(valid, 3600.0 * hours + 60.0 * minutes + seconds, np.nan)
