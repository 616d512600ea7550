"""Figures of a vehicle by name: what `parasim sweep` can show, hold to a limit or make best.

To add one, write how it is read from a `Flown` and add its row to `OUTPUTS`. What rows share is worked out
once, and only when a row asks for it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

from parasim.config.design import Design
from parasim.config.quantity import (
    ANGLE,
    ANGULAR_RATE,
    AREA,
    ENERGY,
    FORCE,
    LENGTH,
    MASS,
    PRESSURE,
    RATIO,
    SPEED,
    TORQUE,
    Kind,
)
from parasim.dynamics.brakes.actuators import build_drive
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.errors import SolverError
from parasim.flight.arrival import Touchdown, peak_load
from parasim.flight.drop import CAUTIONS, unopened
from parasim.flight.flare.flare import flared_touchdown
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE, stall_alpha, tuck_margin
from parasim.flight.opening.opening import CAUTIONS as OPENING_CAUTIONS
from parasim.flight.opening.opening import Case, build_opener, open_case
from parasim.flight.servo.brake_force import ForceCurve, force_curve
from parasim.flight.servo.servo import SERVO_CAUTION, dynamic_factor, swept_angles, torque_at
from parasim.flight.trim import Trim, find_trims
from parasim.flight.turn.steady import SteadyTurn, steady_turns
from parasim.flight.turn.step import step_response
from parasim.flight.turn.turn import SPIRAL_CAUTION

SWING_BRAKE = 0.5
"""One brake, pulled quickly, whose swing of the payload is shown. [-]"""

LANDING, SERVO, TURN = CAUTIONS, (SERVO_CAUTION, *CAUTIONS), (SPIRAL_CAUTION, *CAUTIONS)


@dataclass(frozen=True, kw_only=True, eq=False)
class Flown:
    """A vehicle, and what has been worked out about it so far. Still air at the ground."""

    vehicle: Vehicle

    @property
    def design(self) -> Design:
        """What it was assembled from."""
        return self.vehicle.design

    @cached_property
    def trim(self) -> Trim:
        """The glide with the brakes released."""
        return find_trims(self.vehicle, modes=False).chosen

    @cached_property
    def braked(self) -> Trim:
        """The glide with both brakes at full travel."""
        return find_trims(self.vehicle, brake=1.0, modes=False).chosen

    @cached_property
    def touchdown(self) -> Touchdown:
        """Landing with the brakes released."""
        return Touchdown(ground_speed=self.trim.forward_speed, sink=self.trim.sink, mass=self.vehicle.mass)

    @cached_property
    def flared(self) -> Touchdown:
        """Landing with the best flare."""
        return flared_touchdown(self.vehicle)

    @cached_property
    def turn(self) -> SteadyTurn:
        """The steady turn at full right brake.

        Raises
        ------
        SolverError
            If there is none.
        """
        turns = steady_turns(self.vehicle, left=0.0, right=1.0, growth=False)
        if turns[-1].right < 1.0:
            raise SolverError(f"no steady turn beyond {100 * turns[-1].right:.0f} % of one brake: it spirals")
        return turns[-1]

    @cached_property
    def curve(self) -> ForceCurve:
        """Brake-line force against pull."""
        servo = self.design.servo
        return force_curve(self.vehicle, self.trim, servo.measured if servo else None)

    @property
    def peak_torque(self) -> float:
        """That a servo needs, as `parasim servo` gives it. [N m]"""
        spec, travel = self.design.servo, self.design.brakes.travel
        drive = build_drive(spec, travel)
        steady = float(torque_at(drive, self.curve, swept_angles(drive, travel)).max())
        return dynamic_factor(spec).value * steady

    @cached_property
    def opening(self) -> Case:
        """The opening as designed, at the design's release speed and drop height."""
        still = in_wind(self.vehicle, Wind.calm())
        opener = build_opener(still, height=self.design.drop.height)
        return open_case(still, opener, self.design.opening.release_speed)

    @property
    def payload_swing(self) -> float:
        """Furthest swing of the payload after half of one brake. [rad]

        Raises
        ------
        SolverError
            If the payload is stiff with the canopy.
        """
        if self.design.payload.suspension.stiff:
            raise SolverError("the payload does not swing: the design has hooks: stiff")
        return step_response(self.vehicle, left=0.0, right=SWING_BRAKE).swing


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One figure of a vehicle.

    Attributes
    ----------
    name, words : str
        As it is asked for, and as it is reported.
    kind : str
        Of the unit it is shown in, a key of `parasim.units.UNITS`.
    suffix : str
        Unit in the name of a JSON key or CSV head; empty for plain numbers.
    figure : callable
        SI figure of a `Flown`; may raise SolverError where there is none.
    quantity : Kind
        As which a limit is read.
    slow : bool
        Whether it takes more than a tenth of a second.
    cautions : tuple of str
        Said wherever it is shown.
    own_limit : callable
        The design's own limit on it, None where it has none.
    at_least : bool
        Whether that limit is a minimum.
    """

    name: str
    words: str
    kind: str
    suffix: str
    figure: Callable[[Flown], float]
    quantity: Kind
    slow: bool = False
    cautions: tuple[str, ...] = ()
    own_limit: Callable[[Design], float | None] = lambda design: None
    at_least: bool = False

    @property
    def head(self) -> str:
        """Name with its unit, for keys and heads."""
        return f"{self.name}_{self.suffix}" if self.suffix else self.name


def _tuck(flown: Flown) -> float:
    return tuck_margin(flown.vehicle, flown.trim)


def _stall(flown: Flown) -> float:
    return stall_alpha(flown.vehicle) - flown.trim.alpha


def _load(flown: Flown) -> float:
    return peak_load(flown.trim.sink, flown.design.landing.stop_distance)


def _unopened(flown: Flown) -> float:
    return unopened(in_wind(flown.vehicle, Wind.calm()), flown.design.drop.height).sink


def _servo_limit(design: Design) -> float | None:
    return design.servo.torque if design.servo else None


_ROWS = (
    Output(name="mass", words="all-up mass", kind="mass", suffix="kg", quantity=MASS,
           figure=lambda f: f.vehicle.mass),
    Output(name="area", words="flat area", kind="area", suffix="m2", quantity=AREA,
           figure=lambda f: f.vehicle.canopy.flat_area),
    Output(name="aspect_ratio", words="aspect ratio", kind="ratio", suffix="", quantity=RATIO,
           figure=lambda f: f.design.canopy.aspect_ratio),
    Output(name="wing_loading", words="wing loading, all-up", kind="wing_loading", suffix="n_m2",
           quantity=PRESSURE, figure=lambda f: f.vehicle.wing_loading),
    Output(name="glide", words="glide ratio", kind="ratio", suffix="", quantity=RATIO,
           figure=lambda f: f.trim.glide_ratio),
    Output(name="sink", words="sink", kind="speed", suffix="m_s", quantity=SPEED, cautions=LANDING,
           figure=lambda f: f.trim.sink, own_limit=lambda d: d.landing.max_sink),
    Output(name="airspeed", words="airspeed", kind="speed", suffix="m_s", quantity=SPEED,
           figure=lambda f: f.trim.airspeed),
    Output(name="forward_speed", words="forward speed", kind="speed", suffix="m_s", quantity=SPEED,
           figure=lambda f: f.trim.forward_speed, own_limit=lambda d: d.landing.max_ground_speed),
    Output(name="alpha", words="angle of attack", kind="angle", suffix="deg", quantity=ANGLE,
           figure=lambda f: f.trim.alpha),
    Output(name="stall_margin", words="stall margin", kind="angle", suffix="deg", quantity=ANGLE,
           figure=_stall, own_limit=lambda d: STALL_RESERVE, at_least=True),
    Output(name="tuck_margin", words="nose-tuck margin", kind="angle", suffix="deg",
           quantity=ANGLE, figure=_tuck, own_limit=lambda d: TUCK_RESERVE, at_least=True),
    Output(name="landing_speed", words="landing speed along the path", kind="speed", suffix="m_s",
           quantity=SPEED, cautions=LANDING, figure=lambda f: f.touchdown.speed),
    Output(name="landing_energy", words="landing energy", kind="energy", suffix="j", quantity=ENERGY,
           cautions=LANDING, figure=lambda f: f.touchdown.energy, own_limit=lambda d: d.landing.max_energy),
    Output(name="landing_load", words="landing load [weights]", kind="ratio", suffix="g", quantity=RATIO,
           cautions=LANDING, figure=_load, own_limit=lambda d: d.landing.max_load),
    Output(name="flared_sink", words="sink, flared", kind="speed", suffix="m_s", quantity=SPEED, slow=True,
           cautions=LANDING, figure=lambda f: f.flared.sink, own_limit=lambda d: d.landing.max_sink),
    Output(name="flared_speed", words="landing speed, flared", kind="speed", suffix="m_s", quantity=SPEED,
           slow=True, cautions=LANDING, figure=lambda f: f.flared.speed),
    Output(name="flared_energy", words="landing energy, flared", kind="energy", suffix="j", slow=True,
           quantity=ENERGY, cautions=LANDING, figure=lambda f: f.flared.energy,
           own_limit=lambda d: d.landing.max_energy),
    Output(name="unopened_speed", words="fall unopened", kind="speed", suffix="m_s", quantity=SPEED,
           cautions=LANDING, figure=_unopened),
    Output(name="braked_glide", words="glide ratio, full brakes", kind="ratio", suffix="", quantity=RATIO,
           slow=True, figure=lambda f: f.braked.glide_ratio),
    Output(name="braked_sink", words="sink, full brakes", kind="speed", suffix="m_s", quantity=SPEED,
           slow=True, cautions=LANDING, figure=lambda f: f.braked.sink),
    Output(name="braked_speed", words="airspeed, full brakes", kind="speed", suffix="m_s", quantity=SPEED,
           slow=True, figure=lambda f: f.braked.airspeed),
    Output(name="turn_rate", words="turn rate, full right brake", kind="angular_rate", suffix="deg_s",
           quantity=ANGULAR_RATE, slow=True, cautions=TURN, figure=lambda f: f.turn.rate),
    Output(name="turn_radius", words="turn radius, full right brake", kind="length", suffix="m",
           quantity=LENGTH, slow=True, cautions=TURN, figure=lambda f: f.turn.radius),
    Output(name="servo_force", words="brake-line force", kind="force", suffix="n", quantity=FORCE, slow=True,
           cautions=SERVO, figure=lambda f: f.curve.most_up_to(f.design.brakes.travel)),
    Output(name="servo_torque", words="peak servo torque", kind="moment", suffix="n_m", quantity=TORQUE,
           slow=True, cautions=SERVO, figure=lambda f: f.peak_torque, own_limit=_servo_limit),
    Output(name="opening_load", words="opening load", kind="force", suffix="n", quantity=FORCE,
           cautions=OPENING_CAUTIONS, figure=lambda f: f.opening.peak),
    Output(name="opening_height", words="height lost until full", kind="length", suffix="m", quantity=LENGTH,
           cautions=OPENING_CAUTIONS, figure=lambda f: f.opening.height_to_full),
    Output(name="snatch_load", words="snatch at line stretch", kind="force", suffix="n", quantity=FORCE,
           cautions=OPENING_CAUTIONS, figure=lambda f: f.opening.snatch[0]),
    Output(name="payload_swing", words="payload swing, half of one brake", kind="angle", suffix="deg",
           quantity=ANGLE, slow=True, figure=lambda f: f.payload_swing, cautions=TURN),
)  # fmt: skip

OUTPUTS: Mapping[str, Output] = {row.name: row for row in _ROWS}
"""Every figure that can be asked for, brakes released in still air at the ground unless it says otherwise."""
