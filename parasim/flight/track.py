"""The track of a flight: its integrated states, sampled and read as speeds, angles and places."""

from dataclasses import dataclass

import numpy as np

from parasim.dynamics.rigid_body import RigidBody
from parasim.dynamics.simulate import Trajectory
from parasim.dynamics.state import ATTITUDE, POSITION, RATES, VELOCITY
from parasim.dynamics.suspension.payload_joint import JointedBody
from parasim.dynamics.vehicle import Vehicle
from parasim.mass.inventory import payload_center
from parasim.rotations import FloatArray, euler_from_quaternion, rotation_matrix

SAMPLE_STEP = 0.05
"""Time step of the track. [s]"""

LONG, ENDS, LONG_STEP = 600.0, 60.0, 0.5
"""A flight that lasts longer than the first keeps that step for so long at its ends only; between them it has
a coarser one. Our choice. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """A drop sampled in time, each array of shape (n,) or (3, n).

    Attributes
    ----------
    time : ndarray
        After release. [s]
    north, east, height : ndarray
        Of the confluence, from the point on the ground under the release. [m]
    velocity : ndarray, shape (3, n)
        Of the payload over the ground: north, east, down. [m/s]
    airspeed : ndarray
        [m/s]
    alpha, beta : ndarray
        Angle of attack and sideslip. [rad]
    attitude : ndarray, shape (3, n)
        Roll, pitch, heading. [rad]
    rates : ndarray, shape (3, n)
        Roll, pitch, yaw. [rad/s]
    left, right : ndarray
        Brakes, fractions of full travel. [-]
    """

    time: FloatArray
    north: FloatArray
    east: FloatArray
    height: FloatArray
    velocity: FloatArray
    airspeed: FloatArray
    alpha: FloatArray
    beta: FloatArray
    attitude: FloatArray
    rates: FloatArray
    left: FloatArray
    right: FloatArray

    @property
    def ground_speed(self) -> FloatArray:
        """Horizontal. [m/s]"""
        return np.hypot(self.velocity[0], self.velocity[1])

    @property
    def sink(self) -> FloatArray:
        """[m/s]"""
        return self.velocity[2]


def sample_times(duration: float) -> FloatArray:
    """Times from release to the end of a flight: every `SAMPLE_STEP`, but for the middle of a long one. [s]

    Examples
    --------
    >>> len(sample_times(60.0)), len(sample_times(3600.0))
    (1201, 9361)
    """
    time = SAMPLE_STEP * np.arange(int(duration / SAMPLE_STEP) + 1.0, dtype=np.float64)
    if duration > LONG:
        every = round(LONG_STEP / SAMPLE_STEP)
        fine = (time <= ENDS) | (time >= duration - ENDS)
        time = time[fine | (np.arange(len(time)) % every == 0)]
    return np.append(time, duration) if duration - time[-1] >= 1e-9 else time


def sample(
    body: RigidBody | JointedBody,
    vehicle: Vehicle,
    trajectory: Trajectory,
    *,
    turned: float = 0.0,
    whole: bool = True,
) -> Track:
    """Track of a trajectory, at its `sample_times` or at its end.

    Parameters
    ----------
    body, vehicle, trajectory
        What flew.
    turned : float
        Heading of the axes it was followed in. [rad]
    whole : bool
        Whether to sample all of it, else only its end.
    """
    time = sample_times(trajectory.duration) if whole else np.array([trajectory.duration])
    brakes = np.array([trajectory.schedule.position(float(t)) for t in time]).T
    return track_of(
        body,
        vehicle,
        time,
        trajectory.at(time),
        gust=trajectory.gust(body, time),
        brakes=brakes,
        turned=turned,
    )


def track_of(
    body: RigidBody | JointedBody,
    vehicle: Vehicle,
    time: FloatArray,
    state: FloatArray,
    *,
    gust: FloatArray,
    brakes: FloatArray,
    turned: float = 0.0,
) -> Track:
    """Track of states.

    Parameters
    ----------
    body, vehicle
        What flew.
    time : ndarray, shape (n,)
        After release. [s]
    state : ndarray, shape (n_states, n)
        In the slots of `parasim.dynamics.state`.
    gust : ndarray, shape (3, n)
        Met then: north, east, down. [m/s]
    brakes : ndarray, shape (2, n)
        Left and right, fractions of full travel; slack counts as zero. [-]
    turned : float
        Heading of the axes it was followed in. [rad]
    """
    to_earth = rotation_matrix(state[ATTITUDE])
    velocity, rates = state[VELOCITY], state[RATES]
    _, over_ground = body.payload(state, payload_center(vehicle.design))
    wind = np.zeros((3, len(time)))
    wind[:2] = body.wind.profile(-state[2])
    wind += gust
    through_air = velocity - np.einsum("jin,jn->in", to_earth, wind)
    airspeed = np.sqrt((through_air**2).sum(axis=0))
    left, right = np.maximum(brakes, 0.0)
    c, s = np.cos(turned), np.sin(turned)
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    north, east, down = turn @ state[POSITION]
    return Track(
        time=time,
        north=north,
        east=east,
        height=-down,
        velocity=turn @ over_ground,
        airspeed=airspeed,
        alpha=np.arctan2(through_air[2], through_air[0]),
        beta=np.arcsin(np.clip(through_air[1] / np.maximum(airspeed, 1e-9), -1, 1)),
        attitude=euler_from_quaternion(state[ATTITUDE]) + np.array([[0.0], [0.0], [turned]]),
        rates=rates,
        left=left,
        right=right,
    )
