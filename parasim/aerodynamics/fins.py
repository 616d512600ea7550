"""Small surfaces beside the lattice: stabilisers, and the closed ribs at the tips.

Each is a flat plate of low aspect ratio: it lifts sideways by Helmbold's slope while the flow is attached,
and resists cross-flow as a plate. They damp roll and yaw and hold the nose into the wind.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from parasim.aerodynamics.strips import Flow
from parasim.geometry.airfoil import section_area
from parasim.geometry.canopy import Canopy
from parasim.rotations import FloatArray

CROSS_FLOW_DRAG = 1.2
"""Normal-force coefficient of a plate square to the flow, aspect ratio about 1 to 2. Source: [Hoerner1965]"""

SKIN_FRICTION = 0.012
"""Both sides of a plate, turbulent at a Reynolds number of 1e5 to 5e5. Source: [Hoerner1965]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fins:
    """Flat plates that move with the canopy.

    Attributes
    ----------
    name : tuple of str
        Drag item that each counts towards.
    center, normal : ndarray, shape (n_fins, 3)
        Aerodynamic centre [m], and unit normal.
    area, aspect_ratio : ndarray, shape (n_fins,)
        One side [m²], and height squared over area [-].
    wetted_sides : ndarray, shape (n_fins,)
        How many sides the air sees: a tip rib hides one.
    """

    name: tuple[str, ...]
    center: FloatArray
    normal: FloatArray
    area: FloatArray
    aspect_ratio: FloatArray
    wetted_sides: FloatArray


def helmbold_slope(aspect_ratio: FloatArray) -> FloatArray:
    """Lift slope of a plate of any aspect ratio. Source: [Helmbold1942]

    Parameters
    ----------
    aspect_ratio : ndarray
        [-]

    Returns
    -------
    ndarray, same shape
        [1/rad]
    """
    half = np.asarray(aspect_ratio) / 2
    return 2 * pi * half / (1 + np.sqrt(1 + half**2))


def fin_forces(fins: Fins, flow: Flow) -> FloatArray:
    """Force on every fin over half density times airspeed squared, shape (n_flows, n_fins, 3). [m²]"""
    wind = flow.wind_at(fins.center)
    speed = np.maximum(np.linalg.norm(wind, axis=-1), 1e-9)
    sine = np.einsum("fnk,nk->fn", wind, fins.normal) / speed
    cosine = np.sqrt(np.maximum(1 - sine**2, 0))
    plate = helmbold_slope(fins.aspect_ratio) * sine * cosine + CROSS_FLOW_DRAG * sine * np.abs(sine)
    friction = SKIN_FRICTION * fins.wetted_sides / 2
    across = (plate * speed**2 * fins.area)[..., None] * fins.normal
    return across + (friction * fins.area * speed)[..., None] * wind


def build_fins(canopy: Canopy) -> Fins:
    """Both tip ribs, and both stabilisers where the canopy has them."""
    tip = np.array([-canopy.half_arc, canopy.half_arc])
    normal, down = canopy.spanwise(tip), -canopy.outward(tip)
    chord = float(canopy.chord_at(tip)[0])
    thickness = canopy.thickness_ratio
    rib_area = section_area(canopy.outline) * chord**2
    parts = [
        (
            "tip ribs",
            canopy.point(tip, np.array(0.25), np.array(thickness / 2)),
            rib_area,
            thickness * chord,
            1,
        )
    ]
    if canopy.stabiliser is not None:
        height, length = canopy.stabiliser.height, canopy.stabiliser.chord
        leading_edge = 0.1 * chord
        at = (
            canopy.point(tip, np.array((leading_edge + length / 4) / chord), np.array(0.0))
            + height / 2 * down
        )
        parts.append(("stabilisers", at, height * length, height, 2))
    return Fins(
        name=tuple(name for name, *_ in parts for _ in tip),
        center=np.vstack([center for _, center, *_ in parts]),
        normal=np.vstack([normal for _ in parts]),
        area=np.repeat([area for _, _, area, _, _ in parts], 2),
        aspect_ratio=np.repeat([height**2 / area for _, _, area, height, _ in parts], 2),
        wetted_sides=np.repeat([float(sides) for *_, sides in parts], 2),
    )
