"""Map of canopy area and rigging angle: where a wanted landing lies, and what limits it."""

from math import degrees
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from parasim.flight.drop import CAUTIONS
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE
from parasim.plotting.style import (
    BLUE,
    INK,
    RUST,
    axis_label,
    footnote,
    label_contours,
    look,
    new_figure,
    shown,
)
from parasim.rotations import FloatArray
from parasim.study.size import SizePoint, Sizing
from parasim.units import System, show, unit

OWN: dict[str, Any] = {
    "marker": "o",
    "color": INK,
    "markersize": 8,
    "markerfacecolor": "white",
    "linestyle": "none",
}
CHOSEN: dict[str, Any] = {"marker": "*", "color": INK, "markersize": 15, "linestyle": "none"}
FIGURE: dict[str, Any] = {"colors": [BLUE], "linewidths": 1.2, "linestyles": "solid"}
TARGET: dict[str, Any] = {"colors": [BLUE], "linewidths": 3.2, "linestyles": "solid"}
GLIDE: dict[str, Any] = {"colors": [RUST], "linewidths": 1.2, "linestyles": "dashed"}
HATCHES = {"tuck": "\\\\\\\\", "stall": "////", "none": "xxxx"}
HATCH_WORDS = {
    "tuck": f"nose-tuck margin under {degrees(TUCK_RESERVE):.0f} deg",
    "stall": f"stall margin under {degrees(STALL_RESERVE):.0f} deg",
    "none": "no stable steady glide",
}
LEVELS = np.array([0.5, 0.6, 0.7, 0.8, 0.9, 1.1, 1.25, 1.5, 2.0, 3.0, 5.0])
"""Contours over the target. [-]"""
GOAL_KIND = {"sink": "speed", "energy": "energy"}


def size_figure(sizing: Sizing, system: System = "metric") -> Figure:
    """Figure of the map, titled with the answer."""
    with look():
        figure = new_figure(9.6, 5.6)
        ax = figure.add_subplot()
        plot_map(sizing, ax, system)
        ax.set_title(_finding(sizing, system))
        footnote(figure, "\n".join(CAUTIONS))
    return figure


def _finding(sizing: Sizing, system: System) -> str:
    wanted = f"{show(sizing.target, GOAL_KIND[sizing.goal], system)} of {sizing.goal}"
    chosen = sizing.chosen
    if chosen is None or chosen.trim is None:
        why = "none at that rigging" if sizing.answers else "nothing here reaches it"
        return f"{sizing.design.name}, {wanted}: {why}"
    return (
        f"{sizing.design.name}, {wanted}: {show(chosen.area, 'area', system)} rigged at "
        f"{show(chosen.rigging_angle, 'angle', system)} glides {chosen.trim.glide_ratio:.1f} to 1"
    )


def plot_map(sizing: Sizing, ax: Axes, system: System = "metric") -> None:
    """Contours of sink or energy and of glide ratio over flat area and rigging angle, limits hatched."""
    kind = GOAL_KIND[sizing.goal]
    area, angle = (_field(sizing, read) for read in (lambda p: p.area, lambda p: degrees(p.rigging_angle)))
    x = shown(area, "area", system)
    figure = shown(_field(sizing, lambda p: p.figure(sizing.goal)), kind, system)
    glide = _field(sizing, lambda p: p.trim.glide_ratio if p.trim else np.nan)
    handles: list[Artist] = _plot_contours(ax, x, angle, figure, glide, sizing, system)
    handles += _hatch(ax, x, angle, sizing)
    handles.append(_mark(ax, sizing.as_designed, OWN, "as designed", system))
    if sizing.chosen:
        handles.append(
            _mark(
                ax,
                sizing.chosen,
                CHOSEN,
                "rigged as the file has it" if sizing.as_rigged else "middle of the\nmodel's window",
                system,
            )
        )
    ax.set_xlabel(axis_label("flat area", "area", system))
    ax.set_ylabel(axis_label("rigging angle", "angle", system) + ", positive nose-down")
    ax.grid(False)
    ax.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1.0), borderaxespad=0.0)


def _plot_contours(
    ax: Axes,
    x: FloatArray,
    angle: FloatArray,
    figure: FloatArray,
    glide: FloatArray,
    sizing: Sizing,
    system: System,
) -> list[Artist]:
    """Contours of the figure aimed at, the wanted one bold, and of glide ratio; returns legend entries."""
    kind = GOAL_KIND[sizing.goal]
    target = float(shown(sizing.target, kind, system))
    handles: list[Artist] = []
    if min(figure.shape) < 2 or not np.isfinite(figure).any():
        return handles
    lines = ax.contour(x, angle, np.ma.masked_invalid(figure), levels=target * LEVELS, **FIGURE)
    taken = label_contours(ax, lines, "%.3g", part=0.4)
    glides = ax.contour(x, angle, np.ma.masked_invalid(glide), levels=6, **GLIDE)
    label_contours(ax, glides, "%.1f", part=0.75, taken=taken)
    if np.nanmin(figure) < target < np.nanmax(figure):
        ax.contour(x, angle, np.ma.masked_invalid(figure), levels=[target], **TARGET)
        text = f"wanted: {show(sizing.target, kind, system)}"
        handles.append(Line2D([], [], color=BLUE, linewidth=3.2, label=text))
    name = f"{sizing.goal} [{unit(kind, system).label}]"
    handles.append(Line2D([], [], color=BLUE, linewidth=1.2, label=name))
    handles.append(Line2D([], [], color=RUST, linewidth=1.2, linestyle="dashed", label="glide ratio"))
    return handles


def _field(sizing: Sizing, read: Any) -> FloatArray:
    """One figure over the map, shape (n_rigging, n_areas)."""
    return np.array([[read(point) for point in row] for row in sizing.grid], dtype=np.float64)


def _hatch(ax: Axes, x: FloatArray, y: FloatArray, sizing: Sizing) -> list[Artist]:
    """Hatch where a reserve is not kept, and next to where nothing glides; returns legend entries."""
    glides = _field(sizing, lambda p: p.trim is not None)
    fields = {
        "tuck": np.degrees(TUCK_RESERVE - _field(sizing, lambda p: p.tuck_margin)),
        "stall": np.degrees(STALL_RESERVE - _field(sizing, lambda p: p.stall_margin)),
        "none": 0.999 - glides,
    }
    handles: list[Artist] = []
    for name, lack in fields.items():
        lack = np.ma.masked_invalid(lack)
        if min(lack.shape) > 1 and lack.count() and float(lack.max()) > 0:
            ax.contourf(x, y, lack, levels=[0.0, 1e6], colors="none", hatches=[HATCHES[name]])
            handles.append(
                Patch(facecolor="white", edgecolor="0.5", hatch=HATCHES[name], label=HATCH_WORDS[name])
            )
    return handles


def _mark(ax: Axes, point: SizePoint, style: dict[str, Any], text: str, system: System) -> Line2D:
    x = float(shown(point.area, "area", system))
    return ax.plot(x, degrees(point.rigging_angle), **style, label=text, zorder=5, clip_on=False)[0]
