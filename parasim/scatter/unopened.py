"""Members whose canopy does not open, or opens late: a fall with the cloth trailing, in the wind.

The payload falls as a point with the drag of its box and of the trailing cloth, through air that gets denser
on the way; the wind pushes it sideways by that same drag. A late
canopy takes the height to full that `parasim opening` gives for the speed it has by then, straight down; from
there on it counts as gliding steadily, its swings left out, and brake commands by time count from there.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import radians

import numpy as np

from parasim.config.scenario import LONGEST_FLIGHT
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY, HIGHEST_HEIGHT
from parasim.environment.wind import LOWEST_SHEAR_HEIGHT
from parasim.flight.drop import STREAMER_DRAG, Release
from parasim.flight.opening.opening import build_opener, open_case
from parasim.mass.inventory import payload_bottom
from parasim.rotations import FloatArray

Rate = Callable[[FloatArray], FloatArray]

STEP = 0.1
"""Of the integration. [s]"""

OPENING_SPEEDS = np.array([0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0])
"""At which the height to full is worked out; between them it is interpolated. [m/s]"""

PROFILE_POINTS = 120
"""Heights at which wind and air density are kept, evenly by their ratio; those of a table besides."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Falling:
    """What falls, and in what air.

    Attributes
    ----------
    drag_area : float
        Of payload and trailing cloth. [m²]
    velocity : ndarray, shape (3,)
        North, east, down over the ground at release. [m/s]
    heights : ndarray, shape (m,)
        Above ground, rising. [m]
    log_density : ndarray, shape (m,)
        Logarithm of the air's density there, in kg/m³. [-]
    wind : ndarray, shape (2, m)
        North and east there, over the wind speed at its reference height. [-]
    wind_from : float
        Direction of that wind. [rad]
    opening_lost, opening_time : ndarray, shape (8,)
        From the start of a late opening to the full canopy, at `OPENING_SPEEDS`. [m], [s]
    hang : float
        Payload's bottom below the confluence. [m]
    """

    drag_area: float
    velocity: FloatArray
    heights: FloatArray
    log_density: FloatArray
    wind: FloatArray
    wind_from: float
    opening_lost: FloatArray
    opening_time: FloatArray
    hang: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fallen:
    """State of falling members at one moment, each array of shape (n,).

    Attributes
    ----------
    time : ndarray
        After release. [s]
    north, east : ndarray
        From each member's own release. [m]
    height : ndarray
        Above ground. [m]
    velocity : ndarray, shape (3, n)
        North, east, down over the ground. [m/s]
    airspeed : ndarray
        [m/s]
    """

    time: FloatArray
    north: FloatArray
    east: FloatArray
    height: FloatArray
    velocity: FloatArray
    airspeed: FloatArray


def build_falling(vehicle: Vehicle, release: Release, *, highest: float, opens_late: bool) -> Falling:
    """What falls of a vehicle.

    Parameters
    ----------
    vehicle : Vehicle
        With its nominal wind.
    release : Release
        The nominal one; its velocity counts only when it starts with one, else it falls from rest.
    highest : float
        Highest release of any member. [m]
    opens_late : bool
        Whether heights lost to a late opening are wanted.
    """
    low, high = LOWEST_SHEAR_HEIGHT, max(highest, 10.0)
    measured = [row[0] for row in vehicle.wind.table if low < row[0] < high]
    heights = np.union1d(np.geomspace(low, high, PROFILE_POINTS), measured)
    nothing = np.zeros(len(OPENING_SPEEDS))
    lost, time = opening_losses(vehicle, release.height) if opens_late else (nothing, nothing)
    design = vehicle.design
    return Falling(
        drag_area=design.payload.drag_area_or_default + STREAMER_DRAG * vehicle.canopy.flat_area,
        velocity=np.asarray(release.velocity, float) if release.start == "velocity" else np.zeros(3),
        heights=heights,
        log_density=np.log(
            vehicle.atmosphere.density(np.minimum(vehicle.ground_height + heights, HIGHEST_HEIGHT))
        ),
        wind=unit_wind(vehicle, heights),
        wind_from=vehicle.wind.from_direction,
        opening_lost=lost,
        opening_time=time,
        hang=float(payload_bottom(vehicle.design)[2]),
    )


def unit_wind(vehicle: Vehicle, heights: FloatArray) -> FloatArray:
    """North and east wind over its speed at the reference height, shape (2, m); of a calm, its shape."""
    wind = vehicle.wind if vehicle.wind.speed > 0 else replace(vehicle.wind, speed=1.0)
    return wind.profile(heights) / wind.speed


def opening_losses(vehicle: Vehicle, height: float) -> tuple[FloatArray, FloatArray]:
    """Height and time from the start of a late opening to full, at `OPENING_SPEEDS`. [m], [s]"""
    spec = vehicle.design.opening
    changes = {"release_angle": radians(90.0), "delay": 0.0}
    if spec.pack == "static line":
        changes["pack"] = "loose"  # type: ignore[assignment]
    design = vehicle.design.model_copy(update={"opening": spec.model_copy(update=changes)})
    late = replace(vehicle, design=design)
    opener = build_opener(late, height=height)
    cases = [open_case(late, opener, float(speed)) for speed in OPENING_SPEEDS]
    return np.array([case.height_to_full for case in cases]), np.array(
        [float(case.filling.time[-1]) for case in cases]
    )


def fall(
    falling: Falling,
    *,
    height: FloatArray,
    mass: FloatArray,
    wind_speed: FloatArray,
    wind_from: FloatArray,
    until: FloatArray,
) -> tuple[Fallen, Fallen]:
    """Follow falling members to the ground.

    Parameters
    ----------
    falling : Falling
        What falls.
    height, mass, wind_speed, wind_from : ndarray, shape (n,)
        Of each member at release. [m], [kg], [m/s], [rad]
    until : ndarray, shape (n,)
        Time at which to look at each on the way. [s]

    Returns
    -------
    tuple of Fallen
        On the way, or on the ground if it came there before; and on the ground.

    Notes
    -----
    Runge-Kutta of fourth order with fixed steps of a twentieth of the usual settling time V_t/g of some two
    seconds near the ground; the step to a moment between two, or to the ground, is one of its own length.
    """
    n = len(height)
    turned = _turned(falling, wind_speed, wind_from)
    half_area = 0.5 * falling.drag_area / mass

    def rate(y: FloatArray) -> FloatArray:
        relative = y[3:].copy()
        relative[:2] -= _wind_at(falling, turned, -y[2])
        drag = half_area * np.exp(np.interp(-y[2], falling.heights, falling.log_density))
        acceleration = -drag * np.sqrt((relative**2).sum(axis=0)) * relative
        acceleration[2] += GRAVITY
        return np.concatenate([y[3:], acceleration])

    y = np.zeros((6, n))
    y[2], y[3:] = -height, falling.velocity[:, None]
    passing, ground = np.full((7, n), np.nan), np.full((7, n), np.nan)
    time = 0.0
    while time < LONGEST_FLIGHT and np.isnan(ground[0]).any():
        after = _after(rate, y, STEP)
        passes = (until >= time) & (until < time + STEP)
        if passes.any():
            step = np.where(passes, until - time, 0.0)
            passing[:, passes] = np.vstack([until, _after(rate, y, step)])[:, passes]
        lands = np.isnan(ground[0]) & (after[2] >= 0)
        if lands.any():
            step = _time_to_ground(rate, y)
            ground[:, lands] = np.vstack([time + step, _after(rate, y, step)])[:, lands]
        y, time = after, time + STEP
    first = np.isnan(passing[0]) | (passing[0] > ground[0])
    passing[:, first] = ground[:, first]
    return _fallen(falling, turned, passing), _fallen(falling, turned, ground)


def _turned(falling: Falling, speed: FloatArray, direction: FloatArray) -> FloatArray:
    """Rows of the matrix, shape (2, 2, n), that makes each member's wind of the unit wind. [m/s]"""
    turn = direction - falling.wind_from
    c, s = speed * np.cos(turn), speed * np.sin(turn)
    return np.array([[c, -s], [s, c]])


def _wind_at(falling: Falling, turned: FloatArray, height: FloatArray) -> FloatArray:
    unit = np.array([np.interp(height, falling.heights, each) for each in falling.wind])
    return np.einsum("ijn,jn->in", turned, unit)


def _after(rate: Rate, y: FloatArray, step: float | FloatArray) -> FloatArray:
    """State after a step, the same for all members or each its own. [s]"""
    k1 = rate(y)
    k2 = rate(y + step / 2 * k1)
    k3 = rate(y + step / 2 * k2)
    k4 = rate(y + step * k3)
    return y + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4)


def _time_to_ground(rate: Rate, y: FloatArray) -> FloatArray:
    """Step that ends on the ground, by Newton's method from a parabola; within a full step. [s]"""
    height, sink, gain = np.maximum(-y[2], 0.0), y[5], rate(y)[5]
    root = sink + np.sqrt(np.maximum(sink**2 + 2 * gain * height, 0.0))
    step = np.clip(2 * height / np.maximum(root, 1e-6), 0.0, STEP)
    for _ in range(2):
        found = _after(rate, y, step)
        step = np.clip(step - found[2] / np.maximum(found[5], 1e-6), 0.0, STEP)
    return step


def _fallen(falling: Falling, turned: FloatArray, state: FloatArray) -> Fallen:
    time, north, east, down = state[:4]
    velocity = state[4:]
    relative = velocity.copy()
    relative[:2] -= _wind_at(falling, turned, -down)
    return Fallen(
        time=time,
        north=north,
        east=east,
        height=np.maximum(-down, 0.0),
        velocity=velocity,
        airspeed=np.sqrt((relative**2).sum(axis=0)),
    )
