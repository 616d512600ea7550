"""Turbulence and a discrete gust, as the vehicle meets them on its way.

Turbulence is a frozen field that the vehicle runs through: three series of samples without dimension, at even
steps of the distance flown through the air over the turbulence's own length. That length changes with height;
the two distances are integrated along the flight, the horizontal one with length L_u, the vertical one with
L_w. So one series serves any flight, and its statistics are those of the model at every height.

Gusts that turn the vehicle (gradients of the gust over the span) are left out: they are the smaller, the
smaller the span is beside the turbulence, and a metre is small.
"""

from __future__ import annotations

from math import atan, cos, degrees, floor, hypot, pi, sin
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from parasim.caveats import Caveat
from parasim.compiled import inlined
from parasim.environment.turbulence import STEPS, splines_through, turbulence_series
from parasim.environment.wind import BOUNDARY_LAYER, Wind, build_wind
from parasim.rotations import FloatArray
from parasim.units import FOOT

if TYPE_CHECKING:
    from parasim.config.weather import GustSpec, SiteSpec

LOWEST_HEIGHT, GREATEST_HEIGHT = 10.0 * FOOT, 1000.0 * FOOT
"""Heights between which the low-altitude model stands; beyond, it is taken at the nearer. [m]
Source: [MIL-F-8785C]"""

FADING, SMOOTH = BOUNDARY_LAYER, 2.0 * BOUNDARY_LAYER
"""Heights between which turbulence fades to nothing: it is the ground that stirs the air. Our choice. [m]"""

WIND_HEIGHT = 20.0 * FOOT
"""Height of the wind that gives the turbulence its strength. [m] Source: [MIL-F-8785C]"""

HEADWAY = 0.8
"""Mean wind over airspeed from which it is cautioned of. Our choice, no source. [-]"""

ROUGH = 0.5
"""Two standard deviations of the turbulence over airspeed, likewise. [-]"""


class Gusts(NamedTuple):
    """Turbulence and a discrete gust as numbers and arrays, for compiled functions.

    Attributes
    ----------
    deviation : float
        Standard deviation of the vertical turbulence; 0 for none. [m/s]
    splines : ndarray, shape (3, n)
        Along the mean wind, to its right, and down, of variance 1, as `splines_through` makes them. [-]
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
    splines: FloatArray
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


@inlined
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
    1 / (0.177 + 0.000823 h)^0.4. Above 1000 ft the source goes over to another model; here they stay as they
    are there, and high up the turbulence fades. Source: [MIL-F-8785C], low-altitude model.

    Examples
    --------
    >>> L_u, L_w, ratio = turbulence_scales(50.0)
    >>> round(L_u, 2), round(L_w, 2), round(ratio, 3)
    (202.29, 50.0, 1.593)
    """
    h = min(max(height, LOWEST_HEIGHT), GREATEST_HEIGHT)
    a = 0.177 + 0.000823 * h / FOOT
    return h / a**1.2, h, 1.0 / a**0.4


@inlined
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
    sigma_w = gusts.deviation * min(max((SMOOTH - height) / (SMOOTH - FADING), 0.0), 1.0)
    if sigma_w != 0.0:
        sigma_u = turbulence_scales(height)[2] * sigma_w
        u, u_xi = _interpolated(gusts.splines[0], xi_horizontal / gusts.step_horizontal)
        v, v_xi = _interpolated(gusts.splines[1], xi_horizontal / gusts.step_horizontal)
        w, w_xi = _interpolated(gusts.splines[2], xi_vertical / gusts.step_vertical)
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


@inlined
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


@inlined
def _direction(north: float, east: float) -> tuple[float, float]:
    """Unit vector along the wind."""
    speed = hypot(north, east)
    return (north / speed, east / speed) if speed > 0.0 else (1.0, 0.0)


@inlined
def _interpolated(spline: FloatArray, place: float) -> tuple[float, float]:
    """Value and slope of a cubic B-spline between samples: smooth as far as the bend, which solvers like.

    Beyond its last sample the series is run through backwards, and so on to and fro: without a step, and with
    the same statistics, for such turbulence looks the same backwards.
    """
    last = spline.size - 1
    x = place - 2.0 * last * floor(place / (2.0 * last))
    forwards = 1.0
    if x > last:
        x, forwards = 2.0 * last - x, -1.0
    i = min(int(x), last - 1)
    t = x - i
    c1, c2 = spline[i], spline[i + 1]
    c0 = spline[i - 1] if i > 0 else spline[1]
    c3 = spline[i + 2] if i + 2 <= last else spline[last - 1]
    s = 1.0 - t
    value = s * s * s * c0 + (4.0 - 3.0 * t * t * (1.0 + s)) * c1 + (4.0 - 3.0 * s * s * (1.0 + t)) * c2
    slope = -s * s * c0 + t * (3.0 * t - 4.0) * c1 + s * (4.0 - 3.0 * s) * c2 + t * t * c3
    return (value + t * t * t * c3) / 6.0, forwards * 0.5 * slope


def build_gusts(
    site: SiteSpec, airspeed: float, *, wind: Wind | None = None, series: FloatArray | None = None
) -> Gusts:
    """Gusts over a site.

    Parameters
    ----------
    site : SiteSpec
        Of it: ``gust``, ``turbulence`` and ``wind``.
    airspeed : float
        Of reference, such as that of the trim: turns the discrete gust's length into time. [m/s]
    wind : Wind, optional
        Instead of the site's: another wind has another turbulence.
    series : ndarray, shape (3, n), optional
        Samples, instead of those that the site's seed makes.

    Returns
    -------
    Gusts

    Notes
    -----
    The standard deviation of the vertical turbulence is a tenth of the mean wind at 20 ft unless the site
    says otherwise. Source: [MIL-F-8785C], low-altitude model.
    """
    wind = wind or build_wind(site)
    gusts = Gusts.none()
    if site.turbulence is not None:
        spec = site.turbulence
        strength = spec.intensity * hypot(*wind.velocity(WIND_HEIGHT))
        if series is None:
            series = turbulence_series(np.random.SeedSequence(spec.seed))
        gusts = gusts._replace(
            deviation=strength if spec.deviation is None else spec.deviation, splines=splines_through(series)
        )
    if site.gust is not None:
        north, east, down = _gust_direction(site.gust, wind)
        gusts = gusts._replace(
            speed=site.gust.speed,
            north=north,
            east=east,
            down=down,
            start=site.gust.start,
            rise_time=site.gust.length / airspeed,
            falls=int(site.gust.shape == "falls"),
        )
    return gusts


def _gust_direction(spec: GustSpec, wind: Wind) -> tuple[float, float, float]:
    """Unit vector along which the gust blows: north, east, down."""
    if spec.from_direction is None and spec.direction in {"up", "down"}:
        return 0.0, 0.0, 1.0 if spec.direction == "down" else -1.0
    comes_from = wind.from_direction if spec.from_direction is None else spec.from_direction
    north, east = -cos(comes_from), -sin(comes_from)
    across = spec.from_direction is None and spec.direction == "across"
    return (-east, north, 0.0) if across else (north, east, 0.0)


def low_airspeed_cautions(
    *, heights: FloatArray, airspeed: FloatArray, wind: Wind, gusts: Gusts
) -> tuple[str, ...]:
    """Say where the moving air rivals the airspeed.

    Parameters
    ----------
    heights : ndarray, shape (n,)
        Above the ground, from there up to the release. [m]
    airspeed : ndarray, shape (n,)
        True airspeed of the steady glide there. [m/s]
    wind, gusts : Wind, Gusts
        Air it flies in; the mean wind counts where it is strongest beside the airspeed.

    Returns
    -------
    tuple of str
        Sentences: none, one or two.
    """
    found = []
    blowing = np.hypot(*wind.profile(heights))
    worst = int(np.argmax(blowing / airspeed))
    if blowing[worst] > HEADWAY * airspeed[worst]:
        found.append(
            Caveat(
                "The mean wind reaches {wind} where the airspeed is {airspeed}: heading into it the vehicle "
                "hardly makes headway or is blown backwards.",
                "fails",
                wind=(float(blowing[worst]), "speed", 1),
                airspeed=(float(airspeed[worst]), "speed", 1),
            )
        )
    two_sigma = 2.0 * gusts.deviation * turbulence_scales(0.0)[2]
    low = float(airspeed[0])
    if two_sigma > ROUGH * low:
        found.append(
            Caveat(
                "Gusts of two standard deviations near the ground are {gust} where the airspeed is "
                "{airspeed}: they turn the flow by up to "
                f"{degrees(atan(two_sigma / low)):.0f} deg, and a canopy that folds is not computed.",
                gust=(two_sigma, "speed", 1),
                airspeed=(low, "speed", 1),
            )
        )
    return tuple(found)
