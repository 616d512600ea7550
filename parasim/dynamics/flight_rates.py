"""All that changes along a flight at one moment, as a compiled function: motion, brakes and gusts.

The state here is that of the body with the two gust coordinates after it (`parasim.environment.gust`).
"""

from collections.abc import Callable
from math import sqrt
from typing import Any, NamedTuple

from numba.core import types
from numba.extending import overload

from parasim.aerodynamics.look_up import Vec3, Vec6
from parasim.compiled import OPTIONS, compiled, inlined
from parasim.dynamics.brakes.control import brake_position
from parasim.dynamics.brakes.flown import INSTANT, ServoLimits
from parasim.dynamics.motion import (
    STILL,
    Motion,
    Vec4,
    add3,
    attitude_matrix,
    cross3,
    rigid_rates,
    rotate3,
    scale3,
    sub3,
)
from parasim.dynamics.suspension.motion_joint import hanging_point, swinging_rates
from parasim.environment.gust import Gusts, gust_at, turbulence_scales
from parasim.environment.wind import mean_wind
from parasim.rotations import FloatArray

JOINTED_STATES = 20
"""States of a body whose payload swings."""


class Flight(NamedTuple):
    """What a flight goes by.

    Attributes
    ----------
    motion : Motion
        Constants of the vehicle.
    gusts : Gusts
        Of the air.
    servo : ServoLimits
        How the brakes follow what they are commanded.
    """

    motion: Motion
    gusts: Gusts
    servo: ServoLimits = INSTANT


@compiled
def payload_point(flight: Flight, y: FloatArray, place: Vec3) -> tuple[float, Vec3]:
    """Height above ground of a point of the payload, and its velocity over the ground: north, east, down.

    Parameters
    ----------
    flight : Flight
        Constants.
    y : ndarray
        State.
    place : tuple of float
        Of the point, from that by which the payload hangs, payload axes. [m]
    """
    to_earth, rates = attitude_matrix(y[3], y[4], y[5], y[6]), (y[10], y[11], y[12])
    velocity = (y[7], y[8], y[9])
    if len(y) < JOINTED_STATES:
        arm, swept = rotate3(to_earth, place), rotate3(to_earth, cross3(rates, place))
        return -y[2] - arm[2], add3(rotate3(to_earth, velocity), swept)
    held, own_rates = attitude_matrix(y[13], y[14], y[15], y[16]), (y[17], y[18], y[19])
    hook, slope, swing_rate = hanging_point(flight.motion.constants, to_earth, held, rates, own_rates)
    at_hook = add3(velocity, add3(cross3(rates, hook), scale3(swing_rate, slope)))
    arm = add3(rotate3(to_earth, hook), rotate3(held, place))
    moving = add3(rotate3(to_earth, at_hook), rotate3(held, cross3(own_rates, place)))
    return -y[2] - arm[2], moving


@inlined
def gust_met(flight: Flight, time: float, y: FloatArray) -> tuple[Vec6, float, float]:
    """Gust that a flight meets, and how fast it passes through the turbulence.

    Parameters
    ----------
    flight, time, y
        As for `flight_rates`.

    Returns
    -------
    gust : tuple of float, length 6
        North, east and down, and their rates of change on board. [m/s], [m/s²]
    horizontal_rate, vertical_rate : float
        Of the two gust coordinates. The way through the turbulence is that through the mean wind: what a gust
        adds to it evens out. [1/s]
    """
    gusts, last = flight.gusts, len(y) - 2
    if gusts.deviation == 0.0 and gusts.speed == 0.0:
        return STILL, 0.0, 0.0
    to_earth = attitude_matrix(y[3], y[4], y[5], y[6])
    north, east, _, _ = mean_wind(flight.motion.wind, -y[2])
    u, v, w = sub3(rotate3(to_earth, (y[7], y[8], y[9])), (north, east, 0.0))
    airspeed = sqrt(u * u + v * v + w * w)
    length_horizontal, length_vertical, _ = turbulence_scales(-y[2])
    horizontal, vertical = airspeed / length_horizontal, airspeed / length_vertical
    gust = gust_at(gusts, time, -y[2], y[last], y[last + 1], horizontal, vertical, north, east)
    return gust, horizontal, vertical


def body_rates(motion: Motion, y: FloatArray, left: float, right: float, gust: Vec6, out: FloatArray) -> Vec4:
    """Rates of a body, rigid or swinging; arguments as for `rigid_rates` and `swinging_rates`.

    An ``if`` in a compiled function would have both compiled at every first run.
    """
    if motion.swings:
        return swinging_rates(motion, y, left, right, gust, out)
    return rigid_rates(motion, y, left, right, gust, out)


@overload(body_rates, jit_options=OPTIONS, strict=False)  # type: ignore[arg-type]
def _rates_of_kind(motion: Any, y: Any, left: Any, right: Any, gust: Any, out: Any) -> Callable[..., Vec4]:
    """Which of the two, by the types that numba compiles it for."""
    if isinstance(motion.types[Motion._fields.index("swings")], types.NoneType):
        return lambda motion, y, left, right, gust, out: rigid_rates(motion, y, left, right, gust, out)
    return lambda motion, y, left, right, gust, out: swinging_rates(motion, y, left, right, gust, out)


@compiled
def flight_rates(
    flight: Flight,
    moves: FloatArray,
    count: int,
    time: float,
    y: FloatArray,
    out: FloatArray,
) -> Vec4:
    """Write the rate of change of the state.

    Parameters
    ----------
    flight : Flight
        Constants.
    moves, count
        Of the brakes, as for `brake_position`.
    time : float
        After release. [s]
    y, out : ndarray, shape (n_states + 2,)
        State, and where its rate goes. The two gust coordinates come last.

    Returns
    -------
    tuple of float
        The flow and the pull of the lines, as `Vec4` has them.
    """
    left, right = brake_position(moves, count, time)
    last = len(y) - 2
    gust, horizontal, vertical = gust_met(flight, time, y)
    felt = body_rates(flight.motion, y, left, right, gust, out)
    out[last], out[last + 1] = horizontal, vertical
    return felt
