"""A vehicle high up: its Reynolds number and leakage are those of the air there.

In a steady glide dynamic pressure is the same at every height, so that the true airspeed grows with the root
of the density's fall and the Reynolds number falls with it: to seven tenths at 10 km, to a seventh at 30 km.
A flight from high up looks its coefficients up in several tables, one above the other.
"""

from dataclasses import replace
from math import ceil, log, sqrt

import numpy as np

from parasim.aerodynamics.model import BRAKE_KNOTS, build_aero_table
from parasim.aerodynamics.table import AeroTable
from parasim.dynamics.vehicle import Vehicle, with_factors
from parasim.rotations import FloatArray

FOLLOWED_FROM = 1000.0
"""Height above the ground from which on it counts; up to there it falls by 3 %. Our choice. [m]"""

MOST_RATIO = 1.5
"""Of the Reynolds numbers of two tables, one above the other: that of the section tables' knots. [-]"""


def reynolds_at(vehicle: Vehicle, height: float, airspeed: float) -> float:
    """Reynolds number on mean chord at a height above ground [m] and a true airspeed [m/s]. [-]"""
    air, altitude = vehicle.atmosphere, vehicle.ground_height + height
    return air.density(altitude) * airspeed * vehicle.canopy.mean_chord / air.viscosity(altitude)


def on_the_way(vehicle: Vehicle, height: float, airspeed: float) -> tuple[FloatArray, FloatArray]:
    """Heights from the ground up to one, and true airspeeds of the same glide there, each of shape (101,).

    Parameters
    ----------
    vehicle : Vehicle
        What glides.
    height : float
        Above the ground. [m]
    airspeed : float
        True airspeed at that height. [m/s]
    """
    heights = np.linspace(0.0, height, 101)
    density = vehicle.atmosphere.density(vehicle.ground_height + heights)
    return heights, airspeed * np.sqrt(density[-1] / density)


def at_height(vehicle: Vehicle, height: float) -> Vehicle:
    """The same vehicle with Reynolds number and leakage of the air at a height above ground. [m]

    Up to `FOLLOWED_FROM` it is the vehicle itself.
    """
    return vehicle if height < FOLLOWED_FROM else _with_air_of(vehicle, height)


def _with_air_of(vehicle: Vehicle, height: float) -> Vehicle:
    reference = vehicle.reference
    density = vehicle.atmosphere.density(vehicle.ground_height + height)
    airspeed = reference.airspeed * sqrt(reference.air_density / density)
    return with_factors(
        replace(
            vehicle,
            reference=replace(reference, airspeed=airspeed, air_density=density),
            reynolds=reynolds_at(vehicle, height, airspeed),
        ),
        vehicle.model.factors,
    )


def table_up_to(vehicle: Vehicle, height: float, *, brake: FloatArray = BRAKE_KNOTS) -> AeroTable:
    """Coefficients of a vehicle for a flight from a height above ground. [m]

    Parameters
    ----------
    vehicle : Vehicle
        Whose.
    height : float
        Of the release. [m]
    brake : ndarray
        Knots of the brakes. [-]

    Returns
    -------
    AeroTable
        That of the ground; from `FOLLOWED_FROM` on with those of thinner air above it, each thinner by as
        much as the last.
    """
    low = vehicle.model.table if brake is BRAKE_KNOTS else build_aero_table(vehicle.model, brake=brake)
    top = at_height(vehicle, height)
    if top is vehicle:
        return low
    count = ceil(log(vehicle.reynolds / top.reynolds) / log(MOST_RATIO))
    heights, airspeed = on_the_way(vehicle, height, 1.0)
    thinning = np.log(airspeed / airspeed[0])
    levels = np.interp(thinning[-1] * np.arange(1, count) / count, thinning, heights)
    there = [*(_with_air_of(vehicle, level) for level in levels.tolist()), top]
    thinner = [
        replace(build_aero_table(one.model, brake=brake), air_density=one.reference.air_density)
        for one in there
    ]
    return replace(low, air_density=vehicle.reference.air_density, thinner=tuple(thinner))
