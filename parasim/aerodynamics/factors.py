"""What geometry cannot fix: the calibratable factors as plain numbers."""

from collections.abc import Container
from dataclasses import dataclass, fields

from parasim.config.calibration import CalibratedNumber
from parasim.config.design import Design


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """Calibratable factors of the aerodynamic model.

    Attributes
    ----------
    lift_factor : float
        On the lift of every section. [-]
    extra_drag, roughness_drag : float
        On flat area: wrinkles, seams and what nobody counted; rough cloth. [-]
    inlet_drag_factor : float
        Inlet drag on flat area over inlet height/chord. [-]
    moment_shift : float
        On every section's moment about its quarter chord, nose-up positive. [-]
    line_drag_coefficient : float
        Of line across the flow, on its frontal area. [-]
    brake_lift_factor, brake_drag_factor : float
        On what a bent trailing edge adds to lift and moment, and to drag. [-]
    side_force_slope : float
        Added side force by sideslip, on flat area. [1/rad]
    yaw_damping, roll_damping : float
        Added couples by yaw and roll rate times half span over airspeed, on flat area and span. [1/rad]
    """

    lift_factor: float = 1.0
    extra_drag: float = 0.0
    roughness_drag: float = 0.0
    inlet_drag_factor: float = 0.0
    moment_shift: float = 0.0
    line_drag_coefficient: float = 1.2
    brake_lift_factor: float = 1.0
    brake_drag_factor: float = 1.0
    side_force_slope: float = 0.0
    yaw_damping: float = 0.0
    roll_damping: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorRange:
    """Plausible range of one factor, taken as two standard deviations each way.

    Attributes
    ----------
    name : str
        Field of `Factors`.
    low, high : float
        In the factor's own unit.
    correlated : tuple of (str, float)
        Other factors, and how it hangs together with each. [-]
    """

    name: str
    low: float
    high: float
    correlated: tuple[tuple[str, float], ...] = ()


def calibrated(design: Design, name: str) -> CalibratedNumber:
    """Calibrated number of a design by its name; the inlet's default goes by the kind of inlet."""
    number = design.inlet_drag_factor if name == "inlet_drag_factor" else getattr(design.calibration, name)
    assert isinstance(number, CalibratedNumber)
    return number


def build_factors(design: Design) -> Factors:
    """Factors of a design: its calibration, defaults filled in."""
    return Factors(**{field.name: calibrated(design, field.name).value for field in fields(Factors)})


def build_ranges(design: Design, only: Container[str] | None = None) -> tuple[FactorRange, ...]:
    """Range of every factor of a design, or of some, and how it hangs together with all others."""
    names = [field.name for field in fields(Factors)]
    between = design.calibration.correlation
    return tuple(
        FactorRange(
            name=name,
            low=calibrated(design, name).low,
            high=calibrated(design, name).high,
            correlated=tuple((other, r) for other in names if other != name and (r := between(name, other))),
        )
        for name in names
        if only is None or name in only
    )
