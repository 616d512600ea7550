"""What there is to see of a vehicle, as plain arrays: for pictures, and for what turns it about.

Nothing here draws. All points are in body axes (x forward, y right, z down, origin at the confluence, metres)
in the nominal pose, brakes released; the payload is given in its own axes too, for those who let it swing.
"""

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from parasim.config.design import Design
from parasim.geometry.airfoil import lower_surface, upper_surface
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import LineSet
from parasim.geometry.risers import hook_middle, hooks, nominal_pitch, pitch_matrix
from parasim.geometry.seams import STABILISER_FRONT
from parasim.geometry.surface import skin_points
from parasim.mass.inventory import payload_bottom
from parasim.rotations import FloatArray

SKIN_STATIONS = 25
"""Points of a skin from nose to tail that are drawn."""

RIB_STATIONS = (1 - np.cos(np.linspace(0, np.pi, 17))) / 2
"""Where ribs are cut for drawing, over chord. [-]"""

DIGITS = 4
"""Decimals of a place in `Scene.document`: a tenth of a millimetre. [-]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene:
    """Canopy, lines, hooks and payload, body axes. [m]

    Attributes
    ----------
    upper, lower : ndarray, shape (n_stations, n, 3)
        Skins as grids: stations from left tip to right, two for each half cell; points from nose to tail.
    ribs : ndarray, shape (n_ribs, 2, n, 3)
        Upper and lower edge of each rib from nose to tail, left tip to right.
    loaded : ndarray of bool, shape (n_ribs,)
        Which ribs carry lines.
    stabilisers : ndarray, shape (2, 2, n, 3)
        Left and right panel: upper and lower edge from front to rear; shape (0, 2, 0, 3) where there is none.
    lines : dict of str to ndarray, shape (n, 2, 3)
        Lower and upper end of each straight piece, by kind: row, trunk, branch, fin, brake. A brake line that
        runs through a ring goes on, as one more piece, from its guide to the ring.
    risers : ndarray, shape (n_hooks, 2, 3)
        From hook to riser end.
    payload_pivot : ndarray, shape (3,)
        Where payload axes begin: the confluence, or the middle of front and rear hooks.
    payload_pitch : float
        Payload nose-up of the canopy. [rad]
    payload_box : ndarray, shape (8, 3)
        Corners of the payload from the pivot, payload axes; corner 4 i + 2 j + k lies at the rear (i = 0) or
        front, left (j = 0) or right, top (k = 0) or bottom.
    hooks : ndarray, shape (n_hooks, 3)
        From the pivot, payload axes.
    """

    upper: FloatArray
    lower: FloatArray
    ribs: FloatArray
    loaded: np.ndarray
    stabilisers: FloatArray
    lines: dict[str, FloatArray]
    risers: FloatArray
    payload_pivot: FloatArray
    payload_pitch: float
    payload_box: FloatArray
    hooks: FloatArray

    def of_payload(self, point: FloatArray) -> FloatArray:
        """Points from the pivot in payload axes, shape (..., 3), to body axes. [m]"""
        return self.payload_pivot + point @ pitch_matrix(self.payload_pitch).T

    @property
    def payload(self) -> FloatArray:
        """Corners of the payload, shape (8, 3), body axes. [m]"""
        return self.of_payload(self.payload_box)

    def document(self) -> dict[str, Any]:
        """The same as lists, rounded, under the same names; `payload` and `loaded` too."""
        arrays = {name: getattr(self, name) for name in (*_ARRAYS, "payload")}
        return {
            **{name: array.round(DIGITS).tolist() for name, array in arrays.items()},
            "lines": {kind: ends.round(DIGITS).tolist() for kind, ends in self.lines.items()},
            "loaded": self.loaded.tolist(),
            "payload_pitch": self.payload_pitch,
        }


_ARRAYS = (
    "upper", "lower", "ribs", "stabilisers", "risers", "payload_pivot", "payload_box", "hooks",
)  # fmt: skip


def build_scene(design: Design, canopy: Canopy, line_set: LineSet) -> Scene:
    """Scene of a design with its canopy and lines; of a vehicle these are its `design`, `canopy`, `line_set`.

    Parameters
    ----------
    design : Design
        For payload and hooks.
    canopy, line_set
        Built of it: `build_canopy(design)`, `build_lines(design, canopy)`.
    """
    loaded = np.zeros(canopy.n_ribs, dtype=bool)
    loaded[canopy.loaded_ribs] = True
    at_hooks = hooks(design)
    pivot, pitch = hook_middle(design, canopy), nominal_pitch(design, canopy)
    hooked = pivot + at_hooks @ pitch_matrix(pitch).T
    return Scene(
        upper=_skin(canopy, upper=True),
        lower=_skin(canopy, upper=False),
        ribs=rib_edges(canopy),
        loaded=loaded,
        stabilisers=stabiliser_edges(canopy),
        lines=_lines(line_set),
        risers=np.stack([hooked, line_set.riser_ends], axis=1),
        payload_pivot=pivot,
        payload_pitch=pitch,
        payload_box=payload_box(design),
        hooks=at_hooks,
    )


def _skin(canopy: Canopy, *, upper: bool) -> FloatArray:
    points = skin_points(canopy, upper=upper)
    return points[:, np.unique(np.linspace(0, points.shape[1] - 1, SKIN_STATIONS).round().astype(int))]


def rib_edges(canopy: Canopy) -> FloatArray:
    """Upper and lower edge of every rib, nose to tail: as in `Scene`. [m]"""
    heights = np.stack([surface(canopy.outline, RIB_STATIONS) for surface in (upper_surface, lower_surface)])
    return canopy.point(canopy.rib_angle[:, None, None], RIB_STATIONS, heights[None])


def stabiliser_edges(canopy: Canopy) -> FloatArray:
    """Upper and lower edge of both stabilisers, front to rear: as in `Scene`. [m]"""
    stabiliser = canopy.stabiliser
    if stabiliser is None:
        return np.zeros((0, 2, 0, 3))
    edges = []
    for tip in np.array([-canopy.half_arc, canopy.half_arc]):
        chordwise = STABILISER_FRONT + stabiliser.chord / canopy.chord_at(tip) * np.linspace(0, 1, 7)
        top = canopy.point(tip, chordwise, lower_surface(canopy.outline, chordwise))
        edges.append([top, top - stabiliser.height * canopy.outward(tip)])
    return np.array(edges)


def payload_box(design: Design) -> FloatArray:
    """Corners of the payload as in `Scene`: shape (8, 3), payload axes. [m]"""
    half = np.array(design.payload.size) / 2
    middle = payload_bottom(design) - [0.0, 0.0, half[2]]
    return np.asarray(middle + half * np.array(list(product((-1.0, 1.0), repeat=3))))


def _lines(line_set: LineSet) -> dict[str, FloatArray]:
    found: dict[str, list[list[FloatArray]]] = {}
    for line in line_set.lines:
        found.setdefault(line.kind, []).append([line.start, line.end])
    if (rings := line_set.rings) is not None:
        found["brake"] += [list(pair) for pair in zip(rings.guide, rings.place, strict=True)]
    return {kind: np.array(ends) for kind, ends in found.items()}
