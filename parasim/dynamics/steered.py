"""A flight whose brakes are set anew again and again by what is seen of it, by the compiled motion."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np

from parasim.aerodynamics.look_up import Vec3
from parasim.config.scenario import longest_drop
from parasim.dynamics.brakes.flown import ServoLimits
from parasim.dynamics.flight_rates import Flight, payload_point
from parasim.dynamics.runge_kutta import ALOFT, LANDED, fly, workspace_for
from parasim.dynamics.simulate import RELATIVE_TOLERANCE, absolute_tolerances
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


class Stepper:
    """A flight followed leg by leg, its brakes commanded anew for each.

    Parameters
    ----------
    flight : Flight
        Constants.
    start : ndarray, shape (n_states + 2,)
        State at release, the two gust coordinates behind it.
    place : tuple of float
        Of the payload's lower face, as for `payload_point`. [m]
    looser : float
        Tolerance over that of the single drop. [-]
    n_last : int
        Moves by height that a leg may have.
    """

    def __init__(
        self, flight: Flight, start: FloatArray, place: Vec3, *, looser: float = 1.0, n_last: int = 0
    ) -> None:
        self.flight, self.place, self.state = flight, place, start.copy()
        self.time, self.brakes, self.status = 0.0, np.zeros(2), ALOFT
        self._rtol = looser * RELATIVE_TOLERANCE
        self._atol = absolute_tolerances(len(start) - 2, looser)
        self._workspace = workspace_for(len(start), n_last + 2)

    def fly(self, wanted: FloatArray, lasts: float, last: FloatArray | None = None) -> None:
        """Fly on with brakes commanded to new places, as far as the servos go, for a time or to the end. [s]

        Parameters
        ----------
        wanted : ndarray, shape (2,)
            Left and right brake. [-]
        lasts : float
            [s]
        last : ndarray, shape (n, 4), optional
            Moves by height, as for `parasim.dynamics.runge_kutta.fly`.
        """
        flight, (rate, reach) = self.flight, self.flight.servo
        wanted = np.minimum(wanted, reach)
        # Where the brakes are counts as let out, so the servo's reach is kept above, not there.
        leg = flight._replace(
            servo=ServoLimits(rate=rate, reach=1.0),
            gusts=flight.gusts._replace(start=flight.gusts.start - self.time),
        )
        status, flown, _, _, _ = fly(
            leg, self.place, np.array([[-inf, 0.0, *self.brakes], [0.0, 0.0, *wanted]]),
            np.empty((0, 4)) if last is None else last, self.state, self._rtol, self._atol, lasts,
            self._workspace,
        )  # fmt: skip
        self.status, self.time = int(status), self.time + flown
        most = rate * flown if flown > 0.0 else 0.0
        self.brakes = self.brakes + np.clip(wanted - self.brakes, -most, most)

    def look(self) -> Seen:
        """What is seen of it now."""
        height, velocity = payload_point(self.flight, self.state, self.place)
        heading = float(euler_from_quaternion(self.state[ATTITUDE])[2])
        north, east = self.state[:2].tolist()
        return Seen(self.time, north, east, height, heading, velocity, *self.brakes.tolist())


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
    last = np.column_stack([last[:, :2], np.minimum(last[:, 2:], flight.servo.reach)])
    begins = last[0, 0] if len(last) else -inf
    stepper, seen = Stepper(flight, start, place, looser=LOOSER, n_last=len(last)), []
    longest = longest_drop(stepper.look().height)
    while True:
        now = stepper.look()
        ending = now.height - begins < STEPS_AHEAD * every * max(now.velocity[2], 1.0)
        seen.append(now)
        if ending:
            stepper.fly(np.zeros(2), longest, last)
            stepper.brakes = last[-1, 2:] if len(last) else stepper.brakes
        else:
            stepper.fly(np.array(law(now)), every)
        if stepper.status != ALOFT or stepper.time >= longest:
            return SteeredFlight(seen=(*seen, stepper.look()), status=stepper.status)
