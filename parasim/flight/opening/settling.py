"""From the full canopy to the steady glide, in six degrees of freedom."""

from dataclasses import dataclass
from math import cos, radians, sin, sqrt

import numpy as np

from parasim.caveats import Caveat
from parasim.dynamics.inflation import path_angle
from parasim.dynamics.simulate import simulate
from parasim.dynamics.state import ATTITUDE, VELOCITY
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.thin_air import at_height
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.atmosphere import STANDARD_DENSITY
from parasim.environment.wind import Wind
from parasim.errors import FlightError
from parasim.flight.trim import Trim
from parasim.mass.inventory import payload_bottom
from parasim.rotations import FloatArray, rotation_matrix

STEADY = 0.05
"""Part of the trim's airspeed and sink within which the glide counts as steady. Our choice. [-]"""

LONGEST = 25.0
"""In air as dense as at sea level; longer, as the glide is faster, in thinner air. [s]"""

PATH_STEP = radians(5.0)
"""By which the path is raised until the model no longer tucks. [rad]"""

STEP = 0.05
"""At which the motion is looked at. [s]"""

DEPTH = 1000.0
"""The ground is taken away so far, that the glide is reached whatever the release height. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """How the steady glide is reached.

    Attributes
    ----------
    height_lost, time : float or None
        From the full canopy until airspeed and sink stay within `STEADY` of the trim in the air there; None
        if they never do. [m], [s]
    nosed_under : bool
        Whether the model tucked as it was handed over; the figures are then those of the steepest path
        at the same speed from which it does not.
    path : float
        Below the horizon, from which it was followed. [rad]
    """

    height_lost: float | None
    time: float | None
    nosed_under: bool
    path: float


def settle(vehicle: Vehicle, trim: Trim, *, velocity: FloatArray, height: float) -> Settling:
    """Fly on from the full canopy, brakes released.

    Parameters
    ----------
    vehicle : Vehicle
        Its wind plays no part.
    trim : Trim
        Whose attitude it has to begin with.
    velocity : ndarray, shape (2,)
        Forward and down, as the canopy is full. [m/s]
    height : float
        Above ground, for the density of the air. [m]
    """
    vehicle = at_height(vehicle, height)
    start = trim.state(height=max(height, 0.0) + DEPTH, heading=0.0)
    speed, steepest = float(np.hypot(*velocity)), path_angle(velocity)
    raised = np.arange(steepest, trim.glide_angle, -PATH_STEP).tolist()
    for path in raised or [steepest]:
        start[VELOCITY] = rotation_matrix(start[ATTITUDE]).T @ _along(path, speed)
        lost, time, under = _followed(in_wind(vehicle, Wind.calm(), deeper=DEPTH), trim, start)
        if not under:
            return Settling(height_lost=lost, time=time, nosed_under=path != steepest, path=path)
    return Settling(height_lost=None, time=None, nosed_under=True, path=trim.glide_angle)


def _along(path: float, speed: float) -> FloatArray:
    """North, east and down of a speed along a path below the horizon. [m/s]"""
    return np.array([speed * cos(path), 0.0, speed * sin(path)])


def _followed(vehicle: Vehicle, trim: Trim, start: FloatArray) -> tuple[float | None, float | None, bool]:
    """Height lost and time until steady, and whether lines went slack or it turned over before."""
    body = build_body(vehicle, vehicle.model.released_table)
    longest = LONGEST * sqrt(max(STANDARD_DENSITY / trim.air_density, 1.0))
    try:
        flown = simulate(
            body, body.hanging(start), payload_bottom=payload_bottom(vehicle.design), in_plane=True,
            longest=longest,
        ).followed()  # fmt: skip
    except FlightError:
        return None, None, True
    time = np.arange(0.0, longest + STEP / 2, STEP)
    states = flown.at(time)
    faster = np.sqrt(trim.air_density / vehicle.atmosphere.density(vehicle.ground_height - states[2]))
    to_earth = rotation_matrix(states[ATTITUDE])
    sink = np.einsum("ij...,j...->i...", to_earth, states[VELOCITY])[2]
    airspeed = np.linalg.norm(states[VELOCITY], axis=0)
    off = np.abs(airspeed / (faster * trim.airspeed) - 1) > STEADY
    off |= np.abs(sink / (faster * trim.sink) - 1) > STEADY
    last = int(np.flatnonzero(off)[-1]) + 1 if off.any() else 0
    if last >= len(time):
        return None, None, False
    return float(states[2, last] - states[2, 0]), float(time[last]), False


def height_shortfall(release: float, *, full: float, minimum: float | None) -> list[Caveat]:
    """What a release height lacks, in a sentence; heights lost and wanted. [m]"""
    if full >= release:
        words = "Released at {release} it reaches the ground before the canopy is full."
        return [Caveat(words, "fails", release=(release, "length", 0))]
    if minimum is not None and release < minimum:
        words = "The release height of {release} is less than the minimum of {minimum}."
        return [Caveat(words, "fails", release=(release, "length", 0), minimum=(minimum, "length", 0))]
    return []
