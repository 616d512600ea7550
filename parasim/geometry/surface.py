"""The canopy cut up: strips for the lattice, skin panels for inertia and drawing."""

from dataclasses import dataclass

import numpy as np

from parasim.geometry.airfoil import lower_surface, surface_height, upper_surface
from parasim.geometry.canopy import Canopy
from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strips:
    """The chord surface cut into strips, left tip to right, narrow at the tips.

    Attributes
    ----------
    arc_angle : ndarray, shape (n_strips,)
        At mid-strip. [rad]
    quarter_chord : ndarray, shape (n_strips, 3)
        On the chord line at mid-strip. [m]
    spanwise, outward, chordwise : ndarray, shape (n_strips, 3)
        Unit vectors along the arc to the right, up out of the chord surface, and from nose to tail.
    chord, width : ndarray, shape (n_strips,)
        At mid-strip, and along the arc. [m]
    edge_angle : ndarray, shape (n_strips + 1,)
        Arc angle of the boundaries. [rad]
    edge_lead, edge_trail : ndarray, shape (n_strips + 1, 3)
        Leading and trailing edge at the boundaries. [m]
    """

    arc_angle: FloatArray
    quarter_chord: FloatArray
    spanwise: FloatArray
    outward: FloatArray
    chordwise: FloatArray
    chord: FloatArray
    width: FloatArray
    edge_angle: FloatArray
    edge_lead: FloatArray
    edge_trail: FloatArray

    @property
    def n_strips(self) -> int:
        """Number of strips."""
        return len(self.chord)

    @property
    def leading_edge(self) -> FloatArray:
        """At mid-strip, shape (n_strips, 3). [m]"""
        return self.quarter_chord - 0.25 * self.chord[:, None] * self.chordwise


def cosine_strips(canopy: Canopy, n_strips: int) -> Strips:
    """Strips with boundaries at equal steps of the cosine angle, middles at the mid-angles between them.

    Mid-angles, not mid-points: with mid-points a lattice reads 2 to 3 % high in slope.
    """
    step = np.pi / n_strips
    edge = -canopy.half_arc * np.cos(step * np.arange(n_strips + 1))
    middle = -canopy.half_arc * np.cos(step * (np.arange(n_strips) + 0.5))
    zero = np.zeros(1)
    return Strips(
        arc_angle=middle,
        quarter_chord=canopy.point(middle, 0.25 + zero, zero),
        spanwise=canopy.spanwise(middle),
        outward=canopy.outward(middle),
        chordwise=np.tile([-1.0, 0.0, 0.0], (n_strips, 1)),
        chord=canopy.chord_at(middle),
        width=canopy.arc_radius * np.diff(edge),
        edge_angle=edge,
        edge_lead=canopy.point(edge, zero, zero),
        edge_trail=canopy.point(edge, 1 + zero, zero),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facets:
    """Flat pieces with area and middle, for sums over a surface.

    Attributes
    ----------
    center : ndarray, shape (n, 3)
        Body axes. [m]
    area : ndarray, shape (n,)
        [m²]
    """

    center: FloatArray
    area: FloatArray

    @property
    def total(self) -> float:
        """Whole area. [m²]"""
        return float(self.area.sum())


SAME = 1e-9
"""Over chord, within which two places are one. [-]"""


def behind(surface: FloatArray, x: float) -> FloatArray:
    """Part of a surface, leading to trailing edge, that lies behind a place over chord, shape (n, 2)."""
    if x <= surface[0, 0]:
        return surface
    lip = np.array([x, float(surface_height(surface, x))])
    return np.vstack([lip, surface[surface[:, 0] > x + SAME]])


def upper_section(canopy: Canopy) -> FloatArray:
    """Edge of the top skin on a rib of chord one, from the upper lip to the trailing edge: shape (n, 2)."""
    return behind(_upper(canopy), canopy.inlet.upper_lip)


def upper_skin_section(canopy: Canopy) -> FloatArray:
    """The same from where the top skin begins, which may be ahead of the lip; the lip is a point of it."""
    sewn = upper_section(canopy)
    if not canopy.inlet.overhang:
        return sewn
    whole = behind(_upper(canopy), canopy.inlet.skin_front)
    return np.vstack([whole[whole[:, 0] < sewn[0, 0] - SAME], sewn])


def lower_section(canopy: Canopy) -> FloatArray:
    """Edge of the bottom skin on a rib of chord one, lower lip to trailing edge: shape (n, 2)."""
    return behind(_lower(canopy), canopy.inlet.lower_lip)


def nose_section(canopy: Canopy) -> FloatArray:
    """Free edge of a rib of chord one, upper to lower lip: round, or straight for an open nose."""
    lip = lower_section(canopy)[0]
    if canopy.inlet.kind == "open":
        return np.array([upper_section(canopy)[0], lip])
    lower = _lower(canopy)
    return np.vstack([lower[lower[:, 0] < lip[0] - SAME], lip])


def _upper(canopy: Canopy) -> FloatArray:
    return canopy.outline[int(np.argmin(canopy.outline[:, 0])) :: -1]


def _lower(canopy: Canopy) -> FloatArray:
    return canopy.outline[int(np.argmin(canopy.outline[:, 0])) :]


def skin_points(canopy: Canopy, *, per_half_cell: int = 2, upper: bool) -> FloatArray:
    """Points of one skin, from its front edge to the trailing edge.

    Parameters
    ----------
    canopy : Canopy
        The upper skin begins at the upper lip, or ahead of it, the lower one at the lower lip.
    per_half_cell : int
        Steps along the arc in a half cell.
    upper : bool
        Which skin.

    Returns
    -------
    ndarray, shape (n_stations, n_chordwise, 3)
        Body axes. [m]
    """
    angle = np.linspace(-canopy.half_arc, canopy.half_arc, per_half_cell * canopy.n_half_cells + 1)
    section = upper_skin_section(canopy) if upper else lower_section(canopy)
    return canopy.point(angle[:, None], section[None, :, 0], section[None, :, 1])


def facets(points: FloatArray) -> Facets:
    """Facets of a grid of points, shape (n_stations, n_chordwise, 3)."""
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    area = np.linalg.norm(np.cross(c - a, d - b), axis=-1) / 2
    center = (a + b + c + d) / 4
    return Facets(center=center.reshape(-1, 3), area=area.ravel())


def upper_skin(canopy: Canopy) -> Facets:
    """Cloth of the upper skin, without seam allowance."""
    return facets(skin_points(canopy, upper=True))


def lower_skin(canopy: Canopy) -> Facets:
    """Cloth of the lower skin, inlet left open, without seam allowance."""
    return facets(skin_points(canopy, upper=False))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slices:
    """The inside of the section cut into upright slices, at stations along the arc.

    Attributes
    ----------
    center : ndarray, shape (n_stations, n_slices, 3)
        Body axes. [m]
    area : ndarray, shape (n_stations, n_slices)
        Of the section. [m²]
    """

    center: FloatArray
    area: FloatArray


def section_slices(canopy: Canopy, arc_angle: FloatArray, *, n_slices: int = 24) -> Slices:
    """Slices of the section at stations along the arc, shape (n_stations,). [rad]"""
    edge = np.linspace(0, 1, n_slices + 1)
    x = (edge[:-1] + edge[1:]) / 2
    upper, lower = upper_surface(canopy.outline, x), lower_surface(canopy.outline, x)
    per_square_chord = (upper - lower) / n_slices
    return Slices(
        center=canopy.point(arc_angle[:, None], x[None], ((upper + lower) / 2)[None]),
        area=per_square_chord[None] * canopy.chord_at(arc_angle)[:, None] ** 2,
    )
