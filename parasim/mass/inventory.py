"""What the vehicle is made of: cloth, lines, payload; and the air inside."""

from dataclasses import dataclass

import numpy as np

from parasim.config.design import Design
from parasim.geometry.brake_ring import brake_onward
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import Line, LineSet
from parasim.geometry.risers import hook_middle, nominal_pitch, pitch_matrix
from parasim.geometry.seams import TAB_LENGTH
from parasim.geometry.surface import section_slices
from parasim.mass.cloth import cloth_properties
from parasim.mass.properties import MassProperties, of_box, of_points, total
from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MassItem:
    """One line of the mass budget."""

    name: str
    properties: MassProperties


def mass_items(design: Design, canopy: Canopy, line_set: LineSet) -> tuple[MassItem, ...]:
    """Mass budget, part by part; the payload as a solid box at its nominal place."""
    items = cloth_properties(design, canopy) | {"lines": _lines(design, line_set)}
    items["payload"] = _payload(design, canopy)
    return tuple(MassItem(name=name, properties=properties) for name, properties in items.items())


def payload_center(design: Design) -> FloatArray:
    """The payload's centre of mass, from the point it swings about: shape (3,), payload axes. [m]

    That is the confluence at the upper end of the risers, below which the box hangs with its top; or the
    middle of its front and rear hooks.
    """
    payload = design.payload
    suspension = payload.suspension
    if suspension.four_hooks:
        return np.array([-(suspension.front_place + suspension.rear_place) / 2, 0.0, suspension.hook_height])
    center = payload.center_of_mass
    return np.array([center.forward, 0.0, design.lines.riser.length + payload.size[2] / 2 - center.up])


def payload_place(design: Design, canopy: Canopy) -> FloatArray:
    """The payload's centre of mass in the nominal pose: shape (3,), canopy axes. [m]"""
    turn = pitch_matrix(nominal_pitch(design, canopy))
    return hook_middle(design, canopy) + turn @ payload_center(design)


def payload_bottom(design: Design) -> FloatArray:
    """Middle of the payload's lower face, from the point it swings about: shape (3,), payload axes. [m]"""
    center = design.payload.center_of_mass
    below = design.payload.size[2] / 2 + center.up
    return payload_center(design) + np.array([-center.forward, 0.0, below])


def _payload(design: Design, canopy: Canopy) -> MassProperties:
    """Solid box about its centre of mass, turned as in the nominal pose."""
    mass, place = design.payload.mass, payload_place(design, canopy)
    turn = pitch_matrix(nominal_pitch(design, canopy))
    own = of_box(mass, np.zeros(3), design.payload.size).inertia
    point = of_points(np.array([mass]), place[None])
    return MassProperties(
        mass=mass, first_moment=point.first_moment, inertia=point.inertia + turn @ own @ turn.T
    )


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


def _lines(design: Design, line_set: LineSet) -> MassProperties:
    # A rod has the inertia of a sixth of its mass at either end and the rest in the middle.
    start, end = (np.array([getattr(line, name) for line in line_set.lines]) for name in ("start", "end"))
    tied = np.array([_tied_length(design, line) for line in line_set.lines])
    mass = line_set.linear_density * (np.linalg.norm(end - start, axis=-1) + tied)
    places = ((1 / 6, start), (4 / 6, (start + end) / 2), (1 / 6, end))
    tails = np.full(len(line_set.brake_ends), line_set.linear_density * brake_tail(design))
    return total(
        [*(of_points(mass * share, at) for share, at in places), of_points(tails, line_set.brake_ends)]
    )


def brake_tail(design: Design) -> float:
    """Brake line of one side below the zero mark: down the riser or on from its ring, and the travel. [m]"""
    return brake_onward(design) + design.brakes.travel


def _tied_length(design: Design, line: Line) -> float:
    """Line in the loops at both ends of a piece, and in the knot where it runs through; less the tab. [m]"""
    loop, tie = design.lines.loop_allowance, design.lines.tie_allowance
    tab = TAB_LENGTH if line.at_tab else 0.0
    if not line.through:
        return 2 * loop - tab
    return loop + tie if line.kind == "trunk" else loop - tab
