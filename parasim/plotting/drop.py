"""Pictures of a drop: from the side, from above, and over time."""

from math import degrees
from textwrap import fill
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.dynamics.brakes.control import BrakeMove
from parasim.flight.drop import CAUTIONS, Drop
from parasim.flight.track import Track
from parasim.plotting.map_marks import wind_arrow
from parasim.plotting.style import INK, LINES, RUST, axis_label, footnote, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, label, show

RELEASE: dict[str, Any] = {"marker": "o", "color": INK, "markersize": 8, "linestyle": "none"}
TOUCHDOWN: dict[str, Any] = {"marker": "X", "color": RUST, "markersize": 10, "linestyle": "none"}
MOVE: dict[str, Any] = {
    "marker": "d", "markerfacecolor": "white", "markeredgecolor": INK, "markersize": 7, "linestyle": "none",
}  # fmt: skip
CAUTION = "\n".join(CAUTIONS)
"""Said below each picture."""

MINIMUM_ANGLE_RANGE = 10.0
"""Minimum range of an axis of angles. [deg]"""


def side_figure(drop: Drop, system: System = "metric") -> Figure:
    """Figure of height over distance, titled with the landing."""
    with look():
        figure = new_figure(7.2, 4.6)
        ax = figure.add_subplot()
        plot_side(drop, ax, system)
        ax.set_title(landing_title(drop, system))
        footnote(figure, _small_print(drop))
    return figure


def landing_title(drop: Drop, system: System) -> str:
    """How it lands, or why nobody knows."""
    landing = drop.touchdown
    if landing is None:
        return _lost(drop)
    return (
        f"{drop.vehicle.design.name} lands at {show(landing.ground_speed, 'speed', system)} "
        f"over the ground and {show(landing.sink, 'speed', system)} down"
    )


def track_figure(drop: Drop, system: System = "metric") -> Figure:
    """Figure of the ground track, titled with where it ends."""
    with look():
        figure = new_figure(6.4, 6.2)
        ax = figure.add_subplot()
        plot_track(drop, ax, system)
        distance = show(drop.distance, "length", system, digits=0)
        place = f"{distance} from the point under the release,\nbearing {degrees(drop.bearing):03.0f} deg"
        ax.set_title(
            f"{drop.vehicle.design.name} lands {place}" if drop.touchdown else f"{_lost(drop)}\n{place}"
        )
        footnote(figure, _small_print(drop))
    return figure


def history_figure(drop: Drop, system: System = "metric") -> Figure:
    """Figure of the whole drop over time, titled with its length."""
    with look():
        figure = new_figure(7.2, 9.0)
        panels = figure.subplots(5, 1, sharex=True)
        plot_history(drop, panels, system)
        time = show(drop.time_aloft, "time", system)
        height = show(drop.release.height, "length", system, digits=0)
        panels[0].set_title(
            f"{drop.vehicle.design.name}: {time} aloft from {height}"
            if drop.touchdown
            else f"{_lost(drop)}\n{time} after release from {height}"
        )
        footnote(figure, CAUTION)
    return figure


def plot_side(drop: Drop, ax: Axes, system: System = "metric") -> None:
    """Height of the confluence over the length of the ground track, equal axes; brake moves marked."""
    track = drop.track
    along, height = shown(ground_path(track), "length", system), shown(track.height, "length", system)
    ax.plot(along, height, **LINES[0])
    ax.plot(along[0], height[0], **RELEASE, label="release")
    ax.plot(along[-1], height[-1], **TOUCHDOWN, label=_end(drop))
    _mark_moves(drop, ax, along, height)
    ax.axhline(0.0, color="0.35", linewidth=1.2)
    ax.set_aspect("equal", adjustable="datalim")
    ax.set_xlabel(axis_label("distance along the ground track", "length", system))
    ax.set_ylabel(axis_label("height of the confluence", "length", system))
    ax.legend(loc="best")


def plot_track(drop: Drop, ax: Axes, system: System = "metric") -> None:
    """Ground track, north up, equal axes, with the wind."""
    track = drop.track
    east, north = shown(track.east, "length", system), shown(track.north, "length", system)
    ax.plot(east, north, **LINES[0])
    ax.plot(east[0], north[0], **RELEASE, label="under the release")
    ax.plot(east[-1], north[-1], **TOUCHDOWN, label=_end(drop))
    _mark_moves(drop, ax, east, north)
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.15)
    ax.set_xlabel(axis_label("east", "length", system))
    ax.set_ylabel(axis_label("north", "length", system))
    wind_arrow(ax, drop.vehicle.wind, _free_corner(ax, east, north), system)
    ax.legend(loc="best")


def plot_history(drop: Drop, panels: FloatArray, system: System = "metric") -> None:
    """Height, speeds, bank, angle of attack and brakes over time, one panel each.

    Parameters
    ----------
    drop : Drop
        What to draw.
    panels : ndarray of Axes, shape (5,)
        Top to bottom.
    system : {"metric", "imperial"}
        Units.
    """
    track = drop.track
    height, speed, bank, alpha, brakes = panels
    curves = (
        (height, "height", "length", [("height", track.height)]),
        (
            speed,
            "speed",
            "speed",
            [("airspeed", track.airspeed), ("over the ground", track.ground_speed), ("sink", track.sink)],
        ),
        (bank, "bank", "angle", [("bank", track.attitude[0])]),
        (alpha, "angle of attack", "angle", [("angle of attack", track.alpha)]),
        (brakes, "brake", "percent", [("left", track.left), ("right", track.right)]),
    )
    for ax, name, kind, series in curves:
        for (words, values), style in zip(series, LINES, strict=False):
            ax.plot(track.time, shown(values, kind, system), **style, label=words)
        ax.set_ylabel(axis_label(name, kind, system))
        if len(series) > 1:
            ax.legend(loc="lower right", bbox_to_anchor=(1.0, 0.97), ncols=len(series), frameon=False)
    for ax in (height, speed):
        ax.set_ylim(bottom=0.0)
    for ax in (bank, alpha):
        _widen(ax, MINIMUM_ANGLE_RANGE)
    bank.set_ylabel(f"bank [{label('angle')}],\nright positive")
    brakes.set_ylim(-5, 105)
    brakes.set_xlabel(axis_label("time after release", "time", system))


def _widen(ax: Axes, minimum: float) -> None:
    """Let the upright axis span at least so much, so that small ripples look small."""
    low, high = ax.get_ylim()
    if high - low < minimum:
        middle = (low + high) / 2
        ax.set_ylim(middle - minimum / 2, middle + minimum / 2)


def _lost(drop: Drop) -> str:
    """Title's beginning where nobody knows how it lands; the reason on a line of its own, for it is long."""
    return f"{drop.vehicle.design.name}: touchdown not known,\n{drop.unknown}"


def _end(drop: Drop) -> str:
    """What the last point is; a flight that hangs on rounding may have landed there, or elsewhere."""
    if drop.touchdown:
        return "touchdown"
    return "touchdown not known" if drop.end.ending == "landed" else drop.end.ending


def ground_path(track: Track) -> FloatArray:
    """Length of the ground track up to each sample, shape (n,). [m]"""
    steps = np.hypot(np.diff(track.north), np.diff(track.east))
    return np.concatenate([[0.0], np.cumsum(steps)])


def _mark_moves(drop: Drop, ax: Axes, x: FloatArray, y: FloatArray) -> None:
    for number, move in enumerate(_moves(drop), start=1):
        i = int(np.searchsorted(drop.track.time, move.start))
        ax.plot(x[i], y[i], **MOVE, label="brakes move" if number == 1 else None)
        ax.annotate(
            str(number), (x[i], y[i]), xytext=(6, 6), textcoords="offset points", fontsize=9, color=INK
        )


def _moves(drop: Drop) -> list[BrakeMove]:
    return [move for move in drop.trajectory.commanded.moves if move.start <= drop.time_aloft]


def _small_print(drop: Drop) -> str:
    """Brake moves by their numbers, and the cautions."""
    moves = [
        f"{number}) L {100 * move.left:.0f} R {100 * move.right:.0f}"
        for number, move in enumerate(_moves(drop), start=1)
    ]
    return fill("Brakes, % of travel: " + "; ".join(moves) + ".", 100) + "\n" + CAUTION if moves else CAUTION


def _free_corner(ax: Axes, x: FloatArray, y: FloatArray) -> FloatArray:
    """Lower or upper left corner, whichever is farther from the track, in fractions of the axes."""
    ax.autoscale_view()
    ax.apply_aspect()
    track = ax.transAxes.inverted().transform(ax.transData.transform(np.column_stack([x, y])))
    corners = np.array([[0.11, 0.13], [0.11, 0.87]])
    distance = np.linalg.norm(track[None] - corners[:, None], axis=-1).min(axis=1)
    corner: FloatArray = corners[int(np.argmax(distance))]
    return corner
