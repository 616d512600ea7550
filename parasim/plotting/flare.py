"""Picture of a flare: what the start height does, and how the best one goes."""

from math import degrees
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.flight.drop import CAUTIONS
from parasim.flight.flare.flare import MISS, Flare
from parasim.plotting.style import BAND, INK, LINES, RUST, axis_label, footnote, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, show

BEST: dict[str, Any] = {"marker": "*", "color": INK, "markersize": 13, "linestyle": "none"}
MISSED: dict[str, Any] = {
    "marker": "v",
    "markerfacecolor": "white",
    "markeredgecolor": RUST,
    "markersize": 8,
    "linestyle": "none",
}
LEFT, RIGHT = ("sink",) * 3 + ("energy",) * 3, ("speed",) * 2 + ("alpha",) * 2 + ("brake",) * 2
"""Panels from top to bottom, in sixths of the height."""
STALLED: dict[str, Any] = {"color": RUST, "linestyle": (0, (1, 1.2)), "linewidth": 3.0}


def flare_figure(flare: Flare, system: System = "metric") -> Figure:
    """Figure of the flare, titled with what it gains."""
    with look():
        figure = new_figure(9.6, 6.0)
        axes = figure.subplot_mosaic(
            [[left, right] for left, right in zip(LEFT, RIGHT, strict=True)],
        )
        plot_over_height(flare, axes["sink"], "sink", system)
        plot_over_height(flare, axes["energy"], "energy", system)
        plot_history(flare, axes["speed"], axes["alpha"], axes["brake"], system)
        axes["sink"].set_title("at touchdown, by the height at which the pull begins", fontsize=9.5)
        axes["speed"].set_title("this flare over time", fontsize=9.5)
        axes["energy"].legend(loc="lower left", ncols=2)
        figure.suptitle(_finding(flare, system), x=0.01, ha="left", fontsize=11, fontweight="bold")
        footnote(figure, "\n".join(CAUTIONS))
    return figure


def _finding(flare: Flare, system: System) -> str:
    name = flare.vehicle.design.name
    if not flare.helps:
        return f"{name}: no pull of the brakes lands softer than none"
    up, down = flare.brakes_released, flare.touchdown
    return (
        f"{name} flared at {show(flare.start_height, 'length', system, digits=1)} lands at "
        f"{show(down.sink, 'speed', system)} down with {show(down.energy, 'energy', system)}; "
        f"brakes released {show(up.sink, 'speed', system)} and {show(up.energy, 'energy', system)}"
    )


def plot_over_height(flare: Flare, ax: Axes, figure: str, system: System = "metric") -> None:
    """Sink or energy at touchdown over the start height, stalled arrivals dotted; best and misses marked."""
    kind = "speed" if figure == "sink" else "energy"
    heights = np.linspace(0.0, flare.descent.deepest, 400)
    values = _figure_at(flare, heights, figure)
    stalled = flare.descent.highest_alpha(heights) > flare.stall_alpha
    x = shown(heights, "length", system)
    ax.plot(
        x, shown(np.where(stalled, np.nan, values), kind, system), **LINES[0], label="same pull, begun here"
    )
    if stalled.any():
        ax.plot(
            x, shown(np.where(stalled, values, np.nan), kind, system), **STALLED, label="stalled on the way"
        )
    up = flare.brakes_released.sink if figure == "sink" else flare.brakes_released.energy
    ax.axhline(float(shown(up, kind, system)), **LINES[3], label="brakes released")
    if flare.helps:
        best = flare.start_height
        ends = [float(shown(best + side * flare.height_error, "length", system)) for side in (-1, 1)]
        ax.axvspan(*ends, **BAND, label=f"height error of {show(flare.height_error, 'length', system)}")
        missed = np.array([h for h in (best - MISS, best + MISS) if 0 <= h <= flare.descent.deepest])
        ax.plot(
            *_points(flare, missed, figure, system),
            **MISSED,
            label=f"{show(MISS, 'length', system, digits=1)} off",
        )
        ax.plot(*_points(flare, np.array([best]), figure, system), **BEST, label="this flare")
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel(axis_label("height of the payload's bottom at the start", "length", system))
    ax.set_ylabel(axis_label(figure, kind, system))


def _points(flare: Flare, heights: FloatArray, figure: str, system: System) -> tuple[FloatArray, FloatArray]:
    kind = "speed" if figure == "sink" else "energy"
    return shown(heights, "length", system), shown(_figure_at(flare, heights, figure), kind, system)


def _figure_at(flare: Flare, heights: FloatArray, figure: str) -> FloatArray:
    sink, speed = flare.descent.arrivals(heights)
    return sink if figure == "sink" else 0.5 * flare.vehicle.mass * speed**2


def plot_history(flare: Flare, speed: Axes, alpha: Axes, brake: Axes, system: System = "metric") -> None:
    """Speeds, angle of attack and brakes from the start of the best flare to touchdown."""
    descent = flare.descent
    end = max(float(descent.time_of(flare.start_height)), 0.3)
    down = descent.time <= end
    time = descent.time[down]
    over_ground = np.hypot(*descent.velocity[:2, down])
    speed.plot(time, shown(over_ground, "speed", system), **LINES[0], label="over the ground")
    speed.plot(time, shown(descent.velocity[2, down], "speed", system), **LINES[1], label="sink")
    speed.set_ylabel(axis_label("speed", "speed", system))
    speed.set_ylim(bottom=min(0.0, speed.get_ylim()[0]))
    speed.legend(loc="center left")
    alpha.plot(time, np.degrees(descent.alpha[down]), **LINES[0])
    alpha.axhline(degrees(flare.stall_alpha), **LINES[3])
    alpha.annotate(
        "first strip stalls (brakes released)", (0.02, degrees(flare.stall_alpha)),
        xycoords=("axes fraction", "data"), xytext=(0, 2), textcoords="offset points",
        va="bottom", fontsize=8, color=INK,
    )  # fmt: skip
    alpha.set_ylim(0.0, max(alpha.get_ylim()[1], degrees(flare.stall_alpha) + 5))
    alpha.set_ylabel(axis_label("angle of attack", "angle", system))
    position = [100 * flare.pull.schedule.position(float(t))[0] for t in time]
    brake.plot(time, position, **LINES[0])
    brake.set_ylim(-5, 105)
    brake.set_ylabel(axis_label("brakes", "percent", system))
    brake.set_xlabel(axis_label("time after the pull begins", "time", system))
    for ax in (speed, alpha, brake):
        ax.set_xlim(0.0, end)
        if ax is not brake:
            ax.tick_params(labelbottom=False)
