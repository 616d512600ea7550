"""Dimensioned drawing: front, side and plan of canopy, lines and payload, with the sizes that rig them."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.dynamics.vehicle import Vehicle
from parasim.plotting.canopy import FRONT, SIDE, View, canopy_pieces, plot_canopy
from parasim.plotting.scene import build_scene
from parasim.plotting.style import INK, RUST, look, new_figure, shown
from parasim.units import System, show

PLAN = View(azimuth=0.0, elevation=np.pi / 2)
"""From above, the nose down on the paper."""

ARROW = {"arrowstyle": "<->", "color": INK, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}


def views_figure(vehicle: Vehicle, system: System = "metric") -> Figure:
    """Front, side and plan with span, chord, line length, rigging angle and hooks."""
    canopy, pieces = vehicle.canopy, canopy_pieces(vehicle)
    with look():
        figure = new_figure(9.0, 2.9)
        axes = figure.subplots(1, 3, width_ratios=(1.35, 0.8, 1.35))
        for ax, view, title in zip(axes, (FRONT, SIDE, PLAN), ("front", "left side", "plan"), strict=True):
            plot_canopy(pieces, ax, view, system)
            ax.set_title(title, fontsize=9)
            ax.set_axis_off()
        half = canopy.projected_span / 2
        top = float(canopy.point(np.array(0.0), np.array(0.25), np.array(0.0))[2])
        above = top - 0.12 * canopy.projected_span
        _dimension(
            axes[0], FRONT, [0, -half, above], [0, half, above],
            f"span {show(canopy.projected_span, 'dimension', system)} flown, "
            f"{show(canopy.span, 'dimension', system)} along the arc", system, (0, 1),
        )  # fmt: skip
        _side(vehicle, axes[1], system)
        nose, tail = (canopy.point(np.array(0.0), np.array(x), np.array(0.0)) for x in (0.0, 1.0))
        aside = half + 0.1 * canopy.projected_span
        _dimension(
            axes[2], PLAN, [nose[0], aside, 0], [tail[0], aside, 0],
            f"chord\n{show(float(nose[0] - tail[0]), 'dimension', system)}", system, (-1, 0),
        )  # fmt: skip
    return figure


def _side(vehicle: Vehicle, ax: Axes, system: System) -> None:
    canopy, rigging = vehicle.canopy, vehicle.rigging
    quarter = canopy.point(np.array(0.0), np.array(0.25), np.array(0.0))
    _dimension(ax, SIDE, [0.0, 0.0, 0.0], quarter.tolist(), "", system, (0, 0))
    long, angle = show(rigging.line_length, "dimension", system), show(rigging.rigging_angle, "angle", system)
    ax.set_xlabel("")
    ax.annotate(
        f"arrow: line length {long}, rigged\n{angle} nose-down; dots: hooks",
        (0.5, -0.03), xycoords="axes fraction", ha="center", va="top",
        fontsize=8, color=INK,
    )  # fmt: skip
    for point, _ in build_scene(vehicle.design, canopy, vehicle.line_set).risers:
        x, y = shown(SIDE.axes[:2] @ point, "dimension", system)
        ax.plot(x, y, marker="o", markersize=3.5, color=RUST, zorder=50)


def _dimension(
    ax: Axes,
    view: View,
    start: list[float],
    end: list[float],
    words: str,
    system: System,
    beside: tuple[int, int],
) -> None:
    """A line with arrows at both ends, and its size beside its middle: -1 to the left, 1 up, else 0."""
    a, b = (shown(view.axes[:2] @ np.array(point), "dimension", system) for point in (start, end))
    ax.annotate("", xy=tuple(a), xytext=tuple(b), arrowprops=ARROW, zorder=60)
    x, y = (a + b) / 2
    aside, up = beside
    ax.annotate(
        words, (x, y), xytext=(4 * aside, 3 * up), textcoords="offset points",
        ha="right" if aside else "center", va="bottom" if up else "center", fontsize=8, color=INK, zorder=61,
    )  # fmt: skip
    ax.update_datalim([a, b])
    ax.autoscale_view()
