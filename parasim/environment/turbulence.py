"""Samples of turbulence without dimension: Dryden's filters run over white noise."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, sqrt

import numpy as np

from parasim.compiled import compiled, inlined
from parasim.rotations import FloatArray

SAMPLES = 1281
"""Samples in each series."""

STEPS = (0.02, 0.05)
"""Distance between samples over the turbulence's length, of the horizontal and the vertical ones. Between
samples the interpolated turbulence has a little less variance: on the average 0.1 % along, 0.2 % across and
0.5 % down. A drop from 160 m with a glide ratio of 3 runs through some 4 horizontal lengths and 17 vertical
ones, where the series hold 25.6 and 64. [-]"""


def turbulence_series(
    random: np.random.SeedSequence | np.random.Generator,
    n: int = SAMPLES,
    steps: tuple[float, float] = STEPS,
) -> FloatArray:
    """Samples of turbulence with variance 1.

    Parameters
    ----------
    random : SeedSequence or Generator
        What makes it this one and no other; a generator moves on by 5 n numbers.
    n : int
        Samples.
    steps : tuple of float
        Distance between samples over the turbulence's length, horizontal and vertical. [-]

    Returns
    -------
    ndarray, shape (3, n)
        Along the wind, across and down. [-]

    Notes
    -----
    White noise through Dryden's filters: 1 / (1 + s) along the wind, (1 + sqrt(3) s) / (1 + s)^2 across and
    down, s by distance over length. They are stepped exactly and begin at random from their own standing
    distribution, so that at the samples variance and correlation are those of the model: exp(-x) along, (1 -
    x/2) exp(-x) across and down, at distance x. Source: [MIL-F-8785C], Dryden form.
    """
    return many_series([random], n, steps)[0]


def many_series(
    randoms: Sequence[np.random.SeedSequence | np.random.Generator],
    n: int = SAMPLES,
    steps: tuple[float, float] = STEPS,
) -> FloatArray:
    """`turbulence_series` of many members, shape (members, 3, n)."""
    series = np.empty((len(randoms), 3, n))
    for one, random in zip(series, randoms, strict=True):
        if isinstance(random, np.random.SeedSequence):
            random = np.random.Generator(np.random.PCG64(random))
        one[:] = turbulence_filter(random.standard_normal((1, 5, n)), steps)[0]
    return series


def turbulence_filter(noise: FloatArray, steps: tuple[float, float] = STEPS) -> FloatArray:
    """What the filters make of given noise.

    Parameters
    ----------
    noise : ndarray, shape (members, 5, n)
        Of variance 1: one row for along the wind, two each for across and down. [-]
    steps : tuple of float
        As in `turbulence_series`.

    Returns
    -------
    ndarray, shape (members, 3, n)
    """
    series = np.empty((len(noise), 3, noise.shape[2]))
    for one, rows in zip(series, noise, strict=True):
        _filter(one, rows, float(steps[0]), float(steps[1]))
    return series


def splines_through(series: FloatArray) -> FloatArray:
    """Cubic B-splines through samples, mirrored at the ends.

    Parameters
    ----------
    series : ndarray, shape (..., n)
        Samples at even steps.

    Returns
    -------
    ndarray, shape (..., n)
        Coefficients.
    """
    from scipy.ndimage import spline_filter1d

    coefficients: FloatArray = spline_filter1d(series, order=3, axis=-1, mode="mirror")
    return coefficients


@compiled
def _filter(series: FloatArray, noise: FloatArray, step_horizontal: float, step_vertical: float) -> None:
    """Filter five rows of noise into three of turbulence."""
    _first_order(series[0], noise[0], step_horizontal)
    _second_order(series[1], noise[1], noise[2], step_horizontal)
    _second_order(series[2], noise[3], noise[4], step_vertical)


@inlined
def _first_order(series: FloatArray, noise: FloatArray, step: float) -> None:
    """1 / (1 + s): x' = -x + noise of intensity 2."""
    e = exp(-step)
    spread = sqrt(1.0 - e * e)
    x = noise[0]
    series[0] = x
    for k in range(1, series.size):
        x = e * x + spread * noise[k]
        series[k] = x


@inlined
def _second_order(series: FloatArray, noise: FloatArray, other: FloatArray, step: float) -> None:
    """(1 + sqrt(3) s) / (1 + s)^2 = sqrt(3) / (1 + s) + (1 - sqrt(3)) / (1 + s)^2.

    x' = -x + noise of intensity 1, y' = -y + x, output sqrt(3) x + (1 - sqrt(3)) y. Standing covariances are
    1/2, 1/4 and 1/4; what noise adds over a step is the integral of exp(-2 t) (1, t, t^2).
    """
    d, e = step, exp(-step)
    Q11 = 0.5 * (1.0 - e * e)
    Q12 = 0.25 - e * e * (0.5 * d + 0.25)
    Q22 = 0.25 - e * e * (0.5 * d * d + 0.5 * d + 0.25)
    a = sqrt(Q11)
    b = Q12 / a
    c = sqrt(Q22 - b * b)
    x = sqrt(0.5) * noise[0]
    y = 0.5 * x + sqrt(0.125) * other[0]
    series[0] = sqrt(3.0) * x + (1.0 - sqrt(3.0)) * y
    for k in range(1, series.size):
        y = e * (y + d * x) + b * noise[k] + c * other[k]
        x = e * x + a * noise[k]
        series[k] = sqrt(3.0) * x + (1.0 - sqrt(3.0)) * y
