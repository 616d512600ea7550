"""A design's coefficients at any calibration near another, blended in a straight line with each number.

As an ensemble blends them (`parasim.scatter`), but for steady flight alone: at usual angles, in still air.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from parasim.aerodynamics.drag import skin_drag_by
from parasim.aerodynamics.factors import Factors, build_ranges
from parasim.aerodynamics.model import BRAKE_KNOTS, build_aero_table, calibrated_table
from parasim.aerodynamics.table import AeroTable
from parasim.dynamics.vehicle import Vehicle, with_factors
from parasim.flight.turn.steady import TURNING_ALPHA, TURNING_BETA
from parasim.rotations import FloatArray

NAMES = tuple(field.name for field in fields(Factors))
"""Calibration numbers, in the order of every array of them."""

SKIN = ("extra_drag", "inlet_drag_factor", "roughness_drag")
"""Numbers that make skin drag, all of which changes the coefficients alike."""

LINEAR = ("side_force_slope", "yaw_damping", "roll_damping")
"""Numbers that coefficients are linear in by their definition, and that only a turn answers to."""

BRAKED = ("brake_lift_factor", "brake_drag_factor")
"""Numbers that only a pulled brake answers to."""

LINES = "line_drag_coefficient"
"""The number that acts on the lines, not on the canopy."""

STRAIGHT_BETA = TURNING_BETA[:3]


def numbers_of(factors: Factors) -> FloatArray:
    """Calibration as an array, shape (n_numbers,)."""
    return np.array([getattr(factors, name) for name in NAMES], dtype=np.float64)


def factors_of(numbers: FloatArray) -> Factors:
    """Calibration of an array."""
    return Factors(**dict(zip(NAMES, numbers.tolist(), strict=True)))


def steady_table(vehicle: Vehicle, *, brakes: bool, turns: bool) -> AeroTable:
    """Table of a vehicle for steady flight; fewer knots where no brake is pulled, or both are alike."""
    return build_aero_table(
        vehicle.model,
        alpha=TURNING_ALPHA,
        beta=TURNING_BETA if turns else STRAIGHT_BETA,
        brake=BRAKE_KNOTS if brakes else BRAKE_KNOTS[:1],
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blend:
    """How coefficients change with the numbers of a calibration.

    Attributes
    ----------
    steady, rates : Mapping of str to ndarray
        Change of the tables of `steady_table` by unit of each number.
    skin : Mapping of str to float
        Skin drag of each number that makes some over that of the first. [-]
    """

    steady: Mapping[str, FloatArray]
    rates: Mapping[str, FloatArray]
    skin: Mapping[str, float]

    def blended(self, vehicle: Vehicle, table: AeroTable, change: FloatArray) -> tuple[Vehicle, AeroTable]:
        """Vehicle and table with the numbers changed.

        Parameters
        ----------
        vehicle : Vehicle
            At its own calibration.
        table : AeroTable
            Its `steady_table`.
        change : ndarray, shape (n_numbers,)
            Of the numbers.
        """
        steady, rates = table.steady.copy(), table.rates.copy()
        middle, half, count = len(TURNING_BETA) - 1, len(table.beta) // 2, len(table.brake)
        for name, moved in zip(NAMES, change.tolist(), strict=True):
            if moved and name in self.steady:
                steady += moved * self.steady[name][:, middle - half : middle + half + 1, :count, :count]
                rates += moved * self.rates[name]
        return _with_line_drag(vehicle, change[NAMES.index(LINES)]), replace(
            table, steady=steady, rates=rates
        )


def _with_line_drag(vehicle: Vehicle, more: float) -> Vehicle:
    bodies = vehicle.bodies
    ratio = 1.0 + more / vehicle.model.factors.line_drag_coefficient
    scale = np.array([ratio if name == "lines" else 1.0 for name in bodies.name])
    return replace(vehicle, bodies=replace(bodies, drag_area=bodies.drag_area * scale))


def build_blend(vehicle: Vehicle) -> Blend:
    """Blend about a vehicle's own calibration, each number moved halfway to the further end of its range."""
    factors, table = vehicle.model.factors, steady_table(vehicle, brakes=True, turns=True)
    by_unit = {name: skin_drag_by(name, vehicle.canopy, factors, vehicle.reference) for name in SKIN}
    skin = {name: drag / by_unit[SKIN[0]] for name, drag in by_unit.items()}
    steady: dict[str, FloatArray] = {}
    rates: dict[str, FloatArray] = {}
    for limits in build_ranges(vehicle.design):
        name = limits.name
        if name in LINEAR:
            unit = calibrated_table(vehicle.model, name, table)
            steady[name], rates[name] = unit.steady, unit.rates
        elif name != LINES and name not in SKIN[1:]:
            value = float(getattr(factors, name))
            step = max(limits.high - value, limits.low - value, key=abs) / 2 or 0.01
            moved = steady_table(
                with_factors(vehicle, replace(factors, **{name: value + step})), brakes=True, turns=True
            )
            steady[name] = (moved.steady - table.steady) / step
            rates[name] = (moved.rates - table.rates) / step
    for name in SKIN[1:]:
        steady[name], rates[name] = skin[name] * steady[SKIN[0]], skin[name] * rates[SKIN[0]]
    return Blend(steady=steady, rates=rates, skin=skin)
