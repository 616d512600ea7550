"""Picture of the canopy with its ribs, lines and payload: from a front quarter, the front and the side.

Surfaces and lines are projected straight onto the paper and drawn far to near; nothing is foreshortened with
distance, so the front and the side view can be measured.
"""

from dataclasses import dataclass
from itertools import pairwise, product
from math import radians

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.dynamics.vehicle import Vehicle
from parasim.geometry.airfoil import lower_surface, upper_surface
from parasim.geometry.canopy import Canopy
from parasim.geometry.risers import hook_middle, hooks, nominal_pitch, pitch_matrix
from parasim.geometry.seams import STABILISER_FRONT
from parasim.geometry.surface import skin_points
from parasim.mass.inventory import payload_bottom
from parasim.plotting.style import axis_label, footnote, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, show

LINE_PIECES = 24
"""Pieces a line is cut into, each drawn before or behind a skin; brake lines show every second one."""

LIFT = 0.03
"""By how much upper seams are drawn before their skin, and inner ribs behind it, over root chord. [-]"""

SKIN_STATIONS = 25
"""Points of a skin from nose to tail that are drawn."""

RIB_STATIONS = (1 - np.cos(np.linspace(0, np.pi, 17))) / 2
"""Where ribs are cut for drawing, over chord. [-]"""

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


def canopy_pieces(vehicle: Vehicle) -> list[Piece]:
    """Everything there is to draw, in no order."""
    canopy = vehicle.canopy
    return [*_skins(canopy), *_ribs(canopy), *_stabilisers(canopy), *_lines(vehicle), *_payload(vehicle)]


def plot_canopy(pieces: list[Piece], ax: Axes, view: View, system: System = "metric") -> None:
    """Pieces of `canopy_pieces` from one direction, far ones first, equal axes."""
    on_paper = [piece.corners @ view.axes.T for piece in pieces]
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


def _skins(canopy: Canopy) -> list[Piece]:
    pieces: list[Piece] = []
    for upper, color in ((True, SKIN_COLOR), (False, LOWER_COLOR)):
        points = skin_points(canopy, upper=upper)
        points = points[:, np.unique(np.linspace(0, points.shape[1] - 1, SKIN_STATIONS).round().astype(int))]
        a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
        quads = np.stack([a, b, c, d], axis=2).reshape(-1, 4, 3)
        pieces += _lit(quads, color)
        pieces += _rib_seams(canopy, points, lift=LIFT * canopy.root_chord if upper else 0.0)
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


def _ribs(canopy: Canopy) -> list[Piece]:
    """Cloth of every rib, seen through the inlets and at the tips."""
    x = RIB_STATIONS
    upper, lower = (surface(canopy.outline, x) for surface in (upper_surface, lower_surface))
    tops, bottoms = (canopy.point(canopy.rib_angle[:, None], x[None], z[None]) for z in (upper, lower))
    quads = [_between(top, bottom) for top, bottom in zip(tops, bottoms, strict=True)]
    tips, inner = np.concatenate([quads[0], quads[-1]]), np.concatenate(quads[1:-1])
    return [*_lit(tips, RIB_COLOR), *_lit(inner, RIB_COLOR, lift=-LIFT * canopy.root_chord)]


def _between(top: FloatArray, bottom: FloatArray) -> FloatArray:
    """Quadrilaterals between two edges, shape (n - 1, 4, 3)."""
    return np.stack([top[:-1], top[1:], bottom[1:], bottom[:-1]], axis=1)


def _stabilisers(canopy: Canopy) -> list[Piece]:
    stabiliser = canopy.stabiliser
    if stabiliser is None:
        return []
    pieces = []
    for tip in np.array([-canopy.half_arc, canopy.half_arc]):
        chordwise = STABILISER_FRONT + stabiliser.chord / canopy.chord_at(tip) * np.linspace(0, 1, 7)
        top = canopy.point(tip, chordwise, lower_surface(canopy.outline, chordwise))
        bottom = top - stabiliser.height * canopy.outward(tip)
        pieces += _lit(_between(top, bottom), RIB_COLOR)
        edge = np.stack([top[0], bottom[0], bottom[-1], top[-1]])
        pieces += [_stretch(p, q, "0.2", 0.7) for p, q in pairwise(edge)]
    return pieces


def _lines(vehicle: Vehicle) -> list[Piece]:
    pieces = []
    for line in vehicle.line_set.lines:
        color, width = LINE_STYLES[line.kind]
        along = list(pairwise(np.linspace(line.start, line.end, LINE_PIECES + 1)))
        step = 2 if line.kind == "brake" else 1
        pieces += [_stretch(p, q, color, width) for p, q in along[::step]]
    if (rings := vehicle.line_set.rings) is not None:
        color, width = LINE_STYLES["brake"]
        pieces += [_stretch(p, q, color, width) for p, q in zip(rings.place, rings.guide, strict=True)]
    hooked = on_canopy(vehicle, hooks(vehicle.design))
    return pieces + [
        _stretch(end, hook, "0.1", 1.8) for end, hook in zip(vehicle.line_set.riser_ends, hooked, strict=True)
    ]


def on_canopy(vehicle: Vehicle, point: FloatArray) -> FloatArray:
    """Points of the payload from its hooks' middle, shape (..., 3), to body axes in the nominal pose."""
    turn = pitch_matrix(nominal_pitch(vehicle.design, vehicle.canopy))
    return hook_middle(vehicle.design, vehicle.canopy) + point @ turn.T


def _payload(vehicle: Vehicle) -> list[Piece]:
    half = np.array(vehicle.design.payload.size) / 2
    center = payload_bottom(vehicle.design) - [0.0, 0.0, half[2]]
    sides = []
    for axis, sign in product(range(3), (-1.0, 1.0)):
        first, second = (i for i in range(3) if i != axis)
        corners = np.tile(center, (4, 1))
        corners[:, axis] += sign * half[axis]
        corners[:, first] += half[first] * np.array([-1, 1, 1, -1])
        corners[:, second] += half[second] * np.array([-1, -1, 1, 1])
        sides.append(corners)
    return _lit(on_canopy(vehicle, np.array(sides)), PAYLOAD_COLOR, edge="0.15")


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
