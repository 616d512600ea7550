"""A log on an even grid of times: ground velocity, its change, height and sink, smoothed over seconds."""

from dataclasses import dataclass

import numpy as np
from scipy.signal import savgol_filter

from parasim.logs.channel import Channel, Mask
from parasim.logs.log import GAP, Log
from parasim.logs.noise import rates
from parasim.rotations import FloatArray

SMOOTHED = 4.0
"""Time over which slopes are taken. Our choice, no source. [s]"""

FINEST, COARSEST = 0.5, 5.0
"""Steps of the grid, and what steps of a log can be used: a circle takes some 10 s. Our choice. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """Motion over the ground, each array of shape (n,) or (2, n).

    Attributes
    ----------
    time : ndarray
        Even steps. [s]
    velocity : ndarray, shape (2, n)
        North and east, smoothed. [m/s]
    acceleration : ndarray, shape (2, n)
        North and east. [m/s²]
    height, sink : ndarray
        Smoothed. [m], [m/s]
    seen : ndarray of bool
        Where no gap is near, in which velocities are interpolated.
    step : float
        [s]
    """

    time: FloatArray
    velocity: FloatArray
    acceleration: FloatArray
    height: FloatArray
    sink: FloatArray
    seen: Mask
    step: float


def motion(log: Log) -> Motion:
    """Motion of a log.

    Notes
    -----
    Slopes are those of straight lines, or parabolas for heights, through the samples of `SMOOTHED` seconds.
    """
    step = max(FINEST, log.speeds.step, log.height.step if log.height.step <= COARSEST else 0.0)
    start, end = float(log.place.time[0]), log.end
    time = np.arange(start, end + step / 2, step)
    window = max(3, 2 * round(SMOOTHED / step / 2) + 1)
    if len(time) <= window:
        time = np.linspace(start, end, window + 1)
        step = float(time[1] - time[0])
    averaged = rates(log.speeds, start, end, shortest=step, most=len(time) + 1)
    raw = np.array([np.interp(time, averaged.time, row) for row in averaged.value])
    height = _means(log.height, time, step)
    return Motion(
        time=time,
        velocity=savgol_filter(raw, window, 1, axis=1),
        acceleration=savgol_filter(raw, window, 1, deriv=1, delta=step, axis=1),
        height=savgol_filter(height, window, min(2, window - 1)),
        sink=-savgol_filter(height, window, 1, deriv=1, delta=step),
        seen=_seen(log.speeds, time),
        step=step,
    )


def _seen(channel: Channel, time: FloatArray) -> Mask:
    """Whether times are farther from every gap than slopes reach. Shape (n,)"""
    steps = np.diff(channel.time)
    seen = np.ones(len(time), dtype=bool)
    for i in np.flatnonzero(steps > max(GAP * channel.step, 1.5)):
        begin, end = channel.time[i] - SMOOTHED / 2, channel.time[i + 1] + SMOOTHED / 2
        seen[np.searchsorted(time, begin, side="right") : np.searchsorted(time, end)] = False
    return seen


def _means(channel: Channel, time: FloatArray, step: float) -> FloatArray:
    """First component averaged over each step, interpolated where a step holds no sample. Shape (n,)"""
    block = np.round((channel.time - time[0]) / step).astype(np.int64)
    inside = (block >= 0) & (block < len(time))
    count = np.bincount(block[inside], minlength=len(time))
    total = np.bincount(block[inside], weights=channel.value[0, inside], minlength=len(time))
    at = np.bincount(block[inside], weights=channel.time[inside], minlength=len(time))
    known = count > 0
    found: FloatArray = np.interp(time, at[known] / count[known], total[known] / count[known])
    return found
