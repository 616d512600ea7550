"""What a servo has to do: brake-line force and travel, torque through the sweep, time, what it can hold.

Pull is counted as the servo makes it, from the line let out: the free play is in it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import inf, nan, pi

import numpy as np

from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.calibration import CalibratedNumber
from parasim.config.servo import DYNAMIC_FACTOR, ServoSpec
from parasim.dynamics.brakes.actuators import (
    KILOGRAM_FORCE_CM,
    USUAL_SWEEP,
    ArmDrive,
    Drive,
    build_drive,
    needed_arm,
    turning_time,
    unloaded_time,
)
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.drop import CAUTIONS
from parasim.flight.servo.brake_force import ForceCurve, force_curve
from parasim.flight.trim import Trim, find_trims
from parasim.flight.turn.steady import steady_turns
from parasim.rotations import FloatArray

STATED_ARM = 0.030
"""Arm whose torque is reported when there is no servo yet. Our choice. [m]"""

CLASSES = (2.0, 3.0, 5.0, 9.0, 13.0, 20.0, 25.0, 35.0)
"""Stalled torques that servos are sold by. Common practice, no source. [kg cm]"""

SWEEP_POINTS = 61

UP_TO_MIDDLE = np.array([0.0, 0.15, 0.3, 0.4, 0.6])
"""One-sided brakes followed to the turns on either side of half travel, fractions of it. [-]"""

SERVO_CAUTION = (
    "A servo that fails, or a line that slips off its arm, can leave one brake pulled: the vehicle then "
    "spirals down. Try on the ground what yours does without power."
)
SERVO_CAUTIONS = (SERVO_CAUTION, *CAUTIONS)
"""Said wherever forces and torques are shown."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Motor:
    """What a servo of known strength makes of it.

    Attributes
    ----------
    spec : ServoSpec
        As the design has it.
    margin : tuple of float
        Its torque over the peak torque: at the force given, at the low ends of force and dynamic factor, at
        the high ends. [-]
    time_unloaded : float
        For the full travel, or what the arm reaches of it, without load. [s]
    time : tuple of float
        The same under the steady load, slowed along a straight line from no-load speed to stall: at the force
        given, low, high; infinite where it stalls. [s]
    held : tuple of float
        Longest pull that it gets to and holds against the steady force: at the force given, low, high. [m]
    steady_current, peak_current, stall_current : float
        nan unless the design gives torque_per_current. [A]
    """

    spec: ServoSpec
    margin: tuple[float, float, float]
    time_unloaded: float
    time: tuple[float, float, float]
    held: tuple[float, float, float]
    steady_current: float
    peak_current: float
    stall_current: float


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Servo(Answer):
    """Answer to `parasim servo`.

    Attributes
    ----------
    vehicle : Vehicle
        Whose brakes.
    trim : Trim
        The glide with the brakes released.
    curve : ForceCurve
        Force against pull.
    drive : ArmDrive or WinchDrive
        As the design has it; else the arm that makes the travel with `USUAL_SWEEP`.
    angle : ndarray, shape (n,)
        Of the servo, from the line let out to full travel or the end of its sweep. [rad]
    needed_arm : float
        Arm that makes the travel with the sweep at hand; infinite if the guide is too near, nan for a winch.
        [m]
    dynamic_factor : CalibratedNumber
        Peak over steady torque, and its range. [-]
    motor : Motor or None
        None without a servo in the design.
    turn_rate_per_pull : float
        Turn rate for each metre of line, nan if not known. [rad/s/m]
    """

    REPORT = "parasim.report.servo:ServoReport"

    vehicle: Vehicle
    trim: Trim
    curve: ForceCurve
    drive: Drive
    angle: FloatArray
    needed_arm: float
    dynamic_factor: CalibratedNumber
    motor: Motor | None
    turn_rate_per_pull: float

    @property
    def travel(self) -> float:
        """Full pull that the design asks for, slack included. [m]"""
        return self.vehicle.design.brakes.travel

    @property
    def reached(self) -> float:
        """Pull that the drive makes of it. [m]"""
        return float(self.pull[-1])

    @property
    def short(self) -> bool:
        """Whether that is noticeably less than the travel."""
        return self.reached < 0.99 * self.travel

    @cached_property
    def pull(self) -> FloatArray:
        """Line pulled in at each angle, shape (n,). [m]"""
        return self.drive.pull(self.angle)

    @cached_property
    def force(self) -> FloatArray:
        """Force in the line at each angle, shape (n,). [N]"""
        return self.curve.at(self.pull)

    @cached_property
    def torque(self) -> FloatArray:
        """Steady torque at each angle, shape (n,). [N m]"""
        return torque_at(self.drive, self.curve, self.angle)

    @property
    def steady_force(self) -> float:
        """Greatest steady force up to full travel, whatever the drive reaches. [N]"""
        return self.curve.most_up_to(self.travel)

    @property
    def steady_torque(self) -> float:
        """Greatest through the sweep. [N m]"""
        return float(self.torque.max())

    @property
    def peak_torque(self) -> float:
        """Steady torque with the dynamic factor. [N m]"""
        return self.dynamic_factor.value * self.steady_torque

    @property
    def peak_band(self) -> tuple[float, float]:
        """The same at the low ends of force and dynamic factor, and at the high ends. [N m]"""
        low, high = (
            force * factor * self.steady_torque
            for force, factor in (
                (self.curve.low, self.dynamic_factor.low),
                (self.curve.high, self.dynamic_factor.high),
            )
        )
        return low, high

    @property
    def classes(self) -> tuple[float | None, float | None]:
        """Class of servo for the peak torque, and for its high end; None beyond all. [N m]"""
        return servo_class(self.peak_torque), servo_class(self.peak_band[1])

    @property
    def side_load(self) -> float:
        """Greatest steady load across the servo's shaft: the whole force of the line. [N]"""
        return float(self.force.max())

    @property
    def pull_per_turn_rate(self) -> float:
        """Line that changes the turn rate by so much, nan if not known. [m s/rad]"""
        return 1 / self.turn_rate_per_pull if self.turn_rate_per_pull else nan

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        return (*self.vehicle.caveats, *self.curve.caveats, *_drive_caveats(self))


def servo(vehicle: Vehicle) -> Servo:
    """What the servos of a vehicle have to do.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.

    Raises
    ------
    TrimError
        If it has no stable steady glide with the brakes released.
    DesignError
        If a measurement cannot be used.
    """
    spec, travel = vehicle.design.servo, vehicle.design.brakes.travel
    trim = find_trims(vehicle, modes=False).chosen
    curve = force_curve(vehicle, trim, spec.measured if spec else None)
    drive = build_drive(spec, travel)
    angle = swept_angles(drive, travel)
    return Servo(
        vehicle=vehicle,
        trim=trim,
        curve=curve,
        drive=drive,
        angle=angle,
        needed_arm=needed_arm(spec, travel),
        dynamic_factor=dynamic_factor(spec),
        motor=build_motor(spec, drive, curve, angle) if spec else None,
        turn_rate_per_pull=turn_rate_per_pull(vehicle),
    )


def swept_angles(drive: Drive, travel: float) -> FloatArray:
    """Angles through which a drive makes a travel [m], shape (n,). [rad]"""
    return np.linspace(drive.start, drive.angle_of(travel), SWEEP_POINTS)


def torque_at(drive: Drive, curve: ForceCurve, angle: FloatArray) -> FloatArray:
    """Steady torque at angles of the drive, same shape. [N m]"""
    return curve.at(drive.pull(angle)) * drive.lever(angle)


def dynamic_factor(spec: ServoSpec | None) -> CalibratedNumber:
    """Peak over steady torque. [-]"""
    return spec.dynamic_factor if spec else DYNAMIC_FACTOR.as_number()


def servo_class(torque: float) -> float | None:
    """Smallest of `CLASSES` that holds a torque; None where none does. [N m]

    Examples
    --------
    >>> round(servo_class(4.2 * KILOGRAM_FORCE_CM) / KILOGRAM_FORCE_CM, 9), servo_class(50.0)
    (5.0, None)
    """
    holding = (KILOGRAM_FORCE_CM * step for step in CLASSES)
    return next((step for step in holding if step >= torque * (1 - 1e-9)), None)


def turn_rate_per_pull(vehicle: Vehicle) -> float:
    """Turn rate gained by each metre more of one brake, about half travel; nan without turns. [rad/s/m]"""
    turns = steady_turns(vehicle, left=0.0, right=1.0, brakes=UP_TO_MIDDLE, growth=False)
    if len(turns) < len(UP_TO_MIDDLE):
        return nan
    before, after = turns[-2:]
    return (after.rate - before.rate) / ((after.right - before.right) * vehicle.design.brakes.travel)


def build_motor(spec: ServoSpec, drive: Drive, curve: ForceCurve, angle: FloatArray) -> Motor:
    """What a servo makes of a force curve, through the angles it turns."""
    torque = torque_at(drive, curve, angle)
    steady, speed = float(torque.max()), spec.no_load_speed
    factors, dynamic = (1.0, curve.low, curve.high), spec.dynamic_factor
    peaks = (dynamic.value, curve.low * dynamic.low, curve.high * dynamic.high)

    def current(torque: float) -> float:
        return torque / spec.torque_per_current if spec.torque_per_current else nan

    return Motor(
        spec=spec,
        margin=_three(lambda peak: spec.torque / (peak * steady) if steady > 0 else inf, peaks),
        time_unloaded=unloaded_time(spec, drive, float(drive.pull(angle[-1]))),
        time=_three(
            lambda factor: turning_time(
                angle, factor * torque, stall_torque=spec.torque, no_load_speed=speed
            ),
            factors,
        ),
        held=_three(lambda factor: held_pull(drive, curve, spec.torque / factor, angle), factors),
        steady_current=current(steady),
        peak_current=current(dynamic.value * steady),
        stall_current=current(spec.torque),
    )


def held_pull(drive: Drive, curve: ForceCurve, torque: float, angle: FloatArray) -> float:
    """Longest pull that a torque gets to, from the line let out, and holds. [m]

    Parameters
    ----------
    drive, curve
        What it turns, against what.
    torque : float
        Greatest of the servo. [N m]
    angle : ndarray, shape (n,)
        Through which it may turn. [rad]
    """
    fine = np.linspace(angle[0], angle[-1], 20 * len(angle))
    too_much = curve.at(drive.pull(fine)) * drive.lever(fine) > torque
    last = int(np.argmax(too_much)) - 1 if too_much.any() else len(fine) - 1
    return float(drive.pull(fine[max(last, 0)]))


def _three(
    figure: Callable[[float], float], factors: tuple[float, float, float]
) -> tuple[float, float, float]:
    a, b, c = factors
    return figure(a), figure(b), figure(c)


def _drive_caveats(servo: Servo) -> list[Caveat]:
    drive, travel, spec = servo.drive, servo.travel, servo.vehicle.design.servo
    found = []
    if servo.short:
        needs = "; an arm of {arm} would" if servo.needed_arm < inf else ""
        found.append(
            Caveat(
                f"The arm pulls {{reached}}, not the whole travel of {{travel}}{needs}.",
                "fails",
                reached=(servo.reached, "small_length"),
                travel=(travel, "small_length"),
                arm=(servo.needed_arm, "small_length", 1),
            )
        )
    if isinstance(drive, ArmDrive) and spec is not None:
        half = (spec.sweep or USUAL_SWEEP) / 2
        if abs(spec.offset) + half > pi / 2 + 1e-9:
            found.append(
                Caveat(
                    "The sweep passes the point where arm and line are in one line: beyond it the arm lets "
                    "line out again, so it counts only up to there.",
                    "fails",
                )
            )
        if drive.distance <= drive.arm:
            found.append(
                Caveat(
                    "The guide is nearer to the shaft than the arm is long: the arm would strike it.", "fails"
                )
            )
    if servo.motor is not None and servo.motor.margin[2] < 1:
        found.append(
            Caveat(
                "At the high end of the band the peak torque exceeds what the servo holds when stalled.",
                "fails",
            )
        )
    return found
