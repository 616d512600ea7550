"""Where canopy, lines and payload are at moments of a drop.

Cloth and lines keep the shape they are cut for. On front and rear hooks, where a payload that pitches pulls
the riser ends along, it is so the risers that are drawn longer or shorter.
"""

from dataclasses import dataclass
from math import radians
from typing import Literal

import numpy as np

from parasim.dynamics.pose import canopy_points, payload_points
from parasim.dynamics.state import ATTITUDE, POSITION, RATES
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.drop import Drop
from parasim.plotting.scene import Scene, build_scene
from parasim.rotations import FloatArray, euler_from_quaternion

POSES = 9
"""Of a strip. Our choice."""

CLOSE, CLOSE_POSES = 2.0, 3
"""Time before the end that has poses of its own, and how many: the landing goes quickly. Our choice. [s]"""

EVERY_STATION, EVERY_POINT = 2, 4
"""Of the scene's skins that are drawn, along the span and the chord: a pose is small."""

View = Literal["side", "behind"]

TURNING = radians(3.0)
"""Yaw rate from which a pose counts as turning. Our choice. [rad/s]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pose:
    """A moment of a flight, and where its parts are then.

    Attributes
    ----------
    time : float
        After release. [s]
    confluence : ndarray, shape (3,)
        North, east, down, in the axes that the flight was followed in. [m]
    attitude : ndarray, shape (3,)
        Roll, pitch, heading, in the same axes. [rad]
    yaw_rate : float
        [rad/s]
    upper, lower : ndarray, shape (n_stations, n_chordwise, 3)
        Skins, from the confluence: north, east, down. [m]
    stabilisers : ndarray, shape (0 or 2, 2, n, 3)
        Upper and lower edges, likewise. [m]
    lines, risers : ndarray, shape (n, 2, 3)
        Lower and upper ends, from the confluence, likewise. [m]
    payload : ndarray, shape (8, 3)
        Corners of the box, likewise. [m]
    """

    time: float
    confluence: FloatArray
    attitude: FloatArray
    yaw_rate: float
    upper: FloatArray
    lower: FloatArray
    stabilisers: FloatArray
    lines: FloatArray
    risers: FloatArray
    payload: FloatArray

    @property
    def turning(self) -> bool:
        """Whether it turns, so that it is worth a look from behind."""
        return abs(self.yaw_rate) > TURNING

    @property
    def everything(self) -> FloatArray:
        """All points, shape (n, 3). [m]"""
        parts = (self.upper, self.lower, self.stabilisers, self.lines, self.risers, self.payload)
        return np.concatenate([part.reshape(-1, 3) for part in parts])

    def seen(self, points: FloatArray, view: View) -> FloatArray:
        """Points from the confluence as seen from its right side or from behind, shape (..., 3). [m]

        To the right on the paper, up, and towards the viewer: from its right side the way it heads is to the
        right, from behind its own right.
        """
        c, s = np.cos(self.attitude[2]), np.sin(self.attitude[2])
        ahead, right = points[..., 0] * c + points[..., 1] * s, points[..., 1] * c - points[..., 0] * s
        across, near = (ahead, right) if view == "side" else (right, -ahead)
        return np.stack([across, -points[..., 2], near], axis=-1)


def pose_of(vehicle: Vehicle, scene: Scene, time: float, state: FloatArray) -> Pose:
    """Pose of a vehicle in a state."""
    place = state[POSITION]

    def canopy(points: FloatArray) -> FloatArray:
        return canopy_points(state, points) - place

    def payload(points: FloatArray) -> FloatArray:
        return payload_points(state, points, vehicle.swing) - place

    return Pose(
        time=time,
        confluence=place,
        attitude=euler_from_quaternion(state[ATTITUDE]),
        yaw_rate=float(state[RATES][2]),
        upper=canopy(scene.upper[::EVERY_STATION, ::EVERY_POINT]),
        lower=canopy(scene.lower[::EVERY_STATION, ::EVERY_POINT]),
        stabilisers=canopy(scene.stabilisers),
        lines=canopy(np.concatenate(list(scene.lines.values()))),
        risers=np.stack([payload(scene.hooks), canopy(scene.risers[:, 1])], axis=1),
        payload=payload(scene.payload_box),
    )


def poses(drop: Drop, times: FloatArray) -> list[Pose]:
    """Poses of a drop at times, shape (n,). [s]"""
    vehicle, states = drop.vehicle, drop.trajectory.at(times)
    scene = build_scene(vehicle.design, vehicle.canopy, vehicle.line_set)
    return [
        pose_of(vehicle, scene, time, state) for time, state in zip(times.tolist(), states.T, strict=True)
    ]


def moments(drop: Drop) -> FloatArray:
    """Times of the poses of a strip, shape (`POSES`,). [s]

    Evenly from release on, the quickest turn to either side if it counts as one, and the last seconds.
    """
    end, yaw, time = drop.time_aloft, drop.track.rates[2], drop.track.time
    if end <= 2 * CLOSE:
        return np.linspace(0.0, end, POSES)
    last = end - CLOSE * np.arange(CLOSE_POSES)[::-1] / CLOSE_POSES
    before = time < end - CLOSE
    quickest = {int(pick(yaw[before])) for pick in (np.argmax, np.argmin)}
    turns = [float(time[i]) for i in quickest if abs(yaw[i]) > TURNING]
    even = np.linspace(0.0, float(last[0]), POSES - CLOSE_POSES - len(turns), endpoint=False)
    return np.sort(np.concatenate([even, turns, last]))
