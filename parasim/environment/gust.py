"""Turbulence and a discrete gust, as the vehicle meets them on its way.

Turbulence is a frozen field that the vehicle runs through: three series of samples without dimension, at even
steps of the distance flown through the air over the turbulence's own length. That length changes with height;
the two distances are integrated along the flight, the horizontal one with length L_u, the vertical one with
L_w. So one series serves any flight, and its statistics are those of the model at every height.

Gusts that turn the vehicle (gradients of the gust over the span) are left out: they are the smaller, the
smaller the span is beside the turbulence, and a metre is small.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import cos, exp, floor, hypot, pi, sin, sqrt
from typing import NamedTuple

import numpy as np

from parasim.compiled import compiled
from parasim.rotations import FloatArray
from parasim.units import FOOT

LOWEST_HEIGHT, GREATEST_HEIGHT = 10.0 * FOOT, 1000.0 * FOOT
"""Heights between which the low-altitude model stands; beyond, it is taken at the nearer. [m]
Source: [MIL-F-8785C]"""

WIND_HEIGHT = 20.0 * FOOT
"""Height of the wind that gives the turbulence its strength. [m] Source: [MIL-F-8785C]"""

INTENSITY = 0.1
"""Vertical standard deviation over the wind at that height. [-] Source: [MIL-F-8785C]"""

SAMPLES = 1281
"""Samples in each series."""

STEPS = (0.02, 0.05)
"""Distance between samples over the turbulence's length, of the horizontal and the vertical ones. Between
samples the interpolated turbulence has a little less variance: on the average 0.2 % along, 0.4 % across and
0.9 % down. A drop from 160 m with a glide ratio of 3 runs through some 4 horizontal lengths and 17 vertical
ones, where the series hold 25.6 and 64. [-]"""


class Gusts(NamedTuple):
    """Turbulence and a discrete gust as numbers and arrays, for compiled functions.

    Attributes
    ----------
    deviation : float
        Standard deviation of the vertical turbulence; 0 for none. [m/s]
    series : ndarray, shape (3, n)
        Along the mean wind, to its right, and down; variance 1. [-]
    step_horizontal, step_vertical : float
        Distance between samples of the first two and of the third, over the turbulence's length. [-]
    speed : float
        Full speed of the discrete gust; 0 for none, negative for a lull. [m/s]
    north, east, down : float
        Unit vector along which it blows. [-]
    start : float
        Time at which the vehicle meets it. [s]
    rise_time : float
        From nothing to full speed: its length over the airspeed of reference. [s]
    falls : int
        1 if it falls back to nothing as it rose; 0 if it stays.
    """

    deviation: float
    series: FloatArray
    step_horizontal: float
    step_vertical: float
    speed: float
    north: float
    east: float
    down: float
    start: float
    rise_time: float
    falls: int

    @classmethod
    def none(cls) -> Gusts:
        """Still air but for the mean wind."""
        return cls(0.0, np.zeros((3, 2)), *STEPS, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0)


@compiled
def turbulence_scales(height: float) -> tuple[float, float, float]:
    """Lengths and proportion of the turbulence near the ground.

    Parameters
    ----------
    height : float
        Above the ground; held between 10 and 1000 ft. [m]

    Returns
    -------
    L_horizontal, L_vertical : float
        L_u = L_v and L_w. [m]
    ratio : float
        Standard deviation along or across the wind over the vertical one. [-]

    Notes
    -----
    With h in feet: L_w = h, L_u = L_v = h / (0.177 + 0.000823 h)^1.2, sigma_u / sigma_w = sigma_v / sigma_w =
    1 / (0.177 + 0.000823 h)^0.4. Above 1000 ft the source goes over to another model; here it stays at what
    it is there. Source: [MIL-F-8785C], low-altitude model.

    Examples
    --------
    >>> L_u, L_w, ratio = turbulence_scales(50.0)
    >>> round(L_u, 2), round(L_w, 2), round(ratio, 3)
    (202.29, 50.0, 1.593)
    """
    h = min(max(height, LOWEST_HEIGHT), GREATEST_HEIGHT)
    a = 0.177 + 0.000823 * h / FOOT
    return h / a**1.2, h, 1.0 / a**0.4


@compiled
def gust_at(
    gusts: Gusts,
    time: float,
    height: float,
    xi_horizontal: float,
    xi_vertical: float,
    xi_horizontal_rate: float,
    xi_vertical_rate: float,
    wind_north: float,
    wind_east: float,
) -> tuple[float, float, float, float, float, float]:
    """Gust velocity and its rate of change as met on board.

    Parameters
    ----------
    gusts : Gusts
    time : float
        After release. [s]
    height : float
        Above the ground. [m]
    xi_horizontal, xi_vertical : float
        Distance flown through the air over the turbulence's length: the integrals of the two rates. [-]
    xi_horizontal_rate, xi_vertical_rate : float
        Airspeed over `turbulence_scales`' lengths. [1/s]
    wind_north, wind_east : float
        Mean wind at that height; only its direction counts, north if there is none. [m/s]

    Returns
    -------
    north, east, down : float
        Added to the mean wind. [m/s]
    north_rate, east_rate, down_rate : float
        [m/s²]

    Notes
    -----
    The rates hold what changes fast, the way through the series and the discrete gust. That the standard
    deviation and the direction of the mean wind change with height is left out of them.
    """
    north = east = down = north_rate = east_rate = down_rate = 0.0
    if gusts.deviation != 0.0:
        ratio = turbulence_scales(height)[2]
        sigma_w, sigma_u = gusts.deviation, ratio * gusts.deviation
        u, u_xi = _interpolated(gusts.series[0], xi_horizontal / gusts.step_horizontal)
        v, v_xi = _interpolated(gusts.series[1], xi_horizontal / gusts.step_horizontal)
        w, w_xi = _interpolated(gusts.series[2], xi_vertical / gusts.step_vertical)
        rate = sigma_u * xi_horizontal_rate / gusts.step_horizontal
        c, s = _direction(wind_north, wind_east)
        north, east, down = sigma_u * (u * c - v * s), sigma_u * (u * s + v * c), sigma_w * w
        north_rate, east_rate = rate * (u_xi * c - v_xi * s), rate * (u_xi * s + v_xi * c)
        down_rate = sigma_w * xi_vertical_rate / gusts.step_vertical * w_xi
    if gusts.speed != 0.0:
        V, V_t = discrete_gust(gusts, time)
        north, east, down = north + V * gusts.north, east + V * gusts.east, down + V * gusts.down
        north_rate, east_rate = north_rate + V_t * gusts.north, east_rate + V_t * gusts.east
        down_rate += V_t * gusts.down
    return north, east, down, north_rate, east_rate, down_rate


@compiled
def discrete_gust(gusts: Gusts, time: float) -> tuple[float, float]:
    """Speed of the discrete gust and its rate of change. [m/s], [m/s²]

    Notes
    -----
    V = (V_m / 2) (1 - cos(pi x / d_m)) for 0 < x < d_m, then V_m, with x the way flown into it at the
    airspeed of reference; one that falls follows the cosine as far as x = 2 d_m, then nothing.
    Source: [MIL-F-8785C], discrete gust model; the falling half is our addition.
    """
    x = (time - gusts.start) / gusts.rise_time
    if x <= 0.0:
        return 0.0, 0.0
    if x < 1.0 or (gusts.falls == 1 and x < 2.0):
        half = 0.5 * gusts.speed
        return half * (1.0 - cos(pi * x)), half * sin(pi * x) * pi / gusts.rise_time
    return (0.0, 0.0) if gusts.falls == 1 else (gusts.speed, 0.0)


@compiled
def _direction(north: float, east: float) -> tuple[float, float]:
    """Unit vector along the wind."""
    speed = hypot(north, east)
    return (north / speed, east / speed) if speed > 0.0 else (1.0, 0.0)


@compiled
def _interpolated(samples: FloatArray, place: float) -> tuple[float, float]:
    """Value and slope between samples, continuous both, by the cubic of Catmull and Rom.

    Beyond its last sample the series is run through backwards, and so on to and fro: without a step, and with
    the same statistics, for such turbulence looks the same backwards.
    """
    last = samples.size - 1
    x = place - 2.0 * last * floor(place / (2.0 * last))
    forwards = 1.0
    if x > last:
        x, forwards = 2.0 * last - x, -1.0
    i = min(int(x), last - 1)
    t = x - i
    y1, y2 = samples[i], samples[i + 1]
    y0 = samples[i - 1] if i > 0 else samples[1]
    y3 = samples[i + 2] if i + 2 <= last else samples[last - 1]
    c1, c2, c3 = 0.5 * (y2 - y0), y0 - 2.5 * y1 + 2.0 * y2 - 0.5 * y3, 0.5 * (y3 - y0) + 1.5 * (y1 - y2)
    return y1 + t * (c1 + t * (c2 + t * c3)), forwards * (c1 + t * (2.0 * c2 + t * 3.0 * c3))


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
    generator = random if isinstance(random, np.random.Generator) else np.random.default_rng(random)
    series = np.empty((3, n))
    _fill(series, generator.standard_normal((5, n)), float(steps[0]), float(steps[1]))
    return series


def many_series(
    randoms: Iterable[np.random.SeedSequence | np.random.Generator],
    n: int = SAMPLES,
    steps: tuple[float, float] = STEPS,
) -> FloatArray:
    """`turbulence_series` of many members, shape (members, 3, n)."""
    return np.array([turbulence_series(random, n, steps) for random in randoms]).reshape(-1, 3, n)


@compiled
def _fill(series: FloatArray, noise: FloatArray, step_horizontal: float, step_vertical: float) -> None:
    """Filter five rows of noise into three of turbulence."""
    _first_order(series[0], noise[0], step_horizontal)
    _second_order(series[1], noise[1], noise[2], step_horizontal)
    _second_order(series[2], noise[3], noise[4], step_vertical)


@compiled
def _first_order(series: FloatArray, noise: FloatArray, step: float) -> None:
    """1 / (1 + s): x' = -x + noise of intensity 2."""
    e = exp(-step)
    spread = sqrt(1.0 - e * e)
    x = noise[0]
    series[0] = x
    for k in range(1, series.size):
        x = e * x + spread * noise[k]
        series[k] = x


@compiled
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
