"""Cloth outside the seams: cut lines and notches. Everything in millimetres."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely import LineString, Polygon, unary_union

from parasim.drawing.drawing import Path
from parasim.rotations import FloatArray
from parasim.sewing.flatten import arc_length, at_distance

NOTCH_SHARE = 0.6
"""Length of a notch over the seam allowance it stands in. [-] Common practice, no source."""

NOTCH_SHIFT = 0.25
"""How far notches stand nearer to the front than at equal shares, over their spacing. [-] Our choice.

On an edge turned front to rear they then come half-way between the others.
"""

_SLIT = 1e-3  # [mm]

PAIR_GAP = 3.0
"""Between the two ticks of a double notch. [mm]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edge:
    """One side of a piece, along the sewing line.

    Attributes
    ----------
    name : str
        ``top``, ``bottom``, ``inlet``, ``tail`` of a rib; ``left``, ``right``, ``front``, ``rear`` of a
        panel.
    points : ndarray, shape (n, 2)
        In the order of the outline, which goes anticlockwise as a whole. [mm]
    allowance : float
        Cloth outside it. [mm]
    kind : {"sew", "fold"}
        A seam, or a free edge that is folded under.
    """

    name: str
    points: FloatArray
    allowance: float
    kind: Literal["sew", "fold"] = "sew"

    @property
    def length(self) -> float:
        """Along the sewing line. [mm]"""
        return float(arc_length(self.points)[-1])


def outline_of_edges(edges: Sequence[Edge]) -> FloatArray:
    """Closed sewing line of edges that follow each other, shape (n, 2), doubled points left out."""
    points = np.vstack([edge.points for edge in edges])
    keep = np.hypot(*(points - np.roll(points, 1, axis=0)).T) > 1e-6
    return np.asarray(points[keep])


def cut_line(edges: Sequence[Edge]) -> FloatArray:
    """Closed line around the sewing line, each edge's allowance outside it, shape (n, 2).

    Corners are mitred, sharp ones cut off at twice the allowance. An edge without allowance leaves the ends
    of its neighbours' square.
    """
    sewn = Polygon(outline_of_edges(edges))
    allowances = {edge.allowance for edge in edges}
    if len(allowances) == 1:
        widened = sewn.buffer(allowances.pop(), join_style="mitre", mitre_limit=2.0)
    else:
        strips = [_strip(edge) for edge in edges if edge.allowance]
        corners = [
            _corner(edge, edges[(i + 1) % len(edges)])
            for i, edge in enumerate(edges)
            if edge.allowance and edges[(i + 1) % len(edges)].allowance
        ]
        widened = unary_union([sewn, *strips, *corners])
        # Parts that share a side may leave slits and steps as wide as the arithmetic's last digits.
        widened = widened.buffer(_SLIT, join_style="mitre").buffer(-_SLIT, join_style="mitre")
        widened = widened.simplify(_SLIT)
    return np.array(widened.exterior.coords)[:-1]


def _strip(edge: Edge) -> Polygon:
    """Cloth outside an edge, square at its ends."""
    # Outside is to the right of an anticlockwise outline, which is the negative side.
    return LineString(edge.points).buffer(
        -edge.allowance, single_sided=True, join_style="mitre", mitre_limit=2.0
    )


def _corner(edge: Edge, following: Edge) -> Polygon:
    """Cloth between the strips of two edges that follow each other, out to where their outer sides meet.

    Empty where the outline turns inwards, for there the strips overlap.
    """
    at, u, v = edge.points[-1], _direction(*edge.points[-2:]), _direction(*following.points[:2])
    sine, cosine = float(u[0] * v[1] - u[1] * v[0]), float(u @ v)
    if sine <= 0:
        return Polygon()
    a, b = edge.allowance, following.allowance
    side_a, side_b = at + a * _outward(u), at + b * _outward(v)
    tip = side_a + (b - a * cosine) / sine * u
    reach = 2.0 * max(a, b)
    if np.hypot(*(tip - at)) > reach:
        return Polygon([at, side_a, side_b])
    return Polygon([at, side_a, tip, side_b])


def _outward(u: FloatArray) -> FloatArray:
    """Square to a direction of an anticlockwise outline, outwards."""
    return np.array([u[1], -u[0]])


def _direction(start: FloatArray, end: FloatArray) -> FloatArray:
    return np.asarray((end - start) / np.hypot(*(end - start)))


def outward_tick(edge: Edge, distance: float, *, inner: float, outer: float) -> Path:
    """Mark across an edge.

    Parameters
    ----------
    edge : Edge
        Of the piece.
    distance : float
        Along the edge, from its first point. [mm]
    inner, outer : float
        How far it reaches in and out. [mm]
    """
    here = at_distance(edge.points, distance)
    near = at_distance(edge.points, np.clip([distance - 1.0, distance + 1.0], 0.0, edge.length))
    u = _direction(near[0], near[1])
    out = _outward(u)
    return Path(points=np.array([here - inner * out, here + outer * out]), closed=False, kind="mark")


def notch_count(length: float, spacing: float) -> int:
    """How many spaces an edge is divided into by notches about `spacing` apart: at least two."""
    return max(2, round(length / spacing))


def notch_places(length: float, spaces: int) -> FloatArray:
    """Distances of the notches from the front end of an edge of that length, shape (spaces - 1,). [mm]

    Spaces are equal but for the first, which is shorter, and the last, which is longer by as much: on an edge
    turned front to rear no notch comes near another.

    Examples
    --------
    >>> notch_places(400.0, 4).tolist()
    [75.0, 175.0, 275.0]
    """
    return length * (np.arange(1, spaces) - NOTCH_SHIFT) / spaces


def notches(edge: Edge, places: FloatArray, *, double: bool) -> tuple[Path, ...]:
    """Notches in the allowance of an edge; double ones mark the bottom.

    Parameters
    ----------
    edge : Edge
        Along the chord; the top and right edges of a piece run to the front.
    places : ndarray, shape (n,)
        Distances from its front end. Mating edges are equally long, so that their notches meet. [mm]
    double : bool
        Whether each is a pair.
    """
    offsets = (-PAIR_GAP / 2, PAIR_GAP / 2) if double else (0.0,)
    along = edge.length - places if edge.points[0, 0] > edge.points[-1, 0] else places
    return tuple(
        outward_tick(edge, float(place) + offset, inner=0.0, outer=NOTCH_SHARE * edge.allowance)
        for place in along
        for offset in offsets
    )
