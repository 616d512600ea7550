"""Drag build-up: what the section polars and the lattice do not hold, a function an item, one table.

Skin items act along the local flow on every strip of the canopy; bodies act at their own places, along the
local flow there, rotation included. To add an item: write its function, add its row.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from parasim.aerodynamics.factors import Factors
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import LineSet
from parasim.rotations import FloatArray

PERMEABILITY_PRESSURE = 125.0
"""Pressure at which cloth permeability is quoted, half an inch of water. Common practice, no source. [Pa]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinCondition:
    """What a skin item may ask of the flight.

    Attributes
    ----------
    airspeed, air_density : float
        Of the reference flight. [m/s], [kg/m³]
    permeability : float
        Air through the cloth at `PERMEABILITY_PRESSURE`. [m/s]
    """

    airspeed: float
    air_density: float
    permeability: float


def inlet_drag(canopy: Canopy, factors: Factors, condition: SkinCondition) -> float:
    """Of the open nose: proportional to inlet height over chord. Source: [Lingard1995]"""
    return factors.inlet_drag_factor * canopy.inlet.height


def roughness_drag(canopy: Canopy, factors: Factors, condition: SkinCondition) -> float:
    """Of cloth that is not smooth: a property of the canopy. From memory, unverified."""
    return factors.roughness_drag


def extra_drag(canopy: Canopy, factors: Factors, condition: SkinCondition) -> float:
    """Of wrinkles, seams, tabs and knots: calibrated, not computed."""
    return factors.extra_drag


def leakage_drag(canopy: Canopy, factors: Factors, condition: SkinCondition) -> float:
    """Momentum of the air that enters the inlet and seeps out through both skins.

    Seepage is taken as proportional to dynamic pressure, which is about the pressure across the cloth.
    """
    dynamic_pressure = 0.5 * condition.air_density * condition.airspeed**2
    seepage = condition.permeability * dynamic_pressure / PERMEABILITY_PRESSURE
    return 2 * 2 * seepage / condition.airspeed


SKIN_ITEMS: dict[str, Callable[[Canopy, Factors, SkinCondition], float]] = {
    "inlet": inlet_drag,
    "roughness": roughness_drag,
    "leakage": leakage_drag,
    "extra": extra_drag,
}


def skin_drag_by(name: str, canopy: Canopy, factors: Factors, condition: SkinCondition) -> float:
    """Skin drag by unit of one of the factors that make it. [-]"""
    more = replace(factors, **{name: getattr(factors, name) + 1.0})
    return sum(
        item(canopy, more, condition) - item(canopy, factors, condition) for item in SKIN_ITEMS.values()
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bodies:
    """Lines, payload and whatever else trails: bluff pieces with drag only.

    Attributes
    ----------
    name : tuple of str
        Drag item that each piece counts towards.
    position : ndarray, shape (n, 3)
        Body axes. [m]
    drag_area : ndarray, shape (n,)
        Drag over dynamic pressure, square to the flow. [m²]
    direction : ndarray, shape (n, 3)
        Unit vector along a slender piece, which only the flow across it drags; zero for a compact one.
    """

    name: tuple[str, ...]
    position: FloatArray
    drag_area: FloatArray
    direction: FloatArray


def body_forces(bodies: Bodies, wind: FloatArray) -> FloatArray:
    """Drag of every piece over half density.

    Parameters
    ----------
    bodies : Bodies
        n pieces.
    wind : ndarray, shape (..., n, 3)
        Air's motion past each piece. [m/s]

    Returns
    -------
    ndarray, shape (..., n, 3)
        [m⁴/s²]. A slender piece is dragged by the flow across it alone. Source: [Hoerner1965]
    """
    along = np.einsum("...nk,nk->...n", wind, bodies.direction)
    across = wind - along[..., None] * bodies.direction
    speed = np.sqrt(np.einsum("...k,...k", across, across))
    return (bodies.drag_area * speed)[..., None] * across


def line_bodies(line_set: LineSet, drag_coefficient: float) -> Bodies:
    """Lines lumped by side, half of their height and slope; position and direction are length-weighted means.

    Slope, because flow across a line drags it and flow along does not: one mean direction for steep front
    lines and slanting rear ones reads 5 % high. In published systems lines make 17 to 35 % of the drag, and
    vibration can add far more. Source: [Johari2011], second-hand.
    """
    position, direction, total = _line_lumps(line_set)
    return Bodies(
        name=("lines",) * len(total),
        position=position,
        drag_area=drag_coefficient * line_set.diameter * total,
        direction=direction,
    )


@lru_cache(maxsize=8)  # a canopy drawn again with other factors has the same lines
def _line_lumps(line_set: LineSet) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Place, shape (n, 3), way, shape (n, 3), and length, shape (n,), of each lump. [m], [-], [m]"""
    pieces = []
    for line in line_set.lines:
        middle = (line.start + line.end) / 2
        pieces += [(line.start, middle), (middle, line.end)]
    start, end = np.array([a for a, _ in pieces]), np.array([b for _, b in pieces])
    along, middle = end - start, (start + end) / 2
    length = np.linalg.norm(along, axis=-1)
    lean = along[:, 0] / length
    half_height = float(line_set.lines[0].end[2]) / 2
    # Lines in the middle, of a canopy with a rib there, belong to neither side.
    side = np.sign(np.round(middle[:, 1], 9)).astype(int)
    lump = 4 * side + 2 * (middle[:, 2] < half_height) + (lean < np.average(lean, weights=length))
    position, direction, total = [], [], []
    for index in np.unique(lump):
        member = lump == index
        weight = length[member]
        total.append(float(weight.sum()))
        position.append(weight @ middle[member] / weight.sum())
        mean = along[member].sum(axis=0)
        direction.append(mean / np.linalg.norm(mean))
    return np.array(position), np.array(direction), np.array(total)


def payload_body(position: FloatArray, drag_area: float) -> Bodies:
    """The payload, dragged alike from every side."""
    return Bodies(
        name=("payload",),
        position=position[None],
        drag_area=np.array([drag_area]),
        direction=np.zeros((1, 3)),
    )


def join(*groups: Bodies) -> Bodies:
    """All pieces of several groups."""
    return Bodies(
        name=tuple(name for group in groups for name in group.name),
        position=np.vstack([group.position for group in groups]),
        drag_area=np.concatenate([group.drag_area for group in groups]),
        direction=np.vstack([group.direction for group in groups]),
    )
