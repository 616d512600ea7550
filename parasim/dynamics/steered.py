"""A flight whose brakes are set anew again and again by what is seen of it, by the compiled motion."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np

from parasim.aerodynamics.look_up import Vec3
from parasim.config.scenario import LONGEST_FLIGHT
from parasim.dynamics.brakes.flown import ServoLimits
from parasim.dynamics.flight_rates import Flight, payload_point
from parasim.dynamics.runge_kutta import ALOFT, LANDED, fly, workspace_for
from parasim.dynamics.simulate import ABSOLUTE_TOLERANCE, GUST_TOLERANCE, RELATIVE_TOLERANCE
from parasim.dynamics.state import ATTITUDE
from parasim.rotations import FloatArray, euler_from_quaternion

LOOSER = 10.0
"""Tolerance over that of the single drop, as in an ensemble. [-]"""

STEPS_AHEAD = 3.0
"""Sink in so many steps above the last moves' height steering ends. Our choice. [-]"""


class Seen(NamedTuple):
    """What is seen of a flight at a moment.

    Attributes
    ----------
    time : float
        After release. [s]
    north, east : float
        Of the confluence. [m]
    height : float
        Of the payload's lower face above ground. [m]
    heading : float
        Of the canopy, by compass. [rad]
    velocity : tuple of float
        Of the payload over the ground: north, east, down. [m/s]
    left, right : float
        Brakes, fractions of full travel. [-]
    """

    time: float
    north: float
    east: float
    height: float
    heading: float
    velocity: Vec3
    left: float
    right: float


Law = Callable[[Seen], tuple[float, float]]
"""From what is seen to the left and right brake that are commanded, fractions of full travel. [-]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class SteeredFlight:
    """A steered flight.

    Attributes
    ----------
    seen : tuple of Seen
        Each time the brakes were set, and at the end.
    status : int
        How it ended, as `parasim.dynamics.runge_kutta` has it.
    """

    seen: tuple[Seen, ...]
    status: int

    @property
    def landed(self) -> bool:
        """Whether it ended on the ground."""
        return self.status == LANDED

    @property
    def end(self) -> Seen:
        """Its last moment."""
        return self.seen[-1]


def fly_steered(
    flight: Flight, start: FloatArray, place: Vec3, law: Law, *, every: float, last: FloatArray
) -> SteeredFlight:
    """Fly under a steering law.

    Parameters
    ----------
    flight : Flight
        Constants.
    start : ndarray, shape (n_states + 2,)
        State at release, the two gust coordinates behind it.
    place : tuple of float
        Of the payload's lower face, as for `payload_point`. [m]
    law : callable
        Sets the brakes; the servos of the flight follow.
    every : float
        Time from one setting to the next. [s]
    last : ndarray, shape (n, 4)
        Moves by height, such as a flare, as for `fly`; a little above them steering ends, brakes released.
    """
    rate, reach = flight.servo
    state, workspace = start.copy(), workspace_for(len(start), len(last) + 2)
    atol = np.append(ABSOLUTE_TOLERANCE[: len(start) - 2], GUST_TOLERANCE) * LOOSER
    last = np.column_stack([last[:, :2], np.minimum(last[:, 2:], reach)])
    begins = last[0, 0] if len(last) else -inf
    time, brakes, seen = 0.0, np.zeros(2), []
    while True:
        now = _look(flight, state, place, time, brakes)
        ending = now.height - begins < STEPS_AHEAD * every * max(now.velocity[2], 1.0)
        wanted = np.zeros(2) if ending else np.minimum(law(now), reach)
        seen.append(now)
        moves = np.array([[-inf, 0.0, *brakes], [0.0, 0.0, *wanted]])
        # Where the brakes are counts as let out, so the servo's reach is kept above, not there.
        leg = flight._replace(
            servo=ServoLimits(rate=rate, reach=1.0),
            gusts=flight.gusts._replace(start=flight.gusts.start - time),
        )
        status, flown, _, _, _ = fly(
            leg, place, moves, last if ending else last[:0], state, LOOSER * RELATIVE_TOLERANCE, atol,
            LONGEST_FLIGHT if ending else every, workspace,
        )  # fmt: skip
        time, brakes = time + flown, brakes + np.clip(wanted - brakes, -rate * flown, rate * flown)
        if status != ALOFT or time >= LONGEST_FLIGHT:
            return SteeredFlight(
                seen=(*seen, _look(flight, state, place, time, last[-1, 2:] if ending else brakes)),
                status=int(status),
            )


def _look(flight: Flight, state: FloatArray, place: Vec3, time: float, brakes: FloatArray) -> Seen:
    height, velocity = payload_point(flight, state, place)
    heading = float(euler_from_quaternion(state[ATTITUDE])[2])
    left, right = brakes.tolist()
    return Seen(time, float(state[0]), float(state[1]), height, heading, velocity, left, right)
