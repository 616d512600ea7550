"""Conversion factors, and quantities shown in metric or imperial units.

Everything inside parasim is SI and radians; only what is printed for people passes through here. JSON keys
and CSV heads stay metric, with the unit in their name.

Factors to the foot, pound, pound-force, knot and mile are exact by definition. Source: [SP811] appendix B.
"""

from dataclasses import dataclass
from math import ceil, degrees, floor, log10, pi
from typing import Literal

System = Literal["metric", "imperial"]

FOOT = 0.3048
"""[m]"""
INCH = 0.0254
"""[m]"""
YARD = 0.9144
"""[m]"""
POUND = 0.45359237
"""[kg]"""
OUNCE = POUND / 16.0
"""[kg]"""
GRAVITY = 9.80665
"""Standard acceleration of free fall. [m/s²] Source: [ISO2533]"""
POUND_FORCE = POUND * GRAVITY
"""[N]"""
KNOT = 1852.0 / 3600.0
"""[m/s]"""
INCH_OF_MERCURY = 3386.389
"""[Pa] Conventional inch of mercury, rounded to the printed digits of its source."""
MILE_AN_HOUR = 0.44704
"""[m/s]"""
DEGREE = pi / 180.0
"""[rad]"""
COMPASS = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip
"""Points of the compass, clockwise from north."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit a quantity is shown in.

    Parameters
    ----------
    label : str
        As printed; empty for a plain number.
    size : float
        One such unit. [SI]
    digits : int
        Decimals printed.
    sixteenths : bool
        Whether it is printed in sixteenths, as a tape measure has them, where no decimals are asked for.
    """

    label: str
    size: float
    digits: int
    sixteenths: bool = False


def _same(label: str, size: float, digits: int) -> dict[System, Unit]:
    return {"metric": Unit(label, size, digits), "imperial": Unit(label, size, digits)}


def _pair(
    metric: tuple[str, float, int], imperial: tuple[str, float, int] | tuple[str, float, int, bool]
) -> dict[System, Unit]:
    return {"metric": Unit(*metric), "imperial": Unit(*imperial)}


UNITS: dict[str, dict[System, Unit]] = {
    "length": _pair(("m", 1.0, 2), ("ft", FOOT, 2)),
    "small_length": _pair(("mm", 1e-3, 0), ("in", INCH, 2)),
    "dimension": _pair(("m", 1.0, 2), ("in", INCH, 2, True)),
    "tape_length": _pair(("mm", 1e-3, 0), ("in", INCH, 2, True)),
    "run": _pair(("m", 1.0, 2), ("yd", YARD, 2)),
    "area": _pair(("m²", 1.0, 3), ("ft²", FOOT**2, 2)),
    "small_area": _pair(("cm²", 1e-4, 0), ("in²", INCH**2, 1)),
    "volume": _pair(("L", 1e-3, 1), ("ft³", FOOT**3, 2)),
    "pack_volume": _pair(("L", 1e-3, 2), ("in³", INCH**3, 1)),
    "pack_density": _pair(("kg/m³", 1.0, 0), ("lb/ft³", POUND / FOOT**3, 1)),
    "mass": _pair(("kg", 1.0, 3), ("lb", POUND, 2)),
    "small_mass": _pair(("g", 1e-3, 1), ("oz", OUNCE, 2)),
    "growth": _same("1/s", 1.0, 2),
    "inertia": _pair(("kg m²", 1.0, 4), ("lb ft²", POUND * FOOT**2, 3)),
    "speed": _pair(("m/s", 1.0, 2), ("ft/s", FOOT, 1)),
    "wind_speed": _pair(("m/s", 1.0, 1), ("kt", KNOT, 1)),
    "force": _pair(("N", 1.0, 2), ("lbf", POUND_FORCE, 2)),
    "small_force": _pair(("N", 1.0, 2), ("lbf", POUND_FORCE, 3)),
    "moment": _pair(("N m", 1.0, 3), ("oz in", POUND_FORCE / 16 * INCH, 1)),
    "energy": _pair(("J", 1.0, 1), ("ft lbf", FOOT * POUND_FORCE, 1)),
    "wing_loading": _pair(("N/m²", 1.0, 1), ("lbf/ft²", POUND_FORCE / FOOT**2, 3)),
    "areal_weight": _pair(("g/m²", 1e-3, 1), ("oz/yd²", OUNCE / YARD**2, 2)),
    "linear_density": _pair(("g/m", 1e-3, 2), ("oz/yd", OUNCE / YARD, 4)),
    "permeability": _pair(("mm/s", 1e-3, 1), ("cfm/ft²", FOOT / 60.0, 2)),
    "density": _pair(("kg/m³", 1.0, 4), ("lb/ft³", POUND / FOOT**3, 5)),
    "pressure": _pair(("hPa", 100.0, 1), ("inHg", INCH_OF_MERCURY, 2)),
    "temperature_difference": _pair(("K", 1.0, 1), ("°F", 5.0 / 9.0, 1)),
    "time": _same("s", 1.0, 1),
    "angle": _same("deg", DEGREE, 1),
    "angular_rate": _same("deg/s", DEGREE, 1),
    "percent": _same("%", 0.01, 1),
    "ratio": _same("", 1.0, 2),
    "coefficient": _same("", 1.0, 4),
}
"""Kind of quantity to the unit it is shown in, for each system.

Tape lengths and dimensions are laid off with a tape measure; a run is bought by length.
"""


def unit(kind: str, system: System = "metric") -> Unit:
    """Unit that a kind of quantity is shown in.

    Raises
    ------
    KeyError
        When the kind is not in `UNITS`.
    """
    return UNITS[kind][system]


def label(kind: str, system: System = "metric") -> str:
    """Label of the unit.

    Examples
    --------
    >>> label("area", "imperial")
    'ft²'
    """
    return unit(kind, system).label


def convert(value: float, kind: str, system: System = "metric") -> float:
    """Return an SI value in the unit it is shown in.

    Examples
    --------
    >>> round(convert(0.55, "area", "imperial"), 3)
    5.92
    """
    return value / unit(kind, system).size


def show(
    value: float | None,
    kind: str,
    system: System = "metric",
    *,
    digits: int | None = None,
    error: float = 0.0,
) -> str:
    """Return an SI value as text with its unit; a dash when there is none.

    Parameters
    ----------
    value : float or None
        In SI.
    kind : str
        A key of `UNITS`.
    system : {"metric", "imperial"}
        Which units.
    digits : int, optional
        Decimals, in place of the usual ones of that unit.
    error : float
        Of the value, in SI: digits that it makes worthless are not shown.

    Returns
    -------
    str

    Examples
    --------
    >>> show(171.43, "length", error=2.0), show(171.43, "length", error=0.1), show(171.43, "length")
    ('170 m', '171 m', '171.43 m')
    >>> show(1.2, "mass", "imperial")
    '2.65 lb'
    >>> show(0.10472, "angle")
    '6.0 deg'
    >>> show(0.4636, "tape_length", "imperial")
    '18 1/4 in'
    """
    if value is None:
        return "-"
    shown = unit(kind, system)
    if shown.sixteenths and digits is None:
        return f"{in_sixteenths(value)} {shown.label}"
    decimals = shown.digits if digits is None else digits
    if error > 0.0:
        decimals = min(decimals, floor(-log10(2 * error / shown.size)))
    number = f"{round(value / shown.size, decimals):.{max(decimals, 0)}f}"
    if float(number) == 0.0:
        number = number.lstrip("-")
    return f"{number} {shown.label}".rstrip()


def show_range(
    low: float, high: float, kind: str, system: System = "metric", *, digits: int | None = None
) -> str:
    """Two SI values and their unit.

    Examples
    --------
    >>> show_range(9.2, 12.95, "speed"), show_range(0.0254, 0.0381, "tape_length", "imperial")
    ('9.20 to 12.95 m/s', '1 to 1 1/2 in')
    """
    first, last = (show(end, kind, system, digits=digits) for end in (low, high))
    return f"{first.removesuffix(label(kind, system)).rstrip()} to {last}"


def in_degrees(angle: float) -> float:
    """Angle for a key that ends in ``_deg``, without the rounding of the conversion.

    Examples
    --------
    >>> in_degrees(0.10471975511965977)
    6.0
    """
    return round(degrees(angle), 6)


def in_sixteenths(length: float, *, up: bool = False) -> str:
    """Length in inches and sixteenths, the fraction shortened. [m]

    Examples
    --------
    >>> in_sixteenths(0.4636), in_sixteenths(0.0254 * 12), in_sixteenths(0.0254 * 0.99, up=True)
    ('18 1/4', '12', '1')
    """
    parts = length / (INCH / 16)
    n = ceil(parts - 1e-6) if up else round(parts)
    whole, rest = divmod(abs(n), 16)
    sign = "-" if n < 0 else ""
    if not rest:
        return f"{sign}{whole}"
    below = 16
    while rest % 2 == 0:
        rest, below = rest // 2, below // 2
    return f"{sign}{whole} {rest}/{below}" if whole else f"{sign}{rest}/{below}"
