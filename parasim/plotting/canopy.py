"""Picture of the canopy with its ribs, lines and payload: from a front quarter, the front and the side.

Surfaces and lines are projected straight onto the paper and drawn far to near; nothing is foreshortened with
distance, so the front and the side view can be measured.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import radians

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.dynamics.vehicle import Vehicle
from parasim.geometry.canopy import Canopy
from parasim.plotting.scene import Scene, build_scene
from parasim.plotting.style import axis_label, footnote, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, show

LINE_PIECES = 24
"""Pieces a line is cut into, each drawn before or behind a skin; brake lines show every second one."""

LIFT = 0.03
"""By how much upper seams are drawn before their skin, and inner ribs behind it, over root chord. [-]"""

LIGHT = np.array([0.4, 0.3, -0.87])
"""Direction towards the light, body axes."""

SKIN_COLOR = np.array([0.60, 0.71, 0.83])
LOWER_COLOR = np.array([0.80, 0.80, 0.78])
RIB_COLOR = np.array([0.72, 0.72, 0.68])
PAYLOAD_COLOR = np.array([0.62, 0.55, 0.47])
LEGEND = "Heavy lines: trunks below the cascades. Dashed: brake lines. Darker seams: ribs that carry lines."
LINE_STYLES = {
    "row": ("0.2", 0.7),
    "trunk": ("0.1", 1.2),
    "branch": ("0.2", 0.7),
    "fin": ("0.2", 0.6),
    "brake": ("#b5451b", 0.8),
}
"""Colour and width [points] by kind of line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where one looks from.

    Attributes
    ----------
    azimuth : float
        0 from straight ahead of the canopy, pi/2 from its left side. [rad]
    elevation : float
        Over the horizon; negative looks up from below. [rad]
    """

    azimuth: float
    elevation: float

    @property
    def axes(self) -> FloatArray:
        """Right and up on the paper, and towards the viewer: shape (3, 3), body axes in rows."""
        ca, sa, ce, se = (f(angle) for angle in (self.azimuth, self.elevation) for f in (np.cos, np.sin))
        right = np.array([-sa, -ca, 0.0])
        towards = np.array([ce * ca, -ce * sa, -se])
        return np.array([right, np.cross(towards, right), towards])


QUARTER = View(azimuth=radians(38), elevation=radians(16))
FRONT = View(azimuth=0.0, elevation=0.0)
SIDE = View(azimuth=radians(90), elevation=0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """A flat piece or a stretch of line: its corners in body axes, and how it is drawn.

    `lift` orders what touches: drawn as if so much nearer. [m]
    """

    corners: FloatArray
    face: tuple[float, ...]
    edge: tuple[float, ...] | str
    width: float
    lift: float = 0.0


def canopy_figure(vehicle: Vehicle, system: System = "metric") -> Figure:
    """Figure of three views, titled with the size."""
    canopy = vehicle.canopy
    line = show(vehicle.line_set.total_length, "run", system, digits=1)
    pieces = canopy_pieces(vehicle)
    with look():
        figure = new_figure(9.6, 6.4)
        layout = figure.add_gridspec(2, 2, width_ratios=(1.75, 1.0))
        large = figure.add_subplot(layout[:, 0])
        front, side = figure.add_subplot(layout[0, 1]), figure.add_subplot(layout[1, 1])
        plot_canopy(pieces, large, QUARTER, system)
        large.set_axis_off()
        footnote(figure, f"{LEGEND}\n{CAUTION}")
        plot_canopy(pieces, front, FRONT, system)
        plot_canopy(pieces, side, SIDE, system)
        front.set_xlabel(axis_label("to the left, seen from ahead", "dimension", system))
        side.set_xlabel(axis_label("behind the confluence, seen from the left", "dimension", system))
        for ax in (front, side):
            ax.locator_params(axis="x", nbins=5)
            ax.set_ylabel(axis_label("height over the confluence", "dimension", system))
        front.set_title(f"projected span {show(canopy.projected_span, 'dimension', system)}", fontsize=9)
        angle = show(vehicle.rigging.rigging_angle, "angle", system)
        side.set_title(f"rigged {angle} nose-down of its lines", fontsize=9)
        large.set_title(
            f"{vehicle.design.name}: {show(canopy.flat_area, 'area', system)} flat in "
            f"{canopy.n_cells} cells, {line} of line with tabs"
        )
    return figure


@lru_cache(maxsize=1)  # a drawing is made for a page and for a file
def canopy_pieces(vehicle: Vehicle) -> tuple[Piece, ...]:
    """Everything there is to draw, in no order."""
    canopy, scene = vehicle.canopy, build_scene(vehicle.design, vehicle.canopy, vehicle.line_set)
    return (
        *_skins(canopy, scene),
        *_ribs(canopy, scene),
        *_stabilisers(scene),
        *_lines(scene),
        *_payload(scene),
    )


def plot_canopy(pieces: Sequence[Piece], ax: Axes, view: View, system: System = "metric") -> None:
    """Pieces of `canopy_pieces` from one direction, far ones first, equal axes."""
    across = view.axes.T
    on_paper = [piece.corners @ across for piece in pieces]
    order = np.argsort(
        [corners[:, 2].mean() + piece.lift for corners, piece in zip(on_paper, pieces, strict=True)]
    )
    scaled = [shown(on_paper[i][:, :2], "dimension", system) for i in order]
    ax.add_collection(
        PolyCollection(
            scaled,
            facecolors=[pieces[i].face for i in order],
            edgecolors=[pieces[i].edge for i in order],
            linewidths=[pieces[i].width for i in order],
            joinstyle="round",
        )
    )
    everything = np.concatenate(scaled)
    ax.update_datalim(everything)
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.04)
    ax.autoscale_view()


def _skins(canopy: Canopy, scene: Scene) -> list[Piece]:
    pieces: list[Piece] = []
    for points, color, lift in ((scene.upper, SKIN_COLOR, LIFT), (scene.lower, LOWER_COLOR, 0.0)):
        a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
        quads = np.stack([a, b, c, d], axis=2).reshape(-1, 4, 3)
        pieces += _lit(quads, color)
        pieces += _rib_seams(canopy, points, lift=lift * canopy.root_chord)
    return pieces


def _rib_seams(canopy: Canopy, points: FloatArray, *, lift: float) -> list[Piece]:
    """Where ribs meet a skin: loaded ribs drawn heavier."""
    step = (len(points) - 1) // canopy.n_half_cells
    loaded = set(range(canopy.n_ribs)[canopy.loaded_ribs])
    pieces = []
    for rib in range(canopy.n_ribs):
        seam = points[rib * step]
        width, shade = (0.8, 0.2) if rib in loaded else (0.4, 0.4)
        pieces += [_stretch(p, q, (shade,) * 3, width, lift=lift) for p, q in pairwise(seam)]
    return pieces


def _ribs(canopy: Canopy, scene: Scene) -> list[Piece]:
    """Cloth of every rib, seen through the inlets and at the tips."""
    quads = [_between(top, bottom) for top, bottom in scene.ribs]
    tips, inner = np.concatenate([quads[0], quads[-1]]), np.concatenate(quads[1:-1])
    return [*_lit(tips, RIB_COLOR), *_lit(inner, RIB_COLOR, lift=-LIFT * canopy.root_chord)]


def _between(top: FloatArray, bottom: FloatArray) -> FloatArray:
    """Quadrilaterals between two edges, shape (n - 1, 4, 3)."""
    return np.stack([top[:-1], top[1:], bottom[1:], bottom[:-1]], axis=1)


def _stabilisers(scene: Scene) -> list[Piece]:
    pieces = []
    for top, bottom in scene.stabilisers:
        pieces += _lit(_between(top, bottom), RIB_COLOR)
        edge = np.stack([top[0], bottom[0], bottom[-1], top[-1]])
        pieces += [_stretch(p, q, "0.2", 0.7) for p, q in pairwise(edge)]
    return pieces


def _lines(scene: Scene) -> list[Piece]:
    pieces = []
    for kind, ends in scene.lines.items():
        color, width = LINE_STYLES[kind]
        step = 2 if kind == "brake" else 1
        for start, end in ends:
            along = list(pairwise(np.linspace(start, end, LINE_PIECES + 1)))
            pieces += [_stretch(p, q, color, width) for p, q in along[::step]]
    return pieces + [_stretch(end, hook, "0.1", 1.8) for hook, end in scene.risers]


SIDES = ((0, 1, 3, 2), (4, 5, 7, 6), (0, 1, 5, 4), (2, 3, 7, 6), (0, 2, 6, 4), (1, 3, 7, 5))
"""Corners of each side of the payload's box, by their number in `Scene.payload_box`."""


def _payload(scene: Scene) -> list[Piece]:
    return _lit(scene.payload[np.array(SIDES)], PAYLOAD_COLOR, edge="0.15")


def _lit(quads: FloatArray, color: FloatArray, *, edge: str | None = None, lift: float = 0.0) -> list[Piece]:
    """Flat pieces, shape (n, 4, 3), brighter the more they face the light."""
    normal = np.cross(quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1])
    facing = np.abs(normal @ LIGHT) / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)
    faces = np.clip(color * (0.62 + 0.55 * facing[:, None]), 0, 1)
    return [
        Piece(corners=corners, face=tuple(face), edge=edge or tuple(face), width=0.4, lift=lift)
        for corners, face in zip(quads, faces, strict=True)
    ]


def _stretch(
    start: FloatArray, end: FloatArray, color: tuple[float, ...] | str, width: float, *, lift: float = 0.0
) -> Piece:
    corners = np.stack([start, end, start])
    return Piece(corners=corners, face=(0.0, 0.0, 0.0, 0.0), edge=color, width=width, lift=lift)
