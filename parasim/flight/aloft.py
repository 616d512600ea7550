"""What a long way down is like: speeds, Reynolds number and wind at heights along a flown drop."""

from dataclasses import dataclass
from math import floor, hypot, log10, sqrt

import numpy as np

from parasim.aerodynamics.section_network import TABLE_REYNOLDS
from parasim.caveats import Caveat
from parasim.dynamics.thin_air import FOLLOWED_FROM, on_the_way, reynolds_at
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import STANDARD_DENSITY
from parasim.environment.gust import FADING, SMOOTH, Gusts
from parasim.environment.wind import from_direction
from parasim.flight.track import Track
from parasim.rotations import FloatArray

MOST_LEVELS = 8
"""Heights of the table between release and touchdown, at most. Our choice. [-]"""

COMPRESSIBLE = 0.3
"""Mach number from which the air's compressibility is spoken of. Common practice, no source. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A drop as it passes a height.

    Attributes
    ----------
    height : float
        Of the confluence above ground. [m]
    time : float
        After release. [s]
    airspeed, equivalent_airspeed : float
        True; and that with the same dynamic pressure in standard air at sea level. [m/s]
    sink : float
        Of the payload. [m/s]
    wind, wind_from : float
        Mean wind, and the compass direction it blows from. [m/s], [rad]
    air_density : float
        [kg/m³]
    reynolds, mach : float
        On mean chord; over the speed of sound. [-]
    """

    height: float
    time: float
    airspeed: float
    equivalent_airspeed: float
    sink: float
    wind: float
    wind_from: float
    air_density: float
    reynolds: float
    mach: float


def round_heights(top: float, size: float = 1.0) -> FloatArray:
    """Round heights from a release down, falling, without the ground. [m]

    Parameters
    ----------
    top : float
        Of the release. [m]
    size : float
        Of the unit in which they are round. [m]

    Examples
    --------
    >>> round_heights(12_500.0).tolist()
    [12500.0, 12000.0, 10000.0, 8000.0, 6000.0, 4000.0, 2000.0]
    """
    least = top / size / MOST_LEVELS
    power = 10.0 ** floor(log10(least))
    step = next(power * one for one in (1.0, 2.0, 5.0, 10.0) if power * one >= least)
    levels: FloatArray = step * size * np.arange(floor(top / size / step + 1e-9), 0, -1.0)
    return levels if levels[0] > top - 1e-6 else np.append(top, levels)


def levels(vehicle: Vehicle, track: Track, heights: FloatArray) -> tuple[Level, ...]:
    """A flight as it passes heights [m] for the first time, and at its end; those that it passes."""
    lowest = np.minimum.accumulate(track.height)
    passed = heights[(heights <= track.height[0] + 1e-6) & (heights > lowest[-1])]
    time = np.append(np.interp(-passed, -lowest, track.time), track.time[-1])
    return tuple(_level(vehicle, track, float(moment)) for moment in time)


def _level(vehicle: Vehicle, track: Track, time: float) -> Level:
    height, airspeed, sink = (
        float(np.interp(time, track.time, values)) for values in (track.height, track.airspeed, track.sink)
    )
    altitude = vehicle.ground_height + height
    density = vehicle.atmosphere.density(altitude)
    wind = vehicle.wind.velocity(height)
    return Level(
        height=height,
        time=time,
        airspeed=airspeed,
        equivalent_airspeed=airspeed * sqrt(density / STANDARD_DENSITY),
        sink=sink,
        wind=hypot(*wind),
        wind_from=from_direction(wind),
        air_density=density,
        reynolds=reynolds_at(vehicle, height, airspeed),
        mach=airspeed / vehicle.atmosphere.speed_of_sound(altitude),
    )


def thin_air_caveats(vehicle: Vehicle, track: Track, gusts: Gusts) -> tuple[Caveat, ...]:
    """What the models do not know of a flight from high up, in sentences."""
    top = float(track.height[0])
    if top < FOLLOWED_FROM:
        return ()
    return (*_beyond_tables(vehicle, top), *_compressible(vehicle, track), *_turbulent(gusts))


def _beyond_tables(vehicle: Vehicle, top: float) -> tuple[Caveat, ...]:
    lowest, (heights, faster) = float(TABLE_REYNOLDS[0]), on_the_way(vehicle, top, 1.0)
    airspeed = vehicle.reference.airspeed / faster[0] * faster
    reynolds = np.array([reynolds_at(vehicle, *each) for each in zip(heights, airspeed, strict=True)])
    if reynolds[0] < lowest or reynolds[-1] >= lowest:
        return ()
    above = float(np.interp(-lowest, -reynolds, heights))
    words = (
        f"Above {{height}} the Reynolds number is below {lowest:.0f}, where the section tables end: there "
        "the coefficients are held, and lift may break down."
    )
    return (Caveat(words, height=(above, "length", -2)),)


def _compressible(vehicle: Vehicle, track: Track) -> tuple[Caveat, ...]:
    sound = vehicle.atmosphere.speed_of_sound(
        np.maximum(vehicle.ground_height + track.height, vehicle.ground_height)
    )
    mach = float((track.airspeed / sound).max())
    if mach < COMPRESSIBLE:
        return ()
    more = 100 * (1 / sqrt(1 - min(mach, 0.9) ** 2) - 1)
    return (
        Caveat(
            f"High up it flies at up to {mach:.2f} of the speed of sound, and the air counts as "
            f"incompressible: lift may be some {more:.0f} % more there."
        ),
    )


def _turbulent(gusts: Gusts) -> tuple[Caveat, ...]:
    if gusts.deviation == 0.0:
        return ()
    words = (
        "The turbulence is that of air which the ground stirs: from {fading} up it fades, and above {smooth} "
        "the air counts as smooth, jets or not."
    )
    return (Caveat(words, fading=(FADING, "length", 0), smooth=(SMOOTH, "length", 0)),)
