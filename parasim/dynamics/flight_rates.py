"""Everything that changes along a flight at one moment, as a compiled function: motion, brakes and gusts.

The state here is that of the body with the two gust coordinates after it (`parasim.environment.gust`).
"""

from typing import NamedTuple

from parasim.compiled import compiled
from parasim.dynamics.motion import Motion, rigid_rates
from parasim.dynamics.motion_joint import Swing, swinging_rates
from parasim.environment.gust import Gusts, gust_at, turbulence_scales
from parasim.environment.wind import mean_wind
from parasim.rotations import FloatArray

RIGID_STATES, JOINTED_STATES = 13, 20


class Flight(NamedTuple):
    """What a flight goes by.

    Attributes
    ----------
    motion, swing
        Constants of the vehicle; a payload that does not swing has no mass in `swing`.
    gusts : Gusts
        Of the air.
    """

    motion: Motion
    swing: Swing
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
    flight: Flight, moves: FloatArray, count: int, time: float, y: FloatArray, out: FloatArray
) -> None:
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
    """
    left, right = brake_position(moves, count, time)
    last = len(y) - 2
    height = -y[2]
    # The coordinates run on with the air passed; what the gust does to the airspeed is left out of that.
    u, v, w = y[7], y[8], y[9]
    north, east, _, _ = mean_wind(flight.motion.wind, height)
    if flight.swing.mass > 0.0:
        swinging_rates(flight.motion, flight.swing, y, left, right, gust, out)
    else:
        rigid_rates(flight.motion, y, left, right, gust, out)
