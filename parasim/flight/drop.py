"""One drop: from release to touchdown, and what it would be unopened."""

from dataclasses import dataclass, replace
from math import atan2, exp, hypot, radians, sqrt

import numpy as np

from parasim.config.scenario import BrakeCommand
from parasim.dynamics.actuators import servo_limits
from parasim.dynamics.payload_joint import JointedBody, build_body
from parasim.dynamics.rigid_body import RigidBody
from parasim.dynamics.simulate import Trajectory, simulate
from parasim.dynamics.state import ATTITUDE, POSITION, RATES, VELOCITY
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.gust import build_gusts, low_airspeed_cautions
from parasim.environment.wind import Wind
from parasim.errors import DesignError, Mistake
from parasim.flight.energy_balance import EnergyBalance, energy_balance
from parasim.flight.servo_lag import too_quick
from parasim.flight.trim import Trim, find_trims
from parasim.mass.inventory import payload_bottom, payload_center
from parasim.rotations import FloatArray, euler_from_quaternion, rotation_matrix

SAMPLE_STEP = 0.05
"""Time step of the track. [s]"""

STREAMER_DRAG = 0.06
"""Drag area of an unopened canopy trailing behind, over flat area. Our choice, no source. [-]"""

CAUTIONS = (
    "Computed, not flown: compare with your own test drops before you rely on it.",
    "A falling payload can injure people and damage property: keep the area below clear.",
    "Local rules on dropped objects and airspace apply; ask a licensed practitioner where you are not sure.",
)
"""Said wherever landing figures are shown."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Release:
    """How a drop begins.

    Attributes
    ----------
    height : float
        Of the confluence above ground. [m]
    start : {"steady", "rest", "velocity"}
        In the hands-up glide; hanging still with the canopy inflated; or at a given velocity, in the hands-up
        attitude.
    heading : float
        Compass heading of the canopy. [rad]
    velocity : ndarray, shape (3,)
        North, east, down over the ground, for `start` "velocity". [m/s]
    brakes : tuple of BrakeCommand
        What the brakes are told; the servos of the vehicle follow.
    rest : tuple of float
        Left and right brake with the servos let out: lines tied too short, or slack if negative. [-]
    """

    height: float
    start: str
    heading: float
    velocity: FloatArray
    brakes: tuple[BrakeCommand, ...]
    rest: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """A drop sampled evenly in time, each array of shape (n,) or (3, n).

    Attributes
    ----------
    time : ndarray
        After release. [s]
    north, east, height : ndarray
        Of the confluence, from the point on the ground below the release. [m]
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Touchdown:
    """How something arrives at the ground.

    Attributes
    ----------
    ground_speed, sink : float
        Horizontal and vertical speed over the ground. [m/s]
    mass : float
        Of all that arrives. [kg]
    """

    ground_speed: float
    sink: float
    mass: float

    @property
    def speed(self) -> float:
        """Along the path over the ground. [m/s]"""
        return hypot(self.ground_speed, self.sink)

    @property
    def energy(self) -> float:
        """Kinetic, of the whole velocity. [J]"""
        return 0.5 * self.mass * self.speed**2

    @property
    def vertical_energy(self) -> float:
        """Of the vertical speed alone. [J]"""
        return 0.5 * self.mass * self.sink**2

    @property
    def equivalent_height(self) -> float:
        """Height of a free fall without air that ends at the same vertical speed. [m]"""
        return self.sink**2 / (2 * GRAVITY)


@dataclass(frozen=True, kw_only=True, eq=False)
class Drop:
    """Answer to `parasim drop`.

    Attributes
    ----------
    vehicle : Vehicle
        What was dropped, at the wind it was dropped in.
    release : Release
        How it began.
    track : Track
        How it went.
    touchdown : Touchdown
        How it ended.
    unopened : Touchdown
        The same release with the canopy trailing unopened.
    trajectory : Trajectory
        As integrated.
    balance : EnergyBalance
        Whether its energy came from somewhere.
    """

    vehicle: Vehicle
    release: Release
    track: Track
    touchdown: Touchdown
    unopened: Touchdown
    trajectory: Trajectory
    balance: EnergyBalance

    @property
    def time_aloft(self) -> float:
        """[s]"""
        return self.trajectory.duration

    @property
    def distance(self) -> float:
        """Over the ground from below the release to touchdown. [m]"""
        return hypot(float(self.track.north[-1]), float(self.track.east[-1]))

    @property
    def bearing(self) -> float:
        """Compass bearing of the touchdown from below the release, 0 to 2 pi. [rad]"""
        return atan2(float(self.track.east[-1]), float(self.track.north[-1])) % (2 * np.pi)

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self.balance.caveats, *self.vehicle.caveats]
        found += too_quick(self.trajectory.told, self.trajectory.schedule)
        airborne = self.track.airspeed > 1.0
        if airborne.any() and float(np.abs(self.track.alpha[airborne]).max()) > radians(25):
            found.append("The canopy was stalled for part of this drop, where the model is roughest.")
        if float(np.abs(self.track.beta[airborne]).max(initial=0.0)) > radians(20):
            found.append("Sideslip went beyond 20 deg, where the model is rough.")
        found += low_airspeed_cautions(
            airspeed=float(np.median(self.track.airspeed)),
            wind=self.vehicle.wind,
            gusts=self.trajectory.gusts,
            height=self.release.height,
        )
        if self.vehicle.table.unconverged:
            found.append(
                f"{self.vehicle.table.unconverged} states of the coefficient table did not settle; figures "
                "near them are rough."
            )
        if not self.trajectory.landed:
            found.append("It was still aloft when the simulation stopped.")
        return tuple(found)


def release_of(vehicle: Vehicle) -> Release:
    """Release as the design file has it."""
    spec = vehicle.design.drop
    return Release(
        height=spec.height,
        start=spec.start,
        heading=spec.heading,
        velocity=np.array(spec.velocity or (0.0, 0.0, 0.0)),
        brakes=tuple(spec.brakes),
    )


def in_wind(vehicle: Vehicle, wind: Wind) -> Vehicle:
    """The same vehicle in another wind."""
    return replace(vehicle, wind=wind)


def drop(
    vehicle: Vehicle,
    release: Release | None = None,
    *,
    trim: Trim | None = None,
    series: FloatArray | None = None,
) -> Drop:
    """Drop a vehicle.

    Parameters
    ----------
    vehicle : Vehicle
        What is dropped, and in what wind.
    release : Release, optional
        Else as the design file has it.
    trim : Trim, optional
        Steady glide to begin in; else its own.
    series : ndarray, shape (3, n), optional
        Turbulence instead of that which the site's seed makes, where the site has any.

    Raises
    ------
    DesignError
        If the payload already touches the ground at release.
    TrimError
        If there is no steady glide to start from.
    FlightError
        If it tumbles or gets stuck on the way.
    """
    release = release or release_of(vehicle)
    body = build_body(vehicle)
    trim = trim or find_trims(vehicle, height=release.height, modes=False).chosen
    start, bottom = body.hanging(initial_state(vehicle, release, trim)), payload_bottom(vehicle.design)
    _require_airborne(body, start, bottom, release.height)
    gusts = build_gusts(vehicle.design.site, trim.airspeed, wind=vehicle.wind, series=series)
    trajectory = simulate(
        body, start, release.brakes, payload_bottom=bottom, gusts=gusts,
        servo=servo_limits(vehicle.design), rest=release.rest,
    )  # fmt: skip
    track = sample(body, vehicle, trajectory)
    return Drop(
        vehicle=vehicle,
        release=release,
        track=track,
        touchdown=Touchdown(
            ground_speed=float(track.ground_speed[-1]), sink=float(track.sink[-1]), mass=vehicle.mass
        ),
        unopened=unopened(vehicle, release.height),
        trajectory=trajectory,
        balance=energy_balance(body, trajectory),
    )


def _require_airborne(
    body: RigidBody | JointedBody, start: FloatArray, bottom: FloatArray, height: float
) -> None:
    """Refuse a release at which the payload's bottom is not above the ground: it would never touch down."""
    hangs = height + float(body.payload(start, bottom)[0][2])
    if hangs >= height:
        raise DesignError(
            Mistake(
                key="drop.height",
                given=f"{height:g} m",
                problem=f"the payload hangs {hangs:.2f} m below the confluence, already on the ground",
                mend=f"release higher than {hangs:.2f} m",
            )
        )


def initial_state(vehicle: Vehicle, release: Release, trim: Trim) -> FloatArray:
    """State at release, shape (13,), from the trim at that height."""
    wind = np.array([*vehicle.wind.velocity(release.height), 0.0])
    state = trim.state(height=release.height, heading=release.heading, wind=wind)
    if release.start == "rest":
        state[VELOCITY] = 0.0
    elif release.start == "velocity":
        state[VELOCITY] = rotation_matrix(state[ATTITUDE]).T @ release.velocity
    return state


def sample(body: RigidBody | JointedBody, vehicle: Vehicle, trajectory: Trajectory) -> Track:
    """Track of a trajectory, every `SAMPLE_STEP` and at touchdown."""
    steps = int(trajectory.duration / SAMPLE_STEP)
    time = np.append(SAMPLE_STEP * np.arange(steps + 1), trajectory.duration)
    time = time[: steps + 1] if time[-1] - time[-2] < 1e-9 else time
    state = trajectory.at(time)
    to_earth = rotation_matrix(state[ATTITUDE])
    velocity, rates = state[VELOCITY], state[RATES]
    _, over_ground = body.payload(state, payload_center(vehicle.design))
    wind = np.zeros((3, len(time)))
    wind[:2] = body.wind.profile(-state[2])
    wind += trajectory.gust(body, time)
    through_air = velocity - np.einsum("jin,jn->in", to_earth, wind)
    airspeed = np.sqrt((through_air**2).sum(axis=0))
    brakes = np.maximum(np.array([trajectory.schedule.position(float(t)) for t in time]).T, 0.0)
    north, east, down = state[POSITION]
    return Track(
        time=time,
        north=north,
        east=east,
        height=-down,
        velocity=over_ground,
        airspeed=airspeed,
        alpha=np.arctan2(through_air[2], through_air[0]),
        beta=np.arcsin(np.clip(through_air[1] / np.maximum(airspeed, 1e-9), -1, 1)),
        attitude=euler_from_quaternion(state[ATTITUDE]),
        rates=rates,
        left=brakes[0],
        right=brakes[1],
    )


def unopened(vehicle: Vehicle, height: float) -> Touchdown:
    """Arrival of a payload whose canopy never opens, from rest, in the mean wind.

    It falls straight through air of the ground's density, towards V_t = sqrt(2 W / rho CdA):
    V^2 = V_t^2 (1 - exp(-2 g h / V_t^2)). The drag area is the payload's and that of the trailing cloth; the
    wind takes it along at the speed near the ground.
    """
    design = vehicle.design
    drag_area = design.payload.drag_area_or_default + STREAMER_DRAG * vehicle.canopy.flat_area
    density = vehicle.atmosphere.density(vehicle.ground_height)
    terminal_squared = 2 * vehicle.weight / (density * drag_area)
    sink = sqrt(terminal_squared * (1 - exp(-2 * GRAVITY * height / terminal_squared)))
    return Touchdown(ground_speed=hypot(*vehicle.wind.velocity(1.0)), sink=sink, mass=vehicle.mass)
