"""Where a computed flight ends before its landing, as compiled functions.

Lines only pull, and a canopy flies above its payload. Where the lines would have to push, or the payload
comes to lie above the canopy, a canopy of cloth folds: what the equations make of it from there is no flight,
and how it lands is not known.

A steep dive at the least drag of any attitude ends at the terminal speed, of the air at release, which is the
thinnest; and what falls cannot be faster than its height and its speed at release make it. The lesser of the
two, with the wind, is the speed that nothing in the design can pass for long. `LEEWAY` times that, or a spin
at which half the span moves as fast, is no flight but an error of the model: such a flight is ended, and
counted as tumbled.
"""

from math import sqrt

import numpy as np

from parasim.aerodynamics.table import AeroTable
from parasim.compiled import compiled, inlined
from parasim.dynamics.flight_rates import JOINTED_STATES, Flight
from parasim.dynamics.motion import attitude_matrix, rotate3
from parasim.environment.atmosphere import GRAVITY, density_at
from parasim.environment.wind import mean_wind
from parasim.rotations import FloatArray

LEEWAY = 3.0
"""Speed at which a flight is ended, over that which the design can reach: parts of it may be whipped on by
the others. Our choice. [-]"""

EVALUATIONS_A_SECOND = 10_000
"""Evaluations of the motion, for each second of flight and one more, after which it counts as stuck. Flights
of the designs shipped take up to some hundreds. Our choice. [1/s]"""

MOST_EVALUATIONS, MORE_A_SECOND = 100_000, 400
"""Evaluations after which any flight counts as stuck, and how many more for each second of flight, which in
turbulence takes some 150. Our choice. [-], [1/s]"""

MOST_RISE = 1000.0
"""Rise above its release after which a flight counts as carried off, and is ended as still aloft: air that
rises for ever would hold it up for hours. Our choice. [m]"""


def minimum_drag_area(table: AeroTable, others: float) -> float:
    """Minimum drag area in any attitude at any brake, of canopy and of what cannot be turned edge-on. [m²]

    Parameters
    ----------
    table : AeroTable
        The canopy.
    others : float
        Drag area of the payload; lines count for nothing, since they may lie along the flow. [m²]
    """
    alpha, beta = table.alpha[:, None, None, None], table.beta[:, None, None]
    force = table.steady
    along = force[..., 0] * np.cos(alpha) * np.cos(beta) + force[..., 1] * np.sin(beta)
    drag = -(along + force[..., 2] * np.sin(alpha) * np.cos(beta))
    return others + table.area * max(float(drag.min()), 0.0)


def terminal_speed(weight: float, drag_area: float, density: float) -> float:
    """Speed of a steady fall with a drag area, sqrt(2 W / rho CdA); endless without drag. [m/s]"""
    return sqrt(2 * weight / (density * drag_area)) if drag_area > 0 else float("inf")


@inlined
def upright(y: FloatArray) -> float:
    """Cosine of the angle between the canopy's z axis and the vertical: negative where it is overturned."""
    return 1.0 - 2.0 * (y[4] * y[4] + y[5] * y[5]) / (y[3] * y[3] + y[4] * y[4] + y[5] * y[5] + y[6] * y[6])


@inlined
def is_overturned(y: FloatArray) -> bool:
    """Whether the canopy hangs below its payload."""
    return upright(y) < 0.0


@inlined
def is_stuck(evaluations: int, time: float) -> bool:
    """Whether a flight has taken too many evaluations for the time that it has flown. [s]"""
    return evaluations > min(EVALUATIONS_A_SECOND * (time + 1.0), MOST_EVALUATIONS + MORE_A_SECOND * time)


@inlined
def airspeed_of(flight: Flight, y: FloatArray) -> float:
    """Airspeed of the confluence in the mean wind. [m/s]"""
    to_earth = attitude_matrix(y[3], y[4], y[5], y[6])
    u, v, w = rotate3(to_earth, (y[7], y[8], y[9]))
    north, east, _, _ = mean_wind(flight.motion.wind, -y[2])
    return sqrt((u - north) ** 2 + (v - east) ** 2 + w**2)


@inlined
def most_airspeed(flight: Flight, y: FloatArray) -> float:
    """Airspeed at which a flight from a state is ended. [m/s]"""
    begun, gusts = airspeed_of(flight, y), flight.gusts
    north, east, _, _ = mean_wind(flight.motion.wind, -y[2])
    by_height = sqrt(begun**2 + 2.0 * GRAVITY * max(-y[2], 0.0))
    terminal = flight.motion.constants.terminal_speed * _thinner_by(flight, -y[2])
    speed = min(max(terminal, begun), by_height) if terminal > 0.0 else by_height
    moving_air = sqrt(north**2 + east**2) + abs(gusts.speed) + 3.0 * gusts.deviation
    return LEEWAY * (speed + moving_air)


@inlined
def _thinner_by(flight: Flight, height: float) -> float:
    """Root of the air's density at the ground over that at a height: true airspeed over equivalent. [-]"""
    constants = flight.motion.constants
    ground = constants.ground_height
    day = constants.temperature_offset, constants.sea_level_pressure
    return sqrt(density_at(ground, day[0], day[1]) / density_at(ground + max(height, 0.0), day[0], day[1]))


@compiled
def within_reach(flight: Flight, y: FloatArray, most: float) -> bool:
    """Whether a state is one that a flight can be in, `most` being from `most_airspeed`.

    Canopy and payload: neither may spin so that half the span would move faster than that.
    """
    if not airspeed_of(flight, y) <= most:
        return False
    spin = most / (0.5 * flight.motion.table.span)
    if not y[10] * y[10] + y[11] * y[11] + y[12] * y[12] <= spin * spin:
        return False
    if len(y) < JOINTED_STATES + 2:
        return True
    return y[17] * y[17] + y[18] * y[18] + y[19] * y[19] <= spin * spin
