"""Both brakes pulled out of the glide with the brakes released, and the descent that follows.

Over the last few metres the air hardly thins and its steady motion only shifts the ground, so one simulated
descent serves every height at which the pull may begin: the ground is put where it is wanted afterwards.
"""

from dataclasses import dataclass
from functools import cached_property
from math import degrees, hypot

import numpy as np

from parasim.aerodynamics.table import AeroTable
from parasim.config.design import Design
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.brakes.actuators import build_drive, servo_limits
from parasim.dynamics.brakes.control import BrakeSchedule, timed_moves
from parasim.dynamics.simulate import simulate
from parasim.dynamics.state import ATTITUDE, VELOCITY
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.flight.arrival import Touchdown
from parasim.flight.trim import Trim
from parasim.mass.inventory import payload_bottom, payload_center
from parasim.rotations import FloatArray, rotation_matrix

USUAL_FULL_TRAVEL = 0.5
"""Time for full travel where the design names no servo. [s] Our choice, no source."""

SHORT = 0.98
"""Fraction of the travel under which a servo that reaches no further is worth a word. Our choice. [-]"""

DEPTH = 12.0
"""How deep a descent is followed, if nothing is said. [m]"""

SAMPLE_STEP = 0.02
"""[s]"""

METHOD, TOLERANCE = "RK45", 1e-4
"""Of the integrator: figures differ by under 0.01 m/s from those at its usual tolerance."""

STILL = np.zeros(3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One move of both brakes.

    Attributes
    ----------
    start : float
        After the flare begins. [s]
    over : float
        How long it takes. [s]
    fraction : float
        Where to, of full travel. [-]
    """

    start: float
    over: float
    fraction: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """Stages of a flare, each begun when the one before has ended, or later; none: brakes released."""

    stages: tuple[Stage, ...] = ()

    @property
    def commands(self) -> tuple[BrakeCommand, ...]:
        """For the simulation, by time after the flare begins."""
        return tuple(
            BrakeCommand(at_time=stage.start, left=stage.fraction, right=stage.fraction, over=stage.over)
            for stage in self.stages
        )

    @property
    def duration(self) -> float:
        """Until the last stage has ended. [s]"""
        return self.stages[-1].start + self.stages[-1].over if self.stages else 0.0

    @property
    def fraction(self) -> float:
        """Where the brakes end. [-]"""
        return self.stages[-1].fraction if self.stages else 0.0

    @property
    def schedule(self) -> BrakeSchedule:
        """Brakes over time after the flare begins."""
        return timed_moves(self.commands)


def servo_pull(*stages: tuple[float, float, float], full_travel: float) -> Pull:
    """Pull in stages, none quicker than the servo.

    Parameters
    ----------
    *stages : (float, float, float)
        Wait after the stage before [s], fraction of full travel to reach [-], and time to take. [s]
    full_travel : float
        Time the servo takes for full travel. [s]

    Examples
    --------
    >>> servo_pull((0.0, 0.8, 0.1), full_travel=0.5).stages[0].over
    0.4
    """
    made: list[Stage] = []
    now, reached = 0.0, 0.0
    for wait, fraction, over in stages:
        over = max(over, abs(fraction - reached) * full_travel)
        made.append(Stage(start=now + wait, over=over, fraction=fraction))
        now, reached = now + wait + over, fraction
    return Pull(stages=tuple(made))


@dataclass(frozen=True, slots=True, kw_only=True)
class BrakeSpeed:
    """How far and how quickly the servos pull.

    Attributes
    ----------
    full_travel : float
        Time for full brake travel without load. [s]
    reach : float
        Largest fraction of full travel that they get to. [-]
    words : str
        What that rests on, a clause.
    """

    full_travel: float
    reach: float
    words: str


def brake_speed(design: Design) -> BrakeSpeed:
    """How far and how quickly the servos of a design pull, at one speed all the way.

    Raises
    ------
    DesignError
        If no arm at its place could pull the travel.
    """
    servo, travel = design.servo, design.brakes.travel
    if servo is None:
        words = f"no servo is given, {USUAL_FULL_TRAVEL:g} s for full travel is taken [our choice, no source]"
        return BrakeSpeed(full_travel=USUAL_FULL_TRAVEL, reach=1.0, words=words)
    limits, drive = servo_limits(design), build_drive(servo, travel)
    reach, full_travel = limits.reach, 1 / limits.rate
    turn = drive.angle_of(reach * travel) - drive.start
    words = f"{servo.kind} turning {degrees(turn):.0f} deg, {full_travel:.2g} s for full travel without load"
    if reach < SHORT:
        words += f", reaches only {100 * reach:.0f} % of it"
    return BrakeSpeed(full_travel=full_travel, reach=reach, words=words)


@dataclass(frozen=True, kw_only=True, eq=False)
class Descent:
    """What follows a pull, the ground left open.

    Attributes
    ----------
    time : ndarray, shape (n,)
        After the pull begins. [s]
    lost : ndarray, shape (n,)
        Height that the payload's bottom has lost over the ground since then. [m]
    velocity : ndarray, shape (3, n)
        Of the payload over the ground: forward, to the right, down. [m/s]
    alpha, airspeed : ndarray, shape (n,)
        Angle of attack [rad] and airspeed [m/s] at the confluence.
    mass : float
        Of all that arrives. [kg]
    """

    time: FloatArray
    lost: FloatArray
    velocity: FloatArray
    alpha: FloatArray
    airspeed: FloatArray
    mass: float

    @cached_property
    def _knots(self) -> tuple[FloatArray, FloatArray]:
        """Height lost and time, rising, of all that is lower than ever before: there it touches."""
        t, h = self.time, self.lost
        lowest = np.maximum.accumulate(h)
        later = np.flatnonzero(h[1:] > lowest[:-1]) + 1
        # After a climb it passes the old mark somewhere between two samples.
        mark = lowest[later - 1]
        passed = t[later - 1] + (mark - h[later - 1]) / (h[later] - h[later - 1]) * (t[later] - t[later - 1])
        height = np.column_stack([mark, h[later]]).ravel()
        time = np.column_stack([passed, t[later]]).ravel()
        return np.concatenate([h[:1], height]), np.concatenate([t[:1], time])

    @property
    def deepest(self) -> float:
        """Largest height lost. [m]"""
        return float(self._knots[0][-1])

    def time_of(self, height: FloatArray | float) -> FloatArray:
        """When it touches the ground after a pull begun so high; nan if not within the descent. [s]"""
        lost, time = self._knots
        return np.asarray(np.interp(height, lost, time, right=np.nan))

    def touchdown(self, height: float) -> Touchdown:
        """Arrival after a pull begun with the payload's bottom so high above ground.

        At or under zero it touches before the pull.
        """
        north, east, down = (float(v) for v in self._at(self.velocity, max(height, 0.0)))
        return Touchdown(ground_speed=hypot(north, east), sink=down, mass=self.mass)

    def arrivals(self, height: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Sink and speed along the path at touchdown for many start heights. [m/s]"""
        velocity = self._at(self.velocity, height)
        return velocity[2], np.sqrt((velocity**2).sum(axis=0))

    def highest_alpha(self, height: FloatArray | float) -> FloatArray:
        """Highest angle of attack before touchdown. [rad]"""
        highest = np.maximum.accumulate(self.alpha)
        return np.interp(self.time_of(np.maximum(height, 0.0)), self.time, highest)

    def _at(self, values: FloatArray, height: FloatArray | float) -> FloatArray:
        time = self.time_of(height)
        return np.array([np.interp(time, self.time, row) for row in values])


@dataclass(frozen=True, kw_only=True, eq=False)
class FlareDescent:
    """A vehicle ready for many descents out of one glide.

    Attributes
    ----------
    vehicle : Vehicle
        What flies; its own wind plays no part.
    trim : Trim
        The glide that the flare begins in.
    table : AeroTable
        Its coefficients.
    bottom, center : ndarray, shape (3,)
        Of the payload, its axes. [m]
    """

    vehicle: Vehicle
    trim: Trim
    table: AeroTable
    bottom: FloatArray
    center: FloatArray

    def descend(self, pull: Pull, horizon: float, gust: FloatArray = STILL, depth: float = DEPTH) -> Descent:
        """Descent after a pull.

        Parameters
        ----------
        pull : Pull
            What the brakes do, from time zero.
        horizon : float
            How long to follow it. [s]
        gust : ndarray, shape (3,)
            Step of the wind as the pull begins: forward, to the right, down; it stays. [m/s]
        depth : float
            How far down through the air to follow it. [m]

        Raises
        ------
        ConvergenceError
            If the motion could not be followed.

        Notes
        -----
        Flown in axes that move with the gust. The kick that the apparent mass would give as the air jumps is
        left out: a real gust takes a moment to arrive.
        """
        start = depth + self.bottom_below
        state = self.trim.state(height=start, heading=0.0)
        state[VELOCITY] -= rotation_matrix(state[ATTITUDE]).T @ gust
        # The simulation's ground lies lower, so that the air here has the density of the real one.
        body = build_body(in_wind(self.vehicle, Wind.calm(), deeper=start), self.table)
        flown = simulate(
            body, body.hanging(state), pull.commands, payload_bottom=self.bottom,
            servo=servo_limits(self.vehicle.design), longest=horizon,
            in_plane=bool(gust[1] == 0.0), method=METHOD, rtol=TOLERANCE, atol=TOLERANCE,
        ).followed()  # fmt: skip
        time = np.linspace(0.0, flown.duration, max(2, int(flown.duration / SAMPLE_STEP) + 1))
        state = flown.at(time)
        through_air = state[VELOCITY]
        bottom, _ = body.payload(state, self.bottom)
        _, velocity = body.payload(state, self.center)
        return Descent(
            time=time,
            lost=bottom[2] - bottom[2, 0] + gust[2] * time,
            velocity=velocity + gust[:, None],
            alpha=np.arctan2(through_air[2], through_air[0]),
            airspeed=np.sqrt((through_air**2).sum(axis=0)),
            mass=self.vehicle.mass,
        )

    @cached_property
    def bottom_below(self) -> float:
        """Of the confluence, in the glide. [m]"""
        body = build_body(in_wind(self.vehicle, Wind.calm()), self.table)
        start = body.hanging(self.trim.state(height=0.0, heading=0.0))
        return float(body.payload(start, self.bottom)[0][2])


def build_flare_descent(vehicle: Vehicle, trim: Trim, table: AeroTable | None = None) -> FlareDescent:
    """FlareDescent of a vehicle without its wind; `table` in place of the whole one where less will do."""
    return FlareDescent(
        vehicle=vehicle,
        trim=trim,
        table=table or vehicle.model.table,
        bottom=payload_bottom(vehicle.design),
        center=payload_center(vehicle.design),
    )
