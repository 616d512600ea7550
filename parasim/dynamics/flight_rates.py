"""Everything that changes along a flight at one moment, as a compiled function: motion, brakes and gusts.

The state here is that of the body with the two gust coordinates after it (`parasim.environment.gust`).
"""

from math import sqrt
from typing import NamedTuple

from parasim.aerodynamics.look_up import Three
from parasim.compiled import compiled
from parasim.dynamics.motion import STILL, Motion, attitude_matrix, rigid_rates, take3, turn3
from parasim.dynamics.motion_joint import swinging_rates
from parasim.environment.gust import Gusts, gust_at, turbulence_scales
from parasim.environment.wind import mean_wind
from parasim.rotations import FloatArray


class Flight(NamedTuple):
    """What a flight goes by.

    Attributes
    ----------
    motion : Motion
        Constants of the vehicle.
    gusts : Gusts
        Of the air.
    """

    motion: Motion
    gusts: Gusts


@compiled
def brake_position(moves: FloatArray, count: int, time: float) -> tuple[float, float]:
    """Left and right brake at a time, fractions of full travel.

    Parameters
    ----------
    moves : ndarray, shape (n, 4)
        Start and how long it takes [s], left and right brake it goes to [-]; by rising start.
    count : int
        How many rows are in use.
    time : float
        After release. [s]
    """
    left = right = 0.0
    for i in range(count):
        start, over = moves[i, 0], moves[i, 1]
        if time < start:
            break
        until = moves[i + 1, 0] if i + 1 < count and moves[i + 1, 0] <= time else time
        part = 1.0 if over <= 0.0 else min(1.0, (until - start) / over)
        left += part * (moves[i, 2] - left)
        right += part * (moves[i, 3] - right)
    return left, right


@compiled
def flight_rates(
    flight: Flight,
    moves: FloatArray,
    count: int,
    time: float,
    y: FloatArray,
    out: FloatArray,
    work: FloatArray,
) -> Three:
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
    work : ndarray, shape (9, 10)
        Room to work in.

    Returns
    -------
    tuple of float
        Velocity of the confluence through the air, body axes. [m/s]
    """
    left, right = brake_position(moves, count, time)
    last = len(y) - 2
    out[last] = out[last + 1] = 0.0
    gust = STILL
    gusts = flight.gusts
    if gusts.deviation != 0.0 or gusts.speed != 0.0:
        # The way through the turbulence is that through the mean wind: what a gust adds to it evens out.
        to_earth = attitude_matrix(y[3], y[4], y[5], y[6])
        north, east, _, _ = mean_wind(flight.motion.wind, -y[2])
        u, v, w = take3(turn3(to_earth, (y[7], y[8], y[9])), (north, east, 0.0))
        airspeed = sqrt(u * u + v * v + w * w)
        length_horizontal, length_vertical, _ = turbulence_scales(-y[2])
        out[last], out[last + 1] = airspeed / length_horizontal, airspeed / length_vertical
        gust = gust_at(
            gusts, time, -y[2], y[last], y[last + 1], out[last], out[last + 1], north, east
        )
    if flight.motion.constants.payload_mass > 0.0:
        return swinging_rates(flight.motion, y, left, right, gust, out, work)
    return rigid_rates(flight.motion, y, left, right, gust, out)
