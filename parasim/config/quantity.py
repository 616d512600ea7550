"""Read a quantity: an SI number, or text with a unit, to an SI float.

The units library is imported only when a unit is met that is not a common one; its registry is built once.
"""

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from math import isfinite
from typing import TYPE_CHECKING, Any

from parasim.units import DEGREE, FOOT, GRAVITY, INCH, KNOT, OUNCE, POUND, YARD

if TYPE_CHECKING:
    from pint import UnitRegistry

NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_UNIT = re.compile(
    r"%|[A-Za-zµ°_]+(?:\^[1-4])?(?: ?[/*·] ?[A-Za-zµ_]+(?:\^[1-4])?| [A-Za-zµ_]+(?:\^[1-4])?){0,4}"
)
_LONGEST = 60
_ANGLE_UNITS = {"radian", "degree", "arcminute", "arcsecond", "turn", "grade", "milliradian"}


class InvalidValue(ValueError):
    """A value that cannot be used, given in parts so that the loader can place it in the file.

    Parameters
    ----------
    problem : str
        What is wrong with the value.
    hint : str
        What would be right.
    given : str, optional
        What was found, if the loader cannot see it for itself.
    key : str, optional
        Key below the one being read, if the mistake sits there.
    """

    def __init__(self, problem: str, hint: str = "", *, given: str | None = None, key: str = "") -> None:
        self.problem, self.hint, self.given, self.key = problem, hint, given, key
        super().__init__("; ".join(part for part in (problem, hint) if part))


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of quantity.

    Parameters
    ----------
    name : str
        With its article: ``a length``.
    si : str
        The SI unit of a plain number.
    dimension : tuple of int
        Powers of length, mass, time and temperature.
    examples : tuple of str
        How a person may write it.
    needs_unit : bool
        Whether a plain number is refused as ambiguous.
    """

    name: str
    si: str
    dimension: tuple[int, int, int, int]
    examples: tuple[str, ...]
    needs_unit: bool = False


RATIO = Kind(name="a ratio", si="", dimension=(0, 0, 0, 0), examples=("15 %", "0.15"))
PROBABILITY = Kind(name="a probability", si="", dimension=(0, 0, 0, 0), examples=("1 %",), needs_unit=True)
ANGLE = Kind(
    name="an angle", si="rad", dimension=(0, 0, 0, 0), examples=("6 deg", "0.1 rad"), needs_unit=True
)
ANGULAR_RATE = Kind(
    name="a turn rate", si="rad/s", dimension=(0, 0, -1, 0), examples=("28 deg/s",), needs_unit=True
)
LENGTH = Kind(name="a length", si="m", dimension=(1, 0, 0, 0), examples=("1.1 m", "48 in", "3 ft 8 in"))
AREA = Kind(name="an area", si="m^2", dimension=(2, 0, 0, 0), examples=("0.017 m^2", "6 ft^2"))
MASS = Kind(name="a mass", si="kg", dimension=(0, 1, 0, 0), examples=("1.2 kg", "2.5 lb"))
TIME = Kind(name="a time", si="s", dimension=(0, 0, 1, 0), examples=("2 s", "0.5 min"))
SPEED = Kind(name="a speed", si="m/s", dimension=(1, 0, -1, 0), examples=("3 m/s", "6 kt"))
FORCE = Kind(name="a force", si="N", dimension=(1, 1, -2, 0), examples=("5 N", "1 lbf", "0.5 kgf"))
TORQUE = Kind(
    name="a torque",
    si="N m",
    dimension=(2, 1, -2, 0),
    examples=("0.5 N m", "5 kg cm", "70 oz in"),
)
ENERGY = Kind(name="an energy", si="J", dimension=(2, 1, -2, 0), examples=("20 J", "15 ft lbf"))
PERMEABILITY = Kind(name="a permeability", si="m/s", dimension=(1, 0, -1, 0), examples=("3 cfm", "2.5 mm/s"))
AREAL_WEIGHT = Kind(
    name="an areal weight", si="kg/m^2", dimension=(-2, 1, 0, 0), examples=("40 g/m^2", "1.2 oz/yd^2")
)
LINEAR_DENSITY = Kind(
    name="a linear density", si="kg/m", dimension=(-1, 1, 0, 0), examples=("0.5 g/m", "5000 dtex")
)
DENSITY = Kind(name="a density", si="kg/m^3", dimension=(-3, 1, 0, 0), examples=("225 kg/m^3", "14 lb/ft^3"))
PRESSURE = Kind(name="a pressure", si="Pa", dimension=(-1, 1, -2, 0), examples=("1013.25 hPa", "29.92 inHg"))
TEMPERATURE = Kind(name="a temperature", si="K", dimension=(0, 0, 0, 1), examples=("285 K", "12 degC"))
TEMPERATURE_STEP = Kind(
    name="a temperature difference", si="K", dimension=(0, 0, 0, 1), examples=("5 K", "+9 delta_degF")
)
_OTHER_NAMES = {
    (3, 0, -1, 0): "a volume flow",
    (3, 0, 0, 0): "a volume",
    (1, 1, -2, 0): "a force",
    (1, 0, -2, 0): "an acceleration",
    (2, 1, -2, 0): "an energy or moment",
    (-3, 1, 0, 0): "a density",
    (0, 0, -1, 0): "a rate",
}
_KINDS = (LENGTH, AREA, MASS, TIME, SPEED, AREAL_WEIGHT, LINEAR_DENSITY, PRESSURE, TEMPERATURE)
_NAMES = {kind.dimension: kind.name for kind in _KINDS} | _OTHER_NAMES


def read_quantity(given: object, kind: Kind) -> float:
    """Read a number or text with a unit as an SI float.

    Parameters
    ----------
    given : object
        A number, taken as SI, or text such as ``48 in``.
    kind : Kind
        What it has to be.

    Returns
    -------
    float
        In the SI unit of the kind.

    Raises
    ------
    InvalidValue
        When it is no finite number, or is another kind of quantity.

    Examples
    --------
    >>> round(read_quantity("48 in", LENGTH), 4)
    1.2192
    >>> read_quantity("15 %", RATIO)
    0.15
    >>> round(read_quantity("19 5/8 in", LENGTH), 5), round(read_quantity('29-1/2"', LENGTH), 4)
    (0.49848, 0.7493)
    >>> round(read_quantity("2 lb 7 oz", MASS), 4)
    1.1056
    >>> round(read_quantity("10 kg cm", TORQUE), 4), round(read_quantity("3 cfm", PERMEABILITY), 5)
    (0.9807, 0.01524)
    """
    if isinstance(given, str):
        return _finite(_from_text(given.strip(), kind), kind)
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise InvalidValue(f"not {kind.name}", _use(kind))
    return _finite(_plain(float(given) if abs(given) < 1e300 else float("inf"), kind), kind)


def unit_examples(kind: Kind) -> str:
    """Return how a person may write such a quantity: ``"1.1 m" or "48 in"``."""
    return " or ".join(f'"{example}"' for example in kind.examples)


def _use(kind: Kind) -> str:
    return f"use {kind.name} such as {unit_examples(kind)}"


def _finite(value: float, kind: Kind) -> float:
    if not isfinite(value):
        raise InvalidValue("not a finite number", _use(kind))
    return value


def _plain(value: float, kind: Kind) -> float:
    if kind.needs_unit and value != 0.0 and isfinite(value):
        doubt = "could be a ratio or per cent" if kind is PROBABILITY else "could be degrees or radians"
        raise InvalidValue(
            f"{kind.name} without its unit {doubt}", f"write the unit, such as {unit_examples(kind)}"
        )
    return value


_FRACTION = re.compile(r"(?:(\d+)[ -]+)?(\d{1,3})/(\d{1,3})(?=\D|$)")
"""Whole number, if any, and a common fraction: 19 5/8, 3/4."""

_COMPOUND = re.compile(
    r"(?P<large>\d+(?:\.\d+)?) ?(?P<unit>ft|feet|foot|lb|lbs|\')[ ,]*"
    r"(?P<small>\d.*?) ?(?P<less>in|inch|inches|oz|\")"
)
"""Feet and inches, pounds and ounces: 3 ft 8 in, 2 lb 7 oz."""


def _from_text(text: str, kind: Kind) -> float:
    if len(text) <= _LONGEST and kind in (LENGTH, MASS) and (parts := _COMPOUND.fullmatch(text)):
        large = _from_text(f"{parts['large']} {'lb' if parts['unit'] in ('lb', 'lbs') else 'ft'}", kind)
        return large + _from_text(f"{parts['small']} {'oz' if parts['less'] == 'oz' else 'in'}", kind)
    number = NUMBER.match(text)
    if len(text) > _LONGEST or number is None:
        raise InvalidValue(f"not {kind.name}", _use(kind))
    value, unit = float(number.group()), text[number.end() :].strip()
    if fraction := _FRACTION.match(text):
        whole, above, below = (float(part or 0) for part in fraction.groups())
        if not below:
            raise InvalidValue("a fraction over zero", _use(kind))
        value, unit = whole + above / below, text[fraction.end() :].strip()
    if not unit:
        return _plain(value, kind)
    unit = _as_usual(unit, kind)
    if unit == kind.si:
        return value
    if unit == "%":
        if kind not in (RATIO, PROBABILITY):
            raise InvalidValue("a ratio", _use(kind))
        return value / 100.0
    if not _UNIT.fullmatch(unit):
        raise InvalidValue(f'"{unit}" is not read as a unit', _use(kind))
    dimension, is_angle, scale, shift = _unit(unit, kind)
    if dimension != kind.dimension or is_angle != (kind is ANGLE):
        raise InvalidValue("an angle" if is_angle else _name(dimension), _use(kind))
    if shift and kind is TEMPERATURE_STEP:
        raise InvalidValue("a temperature, where a difference is wanted", _use(kind))
    return value * scale + (shift if kind is TEMPERATURE else 0.0)


_USUAL = {
    LENGTH: {'"': "in", "'": "ft"},
    TORQUE: {
        "Nm": "N m", "Ncm": "N cm", "N·m": "N m", "kg cm": "kgf cm", "kg·cm": "kgf cm", "kgcm": "kgf cm",
        "oz in": "ozf in", "oz·in": "ozf in", "ozin": "ozf in", "oz-in": "ozf in", "lb in": "lbf in",
        "lb ft": "lbf ft",
    },
    FORCE: {"kg": "kgf", "lb": "lbf", "lbs": "lbf", "oz": "ozf"},
    PERMEABILITY: {"cfm": "ft^3/min/ft^2", "CFM": "ft^3/min/ft^2", "cfm/ft^2": "ft^3/min/ft^2"},
}  # fmt: skip
"""What the trade writes where it means a force or a flow through an area: servos are sold by "10 kg cm" and
"139 oz in", lines by "50 lb", cloth by "3 cfm". Common practice, no source."""


def _as_usual(unit: str, kind: Kind) -> str:
    """A unit as we read it; squares may be written as printed, or as m2."""
    unit = re.sub(r"(?<=[a-z])([23])\b", r"^\1", unit.replace("²", "^2").replace("³", "^3"))
    return _USUAL.get(kind, {}).get(unit, unit)


def _name(dimension: tuple[int, ...]) -> str:
    if not any(dimension):
        return "a ratio"
    padded = (*dimension, 0, 0, 0, 0)[:4]
    return _NAMES.get((padded[0], padded[1], padded[2], padded[3]), "another kind of quantity")


_SI_UNITS = {kind.si: kind.dimension for kind in (*_KINDS, ANGLE, ANGULAR_RATE)}

COMMON_UNITS: dict[str, tuple[tuple[int, int, int, int], float]] = {
    "mm": (LENGTH.dimension, 1e-3),
    "cm": (LENGTH.dimension, 1e-2),
    "in": (LENGTH.dimension, INCH),
    "ft": (LENGTH.dimension, FOOT),
    "g": (MASS.dimension, 1e-3),
    "lb": (MASS.dimension, POUND),
    "oz": (MASS.dimension, OUNCE),
    "min": (TIME.dimension, 60.0),
    "mm/s": (SPEED.dimension, 1e-3),
    "ft/s": (SPEED.dimension, FOOT),
    "kt": (SPEED.dimension, KNOT),
    "ft^3/min/ft^2": (PERMEABILITY.dimension, FOOT / 60.0),
    "g/m^2": (AREAL_WEIGHT.dimension, 1e-3),
    "oz/yd^2": (AREAL_WEIGHT.dimension, OUNCE / YARD**2),
    "g/m": (LINEAR_DENSITY.dimension, 1e-3),
    "hPa": (PRESSURE.dimension, 100.0),
    "kgf cm": (TORQUE.dimension, GRAVITY / 100.0),
    "ozf in": (TORQUE.dimension, OUNCE * GRAVITY * INCH),
    "deg": (ANGLE.dimension, DEGREE),
    "deg/s": (ANGULAR_RATE.dimension, DEGREE),
}
"""Dimension and size of units met in most files. They stand here too because the units library takes 0.3 s to
start; a test holds them to it."""


@cache
def _registry() -> "UnitRegistry[Any]":
    from pint import UnitRegistry

    registry: UnitRegistry[Any] = UnitRegistry()
    registry.define("cubic_foot_per_minute = foot ** 3 / minute = cfm = CFM")
    return registry


@lru_cache(maxsize=256)
def _unit(unit: str, kind: Kind) -> tuple[tuple[int, ...], bool, float, float]:
    """Dimension, whether it is an angle, and factor and shift to SI."""
    if unit in COMMON_UNITS:
        dimension_of_unit, size = COMMON_UNITS[unit]
        return dimension_of_unit, unit == "deg", size, 0.0
    if unit in _SI_UNITS:
        return _SI_UNITS[unit], unit == "rad", 1.0, 0.0
    registry = _registry()
    try:
        parsed = registry.parse_units(unit.replace("·", "*"))
        zero, one = (registry.Quantity(x, parsed).to_base_units().magnitude for x in (0.0, 1.0))
        powers = {name: int(float(str(power))) for name, power in parsed.dimensionality.items()}
    except Exception as error:  # the library raises many kinds on text it cannot read
        raise InvalidValue(f'"{unit}" is not a unit known here', _use(kind)) from error
    known = ("[length]", "[mass]", "[time]", "[temperature]")
    dimension = [powers.pop(name, 0) for name in known]
    if powers:
        dimension.append(1)
    is_angle = str(parsed) in _ANGLE_UNITS
    if not any(dimension) and not is_angle and str(parsed) != "percent":
        raise InvalidValue(f'"{unit}" is not a unit that fits', _use(kind))
    return tuple(dimension), is_angle, float(one - zero), float(zero)
