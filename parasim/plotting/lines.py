"""Line plan: the innermost loaded rib from the side and the whole span from ahead, with lengths to tie to."""

from collections.abc import Mapping
from math import atan2, degrees
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.geometry.brake_ring import BrakeRings
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import Line, LineSet
from parasim.geometry.rigging import Rigging
from parasim.plotting.style import INK, RUST, axis_label, footnote, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, label, show

STYLES: dict[str, dict[str, Any]] = {
    "row": {"color": INK, "linewidth": 1.0},
    "trunk": {"color": INK, "linewidth": 1.7},
    "branch": {"color": INK, "linewidth": 0.9},
    "fin": {"color": INK, "linewidth": 0.9, "linestyle": (0, (1, 1))},
    "brake": {"color": RUST, "linewidth": 1.0, "linestyle": (0, (4, 2))},
}
HALO: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.6}
NOTE = (
    "Finished lengths under the measuring tension, loop end to loop end, as on the line sheet. "
    "Heavy: below a junction. Dashed: brakes at their zero mark."
)


def plan_figure(
    canopy: Canopy,
    line_set: LineSet,
    rigging: Rigging,
    finished: Mapping[str, float],
    *,
    name: str,
    system: System = "metric",
) -> Figure:
    """Side and front view; `finished` is label to length on the sheet. [m]"""
    with look():
        figure = new_figure(12.0, 6.6)
        side, front = figure.subplots(1, 2, width_ratios=(1.0, 1.5))
        plot_side(canopy, line_set, rigging, finished, side, system)
        plot_front(canopy, line_set, finished, front, system)
        total = show(sum(finished.values()), "run", system, digits=1)
        figure.suptitle(
            f"{name}: {len(finished)} lines, {total} finished", x=0.01, ha="left", weight="bold", fontsize=12
        )
        footnote(
            figure, f"{NOTE}{' Dotted: stabilisers.' if line_set.fins else ''}\n{_marks(line_set)}\n{CAUTION}"
        )
    return figure


def _marks(line_set: LineSet) -> str:
    """What stands at the lower ends of the side view, in words."""
    marks = ["Side view: cross, the confluence"]
    if len(line_set.riser_ends) > 2:
        marks.append("squares, ends of the front and the rear riser")
    if line_set.rings is not None:
        marks.append("circle, the brake line's ring")
    return f"{'; '.join(marks)}."


def inner_rib(canopy: Canopy) -> int:
    """Index of the loaded rib nearest to the centre, on the right."""
    angle = canopy.rib_angle[canopy.loaded_ribs]
    return int(np.argmin(np.where(angle >= -1e-9, angle, np.inf)))


def plot_side(
    canopy: Canopy,
    line_set: LineSet,
    rigging: Rigging,
    finished: Mapping[str, float],
    ax: Axes,
    system: System,
) -> None:
    """Section, rows and the right brake fan, seen from the left: forward is to the left."""
    rib = inner_rib(canopy)
    number = range(1, canopy.n_ribs + 1)[canopy.loaded_ribs][rib]
    angle = np.array(canopy.rib_angle[canopy.loaded_ribs][rib])
    outline = canopy.point(angle, canopy.outline[:, 0], canopy.outline[:, 1])
    ax.fill(*_side(outline, system), facecolor="0.93", edgecolor=INK, linewidth=1.0)
    lines = [line for hold in line_set.holds if hold.rib == rib and hold.side == "R" for line in hold.lines]
    brakes = [line for line in line_set.brakes if line.side == "R"]
    ends = line_set.riser_ends[1::2]
    if len(ends) > 1:
        ax.plot(*_side(ends, system), linestyle="none", marker="s", markersize=4, color=INK)
    for line in (*lines, *brakes):
        ax.plot(*_side(np.array([line.start, line.end]), system), **STYLES[line.kind])
    trunks = [line for line in lines if line.kind == "trunk"]
    uppers = [line for line in lines if line.kind != "trunk"]
    for line in lines:
        # Lines lie close together low down: their labels stand high up, and in turns.
        place = (
            (0.86, 0.6)[trunks.index(line) % 2] if line in trunks else (0.58, 0.82)[uppers.index(line) % 2]
        )
        _write(ax, _side(_along(line, place)[None], system), _words(line, finished, system))
    for i, line in enumerate(line for line in line_set.fins if line.side == "R"):
        ax.plot(*_side(np.array([line.start, line.end]), system), **STYLES["fin"])
        _write(ax, _side(_along(line, (0.4, 0.25)[i % 2])[None], system), _words(line, finished, system))
    if line_set.rings is not None:
        _draw_ring(line_set.rings, ax, system)
    for line in brakes[:1]:
        _write(ax, _side(_along(line, 0.85)[None], system), f"brake {_size(line, finished, system)}")
    tabs = {line.rows[0]: line.end for line in lines if line.kind != "trunk"}
    chord = float(canopy.chord_at(angle))
    nose = canopy.point(angle, np.array(0.0), np.array(0.0))
    unit = label("tape_length", system)
    top = 1.03 * float(_side(outline, system)[1].max())
    for row, tab in tabs.items():
        x, z = (float(v[0]) for v in _side(tab[None], system))
        behind = show(float(nose[0] - tab[0]), "tape_length", system).removesuffix(f" {unit}")
        ax.plot(x, z, marker="o", color=INK, markersize=3.5)
        ax.annotate(
            f"{row}\n{behind}", (x, z), xytext=(x, top), ha="center", va="bottom", fontsize=7.5,
            arrowprops={"arrowstyle": "-", "color": "0.6", "linewidth": 0.6, "shrinkB": 3},
        )  # fmt: skip
    quarter = canopy.quarter_chord
    ax.plot(*_side(np.array([np.zeros(3), quarter]), system), color="0.6", linewidth=0.8, linestyle=":")
    ax.plot(0, 0, marker="x", color=INK)
    ax.update_datalim([(0.0, 1.09 * top)])
    ax.set_title(
        f"Rib {number} from the left; tabs behind the nose [{unit}]\n"
        f"chord {show(chord, 'tape_length', system)}, rigged "
        f"{show(rigging.rigging_angle, 'angle', system)} nose-down\n"
        f"confluence to quarter chord {show(rigging.line_length, 'tape_length', system)} (dotted)",
        fontsize=9.5,
    )
    ax.set_xlabel(axis_label("behind the confluence", "dimension", system))
    ax.set_ylabel(axis_label("over the confluence", "dimension", system))
    _equal(ax)


def _draw_ring(rings: BrakeRings, ax: Axes, system: System) -> None:
    """Right ring, and the line on to its servo's guide."""
    ax.plot(*_side(np.array([rings.place[1], rings.guide[1]]), system), **STYLES["brake"])
    ax.plot(
        *_side(rings.place[1:], system), linestyle="none", marker="o", markerfacecolor="white", color=RUST
    )


def plot_front(
    canopy: Canopy, line_set: LineSet, finished: Mapping[str, float], ax: Axes, system: System
) -> None:
    """Front rows of every rib, seen from ahead, so the canopy's left is to the right; and both brake fans."""
    for height in (canopy.outline[:, 1].min(), canopy.outline[:, 1].max()):
        span = np.linspace(-canopy.half_arc, canopy.half_arc, 81)
        arc = canopy.point(span, np.array(0.25), np.array(height))
        ax.plot(*_front(arc, system), color="0.35", linewidth=1.2)
    front_row = next(iter(line_set.straight))
    holds = [hold for hold in line_set.holds if any(front_row in line.rows for line in hold.lines)]
    for line in line_set.brakes:
        ax.plot(*_front(np.array([line.start, line.end]), system), **STYLES["brake"])
        if line.side == "L":
            place = 0.5 if "+" in line.label else 0.72
            _write_along(ax, line, place, _size(line, finished, system), system, color=RUST)
    for i, hold in enumerate(holds):
        for line in hold.lines:
            if line.kind == "branch" and line.rows != (front_row,):
                continue
            ax.plot(*_front(np.array([line.start, line.end]), system), **STYLES[line.kind])
            if line.side == "R":
                place = (0.86, 0.66)[i % 2] if line.kind == "trunk" else 0.5
                _write_along(ax, line, place, _size(line, finished, system), system)
    for line in line_set.fins:
        ax.plot(*_front(np.array([line.start, line.end]), system), **STYLES["fin"])
    numbers = range(1, canopy.n_ribs + 1)[canopy.loaded_ribs]
    angle = canopy.rib_angle[canopy.loaded_ribs]
    top = canopy.point(angle, np.full_like(angle, 0.25), np.full_like(angle, canopy.thickness_ratio * 1.05))
    for number, x, z in zip(numbers, *_front(top, system), strict=True):
        ax.annotate(f"{number}", (x, z), xytext=(0, 3), textcoords="offset points", ha="center", fontsize=8)
    ax.plot(*_front(line_set.riser_ends, system), linestyle="none", marker="x", color=INK)
    spread = show(float(line_set.riser_ends[1, 1] - line_set.riser_ends[0, 1]), "tape_length", system)
    ax.annotate(
        f"riser ends {spread} apart",
        (0, 0),
        xytext=(0, -14),
        textcoords="offset points",
        ha="center",
        fontsize=8,
    )
    ax.set_title(
        f"From ahead: row {front_row} of the right side (left here), brakes of the left side\n"
        f"projected span {show(canopy.projected_span, 'dimension', system)}\nribs numbered from the left tip",
        fontsize=9.5,
    )
    ax.set_xlabel(axis_label("to the left of the centre", "dimension", system))
    ax.set_ylabel(axis_label("over the confluence", "dimension", system))
    _equal(ax)


def _side(points: FloatArray, system: System) -> tuple[FloatArray, FloatArray]:
    return shown(-points[:, 0], "dimension", system), shown(-points[:, 2], "dimension", system)


def _front(points: FloatArray, system: System) -> tuple[FloatArray, FloatArray]:
    return shown(-points[:, 1], "dimension", system), shown(-points[:, 2], "dimension", system)


def _along(line: Line, part: float) -> FloatArray:
    return line.start + part * (line.end - line.start)


def _size(line: Line, finished: Mapping[str, float], system: System) -> str:
    """Finished length as the line sheet has it."""
    return show(finished[line.label], "tape_length", system)


def _words(line: Line, finished: Mapping[str, float], system: System) -> str:
    return f"{'+'.join(line.rows)} {_size(line, finished, system)}"


def _write(
    ax: Axes, place: tuple[FloatArray, FloatArray], text: str, color: str = INK, rotation: float = 0.0
) -> None:
    x, z = (float(v[0]) for v in place)
    ax.text(x, z, text, ha="center", va="center", fontsize=7, color=color, bbox=HALO, rotation=rotation)


def _write_along(ax: Axes, line: Line, place: float, words: str, system: System, color: str = INK) -> None:
    """From ahead: on a line and along it, never upside down; `place` from its lower end. [-]"""
    (x0, x1), (z0, z1) = _front(np.array([line.start, line.end]), system)
    turn = (degrees(atan2(z1 - z0, x1 - x0)) + 89) % 180 - 89
    _write(ax, _front(_along(line, place)[None], system), words, color=color, rotation=turn)


def _equal(ax: Axes) -> None:
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.08)
    ax.grid(visible=True)
