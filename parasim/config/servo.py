"""The servo that pulls a brake line: an arm or a winch, its torque and speed."""

from math import radians
from typing import Annotated, Literal

from pydantic import model_validator

from parasim.config.base import (
    Spec,
    angle_between,
    force_between,
    length_between,
    number_between,
    speed_between,
    time_between,
    torque_between,
)
from parasim.config.calibration import CalibratedNumber, Range, number_reader
from parasim.config.quantity import InvalidValue

DYNAMIC_FACTOR = Range(1.5, 1.2, 2.5, 1.0, 5.0)
"""Peak over steady hinge force: a gust of a quarter of the airspeed makes 1.6 of it, a quick pull adds the
inertia of tail, air and line. Our choice, no source. [-]"""


class MeasuredBrakeForce(Spec):
    """A force read off a luggage scale in flight or on the ground, both brakes alike.

    The computed force curve is scaled to go through it. `airspeed` is that of the measurement.
    """

    pull: Annotated[float, length_between(1.0, 1000.0, "mm")]
    """Leave `measured` out without a measurement. Pull at which the brake-line force was read off a
    scale."""
    force: Annotated[float, force_between(0.01, 500.0)]
    """Read there; the force curve is scaled to go through it."""
    airspeed: Annotated[float, speed_between(0.5, 60.0)] | None = None
    """At which it was read. Left out: that of the glide with both brakes pulled so far."""
    error: Annotated[float, force_between(0.0001, 500.0)] | None = None
    """One standard deviation of the force. Left out: forces are 0.8 to 1.25 times the scaled curve, our
    judgement."""

    @model_validator(mode="after")
    def _known(self) -> "MeasuredBrakeForce":
        if self.error is not None and self.error > self.force:
            raise InvalidValue("more than the force itself", "give that of the scale", key="error")
        return self


class ServoSpec(Spec):
    """One servo a side.

    Arm: `arm` from shaft to line, swept from `-sweep/2` to `+sweep/2` about square to the line when `offset`
    is zero. Winch: `drum` is its diameter. `time_per_60_deg` is without load; `torque` is what it holds
    when stalled.
    """

    kind: Literal["arm", "winch"] = "arm"
    """Leave `servo` out if there is none yet. `arm` or `winch`. Left out: arm."""
    torque: Annotated[float, torque_between(0.001, 100.0)]
    """Stalled."""
    time_per_60_deg: Annotated[float, time_between(0.005, 60.0)]
    """Without load."""
    arm: Annotated[float, length_between(2.0, 500.0, "mm")] | None = None
    """Shaft to line. Left out: what the travel needs."""
    sweep: Annotated[float, angle_between(5.0, 180.0)] | None = None
    """Whole swing of the arm. Left out: 120 deg."""
    offset: Annotated[float, angle_between(-80.0, 80.0)] = 0.0
    """Of its middle from square to the line. Left out: none."""
    line_distance: Annotated[float, length_between(10.0, 5000.0, "mm")] | None = None
    """From the shaft to where the line is led away. Left out: ten arms."""
    drum: Annotated[float, length_between(2.0, 500.0, "mm")] | None = None
    """Diameter of a winch."""
    dynamic_factor: Annotated[CalibratedNumber, number_reader(DYNAMIC_FACTOR)] = DYNAMIC_FACTOR.as_number()
    """Peak torque over steady, for gusts and quick pulls: a number, 1 to 5, or `{value:, low:, high:}`. Left
    out:
    1.5 (1.2 to 2.5), our choice."""
    torque_per_current: Annotated[float, number_between(0.001, 100.0)] | None = None
    """N m/A, to give the current. Left out: not given."""
    measured: MeasuredBrakeForce | None = None

    @property
    def no_load_speed(self) -> float:
        """Turning speed without load. [rad/s]"""
        return radians(60.0) / self.time_per_60_deg

    @model_validator(mode="after")
    def _geometry(self) -> "ServoSpec":
        if self.kind == "winch":
            if self.drum is None:
                raise InvalidValue(
                    "a winch needs its drum", "add drum, such as drum: 30 mm", key="drum", given=""
                )
            for name in ("arm", "sweep", "line_distance", "offset"):
                if getattr(self, name):
                    raise InvalidValue("belongs to an arm", "remove it or use kind: arm", key=name)
        elif self.drum is not None:
            raise InvalidValue("belongs to a winch", "remove it or use kind: winch", key="drum")
        return self
