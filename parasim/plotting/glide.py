"""Pictures of the glide: the polar over both brakes, and what the rigging angle does."""

from collections.abc import Callable
from math import degrees

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from parasim.caveats import CAUTION
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE, Glide
from parasim.flight.trim import Trim
from parasim.plotting.style import BAND, INK, SERIES, axis_label, footnote, look, mark_side, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, show

LABEL_GAP = 11.0
"""From a mark to its label. [points]"""

STAR_ROOM = 30.0
"""Round the first point of the polar where its own mark stands. [pixels] Our choice."""


def polar_figure(glide: Glide, system: System = "metric") -> Figure:
    """Figure of the polar, titled with the glide with the brakes released."""
    trim, ratio = glide.trim, glide.bands.figures["glide_ratio"]
    with look():
        figure = new_figure(6.8, 5.2)
        ax = figure.add_subplot()
        plot_polar(glide, ax, system)
        ax.set_title(
            f"{glide.vehicle.design.name} glides {trim.glide_ratio:.1f} to 1 ({ratio.low:.1f} to "
            f"{ratio.high:.1f}) at {show(trim.airspeed, 'speed', system)}, brakes released"
        )
        footnote(figure, CAUTION)
    return figure


def plot_polar(glide: Glide, ax: Axes, system: System = "metric") -> None:
    """Sink, downwards, against forward speed: all brakes, and the released ones with their band."""
    flown = [(point.setting, point.trim) for point in glide.brakes if point.trim is not None]
    forward = shown(np.array([trim.forward_speed for _, trim in flown]), "speed", system)
    sink = shown(np.array([trim.sink for _, trim in flown]), "speed", system)
    _plot_band(glide, ax, system)
    travel = show(glide.vehicle.design.brakes.travel, "small_length", system)
    ax.plot(forward, sink, **SERIES[0], label=f"both brakes, marks every 10 % of {travel}")
    brakes_released = shown(np.array([glide.trim.forward_speed, glide.trim.sink]), "speed", system)
    ax.plot(*brakes_released, linestyle="none", marker="*", markersize=14, color=INK, label="brakes released")
    ax.set_xlabel(axis_label("forward speed in still air", "speed", system))
    ax.set_ylabel(axis_label("sink", "speed", system) + ", downwards")
    ax.margins(0.1)
    ax.invert_yaxis()
    texts = {
        i: f"{100 * setting:.0f} %"
        for i, (setting, _) in enumerate(flown)
        if i and round(100 * setting) % 20 == 0
    }
    _label_along(ax, forward, sink, texts)
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.13), ncols=2)


def _plot_band(glide: Glide, ax: Axes, system: System) -> None:
    figures = glide.bands.figures
    left, right, low, high = (
        float(shown(getattr(figures[name], end), "speed", system))
        for name, end in (
            ("forward_speed", "low"),
            ("forward_speed", "high"),
            ("sink", "low"),
            ("sink", "high"),
        )
    )
    ax.add_patch(
        Rectangle(
            (left, low), right - left, high - low, **BAND, label="band of the glide with the brakes released"
        )
    )
    ax.update_datalim([(left, low), (right, high)])


def _label_along(ax: Axes, x: FloatArray, y: FloatArray, texts: dict[int, str]) -> None:
    """Label points of a curve on its right-hand side, off the line, or where that is off its first point."""
    ax.autoscale_view()
    place = ax.transData.transform(np.column_stack([x, y]))
    along = np.gradient(place, axis=0)
    side = np.column_stack([along[:, 1], -along[:, 0]]) / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    for i, text in texts.items():
        away = LABEL_GAP * side[i]
        dx, dy = max((away, -away), key=lambda way: min(np.hypot(*(place[i] + way - place[0])), STAR_ROOM))
        ax.annotate(
            text, (x[i], y[i]), xytext=(dx, dy), textcoords="offset points", fontsize=8, color=INK,
            ha="left" if dx > 3 else "right" if dx < -3 else "center",
            va="bottom" if dy > 3 else "top" if dy < -3 else "center",
        )  # fmt: skip


def rigging_figure(glide: Glide, system: System = "metric") -> Figure:
    """Figure of glide ratio and sink against rigging angle, titled with the window."""
    name, window = glide.vehicle.design.name, glide.window
    with look():
        figure = new_figure(6.8, 6.4)
        upper, lower = figure.subplots(2, 1, sharex=True)
        plot_rigging(glide, upper, lambda trim: trim.glide_ratio, "ratio", "glide ratio", system)
        plot_rigging(glide, lower, lambda trim: trim.sink, "speed", "sink", system)
        upper.set_xlabel("")
        upper.set_title(f"{name}: {_window_in_words(glide)}")
        if window:
            lower.legend(loc="upper center", bbox_to_anchor=(0.5, -0.22))
        footnote(figure, CAUTION)
    return figure


def _window_in_words(glide: Glide) -> str:
    if glide.window is None:
        return "no usual rigging angle keeps both margins"
    low, high = (f"{degrees(end):.1f} deg" for end in glide.window)
    return f"the model's window is {low} to {high}"


def plot_rigging(
    glide: Glide,
    ax: Axes,
    figure_of: Callable[[Trim], float],
    kind: str,
    name: str,
    system: System = "metric",
) -> None:
    """One figure of the glide against rigging angle, the model's window hatched, the design marked."""
    angle = shown(np.array([point.setting for point in glide.rigging]), "angle", system)
    value = [np.nan if point.trim is None else figure_of(point.trim) for point in glide.rigging]
    ax.plot(angle, shown(np.array(value), kind, system), **SERIES[0])
    if glide.window:
        tuck, stall = degrees(TUCK_RESERVE), degrees(STALL_RESERVE)
        words = f"window: by the bands tuck margin over {tuck:.0f}, stall margin over {stall:.0f} deg"
        ax.axvspan(*(degrees(end) for end in glide.window), **BAND, label=words)
    mark_side(ax, degrees(glide.vehicle.rigging.rigging_angle), "this design")
    ax.set_xlabel(axis_label("rigging angle", "angle", system) + ", positive nose-down")
    ax.set_ylabel(axis_label(name, kind, system))
