"""What the vehicle is made of: cloth, lines, payload; and the air inside."""

from dataclasses import dataclass

import numpy as np

from parasim.config.design import Design
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import LineSet
from parasim.geometry.surface import lower_skin, section_slices, upper_skin
from parasim.mass.properties import MassProperties, of_box, of_points, total
from parasim.rotations import FloatArray

SEAM_ALLOWANCE = 1.10
"""Cloth sewn in over cloth seen: seams, hems, tabs. Common practice, no source. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MassItem:
    """One line of the mass budget."""

    name: str
    properties: MassProperties


def mass_items(design: Design, canopy: Canopy, line_set: LineSet) -> tuple[MassItem, ...]:
    """Mass budget, part by part; the payload as a solid box below the riser."""
    areal_weight = design.canopy.cloth.areal_weight * SEAM_ALLOWANCE
    upper, lower = upper_skin(canopy), lower_skin(canopy)
    items = {
        "upper skin": of_points(areal_weight * upper.area, upper.center),
        "lower skin": of_points(areal_weight * lower.area, lower.center),
        "ribs": _ribs(canopy, areal_weight),
        "lines": _lines(line_set),
    }
    if canopy.stabiliser is not None:
        items["stabilisers"] = _stabilisers(canopy, areal_weight)
    items["payload"] = of_box(design.payload.mass, payload_center(design), design.payload.size)
    return tuple(MassItem(name=name, properties=properties) for name, properties in items.items())


def payload_center(design: Design) -> FloatArray:
    """Middle of the payload, straight below the confluence: shape (3,), body axes. [m]"""
    return np.array([0.0, 0.0, design.lines.riser.length + design.payload.size[2] / 2])


def enclosed_air(canopy: Canopy) -> MassProperties:
    """The air inside the canopy per unit density: it moves with the canopy but weighs nothing in air."""
    edge = np.linspace(-canopy.half_arc, canopy.half_arc, 2 * canopy.n_half_cells + 1)
    slices = section_slices(canopy, (edge[:-1] + edge[1:]) / 2)
    radius = canopy.arc_radius + _height_over_chord_line(canopy, slices.center)
    volume = slices.area * radius * (edge[1] - edge[0])
    return of_points(volume.ravel(), slices.center.reshape(-1, 3))


def _height_over_chord_line(canopy: Canopy, point: FloatArray) -> FloatArray:
    _, y0, z0 = canopy.quarter_chord
    return np.hypot(point[..., 1] - y0, point[..., 2] - z0 - canopy.arc_radius) - canopy.arc_radius


def _ribs(canopy: Canopy, areal_weight: float) -> MassProperties:
    slices = section_slices(canopy, canopy.rib_angle)
    with_holes = canopy.rib_area / slices.area.sum(axis=1)
    return of_points((areal_weight * with_holes[:, None] * slices.area).ravel(), slices.center.reshape(-1, 3))


def _lines(line_set: LineSet) -> MassProperties:
    # A rod has the inertia of a sixth of its mass at either end and the rest in the middle.
    start, end = (np.array([getattr(line, name) for line in line_set.lines]) for name in ("start", "end"))
    mass = line_set.linear_density * np.linalg.norm(end - start, axis=-1)
    places = ((1 / 6, start), (4 / 6, (start + end) / 2), (1 / 6, end))
    return total(of_points(mass * share, at) for share, at in places)


def _stabilisers(canopy: Canopy, areal_weight: float) -> MassProperties:
    stabiliser = canopy.stabiliser
    assert stabiliser is not None
    tip = np.array([-canopy.half_arc, canopy.half_arc])
    chord = canopy.chord_at(tip)
    at = canopy.point(tip, 0.1 + stabiliser.chord / 2 / chord, np.zeros(2))
    at = at - stabiliser.height / 2 * canopy.outward(tip)
    return of_points(np.full(2, areal_weight * stabiliser.area), at)
