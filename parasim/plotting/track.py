"""Picture of a logged flight: map and height with segments, and ground velocities with their circle."""

from collections.abc import Iterator
from math import degrees, hypot
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.environment.wind import from_direction
from parasim.logs.noise import rates
from parasim.logs.segments import Segment, letter
from parasim.logs.track import LoggedFlight
from parasim.plotting.map_marks import north_arrow, scale_bar
from parasim.plotting.style import (
    BLUE,
    GREEN,
    GREY,
    INK,
    RUST,
    axis_label,
    footnote,
    look,
    new_figure,
    shown,
)
from parasim.rotations import FloatArray
from parasim.units import System, convert, label, show

STYLES: dict[str, dict[str, Any]] = {
    "carried": {"color": GREY, "linestyle": (0, (1, 1)), "linewidth": 1.6},
    "opening": {"color": INK, "linestyle": "-", "linewidth": 3.4},
    "straight": {"color": BLUE, "linestyle": "-", "linewidth": 2.2},
    "circles": {"color": RUST, "linestyle": (0, (5, 1.5)), "linewidth": 2.0},
    "turn": {"color": GREEN, "linestyle": "-.", "linewidth": 2.0},
    "flare": {"color": INK, "linestyle": (0, (1, 0.8)), "linewidth": 3.0},
}
"""Each kind of segment differs in dash and width, so that colour is only a help."""

MARKS = {"straight": "o", "circles": "s", "turn": "^"}
"""Of velocities of each kind."""

FLOWN = CAUTION.replace("Computed, not flown", "Measured, with errors")
"""The caution under a flight that took place."""

THIN: dict[str, Any] = {"color": "0.6", "linewidth": 0.9, "zorder": 1}

LABEL: dict[str, Any] = {
    "fontsize": 8.5, "fontweight": "bold", "color": INK, "ha": "center", "va": "center", "zorder": 6,
    "bbox": {"boxstyle": "round,pad=0.18", "facecolor": "white", "edgecolor": "0.4", "linewidth": 0.7},
}  # fmt: skip


def track_figure(flight: LoggedFlight, system: System = "metric") -> Figure:
    """Figure of one logged flight, titled with its wind."""
    with look():
        figure = new_figure(12.0, 7.6)
        grid = figure.add_gridspec(2, 2, width_ratios=(1.25, 1.0))
        plot_map(flight, figure.add_subplot(grid[:, 0]), system)
        plot_height(flight, figure.add_subplot(grid[0, 1]), system)
        plot_velocities(flight, figure.add_subplot(grid[1, 1]), system)
        found = flight.winds.wind
        wind = "wind not known" if found is None else found.words(system)
        title = f"{flight.log.file}: {flight.course.duration:.0f} s, {wind}"
        figure.suptitle(title, x=0.01, ha="left", fontsize=11, fontweight="bold")
        footnote(figure, f"Letters as in the table of segments.\n{FLOWN}")
    return figure


def letters(flight: LoggedFlight) -> Iterator[tuple[str, Segment]]:
    """Segments with their letters."""
    return ((letter(i), segment) for i, segment in enumerate(flight.course.segments))


def plot_map(flight: LoggedFlight, ax: Axes, system: System = "metric") -> None:
    """Track over the ground, north up, segments named."""
    place = flight.log.place.between(flight.course.release.time - 20.0, flight.course.touchdown.time)
    origin = flight.log.place.at(np.array([flight.course.touchdown.time]))
    ax.plot(*_on_map(place.value - origin, system), **THIN)
    for name, segment in letters(flight):
        if segment.kind == "carried":
            continue
        part = _path(flight, segment) - origin
        ax.plot(*_on_map(part, system), **STYLES[segment.kind])
        x, y = _on_map(part, system)[:, part.shape[1] // 2]
        ax.annotate(name, (x, y), **LABEL)
    for words, time, mark in (
        ("release", flight.course.release.time, "v"),
        ("touchdown", flight.course.touchdown.time, "X"),
    ):
        x, y = _on_map(flight.log.place.at(np.array([time])) - origin, system)[:, 0]
        ax.plot(x, y, mark, color=INK, markersize=9, zorder=5)
        ax.annotate(
            words, (x, y), xytext=(8, -10), textcoords="offset points", fontsize=8.5, color=INK, zorder=6
        )
    square(ax)
    ax.set_xlabel(axis_label("east of touchdown", "length", system))
    ax.set_ylabel(axis_label("north of touchdown", "length", system))
    north_arrow(ax, (0.05, 0.86))
    scale_bar(ax, system)
    ax.set_title(f"released {show(flight.height, 'length', system, digits=0)} up", fontsize=10)


def square(ax: Axes, margin: float = 0.12) -> None:
    """Limits of equal length that hold all lines, with a margin."""
    x, y = ax.dataLim.intervalx, ax.dataLim.intervaly
    half = (0.5 + margin) * max(float(np.ptp(x)), float(np.ptp(y)), 1.0)
    middle_x, middle_y = float(np.mean(x)), float(np.mean(y))
    ax.set_xlim(middle_x - half, middle_x + half)
    ax.set_ylim(middle_y - half, middle_y + half)
    ax.set_aspect("equal", adjustable="box")


def _path(flight: LoggedFlight, segment: Segment) -> FloatArray:
    """Places of a segment with its ends, shape (2, n)."""
    inner = flight.log.place.between(segment.start, segment.end)
    time = np.unique(np.concatenate(([segment.start], inner.time, [segment.end])))
    return flight.log.place.at(time)


def _on_map(north_east: FloatArray, system: System) -> FloatArray:
    """East to the right, north up, in the unit of the picture."""
    return shown(north_east[::-1], "length", system)


def plot_height(flight: LoggedFlight, ax: Axes, system: System = "metric") -> None:
    """Height over time after release, segments named."""
    zero = flight.course.release.time
    height = flight.log.height.between(zero - 15.0, flight.course.touchdown.time + 10.0)
    ax.plot(height.time - zero, shown(height.value[0], "length", system), **THIN)
    done: set[str] = set()
    for name, segment in letters(flight):
        start = max(segment.start, zero - 15.0)
        inner = height.between(start, segment.end)
        time = np.unique(np.concatenate(([start], inner.time, [segment.end])))
        values = shown(flight.log.height.at(time)[0], "length", system)
        words = None if segment.kind in done else segment.kind
        done.add(segment.kind)
        ax.plot(time - zero, values, **STYLES[segment.kind], label=words)
        middle = len(time) // 2
        ax.annotate(
            name, (time[middle] - zero, values[middle]), xytext=(12, 9), textcoords="offset points", **LABEL
        )
    ax.axhline(0.0, color="0.4", linewidth=0.8)
    ax.margins(y=0.14)
    ax.set_xlabel("time after release [s]")
    ax.set_ylabel(axis_label("height above ground", "length", system))
    ax.legend(loc="upper right")
    ax.set_title("height", fontsize=10)


def plot_velocities(flight: LoggedFlight, ax: Axes, system: System = "metric") -> None:
    """Velocities over the ground, the circle laid through those of circles, and its centre: the wind."""
    done: set[str] = set()
    for _, segment in letters(flight):
        if segment.kind not in MARKS:
            continue
        of = rates(flight.log.speeds, segment.start, segment.end)
        words = None if segment.kind in done else segment.kind
        done.add(segment.kind)
        ax.plot(
            *shown(of.value[::-1], "speed", system), MARKS[segment.kind], markersize=4,
            markerfacecolor="none", color=STYLES[segment.kind]["color"], label=words,
        )  # fmt: skip
    around = np.linspace(0.0, 2 * np.pi, 181)
    for number, fit in enumerate(flight.winds.circles.values()):
        ring = fit.wind[::-1, None] + fit.speed * np.array([np.sin(around), np.cos(around)])
        named = "circle fitted" if number == 0 else None
        ax.plot(*shown(ring, "speed", system), color=INK, linewidth=1.2, label=named)
    _wind_mark(flight, ax, system)
    square(ax)
    ax.set_xlabel(axis_label("ground velocity east", "speed", system))
    ax.set_ylabel(axis_label("north", "speed", system))
    if ax.get_legend_handles_labels()[0]:
        ax.legend(loc="upper left", bbox_to_anchor=(1.02, 1.0), fontsize=8)
    ax.set_title(_finding(flight, system), fontsize=10)


def _finding(flight: LoggedFlight, system: System) -> str:
    """What the circle says."""
    fits = list(flight.winds.circles.values())
    if not fits:
        return "ground velocity"
    return f"radius: {show(fits[0].speed, 'speed', system)} through the air"


def _wind_mark(flight: LoggedFlight, ax: Axes, system: System) -> None:
    """Arrow from no wind to the wind, and a cross of its errors."""
    wind = flight.winds.wind
    ax.plot(0.0, 0.0, "+", color=INK, markersize=9)
    if wind is None:
        ax.annotate("wind not known", (0.03, 0.03), xycoords="axes fraction", fontsize=8.5)
        return
    north, east = shown(wind.velocity, "speed", system)
    errors = shown(np.sqrt(np.diag(wind.covariance)), "speed", system)
    ax.errorbar(east, north, xerr=errors[1], yerr=errors[0], color=INK, capsize=3, marker="*", markersize=10)
    ax.annotate(
        "", (east, north), xytext=(0.0, 0.0), arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.6}
    )
    speed = f"{convert(hypot(*wind.velocity), 'wind_speed', system):.1f} {label('wind_speed', system)}"
    ax.annotate(
        f"wind {speed}\nfrom {degrees(from_direction(wind.velocity)):.0f} deg", (east, north), xytext=(9, 7),
        textcoords="offset points", fontsize=8.5, color=INK,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1},
    )  # fmt: skip
