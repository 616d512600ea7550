"""Picture of the landings: speed over the ground and energy over the wind, against limits and yardsticks."""

from collections.abc import Iterable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.flight.drop import CAUTIONS
from parasim.flight.landing import COURSES, FORWARD_RESERVE, YARDSTICKS, Landing
from parasim.plotting.style import FAR_ABOVE, INK, SERIES, axis_label, footnote, look, new_figure, shown
from parasim.units import System, show

LIMIT: dict[str, Any] = {"color": INK, "linestyle": (0, (8, 3)), "linewidth": 2.2}
YARDSTICK: dict[str, Any] = {"color": "0.35", "linestyle": (0, (1, 2)), "linewidth": 1.3}
BACKWARDS: dict[str, Any] = {
    "linestyle": "none", "marker": "o", "markersize": 9, "markerfacecolor": "none", "markeredgecolor": INK,
}  # fmt: skip
LABEL_ROOM = 0.28
"""Free room for labels right of the curves, over the range of winds. [-]"""
LEGEND_ROOM = 1.45
"""Top of the axis over the fastest arrival, so that the legend lies above the curves. [-]"""
COURSE_WORDS = {"into": "into the wind", "across": "across the wind", "with": "with the wind"}


def landing_figure(landing: Landing, system: System = "metric") -> Figure:
    """Figure of every landing, one column a way, titled with the landing in the minimum wind."""
    ways = landing.ways
    with look():
        figure = new_figure(1.6 + 4.3 * len(ways), 7.2)
        panels = figure.subplots(2, len(ways), sharex=True, sharey="row", squeeze=False)
        for column, way in enumerate(ways):
            plot_ground_speed(landing, way, panels[0, column], system)
            plot_energy(landing, way, panels[1, column], system)
            sink = landing.still(way).touchdown.sink
            panels[0, column].set_title(f"{way}, sinking {show(sink, 'speed', system)}", fontsize=10)
            panels[1, column].set_xlabel(axis_label("wind at the canopy", "wind_speed", system))
            if column:
                panels[0, column].set_ylabel("")
                panels[1, column].set_ylabel("")
        panels[0, 0].legend(*_handles(panels[0]), loc="upper left")
        figure.suptitle(_finding(landing, system), x=0.01, ha="left", fontsize=11, fontweight="bold")
        fall = landing.still("unopened").touchdown
        unopened = (
            f"Unopened it would arrive at {show(fall.sink, 'speed', system)} down with "
            f"{show(fall.energy, 'energy', system)}.  Yardsticks are no permission; from memory, unverified."
        )
        footnote(figure, "\n".join([unopened, *CAUTIONS]))
    return figure


def _handles(panels: Iterable[Axes]) -> tuple[list[Any], list[str]]:
    """Lines and words for one legend of all panels: each once, also what stands in one of them alone."""
    found = {
        words: handle for ax in panels for handle, words in zip(*ax.get_legend_handles_labels(), strict=True)
    }
    return list(found.values()), list(found)


def _finding(landing: Landing, system: System) -> str:
    still = {way: landing.still(way) for way in landing.ways}
    first = still["brakes released"]
    air = "still air" if first.wind == 0 else f"{show(first.wind, 'wind_speed', system)} of wind ahead"
    energies = ", ".join(f"{show(a.touchdown.energy, 'energy', system)} {way}" for way, a in still.items())
    verdict = first.verdict("energy")
    limit = "" if verdict.limit is None else f" (limit {show(verdict.limit, 'energy', system)})"
    return f"{landing.vehicle.design.name} lands with {energies} in {air}{limit}"


def plot_ground_speed(landing: Landing, way: str, ax: Axes, system: System = "metric") -> None:
    """Speed over the ground over wind for each course, with its limit and where way is lost."""
    _plot_courses(landing, way, ax, "ground_speed", "speed", system)
    top = LEGEND_ROOM * float(shown(_fastest(landing), "speed", system))
    _limit_line(ax, landing.limits.max_ground_speed, "speed", system, top=top)
    wind = float(shown(landing.way_limit(way), "wind_speed", system))
    if wind <= float(shown(landing.winds[-1], "wind_speed", system)):
        ax.axvline(
            wind, color=INK, linestyle=(0, (4, 3)), linewidth=1.0,
            label=f"under {100 * FORWARD_RESERVE:.0f} % of way left beyond",
        )  # fmt: skip
    ax.set_ylim(0.0, top)
    ax.set_ylabel(axis_label("speed over the ground", "speed", system))


def _fastest(landing: Landing) -> float:
    """Largest speed over the ground of all under an open canopy. [m/s]"""
    return max(arrival.touchdown.ground_speed for arrival in landing.arrivals)


def plot_energy(landing: Landing, way: str, ax: Axes, system: System = "metric") -> None:
    """Energy over wind for each course, with its limit and the yardsticks."""
    _plot_courses(landing, way, ax, "energy", "energy", system)
    for stick in YARDSTICKS:
        if stick.quantity == "energy":
            value = float(shown(stick.value, "energy", system))
            ax.axhline(value, **YARDSTICK)
            _line_label(ax, value, f"yardstick {show(stick.value, 'energy', system)}")
    top = FAR_ABOVE * ax.get_ylim()[1]
    _limit_line(ax, landing.limits.max_energy, "energy", system, top=top, empty=(0.02, 0.95))
    ax.set_ylim(bottom=0.0)
    ax.set_ylabel(axis_label("energy at touchdown", "energy", system))


def _plot_courses(landing: Landing, way: str, ax: Axes, name: str, kind: str, system: System) -> None:
    last = float(shown(landing.winds[-1], "wind_speed", system))
    first = float(shown(landing.winds[0], "wind_speed", system))
    span = max(last - first, 1.0)
    ax.set_xlim(first - 0.05 * span, last + LABEL_ROOM * span)
    for course, style in zip(COURSES, SERIES, strict=False):
        series = landing.series(way, course)
        wind = np.array([arrival.wind for arrival in series])
        values = np.array([getattr(arrival.touchdown, name) for arrival in series])
        ax.plot(
            shown(wind, "wind_speed", system),
            shown(values, kind, system),
            **style,
            label=COURSE_WORDS[course],
        )
        back = np.array([arrival.backwards for arrival in series])
        if back.any():
            ax.plot(
                shown(wind[back], "wind_speed", system), shown(values[back], kind, system),
                **BACKWARDS, label="going backwards",
            )  # fmt: skip


def _limit_line(
    ax: Axes,
    limit: float | None,
    kind: str,
    system: System,
    *,
    top: float,
    empty: tuple[float, float] = (0.02, 0.03),
) -> None:
    """Limit as a line with its name; without one, or over `top`, words at `empty`, in axes fractions."""
    value = np.inf if limit is None else float(shown(limit, kind, system))
    if value > top:
        words = "no limit given (?)"
        if limit is not None:
            words = f"limit {show(limit, kind, system)}, above the picture"
        ax.annotate(words, empty, xycoords="axes fraction", ha="left", fontsize=8, color=INK)
        return
    ax.axhline(value, **LIMIT)
    _line_label(ax, value, "limit (x above)")


def _line_label(ax: Axes, value: float, text: str) -> None:
    ax.annotate(
        text, (0.99, value), xycoords=("axes fraction", "data"), xytext=(0, 2), textcoords="offset points",
        ha="right", va="bottom", fontsize=8, color=INK,
    )  # fmt: skip
