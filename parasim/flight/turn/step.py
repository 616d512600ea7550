"""What happens after one brake is pulled in straight flight: the turn from its first moment on."""

from dataclasses import dataclass

import numpy as np

from parasim.config.design import Design
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.brakes.actuators import servo_limits
from parasim.dynamics.rigid_body import RigidBody
from parasim.dynamics.simulate import Trajectory, simulate
from parasim.dynamics.state import ATTITUDE, PAYLOAD_ATTITUDE
from parasim.dynamics.suspension.payload_joint import JointedBody, build_body, relative_angles
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.flight.track import Track, sample
from parasim.flight.trim import find_trims
from parasim.mass.inventory import payload_bottom
from parasim.rotations import FloatArray, rotation_matrix

STEP_ROOM, STEP_TIME = 400.0, 15.0
"""Height kept below a step response, and how long it is watched. [m], [s]"""

PULL_TIME = 0.3
"""Time that a step of the brake takes where the design has no servo. Our choice, no source. [s]"""

ADVERSE_TIME = 3.0
"""Within which the nose may first go the other way. [s]"""

SETTLED_TIME = 2.0
"""Last part of a step response, whose mean rate counts as settled. [s]"""

RISEN = 0.9
"""Share of the settled rate at which it has risen. [-]"""

MINIMUM_RATE = np.radians(0.05)
"""Settled rate under which rise and overshoot mean nothing. [rad/s]"""


def step_in_words(design: Design) -> str:
    """How a step of the brake is pulled, a clause."""
    if design.servo is None:
        return f"within {PULL_TIME:g} s"
    return f"as quickly as the servo can ({1 / servo_limits(design).rate:.2g} s for full travel without load)"


@dataclass(frozen=True, kw_only=True, eq=False)
class StepResponse:
    """What happens after one brake is pulled in straight flight; right and right wing down are positive.

    Attributes
    ----------
    left, right : float
        Brakes pulled to, fractions of full travel. [-]
    time, heading, rate, bank, sideslip, height_lost, north, east : ndarray, shape (n,)
        After the pull begins; at first it heads north. [s], [rad], [rad/s], [rad], [rad], [m], [m], [m]
    settled_rate : float
        At the end. [rad/s]
    rise_time : float
        Until the rate first reaches nine tenths of that; nan if it does not turn. [s]
    overshoot : float
        Largest rate over the settled one, less one; never negative; nan if it does not turn. [-]
    adverse_heading : float
        Furthest that the nose first went away from the brake. [rad]
    swing, twist, lean : float
        Furthest that the payload moved against the canopy: fore and aft, about the lines, sideways. [rad]
    """

    left: float
    right: float
    time: FloatArray
    heading: FloatArray
    rate: FloatArray
    bank: FloatArray
    sideslip: FloatArray
    height_lost: FloatArray
    north: FloatArray
    east: FloatArray
    settled_rate: float
    rise_time: float
    overshoot: float
    adverse_heading: float
    swing: float
    twist: float
    lean: float

    @property
    def brake(self) -> float:
        """The larger one. [-]"""
        return max(self.left, self.right)


def step_response(
    vehicle: Vehicle, *, left: float, right: float, pull_time: float | None = None
) -> StepResponse:
    """Pull one brake in straight flight near the ground, in still air, and watch.

    Parameters
    ----------
    vehicle : Vehicle
        Its payload swings if the design says so.
    left, right : float
        Brakes to pull to, fractions of full travel. [-]
    pull_time : float
        How long the pull is commanded to take; else as quickly as the servo can, or `PULL_TIME` without one.
        [s]

    Raises
    ------
    TrimError
        If it has no stable steady glide to start from.
    ConvergenceError
        If the motion could not be followed.
    """
    # The simulation's ground lies lower, so that the air has the density of the real one.
    still = in_wind(vehicle, Wind.calm(), deeper=STEP_ROOM)
    trim = find_trims(vehicle, modes=False).chosen
    body = build_body(still, vehicle.model.table)
    start = body.hanging(trim.state(height=STEP_ROOM, heading=0.0))
    over = (PULL_TIME if vehicle.design.servo is None else 0.0) if pull_time is None else pull_time
    pull = BrakeCommand(at_time=0.0, left=left, right=right, over=over)
    servo = servo_limits(vehicle.design)
    trajectory = simulate(
        body, start, (pull,), payload_bottom=payload_bottom(still.design), servo=servo, longest=STEP_TIME
    ).followed()
    track = sample(body, still, trajectory)
    return _read_step(left, right, track, payload_movement(body, trajectory))


def payload_movement(body: RigidBody | JointedBody, trajectory: Trajectory) -> FloatArray:
    """Furthest change of the payload's swing, twist and lean against the canopy, shape (3,). [rad]"""
    if isinstance(body, RigidBody):
        return np.zeros(3)
    angles = np.array(
        [
            relative_angles(rotation_matrix(state[PAYLOAD_ATTITUDE]).T @ rotation_matrix(state[ATTITUDE]))
            for state in trajectory.state.T
        ]
    )
    return np.abs(angles - angles[0]).max(axis=0)


def _read_step(left: float, right: float, track: Track, movement: FloatArray) -> StepResponse:
    time, heading = track.time, np.unwrap(track.attitude[2])
    rate = np.gradient(heading, time)
    settled = float(rate[time > time[-1] - SETTLED_TIME].mean())
    side = 1.0 if right >= left else -1.0
    towards = rate if settled >= 0 else -rate
    turns = abs(settled) > MINIMUM_RATE
    reached = np.flatnonzero(towards >= RISEN * abs(settled))
    swing, twist, lean = movement.tolist()
    return StepResponse(
        left=left,
        right=right,
        time=time,
        heading=heading,
        rate=rate,
        bank=track.attitude[0],
        sideslip=track.beta,
        height_lost=track.height[0] - track.height,
        north=track.north,
        east=track.east,
        settled_rate=settled,
        rise_time=float(time[reached[0]]) if turns and len(reached) else np.nan,
        overshoot=max(0.0, float(towards.max()) / abs(settled) - 1.0) if turns else np.nan,
        adverse_heading=max(0.0, float((-side * heading)[time < ADVERSE_TIME].max())),
        swing=swing,
        twist=twist,
        lean=lean,
    )
