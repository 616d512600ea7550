"""Spreads for thousands of drops: how far each input may be off, how often the canopy fails, the target.

A spread is an offset from the value that the design has. Defaults are our choice for a careful crew with
simple instruments, no source, unless said; put your own measurements in their place.
"""

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic_core import CoreSchema, core_schema

from parasim.config.base import (
    Quantity,
    Spec,
    angle_between,
    length_between,
    mass_between,
    number_between,
    percent_between,
    probability_between,
    speed_between,
    time_between,
)
from parasim.config.quantity import RATIO, InvalidValue, read_quantity

SpreadKind = Literal["normal", "uniform", "triangular", "lognormal"]

COUNTS: dict[str, int] = {"normal": 1, "uniform": 2, "triangular": 3, "lognormal": 1}
"""Numbers that each kind of spread takes."""

ALLOWED = (
    "use {normal: S} (with mean: M if it is off on average), {uniform: [LOW, HIGH]}, "
    "{triangular: [LOW, LIKELY, HIGH]} or, where it says so, {lognormal: S %}"
)

FARTHEST_TARGET = 300_000.0
"""Of either way from below the planned release. [m]"""

MOST_RELATIVE = 3.0
"""Largest relative offset. [-]"""


@dataclass(frozen=True, slots=True)
class Spread:
    """Distribution of an input's offset.

    Attributes
    ----------
    kind : str
        normal, uniform, triangular or lognormal.
    numbers : tuple of float
        Mean and standard deviation; low and high; low, likely and high; standard deviation of the logarithm.
        In SI, or in parts of the nominal value if relative.
    relative : bool
        Whether the offset is in parts of the nominal value. A lognormal always is: it multiplies.
    written : tuple
        As it stands in the design file.
    """

    kind: SpreadKind
    numbers: tuple[float, ...]
    relative: bool = False
    written: tuple[tuple[str, Any], ...] = ()

    @property
    def is_none(self) -> bool:
        """Whether nothing varies."""
        return self.numbers[-1] == 0.0 if self.kind in ("normal", "lognormal") else len(set(self.numbers)) < 2


@dataclass(frozen=True, slots=True)
class _SpreadMark:
    """Marks a field as the spread of an input.

    Parameters
    ----------
    quantity : Quantity
        Kind and hard limits of an offset.
    may_be_relative : bool
        Whether per cent mean parts of the nominal value, and a lognormal spread is allowed.
    """

    quantity: Quantity
    may_be_relative: bool = False

    def read(self, given: object) -> Spread:
        """Return the spread of a mapping such as ``{normal: 5 m}``.

        Raises
        ------
        InvalidValue
            When it is none, or an offset is of another kind or outside the limits.
        """
        if isinstance(given, Spread):
            return given
        if not isinstance(given, dict):
            raise InvalidValue("not a spread", ALLOWED)
        unknown = [str(key) for key in given if key not in {*COUNTS, "mean"}]
        if unknown:
            raise InvalidValue("unknown key", ALLOWED, key=unknown[0], given="")
        kinds: list[SpreadKind] = [kind for kind in COUNTS if kind in given]  # type: ignore[misc]
        if len(kinds) != 1:
            raise InvalidValue("needs exactly one kind of spread", ALLOWED)
        kind = kinds[0]
        if "mean" in given and kind != "normal":
            raise InvalidValue("goes with a normal spread only", "remove it", key="mean")
        listed = self._listed(kind, given[kind])
        relative = {
            self._is_relative(each) for each in [*listed, *([given["mean"]] if "mean" in given else [])]
        }
        if kind == "lognormal" and not self.may_be_relative:
            raise InvalidValue("a lognormal spread multiplies, which makes no sense here", ALLOWED, key=kind)
        is_relative = kind == "lognormal" or relative == {True}
        if len(relative) > 1 and kind != "lognormal":
            raise InvalidValue("per cent and units mixed", "write all of them in per cent or none", key=kind)
        numbers = tuple(self._number(each, kind, is_relative) for each in listed)
        if kind == "normal":
            numbers = (self._number(given.get("mean", 0.0), "mean", is_relative), *numbers)
        self._check(kind, numbers)
        return Spread(kind, numbers, is_relative, tuple(given.items()))

    def _listed(self, kind: str, given: object) -> list[object]:
        count = COUNTS[kind]
        listed = list(given) if isinstance(given, list | tuple) else [given]
        if len(listed) != count or (count > 1) != isinstance(given, list | tuple):
            wanted = "one number" if count == 1 else f"a list of {count}"
            raise InvalidValue(f"a {kind} spread needs {wanted}", ALLOWED, key=kind)
        return listed

    def _is_relative(self, given: object) -> bool:
        return self.may_be_relative and isinstance(given, str) and given.strip().endswith("%")

    def _number(self, given: object, key: str, relative: bool) -> float:
        if relative:
            try:
                value = read_quantity(given, RATIO)
            except InvalidValue as invalid:
                raise InvalidValue(invalid.problem, invalid.hint, key=key) from None
            if not -MOST_RELATIVE <= value <= MOST_RELATIVE:
                raise InvalidValue("out of range", f"use up to {100 * MOST_RELATIVE:g} %", key=key)
            return value
        try:
            return self.quantity.read(given)
        except InvalidValue as invalid:
            raise InvalidValue(invalid.problem, invalid.hint, key=key) from None

    @staticmethod
    def _check(kind: str, numbers: tuple[float, ...]) -> None:
        if kind in ("normal", "lognormal") and numbers[-1] < 0:
            raise InvalidValue("a standard deviation below zero", "use zero or more", key=kind)
        if list(numbers) != sorted(numbers) and kind in ("uniform", "triangular"):
            raise InvalidValue("not in rising order", "write the lowest first", key=kind)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        """Read with `read`; written out as it was given."""
        write = core_schema.plain_serializer_function_ser_schema(_as_written, when_used="json")
        return core_schema.no_info_plain_validator_function(self.read, serialization=write)


def _as_written(spread: Spread | None) -> dict[str, Any] | None:
    return None if spread is None else dict(spread.written)


def _normal(deviation: float, *, relative: bool = False) -> Spread:
    return Spread("normal", (0.0, deviation), relative)


_Place = Annotated[Spread, _SpreadMark(length_between(-5000.0, 5000.0))]
_Angle = Annotated[Spread, _SpreadMark(angle_between(-180.0, 180.0))]
_Small = Annotated[Spread, _SpreadMark(angle_between(-10.0, 10.0))]
_Speed = Annotated[Spread, _SpreadMark(speed_between(-30.0, 30.0), may_be_relative=True)]
_Mass = Annotated[Spread, _SpreadMark(mass_between(-5.0, 5.0), may_be_relative=True)]
_Part = Annotated[Spread, _SpreadMark(percent_between(-100.0, 100.0))]
_Number = Annotated[Spread, _SpreadMark(number_between(-10.0, 10.0))] | None

DEGREE = 0.017453292519943295
"""[rad]"""


class LateSpec(Spec):
    """A canopy that opens late: how often, and how late on average.

    The delay beyond the usual opening is taken as exponentially distributed, our choice, no source.
    """

    probability: Annotated[float, probability_between(0.0, 100.0)] = 0.03
    """How often it opens late. Left out: 3 %, our choice, no source."""
    delay: Annotated[float, time_between(0.0, 60.0)] = 1.0
    """How late on average, exponentially spread. Left out: 1 s, our choice."""


class TargetSpec(Spec):
    """Where it should come down, from the point below the nominal release, and how near is near."""

    north: Annotated[float, length_between(-FARTHEST_TARGET, FARTHEST_TARGET)] = 0.0
    """Where it should come down, from below the planned release. Left out: there. Leave `target` out for
    none."""
    east: Annotated[float, length_between(-FARTHEST_TARGET, FARTHEST_TARGET)] = 0.0
    """."""
    radius: Annotated[float, length_between(0.5, 5000.0)] = 25.0
    """How near is near. Left out: 25 m."""


class ScatterSpec(Spec):
    """Spreads of the inputs, each an offset from what the design has; all may be left out.

    Wind speed and payload mass also take per cent of their value. Trims are built-in brake offsets in parts
    of the travel. A calibration number that is left out spreads over its own range in `calibration`: two
    standard deviations each way, and never beyond. `unopened` is how often a canopy never opens, `late` how
    often and how much later than usual one does: common practice has no figure for sewn canopies of this
    size, so both are our choice, no source; count your own drops.
    """

    # A point held by eye or by a hand-held satellite receiver.
    release_north: _Place = _normal(5.0)
    """Spread of the release point, as all below: `{normal: 5 m}`, `{uniform: [-3 m, 5 m]}` or `{triangular:
    [-3 m, 0 m, 5 m]}`, an offset from what is planned; a normal one may be off on average, `{normal: 5 m,
    mean: 2 m}`. Left out: normal, 5 m, our choice, as all below."""
    release_east: _Place = _normal(5.0)
    """Left out: normal, 5 m."""
    # Barometric height of a balloon or multicopter.
    release_height: _Place = _normal(3.0)
    """Left out: normal, 3 m."""
    # A tethered carrier swings about its tether.
    heading: _Angle = _normal(10.0 * DEGREE)
    """Of the canopy at release. Left out: normal, 10 deg."""
    # A hand-held anemometer some minutes before, some metres away.
    wind_speed: _Speed = Spread("lognormal", (0.2,), relative=True)
    """In m/s, or in per cent of the wind; also `{lognormal: 20 %}`, which it is if left out."""
    wind_from: _Angle = _normal(15.0 * DEGREE)
    """Left out: normal, 15 deg."""
    # Batteries, moisture, what was packed in a hurry.
    payload_mass: _Mass = _normal(0.02, relative=True)
    """In kg, or in per cent of it. Left out: normal, 2 %."""
    # Rows tied some 3 mm off, over a chord of half a metre.
    rigging_angle: _Small = _normal(0.5 * DEGREE)
    """Left out: normal, 0.5 deg, rows some 3 mm off."""
    # Brake lines tied some 2 mm off, servos off centre.
    left_trim: _Part = _normal(0.02)
    """Built-in brake, in parts of the travel. Left out: normal, 2 %."""
    right_trim: _Part = _normal(0.02)
    """The same on the right."""
    lift_factor: _Number = None
    """Of the calibration number. Left out: over its range in `calibration`, two standard deviations each
    way, cut off there."""
    extra_drag: _Number = None
    """Likewise."""
    inlet_drag_factor: _Number = None
    """Likewise."""
    moment_shift: _Number = None
    """Likewise."""
    line_drag_coefficient: _Number = None
    """Likewise."""
    roughness_drag: _Number = None
    """Likewise."""
    brake_lift_factor: _Number = None
    """Likewise."""
    brake_drag_factor: _Number = None
    """Likewise."""
    side_force_slope: _Number = None
    """Likewise."""
    yaw_damping: _Number = None
    """Likewise."""
    roll_damping: _Number = None
    """Likewise."""
    unopened: Annotated[float, probability_between(0.0, 100.0)] = 0.01
    """How often the canopy never opens. Left out: 1 %, our choice, no source; count your own drops."""
    late: LateSpec = LateSpec()
    target: TargetSpec | None = None
