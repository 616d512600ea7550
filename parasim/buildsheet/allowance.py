"""Cloth outside the seams: cut lines and notches. Everything in millimetres."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely import LineString, Polygon, unary_union

from parasim.buildsheet.drawing import Path
from parasim.buildsheet.flatten import arc_length, at_distance
from parasim.rotations import FloatArray

NOTCH_SHARE = 0.6
"""Length of a notch over the seam allowance it stands in. [-] Common practice, no source."""

_STEP = 3.0

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

    With one allowance all round the corners are mitred, sharp ones cut off at twice the allowance. With
    several, corners come out square: such pieces have corners of about a right angle.
    """
    sewn = Polygon(outline_of_edges(edges))
    allowances = {edge.allowance for edge in edges}
    if len(allowances) == 1:
        widened = sewn.buffer(allowances.pop(), join_style="mitre", mitre_limit=2.0)
    else:
        count = len(edges)
        strips = [
            _strip(edge, before=edges[i - 1].allowance, after=edges[(i + 1) % count].allowance)
            for i, edge in enumerate(edges)
            if edge.allowance
        ]
        widened = unary_union([sewn, *strips])
        # Corners that are not quite right angles leave small steps; fill them.
        widened = widened.buffer(_STEP, join_style="mitre").buffer(-_STEP, join_style="mitre")
    return np.array(widened.exterior.coords)[:-1]


def _strip(edge: Edge, *, before: float, after: float) -> Polygon:
    """Cloth outside an edge, carried on straight at its ends into the neighbours' allowance."""
    points = edge.points
    start = points[0] - before * _direction(points[0], points[1])
    end = points[-1] + after * _direction(points[-2], points[-1])
    line = LineString(np.vstack([start, points, end]))
    # Outside is to the right of an anticlockwise outline, which is the negative side.
    return line.buffer(-edge.allowance, single_sided=True, join_style="mitre", mitre_limit=2.0)


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
    out = np.array([u[1], -u[0]])
    return Path(points=np.array([here - inner * out, here + outer * out]), closed=False, kind="mark")


def notch_count(length: float, spacing: float) -> int:
    """How many spaces an edge is divided into by notches about `spacing` apart: at least two."""
    return max(2, round(length / spacing))


def notches(edge: Edge, *, spaces: int, double: bool) -> tuple[Path, ...]:
    """Notches at equal shares of an edge, in its allowance; double ones tell bottom from top.

    Mating edges are equally long and get the same number of spaces, so their notches meet.
    """
    offsets = (-PAIR_GAP / 2, PAIR_GAP / 2) if double else (0.0,)
    return tuple(
        outward_tick(
            edge,
            edge.length * k / spaces + offset,
            inner=0.0,
            outer=NOTCH_SHARE * edge.allowance,
        )
        for k in range(1, spaces)
        for offset in offsets
    )
