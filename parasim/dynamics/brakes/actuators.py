"""What pulls the brake lines: the geometry of a servo's arm or winch, how far it pulls and how fast.

An arm turns about a shaft; the line runs from its tip to a guide. The arm's angle is counted from where it
stands square to the way from shaft to guide, positive the way that pulls.
"""

from dataclasses import dataclass
from math import asin, inf, nan, pi, radians
from typing import Protocol

import numpy as np

from parasim.config.design import Design
from parasim.config.servo import ServoSpec
from parasim.dynamics.brakes.flown import INSTANT, ServoLimits
from parasim.errors import DesignError, Mistake
from parasim.rotations import FloatArray
from parasim.units import INCH, POUND_FORCE

KILOGRAM_FORCE_CM = 9.80665e-2
"""Trade unit of servo torque, said "kg cm". [N m] Source: [SP811] appendix B."""

OUNCE_FORCE_INCH = POUND_FORCE / 16 * INCH
"""Trade unit of servo torque, said "oz in". [N m] Source: [SP811] appendix B."""

LINE_DISTANCE_IN_ARMS = 10.0
"""Distance of the guide from the shaft, in arms, where the design does not say. Our choice. [-]"""


USUAL_SWEEP = radians(120.0)
"""Sweep taken where the design names none: 60 degrees to either side. Common practice, no source. [rad]"""


class Drive(Protocol):
    """What turns a servo's angle into pull."""

    @property
    def start(self) -> float:
        """Angle with the line let out. [rad]"""

    @property
    def end(self) -> float:
        """Angle with the line pulled all the way. [rad]"""

    @property
    def reach(self) -> float:
        """Pull from start to end. [m]"""

    def pull(self, angle: FloatArray | float) -> FloatArray:
        """Line pulled in since the start, same shape. [m]"""

    def lever(self, angle: FloatArray | float) -> FloatArray:
        """Pull for each radian: torque over line force, same shape. [m]"""

    def line_angle(self, angle: FloatArray | float) -> FloatArray:
        """Of the line against the way from shaft to guide, same shape. [rad]"""

    def angle_of(self, pull: float) -> float:
        """Angle at which so much line is in; at most the end. [rad]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmDrive:
    """An arm, its line led to a guide.

    Attributes
    ----------
    arm, distance : float
        From the shaft to the line's knot, and to the guide. [m]
    start, end : float
        Of the sweep, square to the way to the guide at zero. [rad]

    Notes
    -----
    The free line l = sqrt(D^2 + a^2 + 2 a D sin(angle)) by the law of cosines, so its rate with angle, the
    lever, is a D cos(angle) / l.
    """

    arm: float
    distance: float
    start: float
    end: float

    @property
    def reach(self) -> float:
        """Pull from start to end. [m]"""
        return float(self.pull(self.end))

    def pull(self, angle: FloatArray | float) -> FloatArray:
        """Line pulled in since the start, same shape. [m]"""
        return self._free(angle) - self._free(self.start)

    def lever(self, angle: FloatArray | float) -> FloatArray:
        """Pull for each radian: torque over line force, same shape. [m]"""
        return np.asarray(self.arm * self.distance * np.cos(angle) / self._free(angle))

    def line_angle(self, angle: FloatArray | float) -> FloatArray:
        """Of the line against the way from shaft to guide, same shape. [rad]"""
        return np.asarray(np.arctan2(self.arm * np.cos(angle), self.distance + self.arm * np.sin(angle)))

    def angle_of(self, pull: float) -> float:
        """Angle at which so much line is in; at most the end. [rad]"""
        free = float(self._free(self.start)) + pull
        sine = (free**2 - self.distance**2 - self.arm**2) / (2 * self.arm * self.distance)
        return min(asin(min(max(sine, -1.0), 1.0)), self.end)

    def _free(self, angle: FloatArray | float) -> FloatArray:
        a, D = self.arm, self.distance
        return np.sqrt(D**2 + a**2 + 2 * a * D * np.sin(angle))


@dataclass(frozen=True, slots=True, kw_only=True)
class WinchDrive:
    """A drum that winds the line in one layer; the line's own thickness is left out.

    Attributes
    ----------
    drum : float
        Diameter. [m]
    reach : float
        Pull from start to end. [m]
    """

    drum: float
    reach: float

    @property
    def start(self) -> float:
        """Angle with the line let out. [rad]"""
        return 0.0

    @property
    def end(self) -> float:
        """Angle with the line pulled all the way. [rad]"""
        return 2 * self.reach / self.drum

    @property
    def turns(self) -> float:
        """Of the drum for the whole pull. [-]"""
        return self.end / (2 * pi)

    def pull(self, angle: FloatArray | float) -> FloatArray:
        """Line pulled in since the start, same shape. [m]"""
        return np.asarray(angle) * self.drum / 2

    def lever(self, angle: FloatArray | float) -> FloatArray:
        """Pull for each radian: torque over line force, same shape. [m]"""
        return np.full(np.shape(angle), self.drum / 2)

    def line_angle(self, angle: FloatArray | float) -> FloatArray:
        """Zero: the line leaves a drum always the same way."""
        return np.zeros(np.shape(angle))

    def angle_of(self, pull: float) -> float:
        """Angle at which so much line is in; at most the end. [rad]"""
        return min(2 * pull / self.drum, self.end)


def build_arm(*, arm: float, sweep: float, offset: float = 0.0, distance: float | None = None) -> ArmDrive:
    """Arm swept from `offset - sweep/2` to `offset + sweep/2`, but no further than in line with the guide.

    Parameters
    ----------
    arm : float
        From the shaft to the line's knot. [m]
    sweep, offset : float
        Whole angle, and where its middle is. [rad]
    distance : float, optional
        From the shaft to the guide; `LINE_DISTANCE_IN_ARMS` arms if not given. [m]
    """
    return ArmDrive(
        arm=arm,
        distance=distance or LINE_DISTANCE_IN_ARMS * arm,
        start=max(offset - sweep / 2, -pi / 2),
        end=min(offset + sweep / 2, pi / 2),
    )


def arm_for_travel(
    travel: float, *, sweep: float, offset: float = 0.0, distance: float | None = None
) -> float:
    """Arm that pulls a travel over a sweep; infinite if even one as long as the way to the guide does not.

    Parameters are those of `build_arm`, all lengths in m.
    """
    if distance is None:
        return travel / build_arm(arm=1.0, sweep=sweep, offset=offset).reach

    def excess(arm: float) -> float:
        return build_arm(arm=arm, sweep=sweep, offset=offset, distance=distance).reach - travel

    if excess(distance) < 0:
        return inf
    from scipy.optimize import brentq

    return float(brentq(excess, 0.0, distance))


def needed_arm(spec: ServoSpec | None, travel: float) -> float:
    """Arm that makes a travel with the sweep, offset and guide at hand; nan for a winch. [m]"""
    if spec is None:
        return arm_for_travel(travel, sweep=USUAL_SWEEP)
    if spec.kind == "winch":
        return nan
    return arm_for_travel(
        travel, sweep=spec.sweep or USUAL_SWEEP, offset=spec.offset, distance=spec.line_distance
    )


def build_drive(spec: ServoSpec | None, travel: float) -> Drive:
    """Drive of a design; what it leaves open is chosen to make the travel.

    Raises
    ------
    DesignError
        If the guide is too near for any arm to make it.
    """
    if spec is not None and spec.drum is not None:
        return WinchDrive(drum=spec.drum, reach=travel)
    arm = spec.arm if spec and spec.arm else needed_arm(spec, travel)
    if arm == inf:
        raise DesignError(
            Mistake(
                key="servo.line_distance",
                given=f"{1e3 * (spec.line_distance or nan):g} mm" if spec else "",
                problem=f"too near for any arm to pull {1e3 * travel:g} mm",
                hint="move the guide away, widen the sweep or leave line_distance out",
            )
        )
    if spec is None:
        return build_arm(arm=arm, sweep=USUAL_SWEEP)
    return build_arm(
        arm=arm, sweep=spec.sweep or USUAL_SWEEP, offset=spec.offset, distance=spec.line_distance
    )


def unloaded_time(spec: ServoSpec, drive: Drive, travel: float) -> float:
    """Time for a travel [m], or what the drive reaches of it, from the line let out, without load. [s]"""
    return (drive.angle_of(travel) - drive.start) / spec.no_load_speed


def servo_limits(design: Design) -> ServoLimits:
    """How quickly and how far the servos of a design pull its brakes; at once and all the way without any.

    Raises
    ------
    DesignError
        If no arm at its place could pull the travel.

    Notes
    -----
    One speed all the way: the mean over the travel, or what is reached of it, without load. An arm square to
    its line pulls quicker than that and at the ends of its sweep slower; load slows it, and is left out.
    """
    spec, travel = design.servo, design.brakes.travel
    if spec is None:
        return INSTANT
    drive = build_drive(spec, travel)
    reach = min(1.0, drive.reach / travel)
    return ServoLimits(rate=reach / unloaded_time(spec, drive, reach * travel), reach=reach)


def turning_speed(torque: FloatArray, *, stall_torque: float, no_load_speed: float) -> FloatArray:
    """Speed of a servo under load, on the straight line from no load to stall; zero beyond. [rad/s]

    Parameters
    ----------
    torque : ndarray
        That it has to overcome; what helps it makes it no faster. [N m]
    stall_torque, no_load_speed : float
        Ends of the line. [N m], [rad/s]

    Notes
    -----
    Common practice for small direct-current motors, no source.
    """
    return no_load_speed * np.clip(1 - np.asarray(torque) / stall_torque, 0.0, 1.0)


def turning_time(
    angle: FloatArray, torque: FloatArray, *, stall_torque: float, no_load_speed: float
) -> float:
    """Time to turn through rising angles under load; infinite if it stalls on the way. [s]

    Parameters
    ----------
    angle, torque : ndarray, shape (n,)
        [rad], [N m]
    stall_torque, no_load_speed : float
        As in `turning_speed`.
    """
    speed = turning_speed(torque, stall_torque=stall_torque, no_load_speed=no_load_speed)
    if np.any(speed <= 0):
        return inf
    return float(np.trapezoid(1 / speed, angle))
