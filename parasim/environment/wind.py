"""Mean wind over height above the ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import atan2, cos, hypot, log, pi, sin
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from parasim.caveats import Caveat
from parasim.compiled import inlined, interval
from parasim.config.wind_table import read_wind_table
from parasim.errors import DesignError, Mistake
from parasim.rotations import FloatArray

if TYPE_CHECKING:
    from parasim.config.weather import SiteSpec

LOWEST_SHEAR_HEIGHT = 0.5
"""Height above the ground below which the wind no longer falls off. [m] Common practice, no source."""

LOWEST_ROUGHNESS_HEIGHTS = 3.0
"""The same over rough ground, in roughness lengths: nearer to it the logarithmic law means little. Our
choice, no source. [-]"""

BOUNDARY_LAYER = 1000.0
"""Height above the ground over which the laws let the wind stay as it is there: they are those of air that
the ground slows down. In the middle of a fair day in temperate country that layer is about so deep. Common
practice, no source. [m]"""

TABLE_REACH = 1000.0
"""How far above the highest point of a measured wind a release may lie. Our choice. [m]"""

TURN_DEPTH = 100.0
"""Height above the reference height over which the wind turns. [m]"""

POWER, LOGARITHMIC, MEASURED = 0, 1, 2
"""What `WindLaw.law` can be."""


class WindLaw(NamedTuple):
    """A mean wind as numbers and arrays, for compiled functions.

    Attributes
    ----------
    law : int
        `POWER`, `LOGARITHMIC` or `MEASURED`.
    speed, from_direction, reference_height, turn : float
        As in `Wind`; a measured wind does not read them. [m/s], [rad], [m], [rad]
    exponent : float
        Of the power law; of a measured wind, below its lowest height. [-]
    roughness : float
        Roughness length of the logarithmic law. [m]
    heights, north, east : ndarray, shape (n,)
        Measured heights above the ground, rising, and velocity over the ground there. At least two entries,
        also where they are not read. [m], [m/s]
    north_rise, east_rise : ndarray, shape (n,)
        Slope of the interpolated velocity at those heights. [1/s]
    """

    law: int
    speed: float
    from_direction: float
    reference_height: float
    exponent: float
    roughness: float
    turn: float
    heights: FloatArray
    north: FloatArray
    east: FloatArray
    north_rise: FloatArray
    east_rise: FloatArray


@inlined
def mean_wind(law: WindLaw, height: float) -> tuple[float, float, float, float]:
    """Velocity of the air over the ground, and its change with height.

    Parameters
    ----------
    law : WindLaw
    height : float
        Above the ground. [m]

    Returns
    -------
    north, east : float
        [m/s]
    north_rise, east_rise : float
        At a kink the value just above it. [1/s]

    Notes
    -----
    `Wind` gives the laws.
    """
    if law.law == MEASURED:
        return _measured(law, height)
    if law.law == LOGARITHMIC:
        share, share_rise = _logarithmic_share(height, law.reference_height, law.roughness)
    else:
        share, share_rise = _power_share(height, law.reference_height, law.exponent)
    V, V_h = law.speed * share, law.speed * share_rise
    depth = (height - law.reference_height) / TURN_DEPTH
    direction = law.from_direction + law.turn * min(max(depth, 0.0), 1.0)
    direction_h = law.turn / TURN_DEPTH if 0.0 <= depth < 1.0 else 0.0
    c, s = cos(direction), sin(direction)
    return -V * c, -V * s, -V_h * c + V * direction_h * s, -V_h * s - V * direction_h * c


@inlined
def _power_share(height: float, reference_height: float, exponent: float) -> tuple[float, float]:
    """Speed over that at the reference height, and its change with height. [-], [1/m]"""
    h = min(max(height, LOWEST_SHEAR_HEIGHT), BOUNDARY_LAYER)
    share = (h / reference_height) ** exponent
    return share, exponent * share / h if LOWEST_SHEAR_HEIGHT <= height < BOUNDARY_LAYER else 0.0


@inlined
def _logarithmic_share(height: float, reference_height: float, roughness: float) -> tuple[float, float]:
    """Speed over that at the reference height, and its change with height. [-], [1/m]"""
    lowest = max(LOWEST_SHEAR_HEIGHT, LOWEST_ROUGHNESS_HEIGHTS * roughness)
    h = min(max(height, lowest), BOUNDARY_LAYER)
    whole = log(reference_height / roughness)
    return log(h / roughness) / whole, 1.0 / (h * whole) if lowest <= height < BOUNDARY_LAYER else 0.0


@inlined
def _measured(law: WindLaw, height: float) -> tuple[float, float, float, float]:
    """As `mean_wind`, from the table."""
    lowest, top = law.heights[0], law.heights[-1]
    if height >= top:
        return law.north[-1], law.east[-1], 0.0, 0.0
    if height < lowest:
        share, share_rise = 1.0, 0.0
        if lowest > LOWEST_SHEAR_HEIGHT:
            share, share_rise = _power_share(height, min(lowest, BOUNDARY_LAYER), law.exponent)
        north, east = law.north[0], law.east[0]
        return north * share, east * share, north * share_rise, east * share_rise
    i = interval(law.heights, height)
    step = law.heights[i + 1] - law.heights[i]
    t = (height - law.heights[i]) / step
    north, north_t = _cubic(law.north[i], law.north[i + 1], law.north_rise[i], law.north_rise[i + 1], step, t)
    east, east_t = _cubic(law.east[i], law.east[i + 1], law.east_rise[i], law.east_rise[i + 1], step, t)
    return north, east, north_t / step, east_t / step


@inlined
def _cubic(y0: float, y1: float, slope0: float, slope1: float, step: float, t: float) -> tuple[float, float]:
    """Cubic with given ends and slopes, and its derivative by t, which goes from 0 to 1 over the step."""
    a, b = step * slope0, step * slope1
    c2, c3 = 3.0 * (y1 - y0) - 2.0 * a - b, 2.0 * (y0 - y1) + a + b
    return y0 + t * (a + t * (c2 + t * c3)), a + t * (2.0 * c2 + t * 3.0 * c3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wind:
    """Steady horizontal wind: a law in speed and a veer with height, or a measured profile.

    Parameters
    ----------
    speed : float
        Wind speed at the reference height. [m/s]
    from_direction : float
        Compass direction the wind blows from at the reference height: 0 from north, pi/2 from east. [rad]
    reference_height : float
        Height above the ground at which speed and direction are given. [m]
    exponent : float
        Power of the height ratio; 1/7 over open flat ground, 0 for the same wind at every height. [-]
    turn : float
        Clockwise change of the direction the wind blows from, between the reference height and 100 m above
        it. [rad]
    roughness : float, optional
        Roughness length of the ground: with it the speed follows the logarithmic law, not the power law. [m]
    table : tuple of tuple
        Measured height and velocity towards north and east, heights rising; see `measured_wind`. [m], [m/s]
    law : WindLaw
        The same for compiled functions; made from the others.

    Notes
    -----
    Power law: V_ref (h / h_ref)^p. It has an infinite slope at the ground, so below 0.5 m the wind stays what
    it is at 0.5 m: velocity is continuous, its gradient jumps there and is zero below. The 1/7 power law is
    an engineering rule for the lowest 100 m or so in neutral air over flat ground (common practice, no
    source); in a valley, by a wood or on a convective day the wind can be anything else.

    Logarithmic law: V_ref ln(h / z0) / ln(h_ref / z0), with the roughness length z0: neutral air over even
    ground, no displacement height (common practice, no source). It stays what it is below 0.5 m or 3 z0, the
    greater of the two, where it is still well above zero.

    With either law the direction turns in proportion to height between h_ref and h_ref + 100 m and is
    constant below and above. Above 1000 m the wind stays as it is there: the laws would have it grow for
    ever, and say nothing of the free air.

    Measured profile: both components go through every measured point by a cubic that keeps their shape
    (PCHIP), so that neither rises above nor sinks below its neighbours in between; directions need no care
    at north. Above the highest point the wind stays as there. Below the lowest it keeps that one's direction,
    and its speed follows the power law down to 0.5 m.
    """

    speed: float
    from_direction: float
    reference_height: float = 10.0
    exponent: float = 1.0 / 7.0
    turn: float = 0.0
    roughness: float | None = None
    table: tuple[tuple[float, float, float], ...] = ()
    law: WindLaw = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Make the law."""
        object.__setattr__(self, "law", _law(self))

    @property
    def blows(self) -> bool:
        """Whether there is any."""
        return bool(self.table) or self.speed != 0.0

    @classmethod
    def calm(cls) -> Wind:
        """No wind at any height."""
        return cls(speed=0.0, from_direction=0.0)

    @property
    def known_to(self) -> float:
        """Height above the ground up to which the law or the measured profile gives the wind. [m]"""
        return self.table[-1][0] if self.table else BOUNDARY_LAYER

    def caveats(self, height: float) -> tuple[Caveat, ...]:
        """What is not known of the wind that a release at a height meets. [m]"""
        if not self.blows or height <= self.known_to:
            return ()
        words = (
            "The wind's table ends at {top}, the release is at {height}: between them it counts as at {top}."
            if self.table
            else "A wind law says nothing of the free air above {top}, where jets blow: up to the release "
            "at {height} the wind counts as at {top}. Give what is measured or forecast: site.wind.table."
        )
        return (Caveat(words, top=(self.known_to, "length", 0), height=(height, "length", 0)),)

    def velocity(self, height: float) -> tuple[float, float]:
        """Velocity of the air over the ground.

        Parameters
        ----------
        height : float
            Height above the ground. [m]

        Returns
        -------
        north, east : float
            A wind from the west (270°) has north 0 and east positive. [m/s]
        """
        return mean_wind(self.law, float(height))[:2]

    def gradient(self, height: float) -> tuple[float, float]:
        """Change of the velocity with height.

        Parameters
        ----------
        height : float
            Height above the ground. [m]

        Returns
        -------
        north, east : float
            At a kink (the lowest shear, start and end of the turn, ends of a measured profile) the value just
            above it. [1/s]
        """
        return mean_wind(self.law, float(height))[2:]

    def scaled(self, factor: float) -> Wind:
        """The same wind so many times as strong at every height."""
        table = tuple((h, factor * north, factor * east) for h, north, east in self.table)
        return replace(self, speed=factor * self.speed, table=table)

    def profile(self, heights: FloatArray) -> FloatArray:
        """Velocity of the air at many heights.

        Parameters
        ----------
        heights : ndarray, shape (n,)
            Heights above the ground. [m]

        Returns
        -------
        ndarray, shape (2, n)
            North and east component. [m/s]
        """
        return np.array([self.velocity(float(h)) for h in heights]).reshape(-1, 2).T


def measured_wind(
    heights: Sequence[float], speeds: Sequence[float], from_directions: Sequence[float], *, exponent: float
) -> Wind:
    """Wind as measured at some heights.

    Parameters
    ----------
    heights : sequence of float
        Above the ground, rising, at least two. [m]
    speeds, from_directions : sequence of float
        Wind speed and the compass direction it blows from, at each height. [m/s], [rad]
    exponent : float
        Of the power law below the lowest height. [-]

    Returns
    -------
    Wind
        Its speed and direction are those at its reference height, 10 m.
    """
    table = tuple(
        (float(h), -V * cos(direction), -V * sin(direction))
        for h, V, direction in zip(heights, speeds, from_directions, strict=True)
    )
    wind = Wind(speed=0.0, from_direction=0.0, exponent=exponent, table=table)
    velocity = wind.velocity(wind.reference_height)
    return Wind(
        speed=hypot(*velocity),
        from_direction=from_direction(velocity),
        exponent=exponent,
        table=table,
    )


def from_direction(velocity: Sequence[float] | FloatArray) -> float:
    """Compass direction that a wind of some velocity, north and east [m/s], blows from. [rad]

    Examples
    --------
    >>> round(from_direction((0.0, 3.0)) / pi * 180)
    270
    """
    north, east = velocity
    return atan2(-east, -north) % (2 * pi)


def changed_wind(law: WindLaw, *, factor: float, turned: float) -> WindLaw:
    """The same wind stronger or weaker, and from elsewhere, at every height.

    Parameters
    ----------
    law : WindLaw
    factor : float
        New speed over old. [-]
    turned : float
        Clockwise turn of the direction it blows from. [rad]
    """
    c, s = factor * cos(turned), factor * sin(turned)
    return law._replace(
        speed=factor * law.speed,
        from_direction=law.from_direction + turned,
        north=c * law.north - s * law.east,
        east=s * law.north + c * law.east,
        north_rise=c * law.north_rise - s * law.east_rise,
        east_rise=s * law.north_rise + c * law.east_rise,
    )


def _law(wind: Wind) -> WindLaw:
    law = POWER if wind.roughness is None else LOGARITHMIC
    rows, slopes = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]]), np.zeros((2, 2))
    if wind.table:
        from scipy.interpolate import PchipInterpolator

        law, rows = MEASURED, np.array(wind.table)
        slopes = PchipInterpolator(rows[:, 0], rows[:, 1:]).derivative()(rows[:, 0])
    heights, north, east = (np.ascontiguousarray(column) for column in rows.T)
    north_rise, east_rise = (np.ascontiguousarray(column) for column in slopes.T)
    return WindLaw(
        law=law,
        speed=float(wind.speed),
        from_direction=float(wind.from_direction),
        reference_height=float(wind.reference_height),
        exponent=float(wind.exponent),
        roughness=1.0 if wind.roughness is None else float(wind.roughness),
        turn=float(wind.turn),
        heights=heights,
        north=north,
        east=east,
        north_rise=north_rise,
        east_rise=east_rise,
    )


def check_wind_reaches(wind: Wind, height: float, *, site: SiteSpec) -> None:
    """Refuse a release too far above the highest point of a measured wind.

    Parameters
    ----------
    wind : Wind
        That is flown in.
    site : SiteSpec
        Which may name its file.
    height : float
        Of the release above the ground. [m]

    Raises
    ------
    DesignError
        If its table ends more than `TABLE_REACH` below.
    """
    top, path = wind.known_to, None if site.wind is None else site.wind.table
    if wind.table and height > top + TABLE_REACH:
        raise DesignError(
            Mistake(
                key="site.wind.table",
                given="" if path is None else path.name,
                problem=f"it ends {height - top:.0f} m lower than the release, at {top:.0f} m",
                hint=f"for a release at {height:.0f} m give the wind up to "
                f"{height - TABLE_REACH:.0f} m at least",
            )
        )


def build_wind(site: SiteSpec) -> Wind:
    """Wind over a site.

    Parameters
    ----------
    site : SiteSpec
        Of it: ``wind``; without one the air is calm.

    Returns
    -------
    Wind

    Raises
    ------
    DesignError
        When its table holds mistakes, with one line for each.
    """
    spec = site.wind
    if spec is None:
        return Wind.calm()
    if spec.table is not None:
        rows = read_wind_table(spec.table)
        return measured_wind(
            [row.height for row in rows],
            [row.speed for row in rows],
            [row.from_direction for row in rows],
            exponent=spec.exponent,
        )
    return Wind(
        speed=spec.speed or 0.0,
        from_direction=spec.from_direction or 0.0,
        reference_height=spec.reference_height,
        exponent=spec.exponent,
        turn=spec.turn,
        roughness=spec.roughness,
    )
