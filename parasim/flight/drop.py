"""One drop: from release to touchdown, and what it would be unopened."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import atan2, exp, hypot, radians, sqrt

import numpy as np

from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.scenario import BrakeCommand, longest_drop
from parasim.dynamics.brakes.actuators import servo_limits
from parasim.dynamics.rigid_body import RigidBody
from parasim.dynamics.simulate import (
    ABSOLUTE_TOLERANCE,
    ENDING_REASONS,
    RELATIVE_TOLERANCE,
    Trajectory,
    simulate,
)
from parasim.dynamics.state import ATTITUDE, VELOCITY
from parasim.dynamics.suspension.payload_joint import JointedBody, build_body
from parasim.dynamics.thin_air import on_the_way, table_up_to
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.gust import Gusts, build_gusts, low_airspeed_cautions
from parasim.environment.wind import check_wind_reaches
from parasim.errors import DesignError, FlightError, Mistake
from parasim.flight.aloft import thin_air_caveats
from parasim.flight.arrival import Touchdown, limits_lacking
from parasim.flight.energy_balance import EnergyBalance, energy_balance
from parasim.flight.servo.lag import too_quick
from parasim.flight.track import Track, sample
from parasim.flight.trim import Trim, find_trims
from parasim.mass.inventory import payload_bottom
from parasim.rotations import FloatArray, rotation_matrix

FINER = 0.01
"""Tolerance of the second flight over that of the first, to see which digits hold. Our choice. [-]"""

ALIKE = 0.05
"""Difference of the two flights, over speed or distance, beyond which nothing is known. Our choice. [-]"""

LONG_FLIGHT = 30_000
"""Evaluations of the motion from which on a flight is not flown a second time. Our choice. [-]"""

NEAR = 1.0
"""Difference of their places of touchdown that always passes. Our choice. [m]"""

STREAMER_DRAG = 0.06
"""Drag area of an unopened canopy trailing behind, over flat area. Our choice, no source. [-]"""

LAST = 3.0
"""Height before touchdown over which the wind's falling off is looked at. Our choice. [m]"""

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
        In the glide with the brakes released; hanging still with the canopy inflated; or at a given velocity,
        in the attitude with the brakes released.
    heading : float
        Compass heading of the canopy. [rad]
    velocity : ndarray, shape (3,)
        North, east, down over the ground, for `start` "velocity". [m/s]
    brakes : tuple of BrakeCommand
        What the brakes are commanded; the servos of the vehicle follow.
    rest : tuple of float
        Left and right brake with the servos let out: lines tied too short, or slack if negative. [-]
    """

    height: float
    start: str
    heading: float
    velocity: FloatArray
    brakes: tuple[BrakeCommand, ...]
    rest: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """Where and how a flight ended.

    Attributes
    ----------
    ending : str
        As `Trajectory.ending`.
    time : float
        After release. [s]
    north, east, height : float
        Of the confluence, from the ground under the release. [m]
    touchdown : Touchdown
        What would arrive there.
    """

    ending: str
    time: float
    north: float
    east: float
    height: float
    touchdown: Touchdown

    @property
    def distance(self) -> float:
        """Over the ground from the point under the release. [m]"""
        return hypot(self.north, self.east)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Drop(Answer):
    """Answer to `parasim drop`.

    Attributes
    ----------
    vehicle : Vehicle
        What was dropped, at the wind it was dropped in.
    release : Release
        How it began.
    track : Track
        How it went.
    end, finer_end : End
        How it ended, and how it does at a finer tolerance; the same of a flight too long to be flown twice.
    unopened : Touchdown
        The same release with the canopy trailing unopened.
    trajectory : Trajectory
        As integrated.
    balance : EnergyBalance
        Whether its energy came from somewhere.
    """

    REPORT = "parasim.report.drop:DropReport"

    vehicle: Vehicle
    release: Release
    track: Track
    end: End
    finer_end: End
    unopened: Touchdown
    trajectory: Trajectory
    balance: EnergyBalance

    @property
    def touchdown(self) -> Touchdown | None:
        """How it lands; None if it does not, or if the two tolerances do not agree on it."""
        return self.end.touchdown if self.end.ending == "landed" and self.alike else None

    @property
    def alike(self) -> bool:
        """Whether the flight ends alike at both tolerances."""
        one, two = self.end, self.finer_end
        allowed = NEAR + ALIKE * one.distance
        return (
            one.ending == two.ending
            and self.error_of_place <= allowed
            and self.error_of_touchdown("speed") <= ALIKE * one.touchdown.speed
        )

    @property
    def error_of_place(self) -> float:
        """How far apart the two tolerances come down. [m]"""
        return hypot(self.end.north - self.finer_end.north, self.end.east - self.finer_end.east)

    @property
    def error_of_time(self) -> float:
        """Difference of their times aloft. [s]"""
        return abs(self.end.time - self.finer_end.time)

    def error_of_touchdown(self, name: str) -> float:
        """Difference of their touchdowns, of an attribute of `Touchdown`. [SI]"""
        return abs(float(getattr(self.end.touchdown, name)) - float(getattr(self.finer_end.touchdown, name)))

    @property
    def unknown(self) -> str:
        """Why the landing is not known, a clause; empty if it is."""
        if self.end.ending in ENDING_REASONS:
            return ENDING_REASONS[self.end.ending]
        if self.end.ending == "aloft":
            return "it is still aloft"
        return "" if self.alike else "the flight hangs on rounding"

    @property
    def time_aloft(self) -> float:
        """[s]"""
        return self.end.time

    @property
    def distance(self) -> float:
        """Over the ground from the point under the release to its end. [m]"""
        return self.end.distance

    @property
    def bearing(self) -> float:
        """Compass bearing of its end from the point under the release, 0 to 2 pi. [rad]"""
        return atan2(self.end.east, self.end.north) % (2 * np.pi)

    @property
    def air_drift(self) -> FloatArray:
        """How far the mean wind moves the air at its heights on the way down: north and east. [m]"""
        return np.asarray(np.trapezoid(self.vehicle.wind.profile(self.track.height), self.track.time))

    @property
    def headwind_lost(self) -> float:
        """By how much the wind that it faces falls off over the last `LAST` of its height. [m/s]"""
        heading, wind = float(self.track.attitude[2][-1]), self.vehicle.wind
        change = np.subtract(wind.velocity(self.end.height), wind.velocity(self.end.height + LAST))
        return float(change @ (np.cos(heading), np.sin(heading)))

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self._unknown_caveats, *self.balance.caveats, *self.vehicle.caveats]
        found += limits_lacking(self.vehicle.design)
        found.append(
            Caveat("One drop has no band: `parasim scatter` flies many, each input within its spread.")
        )
        found += too_quick(self.trajectory.commanded, self.trajectory.schedule)
        airborne = self.track.airspeed > 1.0
        if airborne.any() and float(np.abs(self.track.alpha[airborne]).max()) > radians(25):
            found.append(
                Caveat("The canopy was stalled for part of this drop, where the model is roughest.", "fails")
            )
        if float(np.abs(self.track.beta[airborne]).max(initial=0.0)) > radians(20):
            found.append("Sideslip went beyond 20 deg, where the model is rough.")
        heights, airspeeds = on_the_way(self.vehicle, self.release.height, self._airspeed_at_release)
        found += low_airspeed_cautions(
            heights=heights, airspeed=airspeeds, wind=self.vehicle.wind, gusts=self.trajectory.gusts
        )
        found += self.vehicle.wind.caveats(self.release.height)
        found += thin_air_caveats(self.vehicle, self.track, self.trajectory.gusts)
        unsettled = self.vehicle.model.table.unconverged
        if unsettled:
            found.append(
                f"{unsettled} states of the coefficient table did not settle; figures near them are rough."
            )
        return tuple(found)

    @property
    def _airspeed_at_release(self) -> float:
        """Median of the flight, as it would be in the air at release. [m/s]"""
        track, vehicle = self.track, self.vehicle
        altitude = vehicle.ground_height + np.append(np.maximum(track.height, 0.0), self.release.height)
        density = vehicle.atmosphere.density(altitude)
        return float(np.median(track.airspeed * np.sqrt(density[:-1] / density[-1])))

    @property
    def _unknown_caveats(self) -> list[str]:
        """Why the landing is not known, a sentence."""
        if self.end.ending in ENDING_REASONS:
            return [
                Caveat(
                    f"{self.unknown[0].upper()}{self.unknown[1:]} {self.end.time:.1f} s after release, "
                    "{height} above ground: a canopy of cloth folds there, and nothing is known of what "
                    "follows. Plan for the unopened figures.",
                    "fails",
                    height=(self.end.height, "length", 0),
                )
            ]
        if not self.alike:
            return [
                Caveat(
                    "At a finer tolerance of the integrator this flight ends {error} from here "
                    f"({self.finer_end.ending}): it hangs on rounding, and its landing is not known.",
                    error=(self.error_of_place, "length"),
                )
            ]
        return []


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Begun:
    """What a flight begins with.

    Attributes
    ----------
    body : RigidBody or JointedBody
        What flies.
    start : ndarray, shape (n_states,)
        Its state at release.
    gusts : Gusts
        That it meets.
    bottom : ndarray, shape (3,)
        Where the payload touches first, payload axes. [m]
    turned : float
        Heading of the axes that it is followed in. [rad]
    in_plane : bool
        Whether it never leaves their x-z plane.
    """

    body: RigidBody | JointedBody
    start: FloatArray
    gusts: Gusts
    bottom: FloatArray
    turned: float
    in_plane: bool


def begin(
    vehicle: Vehicle,
    release: Release,
    *,
    trim: Trim | None = None,
    series: FloatArray | None = None,
    facing: bool = True,
) -> Begun:
    """What a flight from a release begins with; arguments and errors as for `drop`.

    In still air it is followed in axes that face the way of release, unless `facing` is False.
    """
    check_wind_reaches(vehicle.wind, release.height, site=vehicle.design.site)
    body = build_body(vehicle, table_up_to(vehicle, release.height))
    trim = trim or find_trims(vehicle, height=release.height, modes=False).chosen
    gusts = build_gusts(vehicle.design.site, trim.airspeed, wind=vehicle.wind, series=series)
    still = not vehicle.wind.blows and gusts.deviation == 0.0 and gusts.speed == 0.0
    turned = release.heading if still and facing else 0.0
    start = body.hanging(initial_state(vehicle, _facing(release, turned), trim))
    bottom = payload_bottom(vehicle.design)
    require_airborne(body, start, bottom, release.height)
    return Begun(
        body=body,
        start=start,
        gusts=gusts,
        bottom=bottom,
        turned=turned,
        in_plane=still and facing and start[8] == 0.0 and _even(release),
    )


def drop(
    vehicle: Vehicle,
    release: Release | None = None,
    *,
    trim: Trim | None = None,
    series: FloatArray | None = None,
    progress: Callable[[int, int], object] | None = None,
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
    progress : callable, optional
        Called now and then with how many of 100 parts of the way down are done.

    Raises
    ------
    DesignError
        If the payload already touches the ground at release, or the wind's table ends far below.
    TrimError
        If there is no steady glide to start from.
    FlightError
        If it tumbles or gets stuck on the way.

    Notes
    -----
    In still air the flight is followed in axes that face the way of release, and one that is symmetric stays
    in its plane of symmetry. It is flown twice, at two tolerances, to see which digits hold. From 1000 m up
    its coefficients are those of the Reynolds number at each height.
    """
    release = release or release_of(vehicle)
    begun = begin(vehicle, release, trim=trim, series=series)
    body, start, turned = begun.body, begun.start, begun.turned

    def flown(finer: float) -> Trajectory:
        return simulate(
            body, start, release.brakes, payload_bottom=begun.bottom, gusts=begun.gusts,
            servo=servo_limits(vehicle.design), rest=release.rest, in_plane=begun.in_plane,
            rtol=finer * RELATIVE_TOLERANCE, atol=finer * ABSOLUTE_TOLERANCE[: len(start)],
            longest=longest_drop(release.height),
            progress=None if progress is None else lambda height: progress(
                round(100 * (1 - max(height, 0.0) / release.height)), 100
            ),
        )  # fmt: skip

    def ended(trajectory: Trajectory) -> End:
        track = sample(body, vehicle, trajectory, turned=turned, whole=False)
        north, east, height, ground_speed, sink = (
            float(one[-1]) for one in (track.north, track.east, track.height, track.ground_speed, track.sink)
        )
        return End(
            ending=trajectory.ending,
            time=trajectory.duration,
            north=north,
            east=east,
            height=height,
            touchdown=Touchdown(ground_speed=ground_speed, sink=sink, mass=vehicle.mass),
        )

    trajectory = flown(1.0)
    end = ended(trajectory)
    try:
        finer = end if trajectory.evaluations > LONG_FLIGHT else ended(flown(FINER))
    except FlightError as error:
        finer = replace(end, ending=error.outcome)
    return Drop(
        vehicle=vehicle,
        release=release,
        track=sample(body, vehicle, trajectory, turned=turned),
        end=end,
        finer_end=finer,
        unopened=unopened(vehicle, release.height),
        trajectory=trajectory,
        balance=energy_balance(body, trajectory),
    )


def _even(release: Release) -> bool:
    """Whether both brakes always do the same."""
    return release.rest[0] == release.rest[1] and all(one.left == one.right for one in release.brakes)


def _facing(release: Release, turned: float) -> Release:
    """The same release in axes that are turned by so much. [rad]"""
    c, s = np.cos(turned), np.sin(turned)
    north, east, down = release.velocity
    velocity = np.array([c * north + s * east, c * east - s * north, down])
    return replace(release, heading=release.heading - turned, velocity=velocity)


def require_airborne(
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
                hint=f"release higher than {hangs:.2f} m",
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


def unopened(vehicle: Vehicle, height: float) -> Touchdown:
    """Arrival of a payload whose canopy never opens, from rest, in the mean wind.

    It falls straight through air of the ground's density, towards V_t = sqrt(2 W / rho CdA):
    V^2 = V_t^2 (1 - exp(-2 g h / V_t^2)). The drag area is the payload's and that of the trailing cloth; the
    wind takes it along at the speed near the ground.
    """
    terminal_squared = _terminal_squared(vehicle)
    sink = sqrt(terminal_squared * (1 - exp(-2 * GRAVITY * height / terminal_squared)))
    return Touchdown(ground_speed=hypot(*vehicle.wind.velocity(1.0)), sink=sink, mass=vehicle.mass)


def unopened_drift(vehicle: Vehicle, height: float) -> FloatArray:
    """Whither the wind takes it on that fall, going with the air of every height: north and east. [m]

    It has fallen s after t = V_t / g arcosh(exp(g s / V_t^2)).
    """
    terminal_squared, heights = _terminal_squared(vehicle), np.linspace(height, 0.0, 401)
    fallen = np.exp(GRAVITY * (height - heights) / terminal_squared)
    time = sqrt(terminal_squared) / GRAVITY * np.arccosh(fallen)
    return np.asarray(np.trapezoid(vehicle.wind.profile(heights), time))


def _terminal_squared(vehicle: Vehicle) -> float:
    """Speed, squared, at which the trailing cloth and the payload carry the weight. [m²/s²]"""
    drag_area = vehicle.design.payload.drag_area_or_default + STREAMER_DRAG * vehicle.canopy.flat_area
    density = vehicle.atmosphere.density(vehicle.ground_height)
    return 2 * vehicle.weight / (density * drag_area)
