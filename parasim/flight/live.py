"""A drop flown by hand: the motion of `parasim drop`, a step at a time, its brakes pulled from outside.

The same compiled right-hand side, from the same state at release, through the same wind and gusts, with the
same servos, to the same endings. Within a step the integrator takes steps of its own, at the tolerance of the
single drop. Brakes are commanded at the start of a step; their servos then go there as fast as they can.
One second of flight takes some 2 ms of one core.
"""

from dataclasses import replace
from math import hypot

import numpy as np

from parasim.config.scenario import LONGEST_FLIGHT, BrakeCommand
from parasim.dynamics.brakes.actuators import servo_limits
from parasim.dynamics.flight_rates import Flight, gust_met
from parasim.dynamics.pose import Hung, hung, payload_points
from parasim.dynamics.runge_kutta import ALOFT, LANDED, LOST, ON_GROUND, OVERTURNED, SLACK, STUCK, TUMBLED
from parasim.dynamics.simulate import ENDING_REASONS
from parasim.dynamics.steered import Stepper
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.arrival import Touchdown, Verdict, verdicts
from parasim.flight.drop import Release, begin, release_of
from parasim.flight.track import Track, track_of
from parasim.rotations import FloatArray

STEPS_A_SECOND = 60
"""In which it is shown, and its brakes are commanded. Our choice. [1/s]"""

LOGGED_EVERY = 6
"""Steps between the moments that are kept: ten a second, as a good receiver logs. Our choice. [-]"""

MOST_AT_ONCE = 0.25
"""Flight that is caught up with at most: a longer break of the clock is left out. Our choice. [s]"""

PULLED_IN, LET_UP_IN = 1.0, 0.5
"""Times in which a key that is held pulls the whole travel, and in which a brake let go of is up again. Our
choice, no source. [s]"""

ENDINGS = {
    ALOFT: "aloft", LANDED: "landed", ON_GROUND: "landed", SLACK: "slack lines", OVERTURNED: "overturned",
    TUMBLED: "tumbled", STUCK: "stuck", LOST: "stuck",
}  # fmt: skip
"""Status of the compiled flight to the word that `parasim drop` has for it."""

REASONS = ENDING_REASONS | {
    "tumbled": "it tumbles, faster than the design can fly",
    "stuck": "the equations cannot be followed any further",
}
"""Clauses for the endings after which nothing is known."""


class LiveFlight:
    """A drop flown by hand.

    Parameters
    ----------
    vehicle : Vehicle
        What is flown, and in what wind, gusts and turbulence.
    release : Release, optional
        Else as the design file has it; its brake commands are left to the hand.
    target : tuple of float, optional
        North and east of where it should come down, from the point under the release; else the file's, if it
        has one. [m]

    Attributes
    ----------
    released : bool
        Whether it has been let go.
    paused : bool
        Whether time stands still.
    pace : float
        Time of the flight over that of the clock: 1, or less for slow motion. [-]
    command : ndarray, shape (2,)
        Left and right brake that are commanded, fractions of full travel. [-]

    Raises
    ------
    DesignError, TrimError
        As `parasim.flight.drop.drop`.
    """

    def __init__(
        self, vehicle: Vehicle, release: Release | None = None, *, target: tuple[float, float] | None = None
    ) -> None:
        self.vehicle, self.begins = vehicle, release or release_of(vehicle)
        self.target = target or target_of(vehicle)
        begun = begin(vehicle, self.begins, facing=False)
        self.body, self._bottom = begun.body, begun.bottom
        self._flight = Flight(motion=begun.body.motion, gusts=begun.gusts, servo=servo_limits(vehicle.design))
        self._stepper = Stepper(
            self._flight, np.append(begun.start, (0.0, 0.0)), tuple(begun.bottom.tolist())
        )
        self.released, self.paused, self.pace = False, False, 1.0
        self.command: FloatArray = np.zeros(2)
        self._stepper.fly(self.command, 0.0)  # compiles, so that the first step is as quick as the others
        self._due, self._steps = 0.0, 0
        self._kept: list[tuple[float, FloatArray, FloatArray]] = []
        self._keep()

    @property
    def time(self) -> float:
        """After release. [s]"""
        return self._stepper.time

    @property
    def state(self) -> FloatArray:
        """Of the body now, shape (n_states,), in the slots of `parasim.dynamics.state`."""
        return self._stepper.state[:-2]

    @property
    def pose(self) -> Hung:
        """Where canopy and payload are now."""
        return hung(self.state, self.vehicle.swing)

    @property
    def underside(self) -> float:
        """Height of the payload's underside above the ground, zero where it lies. [m]"""
        return max(0.0, -float(payload_points(self.state, self._bottom, self.vehicle.swing)[2]))

    @property
    def ending(self) -> str:
        """How it ended, as `parasim drop` has it; `aloft` while it flies."""
        return ENDINGS[self._stepper.status]

    @property
    def ended(self) -> bool:
        """Whether it flies no more."""
        return self.ending != "aloft" or self.time >= LONGEST_FLIGHT

    @property
    def flying(self) -> bool:
        """Whether time passes for it."""
        return self.released and not self.paused and not self.ended

    def release(self) -> None:
        """Let it go."""
        self.released = True

    def pull(self, left: float, right: float) -> None:
        """Command the brakes, fractions of full travel, held between 0 and 1. [-]"""
        self.command = np.clip([left, right], 0.0, 1.0)

    def pass_time(self, seconds: float) -> int:
        """Let time of the clock pass [s]; it is flown in whole steps, what is left over counts the next time.

        Returns
        -------
        int
            Steps flown.
        """
        if not self.flying:
            return 0
        self._due = min(self._due + self.pace * max(seconds, 0.0), MOST_AT_ONCE)
        count = 0
        while self._due >= 1 / STEPS_A_SECOND and self.flying:
            self._due -= 1 / STEPS_A_SECOND
            self.step()
            count += 1
        return count

    def step(self) -> None:
        """Fly one step, or to the end of the flight, under the brakes that are commanded."""
        if self.ended:
            return
        self._stepper.fly(self.command, 1 / STEPS_A_SECOND)
        self._steps += 1
        if self._steps % LOGGED_EVERY == 0 or self.ended:
            self._keep()

    @property
    def now(self) -> Track:
        """Its last moment, a track of one sample."""
        return self._track([(self.time, self._stepper.state, self._stepper.brakes)])

    @property
    def track(self) -> Track:
        """All of it up to now, ten samples a second and the last moment."""
        last = (
            [] if self._kept[-1][0] == self.time else [(self.time, self._stepper.state, self._stepper.brakes)]
        )
        return self._track([*self._kept, *last])

    @property
    def touchdown(self) -> Touchdown | None:
        """How it lands; None if it does not."""
        if self.ending != "landed":
            return None
        now = self.now
        return Touchdown(
            ground_speed=float(now.ground_speed[0]), sink=float(now.sink[0]), mass=self.vehicle.mass
        )

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """The touchdown against the limits of the file; empty without one."""
        touchdown = self.touchdown
        return () if touchdown is None else verdicts(touchdown, self.vehicle.design.landing)

    @property
    def distance_to_target(self) -> float | None:
        """Of the confluence, over the ground, now; None without a target. [m]"""
        if self.target is None:
            return None
        north, east = self.state[:2].tolist()
        return hypot(north - self.target[0], east - self.target[1])

    def _keep(self) -> None:
        self._kept.append((self.time, self._stepper.state.copy(), self._stepper.brakes.copy()))

    def _track(self, moments: list[tuple[float, FloatArray, FloatArray]]) -> Track:
        gust = [gust_met(self._flight, time, state)[0][:3] for time, state, _ in moments]
        return track_of(
            self.body,
            self.vehicle,
            np.array([time for time, _, _ in moments]),
            np.array([state[:-2] for _, state, _ in moments]).T,
            gust=np.array(gust).T,
            brakes=np.array([brakes for _, _, brakes in moments]).T,
        )


def target_of(vehicle: Vehicle) -> tuple[float, float] | None:
    """North and east of the file's target from the point under the release; None if it has none. [m]"""
    target = vehicle.design.scatter.target
    return None if target is None else (target.north, target.east)


def gliding(release: Release) -> Release:
    """The same release, begun in the steady glide whatever the file says."""
    return replace(release, start="steady", velocity=np.zeros(3))


def by_keys(command: FloatArray, held: tuple[bool, bool], seconds: float) -> FloatArray:
    """Brakes commanded by two keys: a key that is held pulls further, one let go of lets up.

    Parameters
    ----------
    command : ndarray, shape (2,)
        Left and right brake until now. [-]
    held : tuple of bool
        Left and right key.
    seconds : float
        For how long. [s]

    Returns
    -------
    ndarray, shape (2,)

    Examples
    --------
    >>> by_keys(np.array([0.2, 0.2]), (True, False), 0.05).round(3).tolist()
    [0.25, 0.1]
    """
    change = np.where(held, seconds / PULLED_IN, -seconds / LET_UP_IN)
    return np.clip(command + change, 0.0, 1.0)


def flare_of(vehicle: Vehicle) -> BrakeCommand | None:
    """The lowest command of the file by which both brakes are pulled alike at a height; None without."""
    found = [
        command
        for command in vehicle.design.drop.brakes
        if command.at_height is not None and command.left == command.right > 0.0
    ]
    return found[-1] if found else None


def by_flare(command: FloatArray, flare: BrakeCommand | None, seconds: float) -> FloatArray:
    """Brakes commanded by a key that flares: both go where the file's flare pulls them, as fast as it does.

    Parameters
    ----------
    command : ndarray, shape (2,)
        Left and right brake until now. [-]
    flare : BrakeCommand or None
        As `flare_of` finds it; without one, the whole travel as by keys.
    seconds : float
        For how long. [s]

    Returns
    -------
    ndarray, shape (2,)
        A brake that is pulled further already stays.
    """
    to, over = (1.0, PULLED_IN) if flare is None else (flare.left, flare.over)
    change = to * seconds / over if over > 0.0 else to
    return np.maximum(command, np.minimum(command + change, to))
