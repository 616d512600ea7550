"""What the sewn canopy weighs, part by part: pieces as they are cut, tape and thread.

Every piece weighs by its cut area: inside its seams, and the allowances around it at their own place. The
same areas come out of the outlines that are cut, which a test compares.
"""

from itertools import pairwise
from math import cos, hypot, pi, sin

import numpy as np

from parasim.config.design import Design
from parasim.geometry.airfoil import section_area
from parasim.geometry.canopy import Canopy, Stabiliser
from parasim.geometry.fin_lines import fin_places, fin_tabs
from parasim.geometry.lines import brake_tabs
from parasim.geometry.seams import (
    STABILISER_FRONT,
    TAB_TAPE,
    THREAD_PER_SEAM,
    CanopySeams,
    Seams,
    billow_of,
    build_seams,
    bulge_share,
    panel_edges,
    patch_heights,
)
from parasim.geometry.surface import facets, lower_section, section_slices, skin_points, upper_section
from parasim.mass.properties import MassProperties, of_points, total
from parasim.rotations import FloatArray

PATCH_AREA = 0.75
"""Of a patch over its width times height: half as wide above as below. [-]"""


def cloth_properties(design: Design, canopy: Canopy) -> dict[str, MassProperties]:
    """Mass of every part that is sewn."""
    areal_weight, seams = design.canopy.cloth.areal_weight, build_seams(canopy)
    parts = {
        "upper skin": _skin(design, canopy, seams, upper=True),
        "lower skin": _skin(design, canopy, seams, upper=False),
        "ribs": _ribs(design, canopy, seams),
    }
    if canopy.stabiliser is not None:
        parts["stabilisers"] = _stabilisers(design, canopy)
    if design.sewing.patch:
        parts["patches"] = _patches(design, canopy)
    parts = {name: _scaled(part, areal_weight) for name, part in parts.items()}
    if design.sewing.tape:
        parts["tape"] = _tape(design, canopy, seams)
    if design.sewing.thread:
        parts["thread"] = _thread(design, canopy, seams)
    return parts


def _scaled(part: MassProperties, factor: float) -> MassProperties:
    return MassProperties(
        mass=factor * part.mass, first_moment=factor * part.first_moment, inertia=factor * part.inertia
    )


def _spread(seams: Seams, per_length: FloatArray | float) -> MassProperties:
    """Mass by length along each line, shape (n_lines,)."""
    weight = seams.piece * np.reshape(per_length, (-1, 1))
    return of_points(weight.ravel(), seams.middle.reshape(-1, 3))


def _skin(design: Design, canopy: Canopy, seams: CanopySeams, *, upper: bool) -> MassProperties:
    """Cut area of all panels of a skin, as if it were mass. [m²]"""
    sewing = design.sewing
    points = skin_points(canopy, per_half_cell=2, upper=upper)
    x = _chordwise(canopy, points)
    wider = 1 + billow_of(design, canopy) * bulge_share((x[:-1] + x[1:]) / 2)
    skin = facets(points)
    area = skin.area.reshape(len(points) - 1, -1) * wider
    edges, lip = panel_edges(design, canopy), seams.upper_lip if upper else seams.lower_lip
    hems = (_spread(line, sewing.hem) for line in (lip, seams.trailing_edge))
    side = _spread(seams.top if upper else seams.bottom, edges * sewing.seam_allowance)
    corner = edges * sewing.seam_allowance * sewing.hem
    return total(
        [
            of_points(area.ravel(), skin.center),
            side,
            *hems,
            of_points(corner, points[::2, 0]),
            of_points(corner, points[::2, -1]),
        ]
    )


def _chordwise(canopy: Canopy, points: FloatArray) -> FloatArray:
    """Chord ratio of the stations of a skin, shape (n_chordwise,). [-]"""
    x = points[len(points) // 2, :, 0]
    return np.asarray((x.max() - x) / canopy.root_chord)


def _ribs(design: Design, canopy: Canopy, seams: CanopySeams) -> MassProperties:
    """Cut area of all ribs, cross-ports cut out, as if it were mass. [m²]"""
    slices, allowance = section_slices(canopy, canopy.rib_angle), design.sewing.seam_allowance
    with_holes = (canopy.rib_area - _nose_cut(canopy)) / slices.area.sum(axis=1)
    tail = canopy.point(canopy.rib_angle, np.array(1.0), np.array(0.0))
    edge = float(np.linalg.norm(canopy.outline[0] - canopy.outline[-1])) * canopy.chord_at(canopy.rib_angle)
    return total(
        [
            of_points((with_holes[:, None] * slices.area).ravel(), slices.center.reshape(-1, 3)),
            *(_spread(edge, allowance) for edge in (seams.top, seams.bottom, seams.nose)),
            of_points(allowance * edge + corner_share(canopy.outline) * allowance**2, tail),
        ]
    )


def corner_share(outline: FloatArray) -> float:
    """Cloth of a rib's allowance beyond allowance times edge, over allowance squared. [-]

    Round the smooth part the allowance fans out, by half of what the outline turns there; the corners of the
    tail, one of a sharp and two of a blunt one, are mitred, sharp ones cut off at twice the allowance.

    Parameters
    ----------
    outline : ndarray, shape (n, 2)
        Of the section, from the trailing edge over the top and back below; the ends differ at a blunt tail.

    Examples
    --------
    A tail without any angle is carried on by twice the allowance, and is twice the allowance wide.

    >>> round(corner_share(np.array([[1.0, 0.0], [0.5, 1e-9], [0.5, -1e-9], [1.0, 0.0]])) - pi / 2, 3)
    4.0
    """
    sides = [outline[-1] - outline[-2], outline[0] - outline[-1], outline[1] - outline[0]]
    bearings = [float(np.arctan2(z, x)) for x, z in sides if hypot(x, z) > 1e-9]
    turns = [(after - before + 1) % (2 * pi) - 1 for before, after in pairwise(bearings)]  # inwards at most 1
    return (2 * pi - sum(turns)) / 2 + sum(map(_mitre, turns))


def _mitre(turn: float) -> float:
    """Cloth at a corner, beyond the square ends of the allowances on both sides of it; by plane geometry."""
    sine, cosine = sin(turn / 2), cos(turn / 2)
    return sine / cosine if cosine >= 0.5 else (4 - 5 * cosine) / sine


def _nose_cut(canopy: Canopy) -> FloatArray:
    """Area of each rib ahead of the straight cut of an open nose, shape (n_ribs,). [m²]"""
    if canopy.inlet.kind != "open":
        return np.zeros(canopy.n_ribs)
    kept = np.vstack([upper_section(canopy)[::-1], lower_section(canopy)])
    ahead = section_area(canopy.outline) - section_area(kept)
    return ahead * canopy.chord_at(canopy.rib_angle) ** 2


def _stabilisers(design: Design, canopy: Canopy) -> MassProperties:
    """Cut area of both, hung below the tips, as if it were mass. [m²]"""
    stabiliser, sewing = canopy.stabiliser, design.sewing
    assert stabiliser is not None
    long, tall = stabiliser.chord + 2 * sewing.hem, stabiliser.height + sewing.hem + sewing.seam_allowance
    return of_points(np.full(2, long * tall), _stabiliser_middles(canopy, stabiliser))


def _stabiliser_middles(canopy: Canopy, stabiliser: Stabiliser) -> FloatArray:
    """Left and right, shape (2, 3). [m]"""
    tip = np.array([-canopy.half_arc, canopy.half_arc])
    at = canopy.point(tip, STABILISER_FRONT + stabiliser.chord / 2 / canopy.chord_at(tip), np.zeros(2))
    return at - stabiliser.height / 2 * canopy.outward(tip)


def _patches(design: Design, canopy: Canopy) -> MassProperties:
    """Cut area of the patches at all tabs, as if it were mass. [m²]"""
    sewing, rows = design.sewing, np.array(list(design.lines.rows.values()))
    heights = np.array(list(patch_heights(design, canopy).values()))
    area = sewing.patch * (PATCH_AREA * heights + sewing.seam_allowance)
    tabs = canopy.tabs(rows)
    return of_points(np.repeat(area, tabs.shape[1]), tabs.reshape(-1, 3))


def _tape(design: Design, canopy: Canopy, seams: CanopySeams) -> MassProperties:
    """Tape along the lower edge of loaded ribs and in the tabs; free edges are hemmed instead. [kg]"""
    loaded = np.zeros(canopy.n_ribs)
    loaded[canopy.loaded_ribs] = 1.0
    tabs = _tab_places(design, canopy)
    in_tabs = of_points(np.full(len(tabs), TAB_TAPE), tabs)
    return _scaled(total([_spread(seams.bottom, loaded), in_tabs]), design.sewing.tape)


def _tab_places(design: Design, canopy: Canopy) -> FloatArray:
    """All tabs, of stabilisers and brakes too: shape (n_tabs, 3). [m]"""
    rows, brakes = np.array(list(design.lines.rows.values())), brake_tabs(design, canopy)
    places = np.array(list(fin_places(design, canopy).values()))
    fins = fin_tabs(canopy, places).reshape(-1, 3) if len(places) else np.zeros((0, 3))
    return np.vstack([canopy.tabs(rows).reshape(-1, 3), fins, brakes, brakes * [1.0, -1.0, 1.0]])


def _thread(design: Design, canopy: Canopy, seams: CanopySeams) -> MassProperties:
    """One row of stitches in every seam and hem. [kg]"""
    lines = (seams.top, seams.bottom, seams.nose, seams.upper_lip, seams.lower_lip, seams.trailing_edge)
    parts = [_spread(line, 1.0) for line in lines]
    stabiliser = canopy.stabiliser
    if stabiliser is not None:
        hems = np.full(2, stabiliser.chord + 2 * stabiliser.height)
        parts.append(of_points(hems, _stabiliser_middles(canopy, stabiliser)))
    return _scaled(total(parts), design.sewing.thread * THREAD_PER_SEAM)
