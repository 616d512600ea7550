"""Map of a release: where to let go for the target, the plan as flown, and how far it can land."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.flight.drop import CAUTIONS
from parasim.flight.release.release import ReleasePoint
from parasim.plotting.map_marks import frame_map, north_arrow, scale_bar, wind_arrow
from parasim.plotting.style import BLUE, GREEN, INK, RUST, axis_label, footnote, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, show

EDGES: dict[str, dict[str, Any]] = {
    "high": {"color": BLUE, "linestyle": ":", "linewidth": 1.6, "label": "reach, high end of its band"},
    "middle": {"color": BLUE, "linestyle": "-", "linewidth": 2.0, "label": "reach, gliding straight"},
    "low": {"color": BLUE, "linestyle": "--", "linewidth": 1.8, "label": "reach, low end of its band"},
}
MARKED = 6
"""Heights written along the path, about. [-]"""

Place = tuple[float, float]


def release_figure(point: ReleasePoint, system: System = "metric") -> Figure:
    """Figure of the reach and, nearer, of the plan, titled with where to let go."""
    with look():
        figure = new_figure(8.8 + 4.2 * point.advised, 6.6)
        *maps, side = figure.subplots(1, 2 + point.advised, width_ratios=[*(1 + point.advised) * [4.2], 1.6])
        side.set_axis_off()
        plot_reach(point, maps[0], system)
        if point.advised:
            plot_plan(point, maps[1], system)
            maps[1].set_title("The plan", fontsize=10)
        side.legend(*_once(maps), loc="upper left", bbox_to_anchor=(-0.1, 1.0), frameon=False)
        north_arrow(side, (0.1, 0.25))
        wind_arrow(side, point.vehicle.wind, np.array([0.15, 0.1]), system, beside=(0.45, 0.1))
        figure.suptitle(_finding(point, system), x=0.01, ha="left", fontsize=11, fontweight="bold")
        maps[0].set_title("Reach from the release", fontsize=10)
        footnote(figure, "\n".join(CAUTIONS))
    return figure


def _once(maps: Sequence[Axes]) -> tuple[list[Any], list[str]]:
    """Handles and words of a legend, each word once."""
    found = {
        words: handle for ax in maps for handle, words in zip(*ax.get_legend_handles_labels(), strict=True)
    }
    return list(found.values()), list(found)


def plot_reach(point: ReleasePoint, ax: Axes, system: System = "metric") -> None:
    """Outlines of the reach, release and target: north up, equal axes, with a scale bar.

    The target is at the origin; without a release point, or with one planned, what lies under the release is.
    """
    below, target = _places(point)
    for end, style in EDGES.items():
        north, east = shown(np.array(below)[:, None] + point.reach.outline(end), "length", system)
        ax.plot(np.append(east, east[0]), np.append(north, north[0]), **style)
    _spots(point, ax, system)
    if target is not None and point.advised:
        _box(point, ax, target, system)
    _finish(ax, system)


def plot_plan(point: ReleasePoint, ax: Axes, system: System = "metric") -> None:
    """The plan as flown with heights along it, release and target, drawn as `plot_reach` has it."""
    _, target = _places(point)
    assert target is not None
    _box(point, ax, target, system)
    _path(point, ax, target, system)
    _spots(point, ax, system)
    _finish(ax, system)


def _finish(ax: Axes, system: System) -> None:
    ax.set_aspect("equal")
    ax.set_xlabel(axis_label("east", "length", system))
    ax.set_ylabel(axis_label("north", "length", system))
    frame_map(ax)
    scale_bar(ax, system)


def _spots(point: ReleasePoint, ax: Axes, system: System) -> None:
    below, target = _places(point)
    _spot(ax, below, system, marker="o", markersize=8, color=INK, label="under the release")
    if target is not None:
        _spot(ax, target, system, marker="+", markersize=15, markeredgewidth=2.2, color=RUST, label="target")
        near = f"within {show(point.radius, 'length', system, digits=0)} of it"
        _ring(ax, target, point.radius, system, color=RUST, linewidth=1.0, label=near)
        if point.advised and point.target is not None:
            advised = (np.array(target) + point.plan.release).tolist()
            _spot(ax, (advised[0], advised[1]), system, marker="o", markersize=8, markerfacecolor="white",
                  markeredgecolor=INK, label="point advised")  # fmt: skip


def _places(point: ReleasePoint) -> tuple[Place, Place | None]:
    """North and east of the point under the release, and of the target. [m]"""
    if point.target is not None:
        return (0.0, 0.0), (float(point.target[0]), float(point.target[1]))
    if not point.advised:
        return (0.0, 0.0), None
    north, east = point.plan.release.tolist()
    return (north, east), (0.0, 0.0)


def _box(point: ReleasePoint, ax: Axes, target: Place, system: System) -> None:
    """Ring round the point advised."""
    if point.plan.box > 0:
        north, east = (np.array(target) + point.plan.release).tolist()
        _ring(ax, (north, east), point.plan.box, system, color=GREEN, linestyle=(0, (6, 2, 1, 2)),
              linewidth=1.6, label="let go within this ring")  # fmt: skip


def _path(point: ReleasePoint, ax: Axes, target: Place, system: System) -> None:
    assert point.flown is not None
    path = np.array([(seen.north, seen.east, seen.height) for seen in point.flown.seen])
    x, y = shown(path[:, 1] + target[1], "length", system), shown(path[:, 0] + target[0], "length", system)
    ax.plot(x, y, color=INK, linewidth=1.3, label="plan, flown once;\nnumbers: its height")
    _heights(ax, x, y, path[:, 2], system)
    ax.plot(x[-1], y[-1], linestyle="none", marker="X", markersize=9, color=INK, label="its touchdown")


def _heights(ax: Axes, x: FloatArray, y: FloatArray, height: FloatArray, system: System) -> None:
    for level in np.linspace(height[0], 0.0, MARKED + 1)[1:-1]:
        i = int(np.argmax(height <= level))
        words = show(float(height[i]), "length", system, digits=0)
        ax.plot(x[i], y[i], marker=".", color=INK, markersize=6)
        ax.annotate(
            words, (x[i], y[i]), xytext=(5, 4), textcoords="offset points", fontsize=7.5, color=INK, zorder=5,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.5},
        )  # fmt: skip


def _spot(ax: Axes, place: Place, system: System, **style: Any) -> None:
    north, east = shown(np.array(place), "length", system)
    ax.plot(east, north, linestyle="none", zorder=4, **style)


def _ring(ax: Axes, place: Place, radius: float, system: System, **style: Any) -> None:
    angle = np.linspace(0, 2 * np.pi, 121)
    north, east = shown(np.array(place), "length", system)
    size = float(shown(radius, "length", system))
    ax.plot(east + size * np.sin(angle), north + size * np.cos(angle), zorder=3, **style)


def _finding(point: ReleasePoint, system: System) -> str:
    name, height = point.vehicle.design.name, show(point.height, "length", system, digits=0)
    if not point.advised:
        limit = show(point.limit, "wind_speed", system)
        return f"{name} from {height}: no release point, the wind is over {limit}"
    north, east = point.plan.release.tolist()
    far = show(float(np.hypot(north, east)), "length", system, digits=0)
    bearing = round(float(np.degrees(np.arctan2(east, north)))) % 360
    return f"{name} from {height}: let go {far} from the target, bearing {bearing:03d} deg"
