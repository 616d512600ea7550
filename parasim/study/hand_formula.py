"""A first canopy for a payload, by the hand formula of the steady glide."""

from dataclasses import dataclass
from math import atan, sin, sqrt

from parasim.config.design import FREE_PLAY
from parasim.environment.atmosphere import GRAVITY
from parasim.errors import OptionError
from parasim.units import INCH, System, show

Box = tuple[float, float, float]

AIR_DENSITY = 1.225
"""At sea level. [kg/m³] Source: [ISO2533]"""
RESULTANT_COEFFICIENT = 0.5
"""Resultant of lift and drag on flat area in a steady glide. [-] Common practice, no source."""
ASPECT_RATIO = 2.2
"""Slender enough to glide, broad enough to open. [-] Common practice, no source."""
CANOPY_MASS_PER_AREA = 0.12
"""Two skins, ribs and seams of cloth of 40 g/m², on flat area. [kg/m²] Common practice, no source."""
ARC_RADIUS_PER_SPAN = 0.68
"""[-] Common practice, no source."""
STEPS: dict[System, tuple[float, float]] = {"metric": (5e-3, 0.5e-3), "imperial": (INCH / 4, INCH / 32)}
"""Lengths, and the free play, are rounded to these. [m]"""
AREA_RANGE = (0.08, 5.0)
"""Canopies that a starter file is written for. [m²]"""

_REFERENCE_MASS = 1.2  # payload that the box, line diameter and riser below are sized from [kg]
_REFERENCE_BOX = (0.22, 0.12, 0.12)
_REFERENCE_LINE = (0.8e-3, 0.5e-3)  # diameter [m] and linear density [kg/m]


@dataclass(frozen=True, slots=True, kw_only=True)
class StarterSize:
    """Size of a first canopy.

    Parameters
    ----------
    payload_mass, canopy_mass : float
        [kg]
    sink, glide_ratio : float
        Of the steady glide. [m/s], [-]
    area : float
        Flat area wanted. [m²]
    span, chord : float
        Rounded to steps of the units asked for. [m]
    cells : int
    line_length : float
        Also the arc radius. [m]
    line_diameter : float
        [m]
    line_density : float
        [kg/m]
    box : tuple of float
        Of the payload: fore-aft, across, upright. [m]
    brake_travel, free_play : float
        [m]
    """

    payload_mass: float
    canopy_mass: float
    sink: float
    glide_ratio: float
    area: float
    span: float
    chord: float
    cells: int
    line_length: float
    line_diameter: float
    line_density: float
    box: tuple[float, float, float]
    brake_travel: float
    free_play: float

    @property
    def glide_angle(self) -> float:
        """Downward. [rad]"""
        return atan(1.0 / self.glide_ratio)

    @property
    def airspeed(self) -> float:
        """Along the path. [m/s]"""
        return self.sink / sin(self.glide_angle)

    @property
    def weight(self) -> float:
        """Of payload and canopy. [N]"""
        return (self.payload_mass + self.canopy_mass) * GRAVITY

    @property
    def resultant_coefficient(self) -> float:
        """Resultant of lift and drag on flat area: the weight over dynamic pressure and area. [-]"""
        return self.weight / (0.5 * AIR_DENSITY * self.airspeed**2 * self.span * self.chord)


def canopy_area(*, mass: float, sink: float, glide_ratio: float) -> float:
    """Flat area that carries a mass down at a given sink.

    Parameters
    ----------
    mass : float
        All of it, canopy included. [kg]
    sink : float
        [m/s]
    glide_ratio : float
        [-]

    Returns
    -------
    float
        [m²]

    Notes
    -----
    Steady glide in still air at sea level: w = V sin γ with tan γ = 1/(L/D), and W = ½ ρ V² S C_R.

    Examples
    --------
    >>> round(canopy_area(mass=1.1, sink=3.0, glide_ratio=2.5), 2)
    0.54
    """
    V = sink / sin(atan(1.0 / glide_ratio))
    return mass * GRAVITY / (0.5 * AIR_DENSITY * V**2 * RESULTANT_COEFFICIENT)


def size_canopy(
    *, payload_mass: float, sink: float, glide_ratio: float, box: Box | None = None, system: System = "metric"
) -> StarterSize:
    """Size a first canopy: area by the hand formula, all else by proportion.

    Parameters
    ----------
    payload_mass : float
        [kg]
    sink : float
        [m/s]
    glide_ratio : float
        [-]
    box : tuple of float, optional
        Of the payload; else a guess from its mass. [m]
    system : {"metric", "imperial"}
        Lengths are rounded to steps of these units.

    Raises
    ------
    OptionError
        When the canopy would be far too small or too large to sew by this program.
    """
    per_kg = canopy_area(mass=1.0, sink=sink, glide_ratio=glide_ratio)
    bearing = 1.0 - per_kg * CANOPY_MASS_PER_AREA  # the canopy has to carry itself as well
    area = payload_mass * per_kg / bearing if bearing > 0.0 else float("inf")
    return proportioned(
        payload_mass=payload_mass, canopy_mass=area * CANOPY_MASS_PER_AREA, sink=sink,
        glide_ratio=glide_ratio, area=area, box=box, system=system,
    )  # fmt: skip


def proportioned(
    *,
    payload_mass: float,
    canopy_mass: float,
    sink: float,
    glide_ratio: float,
    area: float,
    box: Box | None,
    system: System,
) -> StarterSize:
    """A first canopy of a flat area; parameters as in `StarterSize` and `size_canopy`.

    Raises
    ------
    OptionError
        As in `size_canopy`.
    """
    low, high = AREA_RANGE
    if not low <= area <= high:
        wanted, least, most = (show(each, "area", system, digits=2) for each in (area, low, high))
        raise OptionError(
            f"--sink: {show(sink, 'speed', system)} under {show(payload_mass, 'mass', system)} makes a "
            f"canopy of {wanted}, and files are written for {least} to {most}: ask for "
            f"{'less' if area < low else 'more'} sink"
        )
    step, small_step = STEPS[system]
    chord = rounded(sqrt(area / ASPECT_RATIO), step)
    span = rounded(area / chord, step)
    diameter, density = _line(payload_mass)
    return StarterSize(
        payload_mass=payload_mass,
        canopy_mass=canopy_mass,
        sink=sink,
        glide_ratio=glide_ratio,
        area=area,
        span=span,
        chord=chord,
        cells=5 if area < 0.3 else 7 if area < 0.85 else 9,
        line_length=rounded(ARC_RADIUS_PER_SPAN * span, step),
        line_diameter=diameter,
        line_density=density,
        box=box or guessed_box(payload_mass, step),
        brake_travel=rounded(0.25 * chord, step),
        free_play=rounded(FREE_PLAY * chord, small_step),
    )


def guessed_box(mass: float, step: float) -> Box:
    """Box of a payload from its mass [kg], to a step [m]."""
    scale = (mass / _REFERENCE_MASS) ** (1.0 / 3.0)
    x, y, z = (rounded(edge * scale, step) for edge in _REFERENCE_BOX)
    return x, y, z


def _line(mass: float) -> tuple[float, float]:
    """Diameter with its breaking load in proportion to the payload, and the mass that goes with it."""
    d0, mu0 = _REFERENCE_LINE
    d = min(max(rounded(d0 * sqrt(mass / _REFERENCE_MASS), 1e-4), 0.4e-3), 1.5e-3)
    return d, mu0 * (d / d0) ** 2


def rounded(value: float, step: float) -> float:
    """Return the nearest multiple of a step, at least one step."""
    return round(max(1.0, round(value / step)) * step, 9)
