"""Numbers as words that every report shares."""

from math import atan2, degrees, floor, hypot, pi
from typing import TYPE_CHECKING

import numpy as np

from parasim.rotations import FloatArray
from parasim.units import COMPASS, MILE_AN_HOUR, System, show

if TYPE_CHECKING:
    from parasim.flight.uncertainty import Band

FLAT_AREA = "bottom-skin span along the arc x mean chord"
"""How the area is defined that every coefficient and loading refers to."""

MINIMUM_CAUSE = 0.1
"""Share of a band under which a cause is not worth a word. [-]"""


LONG = 600.0
"""Time from which on it is given in minutes. [s]"""


def in_mm(length: float) -> float:
    """Length for a key that ends in ``_mm``, to the micrometre.

    Examples
    --------
    >>> in_mm(0.44551184)
    445.512
    """
    return round(1e3 * length, 3)


def show_duration(time: float, system: System, *, error: float = 0.0) -> str:
    """Time of a flight, from ten minutes on in minutes besides. [s]

    Examples
    --------
    >>> show_duration(58.04, "metric"), show_duration(4050.42, "metric")
    ('58.0 s', '4050.4 s (67 min 30 s)')
    """
    minutes, seconds = divmod(round(time), 60)
    words = show(time, "time", system, error=error)
    return f"{words} ({minutes} min {seconds} s)" if time >= LONG else words


def show_long(time: float) -> str:
    """Time in whole seconds, from ten minutes on in minutes. [s]

    Examples
    --------
    >>> show_long(58.4), show_long(4050.4)
    ('58 s', '67.5 min')
    """
    return f"{time / 60:.1f} min" if time >= LONG else f"{time:.0f} s"


def show_typed_wind(speed: float, system: System) -> str:
    """Speed of a wind that somebody gave; beside knots in miles an hour, as forecasts have it. [m/s]

    Examples
    --------
    >>> show_typed_wind(6.7056, "metric"), show_typed_wind(6.7056, "imperial")
    ('6.7 m/s', '13.0 kt (15.0 mph)')
    """
    shown = show(speed, "wind_speed", system)
    return shown if system == "metric" else f"{shown} ({speed / MILE_AN_HOUR:.1f} mph)"


def show_bearing(angle: float) -> str:
    """Compass bearing, in whole degrees and as a point of the compass.

    Examples
    --------
    >>> show_bearing(1.5907), show_bearing(11 * pi / 8)
    ('091 deg (E)', '248 deg (WSW)')
    """
    return f"{_whole_bearing(angle):03d} deg ({compass_point(angle)})"


def compass_point(angle: float) -> str:
    """Point of the compass of a bearing.

    Examples
    --------
    >>> compass_point(1.5907)
    'E'
    """
    return COMPASS[round(_whole_bearing(angle) / 22.5) % 16]


def _whole_bearing(angle: float) -> int:
    return floor(round(degrees(angle), 6) + 0.5) % 360


def place_words(north: float, east: float, system: System) -> str:
    """Distance and bearing of an offset.

    Examples
    --------
    >>> place_words(0.0, 120.0, "metric")
    '120 m, bearing 090 deg (E)'
    """
    bearing = show_bearing(atan2(east, north) % (2 * pi))
    return f"{show(hypot(north, east), 'length', system, digits=0)}, bearing {bearing}"


def show_pull(fraction: float) -> str:
    """A brake as per cent of its travel."""
    return f"{100 * fraction:.0f} %"


def factor_in_words(name: str) -> str:
    """Name of a calibratable factor as it is spoken."""
    return name.replace("_", " ")


def causes_in_words(band: "Band") -> str:
    """The two main causes of a band in words."""
    main = [cause for cause in band.causes[:2] if cause[1] >= MINIMUM_CAUSE]
    return ", ".join(f"{factor_in_words(name)} {100 * share:.0f} %" for name, share in main) or "-"


def column(values: FloatArray, digits: int = 4) -> list[float]:
    """Numbers of a CSV column, rounded."""
    return [float(value) for value in np.round(values, digits)]
