"""Spec, the read-only base of everything a person may write, and its constrained numbers."""

from dataclasses import dataclass
from decimal import Decimal
from math import pi, radians
from pathlib import Path
from typing import Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from parasim.config.quantity import (
    ANGLE,
    ANGULAR_RATE,
    AREA,
    AREAL_WEIGHT,
    DENSITY,
    ENERGY,
    FORCE,
    LENGTH,
    LINEAR_DENSITY,
    MASS,
    PERMEABILITY,
    PRESSURE,
    PROBABILITY,
    RATIO,
    SPEED,
    TEMPERATURE_STEP,
    TIME,
    TORQUE,
    InvalidValue,
    Kind,
    read_quantity,
    unit_examples,
)
from parasim.units import COMPASS

_SHOWN = {
    "": 1.0, "m": 1.0, "mm": 1e-3, "deg": radians(1.0), "deg/s": radians(1.0), "%": 0.01, "m^2": 1.0,
    "kg": 1.0, "s": 1.0, "m/s": 1.0, "mm/s": 1e-3, "g/m^2": 1e-3, "g/m": 1e-3, "kg/m^3": 1.0,
    "hPa": 100.0, "K": 1.0, "N": 1.0, "N m": 1.0, "J": 1.0,
}  # fmt: skip
_ROUNDING = 1e-9


class Spec(BaseModel):
    """Part of a design file: read-only, and an unknown key is a mistake."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, str_max_length=2000)


@dataclass(frozen=True, slots=True)
class Quantity:
    """Marks a field as a quantity with hard limits; beyond them the value is refused.

    Parameters
    ----------
    kind : Kind
        What it has to be.
    low, high : float
        Hard limits, both allowed. [`shown`]
    shown : str
        Unit in which the limits are reported.
    """

    kind: Kind
    low: float
    high: float
    shown: str

    def read(self, given: object) -> float:
        """Return the SI value of a number or of text with a unit.

        Raises
        ------
        InvalidValue
            When it is another kind of quantity, not finite, or outside the limits.
        """
        try:
            value = read_quantity(given, self.kind)
        except InvalidValue as invalid:
            raise InvalidValue(invalid.problem, f"{invalid.hint}, {self.limits()}") from None
        factor = _SHOWN[self.shown]
        low, high, slack = (
            self.low * factor,
            self.high * factor,
            _ROUNDING * max(abs(self.low), abs(self.high)) * factor,
        )
        if not low - slack <= value <= high + slack:
            raise InvalidValue(
                self._beyond(given, value < low), f"use {self.limits()}, such as {unit_examples(self.kind)}"
            )
        return value

    def limits(self) -> str:
        """Return the hard limits in words: ``0.2 to 5 m``."""
        unit = f" {self.shown}" if self.shown else ""
        return f"{self.low:g} to {self.high:g}{unit}"

    def _beyond(self, given: object, is_low: bool) -> str:
        bare = not isinstance(given, str) or given.strip().replace(".", "").lstrip("+-").isdigit()
        si = self.kind.si or "a plain ratio, 0.15 for 15 %"
        return ("too small" if is_low else "too large") + (
            f" (a number without unit is in {si})"
            if bare and self.kind.si
            else f" (a number without unit is {si})"
            if bare
            else ""
        )

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        """Read with `read`; written out again, an angle carries its unit."""
        texts = {ANGLE: _angle_text, PROBABILITY: _probability_text}
        write = texts.get(self.kind) and core_schema.plain_serializer_function_ser_schema(
            texts[self.kind], when_used="json"
        )
        return core_schema.no_info_plain_validator_function(self.read, serialization=write or None)


def _angle_text(value: float) -> str:
    return f"{value!r} rad"


def length_between(low: float, high: float, shown: str = "m") -> Quantity:
    """Return the mark of a length between two limits, given in the unit shown."""
    return Quantity(LENGTH, low, high, shown)


def area_between(low: float, high: float) -> Quantity:
    """Return the mark of an area between two limits. [m²]"""
    return Quantity(AREA, low, high, "m^2")


def mass_between(low: float, high: float) -> Quantity:
    """Return the mark of a mass between two limits. [kg]"""
    return Quantity(MASS, low, high, "kg")


def time_between(low: float, high: float) -> Quantity:
    """Return the mark of a time between two limits. [s]"""
    return Quantity(TIME, low, high, "s")


def speed_between(low: float, high: float) -> Quantity:
    """Return the mark of a speed between two limits. [m/s]"""
    return Quantity(SPEED, low, high, "m/s")


def _probability_text(value: float) -> str:
    return f"{100 * Decimal(repr(value))} %"


def angle_between(low: float, high: float) -> Quantity:
    """Return the mark of an angle between two limits, given in degrees and kept in radians."""
    return Quantity(ANGLE, low, high, "deg")


@dataclass(frozen=True, slots=True)
class Direction(Quantity):
    """Marks a field as a compass direction: an angle with its unit, or one of `COMPASS`; kept in radians."""

    def read(self, given: object) -> float:
        """As `Quantity.read`."""
        if isinstance(given, str) and given.strip().upper() in COMPASS:
            return COMPASS.index(given.strip().upper()) * 2 * pi / len(COMPASS)
        try:
            return Quantity.read(self, given)
        except InvalidValue as invalid:
            raise InvalidValue(invalid.problem, f'use degrees such as "270 deg", {self.limits()}') from None

    def limits(self) -> str:
        """As `Quantity.limits`."""
        return f"{Quantity.limits(self)}, or {', '.join(COMPASS)}"


def direction_between(low: float, high: float) -> Direction:
    """Return the mark of a compass direction between two limits, kept in radians. [deg]"""
    return Direction(ANGLE, low, high, "deg")


def angular_rate_between(low: float, high: float) -> Quantity:
    """Return the mark of an angular rate between two limits, given in degrees, kept in radians a second."""
    return Quantity(ANGULAR_RATE, low, high, "deg/s")


def percent_between(low: float, high: float) -> Quantity:
    """Return the mark of a ratio between two limits, given in per cent and kept as a ratio."""
    return Quantity(RATIO, low, high, "%")


def probability_between(low: float, high: float) -> Quantity:
    """Return the mark of a probability between two limits, always given in per cent and kept as a ratio."""
    return Quantity(PROBABILITY, low, high, "%")


def number_between(low: float, high: float) -> Quantity:
    """Return the mark of a plain number between two limits."""
    return Quantity(RATIO, low, high, "")


def permeability_between(low: float, high: float) -> Quantity:
    """Return the mark of a cloth permeability between two limits. [mm/s]"""
    return Quantity(PERMEABILITY, low, high, "mm/s")


def areal_weight_between(low: float, high: float) -> Quantity:
    """Return the mark of a mass of cloth by area between two limits. [g/m²]"""
    return Quantity(AREAL_WEIGHT, low, high, "g/m^2")


def linear_density_between(low: float, high: float) -> Quantity:
    """Return the mark of a mass of line by length between two limits. [g/m]"""
    return Quantity(LINEAR_DENSITY, low, high, "g/m")


def density_between(low: float, high: float) -> Quantity:
    """Return the mark of a density between two limits. [kg/m³]"""
    return Quantity(DENSITY, low, high, "kg/m^3")


def pressure_between(low: float, high: float) -> Quantity:
    """Return the mark of a pressure between two limits. [hPa]"""
    return Quantity(PRESSURE, low, high, "hPa")


def force_between(low: float, high: float) -> Quantity:
    """Return the mark of a force between two limits. [N]"""
    return Quantity(FORCE, low, high, "N")


def torque_between(low: float, high: float) -> Quantity:
    """Return the mark of a torque between two limits. [N m]"""
    return Quantity(TORQUE, low, high, "N m")


def energy_between(low: float, high: float) -> Quantity:
    """Return the mark of an energy between two limits. [J]"""
    return Quantity(ENERGY, low, high, "J")


def temperature_step_between(low: float, high: float) -> Quantity:
    """Return the mark of a temperature difference between two limits. [K]"""
    return Quantity(TEMPERATURE_STEP, low, high, "K")


@dataclass(frozen=True, slots=True)
class WholeNumber:
    """Marks a field as a whole number between two limits, both allowed."""

    low: int
    high: int

    def __call__(self, given: object) -> object:
        """Return what was given.

        Raises
        ------
        InvalidValue
            When it is no whole number, or outside the limits.
        """
        if isinstance(given, bool) or not isinstance(given, int) or not self.low <= given <= self.high:
            raise InvalidValue(
                "not a whole number in range", f"use a whole number, {self.low} to {self.high}"
            )
        return given


def whole_between(low: int, high: int) -> BeforeValidator:
    """Return the mark of a whole number between two limits."""
    return BeforeValidator(WholeNumber(low, high))


def file_beside(given: object, info: ValidationInfo, wanted: str, beside: str = "design") -> Path:
    """Take a path from beside the design file.

    Parameters
    ----------
    given : object
        As written.
    info : ValidationInfo
        Its context gives the directory of the design file.
    wanted : str
        What to give instead of what is no path: ``the path of a coordinate file, such as section.dat``.
    beside : str
        Which file that is, for messages.

    Raises
    ------
    InvalidValue
        When there is no such file.
    """
    if not isinstance(given, str | Path) or "\0" in str(given):
        raise InvalidValue("not a path", f"use {wanted}")
    path = Path((info.context or {}).get("directory", Path())) / given
    try:
        found = path.is_file()
    except OSError:
        found = False
    if not found:
        raise InvalidValue("no such file", f"give its path as seen from the {beside} file")
    return path.absolute()
