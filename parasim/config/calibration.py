"""Calibration: what geometry cannot fix, each with its default, its range and where that comes from."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BeforeValidator, Field, model_validator

from parasim.config.base import Spec, number_between
from parasim.config.quantity import RATIO, InvalidValue, read_quantity

_Number = Annotated[float, number_between(-1e3, 1e3)]


class CalibratedNumber(Spec):
    """A number geometry cannot fix, and the range it plausibly lies in."""

    value: _Number
    low: _Number
    high: _Number
    source: Annotated[str, Field(max_length=80)] = Field(default="", alias="from")
    """Where it comes from, in words, such as `fitted to 3 flights`; said beside every band."""

    @model_validator(mode="after")
    def _in_order(self) -> "CalibratedNumber":
        if not self.low <= self.value <= self.high:
            raise InvalidValue(
                "value lies outside low to high",
                "let low <= value <= high",
                given=f"low {self.low:g}, value {self.value:g}, high {self.high:g}",
            )
        return self


class Range(NamedTuple):
    """Default and plausible range of a calibrated number, and the hard limits it may be set to."""

    value: float
    low: float
    high: float
    minimum: float
    most: float

    def as_number(self) -> CalibratedNumber:
        """Return the default as a calibrated number."""
        return CalibratedNumber(value=self.value, low=self.low, high=self.high)


DEFAULTS = {
    # A rigid arced wing in the tunnel reads 13 % less lift than inviscid theory. Source: [Belloc2015]
    "lift_factor": Range(0.92, 0.8, 1.0, 0.3, 1.5),
    # Seams, wrinkles and flutter not counted elsewhere. From memory, unverified.
    "extra_drag": Range(0.003, 0.0, 0.006, -0.05, 0.2),
    # Dominates the uncertainty of trim; no source, kept at zero.
    "moment_shift": Range(0.0, -0.02, 0.02, -0.2, 0.2),
    # A circular cylinder below its critical Reynolds number. Source: [Hoerner1965]
    "line_drag_coefficient": Range(1.2, 1.0, 1.4, 0.3, 4.0),
    # Fabric against a smooth section. From memory, unverified.
    "roughness_drag": Range(0.004, 0.002, 0.006, 0.0, 0.1),
    # Cloth brake against a smooth bend of the same trailing-edge deflection; unvalidated. These two and
    # yaw_damping were set together so that a 2 kg design of about 1 m^2 at full one-side brake turns like the
    # one outside figure we have, second-hand: 15.2 m radius at 7.2 m/s. That is calibration, not validation.
    # Looked at again with the payload hanging and pelican rigged at 4 deg: 15.9 m at 7.3 m/s; they were kept.
    "brake_lift_factor": Range(0.2, 0.1, 0.5, 0.0, 2.0),
    "brake_drag_factor": Range(2.0, 1.0, 3.0, 0.0, 10.0),
    # Side force with sideslip, yaw and roll damping not caught by the panels, per radian (or per unit of
    # rate times span over twice the airspeed). Own prototypes, unvalidated.
    "side_force_slope": Range(-0.05, -0.1, 0.0, -2.0, 0.5),
    "yaw_damping": Range(-0.4, -0.8, -0.1, -2.0, 0.5),
    "roll_damping": Range(-0.2, -0.84, 0.0, -2.0, 0.5),
}
INLET_DRAG = {
    # Drag coefficient over inlet height in chord. Flush: own prototypes, unvalidated. Open: 0.5, a published
    # constant for thick open noses, from memory, unverified.
    "flush": Range(0.1, 0.0, 0.15, 0.0, 2.0),
    "open": Range(0.5, 0.3, 0.7, 0.0, 2.0),
}


@dataclass(frozen=True, slots=True)
class _Reader:
    """Read a plain number or a mapping; what is not given comes from the default range.

    A plain number outside the default range stretches the range so far.
    """

    default: Range

    def __call__(self, given: Any) -> Any:
        if isinstance(given, CalibratedNumber):
            given = given.model_dump(by_alias=True)
        is_mapping = isinstance(given, dict)
        if not is_mapping:
            given = {"value": given}
        filled = {key: value for key, value in given.items() if value is not None}
        for key in ("value", "low", "high"):
            if key in filled:
                filled[key] = self._number(filled[key], key if is_mapping else "")
        value = filled.setdefault("value", self.default.value)
        filled.setdefault("low", min(self.default.low, value))
        filled.setdefault("high", max(self.default.high, value))
        return filled

    def _number(self, given: Any, key: str) -> float:
        allowed = f"use a number, {self.default.minimum:g} to {self.default.most:g}"
        try:
            value = read_quantity(given, RATIO)
        except InvalidValue:
            raise InvalidValue("not a number", allowed, key=key) from None
        if not self.default.minimum <= value <= self.default.most:
            raise InvalidValue("out of range", allowed, key=key)
        return value


def _read_inlet_drag(given: Any) -> Any:
    """Read the inlet factor; a number without a range is taken half of itself either way."""
    value = given.get("value") if isinstance(given, dict) else given
    try:
        middle = read_quantity(value, RATIO)
    except InvalidValue:
        middle = 0.0  # replaced by the reader below
    if isinstance(given, dict) and value is None:
        raise InvalidValue("missing", "add value, or give a plain number", key="value", given="")
    return _Reader(Range(middle, 0.5 * middle, 1.5 * middle, 0.0, 2.0))(given)


def number_reader(default: Range) -> BeforeValidator:
    """Return the mark of a number that may bring its own range, with what it is when left out."""
    return BeforeValidator(_Reader(default))


def _read(key: str) -> BeforeValidator:
    return number_reader(DEFAULTS[key])


def _default(key: str) -> CalibratedNumber:
    return DEFAULTS[key].as_number()


NUMBERS = (*DEFAULTS, "inlet_drag_factor")
"""Names of all numbers."""

_Correlation = Annotated[float, number_between(-1.0, 1.0)]
_Pairs = Mapping[str, Mapping[str, float]]
_NAMED = 4  # numbers that a sentence names; more are counted
_SINGULAR = 1e-9  # of the smallest eigenvalue: what has less cannot be drawn from


def _correlation(pairs: _Pairs, first: str, second: str) -> float:
    if first == second:
        return 1.0
    return pairs.get(first, {}).get(second, pairs.get(second, {}).get(first, 0.0))


def _hang_together(pairs: _Pairs) -> bool:
    """Whether correlations make a positive definite matrix."""
    if not pairs:
        return True
    import numpy as np

    matrix = [[_correlation(pairs, one, other) for other in NUMBERS] for one in NUMBERS]
    return bool(np.linalg.eigvalsh(np.array(matrix))[0] > _SINGULAR)


class CalibrationSpec(Spec):
    """Factors to set from your own flights; left out, they keep their defaults and ranges.

    Each is a number, or a mapping with value, low and high, and a word on where it comes from.
    """

    lift_factor: Annotated[CalibratedNumber, _read("lift_factor")] = _default("lift_factor")
    """Lift of every section; a rigid arced wing in a tunnel reads 13 % under inviscid theory."""
    extra_drag: Annotated[CalibratedNumber, _read("extra_drag")] = _default("extra_drag")
    """Drag coefficient of seams, wrinkles, knots; from memory, unverified."""
    inlet_drag_factor: Annotated[CalibratedNumber, BeforeValidator(_read_inlet_drag)] | None = None
    """Inlet drag coefficient over inlet height in chord; flush from our prototypes, open a published
    constant from memory."""
    moment_shift: Annotated[CalibratedNumber, _read("moment_shift")] = _default("moment_shift")
    """Added to every section's pitching moment, nose-up positive; it makes most of the bands' width."""
    line_drag_coefficient: Annotated[CalibratedNumber, _read("line_drag_coefficient")] = _default(
        "line_drag_coefficient"
    )
    """Of a line across the flow; a cylinder in a handbook."""
    roughness_drag: Annotated[CalibratedNumber, _read("roughness_drag")] = _default("roughness_drag")
    """Drag coefficient of cloth against a smooth skin; from memory, unverified."""
    brake_lift_factor: Annotated[CalibratedNumber, _read("brake_lift_factor")] = _default("brake_lift_factor")
    """Lift and moment that a brake adds, against a smooth bend; calibrated, see below."""
    brake_drag_factor: Annotated[CalibratedNumber, _read("brake_drag_factor")] = _default("brake_drag_factor")
    """Drag that a brake adds; calibrated, see below."""
    side_force_slope: Annotated[CalibratedNumber, _read("side_force_slope")] = _default("side_force_slope")
    """Added side force by sideslip, per rad; our prototypes."""
    yaw_damping: Annotated[CalibratedNumber, _read("yaw_damping")] = _default("yaw_damping")
    """Added couple by yaw rate; calibrated, see below."""
    roll_damping: Annotated[CalibratedNumber, _read("roll_damping")] = _default("roll_damping")
    """Added couple by roll rate; our prototypes."""
    correlations: Mapping[str, Mapping[str, _Correlation]] = {}
    """How the numbers hang together within their ranges, as `parasim learn` writes it: `{lift_factor:
    {moment_shift: -0.6}}`. A pair that is left out is not correlated."""

    @model_validator(mode="after")
    def _possible(self) -> "CalibrationSpec":
        seen: set[frozenset[str]] = set()
        for first, others in self.correlations.items():
            for second in others:
                for name in (first, second):
                    if name not in NUMBERS:
                        raise InvalidValue(
                            f"there is no number {name}",
                            f"use {', '.join(NUMBERS)}",
                            key="correlations",
                            given="",
                        )
                pair = frozenset((first, second))
                if len(pair) == 1 or pair in seen:
                    raise InvalidValue(
                        "with itself, or given twice", "name each pair once",
                        key=f"correlations.{first}.{second}", given="",
                    )  # fmt: skip
                seen.add(pair)
        if not _hang_together(self.correlations):
            raise InvalidValue(
                "no numbers can hang together so (the matrix is not positive definite)",
                "use smaller ones, or leave them out", key="correlations", given="",
            )  # fmt: skip
        return self

    def correlation(self, first: str, second: str) -> float:
        """Between two numbers; 1 with itself. [-]"""
        return _correlation(self.correlations, first, second)

    def origins(self) -> dict[str, list[str]]:
        """Names of the numbers by where they come from: the words of `from`, `typed` or `default`."""
        found: dict[str, list[str]] = {}
        for name in NUMBERS:
            number = getattr(self, name)
            given = name in self.model_fields_set and number is not None
            found.setdefault((number.source or "typed") if given else "default", []).append(name)
        return found

    def in_words(self) -> str:
        """Where the numbers come from that are not the defaults, in a sentence; nothing where all are.

        Examples
        --------
        >>> CalibrationSpec().in_words()
        ''
        >>> CalibrationSpec.model_validate({"extra_drag": 0.004, "moment_shift": 0}).in_words()
        'Calibration: typed: extra drag, moment shift; else default.'
        """
        origins = self.origins()
        others = bool(origins.pop("default", None))
        said = [
            f"{words}: {', '.join(names) if len(names) <= _NAMED else f'{len(names)} numbers'}".replace(
                "_", " "
            )
            for words, names in origins.items()
        ]
        return f"Calibration: {'; '.join(said)}{'; else default' if others else ''}." if said else ""

    def inlet_drag_factor_or_default(self, kind: Literal["flush", "open"]) -> CalibratedNumber:
        """Inlet drag coefficient over inlet height in chord; by the kind of inlet when not given. [-]"""
        return self.inlet_drag_factor or INLET_DRAG[kind].as_number()
