"""A drop as a strip of poses: canopy, lines and payload as they hang at moments of the flight.

Above, the flown path to scale with the poses along it, enlarged; below, each pose at one scale from its right
side, and from behind where it turns.
"""

from math import hypot
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure

from parasim.flight.drop import Drop
from parasim.plotting.canopy import SIDES
from parasim.plotting.drop import CAUTION, ground_path, landing_title
from parasim.plotting.map_marks import round_length
from parasim.plotting.poses import POSES, Pose, View, moments, poses
from parasim.plotting.style import INK, axis_label, footnote, look, new_figure, shown, svg_file
from parasim.rotations import FloatArray
from parasim.units import System, label, show, unit

ENLARGED = 0.26
"""Height of a pose along the path over the path's longer side, at most. Our choice. [-]"""

APART = 0.9
"""Of poses along the path that are drawn, over their height; between them stand numbers only. [-]"""

NARROWEST = 0.8
"""Width of the path's picture over its height, at least. [-]"""

MARKS_APART = 0.03
"""Of numbers along the path, over its longer side. [-]"""

ROOM = 0.06
"""Around a pose, over its height. [-]"""

UPPER, LOWER, FIN, BOX = "0.78", "0.95", "0.6", "0.35"
"""Greys of top skin, bottom skin, stabilisers and payload, which a print without colour keeps apart."""

ARROW: dict[str, Any] = {
    "arrowstyle": "-|>", "linewidth": 1.2, "color": INK, "mutation_scale": 8, "shrinkA": 0, "shrinkB": 0,
}  # fmt: skip


def strip_svg(drop: Drop, system: System = "metric") -> str:
    """Strip as an SVG file, with its words as title for those who cannot see it."""
    return svg_file(strip_figure(drop, system), strip_words(drop, system), salt="strip")


def strip_words(drop: Drop, system: System = "metric") -> str:
    """The strip in a few sentences."""
    shots = poses(drop, moments(drop))
    listed = "; ".join(
        f"{number}: {', '.join(_head(pose, system))}{', turning' if pose.turning else ''}"
        for number, pose in enumerate(shots, start=1)
    )
    title = landing_title(drop, system).replace("\n", " ")
    return f"{title}. Poses by time after release and height of the confluence: {listed}."


def strip_figure(drop: Drop, system: System = "metric") -> Figure:
    """Figure of the path with poses on it, and of each pose from its side and, turning, from behind."""
    shots = poses(drop, moments(drop))
    window, turns = window_of(shots), any(pose.turning for pose in shots)
    with look():
        figure = new_figure(10.6, 7.8 if turns else 6.3)
        layout = figure.add_gridspec(3 if turns else 2, POSES, height_ratios=(2.9, 1.6, 1.6)[: 2 + turns])
        path = figure.add_subplot(layout[0, :])
        plot_path(drop, shots, path, system)
        path.set_title(landing_title(drop, system))
        for column, pose in enumerate(shots):
            ax = figure.add_subplot(layout[1, column])
            plot_pose(drop, pose, ax, "side", window, system)
            head = "\n".join([f"{column + 1}", *_head(pose, system)])
            ax.set_title(head, fontsize=8.5, fontweight="normal", loc="center")
            if column == 0:
                _scale_bar(ax, window, system)
            if pose.turning:
                ax = figure.add_subplot(layout[2, column])
                plot_pose(drop, pose, ax, "behind", window, system)
                ax.set_title(f"{column + 1} from behind", fontsize=8.5, fontweight="normal", loc="center")
        footnote(figure, _small_print(drop))
    return figure


def plot_path(drop: Drop, shots: list[Pose], ax: Axes, system: System = "metric") -> None:
    """Height of the confluence over the length of the ground track, equal axes, with enlarged poses."""
    track, one = drop.track, unit("length", system).size
    along, height = shown(ground_path(track), "length", system), shown(track.height, "length", system)
    ax.plot(along, height, color=INK, linewidth=0.9)
    ax.axhline(0.0, color=INK, linewidth=1.6)
    tall = float(np.ptp(window_of(shots)[:, 1])) / one
    larger = max(round_length(ENLARGED * max(float(along[-1]), float(height[0])) / tall), 1.0)
    below = -float(window_of(shots)[0, 1]) / one
    places = [
        np.array([np.interp(pose.time, track.time, each) for each in (along, height)]) for pose in shots
    ]
    drawn: list[FloatArray] = []
    for pose, place in zip(shots, places, strict=True):
        clear = all(hypot(*(place - other)) > APART * larger * tall for other in drawn)
        if clear and place[1] > larger * below:
            drawn.append(place)
            _draw(pose, ax, "side", place, [larger / one * _forward(drop, pose), larger / one])
    _number(ax, places, MARKS_APART * max(float(along[-1]), float(height[0])))
    ax.set_aspect("equal", anchor="W")
    ax.margins(0.04)
    ax.autoscale_view()
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    ax.set_xlim(left, max(right, left + NARROWEST * (high - low)))
    ax.set_xlabel(axis_label("distance along the ground track", "length", system))
    words = f"poses drawn\n{larger:g} times larger"
    ax.annotate(words, (0.98, 0.96), xycoords="axes fraction", ha="right", va="top", fontsize=8)
    ax.set_ylabel(axis_label("height of the confluence", "length", system))


def _number(ax: Axes, places: list[FloatArray], apart: float) -> None:
    """Number points; those nearer to the next one than `apart` share its label."""
    first = 1
    for number, place in enumerate(places, start=1):
        ax.plot(*place, marker="o", markersize=2.5, color=INK, zorder=4)
        if number < len(places) and hypot(*(places[number] - place)) < apart:
            continue
        words = f"{first}" if first == number else f"{first}-{number}"
        ax.annotate(words, tuple(place), xytext=(5, 2), textcoords="offset points", fontsize=8, zorder=5)
        first = number + 1


def plot_pose(
    drop: Drop, pose: Pose, ax: Axes, view: View, window: FloatArray, system: System = "metric"
) -> None:
    """One pose and the ground, if near, in a window that all share; the wind's arrow above it.

    Parameters
    ----------
    drop, pose
        What to draw.
    ax : Axes
        Where.
    view : {"side", "behind"}
        From where.
    window : ndarray, shape (2, 2)
        Least and greatest place beside and above the confluence. [m]
    system : {"metric", "imperial"}
        Units.
    """
    (left, low), (right, high) = window
    ground = float(pose.confluence[2])
    if ground > low:
        ax.axhspan(low, ground, facecolor="0.9", edgecolor="0.5", hatch="////", linewidth=0.0)
        ax.axhline(ground, color=INK, linewidth=1.6)
    _draw(pose, ax, view, np.zeros(2), [1.0, 1.0])
    _wind(drop, pose, ax, view, system)
    ax.set_xlim(left, right)
    ax.set_ylim(low, high)
    ax.set_aspect("equal")
    ax.set_axis_off()


def _draw(pose: Pose, ax: Axes, view: View, place: FloatArray, scale: list[float]) -> None:
    """Parts of a pose, so much larger in both directions, at a place: lines, cloth far to near, payload."""

    def on_paper(points: FloatArray) -> FloatArray:
        return place + scale * pose.seen(points, view)[..., :2]

    for segments, width in ((pose.lines, 0.4), (pose.risers, 1.0)):
        ax.add_collection(LineCollection(list(on_paper(segments)), colors=INK, linewidths=width, zorder=2))
    skins = [(_patches(pose.lower), LOWER), (_patches(pose.upper), UPPER)]
    skins += [(_patches(edges), FIN) for edges in pose.stabilisers]
    cloth = np.concatenate([patches for patches, _ in skins])
    greys = np.concatenate([[grey] * len(patches) for patches, grey in skins])
    far_to_near = np.argsort(pose.seen(cloth, view)[..., 2].mean(axis=1))
    for patches, faces in (
        (cloth[far_to_near], greys[far_to_near].tolist()),
        (pose.payload[np.array(SIDES)], BOX),
    ):
        drawn = PolyCollection(
            list(on_paper(patches)), facecolors=faces, edgecolors=INK, linewidths=0.25, zorder=3
        )
        ax.add_collection(drawn)
        ax.update_datalim(on_paper(patches).reshape(-1, 2))


def _patches(skin: FloatArray) -> FloatArray:
    """Four corners each, shape (n, 4, 3), of a skin's points."""
    a, b, c, d = skin[:-1, :-1], skin[1:, :-1], skin[1:, 1:], skin[:-1, 1:]
    return np.stack([a, b, c, d], axis=2).reshape(-1, 4, 3)


def window_of(shots: list[Pose]) -> FloatArray:
    """Least and greatest place, beside and above the confluence, that shows every pose in both views. [m]"""
    seen = [pose.seen(pose.everything, view)[:, :2] for pose in shots for view in ("side", "behind")]
    every = np.concatenate(seen)
    beside = np.abs(every[:, 0]).max()
    low, high = every[:, 1].min(), every[:, 1].max()
    room = ROOM * (high - low)
    return np.array([[-beside - room, low - 2 * room], [beside + room, high + 4 * room]])


def _wind(drop: Drop, pose: Pose, ax: Axes, view: View, system: System) -> None:
    """Mean wind at the confluence, as far as it blows across the view: arrow and speed above the canopy."""
    north, east = drop.vehicle.wind.velocity(max(-float(pose.confluence[2]), 0.0))
    blows = float(pose.seen(np.array([north, east, 0.0]), view)[0])
    words = f"{abs(shown(blows, 'wind_speed', system)):.1f} {label('wind_speed', system)}"
    if words.startswith("0.0"):
        return
    ends = (0.7, 0.95) if blows > 0 else (0.95, 0.7)
    ax.annotate("", (ends[1], 0.96), xytext=(ends[0], 0.96), xycoords="axes fraction", arrowprops=ARROW)
    ax.annotate(words, (0.66, 0.96), xycoords="axes fraction", ha="right", va="center", fontsize=7)


def _scale_bar(ax: Axes, window: FloatArray, system: System) -> None:
    """Bar of a round length below a pose."""
    one = unit("length", system).size
    (left, low), (right, _) = window
    length = round_length(0.6 * (right - left) / one)
    y = low + 0.03 * (right - left)
    ax.plot([left, left + length * one], [y, y], color=INK, linewidth=2.0, solid_capstyle="butt")
    words = f"{length:g} {label('length', system)}"
    ax.annotate(words, (left, y), xytext=(0, 3), textcoords="offset points", fontsize=7)


def _forward(drop: Drop, pose: Pose) -> float:
    """1 where it moves over the ground the way it heads; -1 where the wind takes it backwards."""
    velocity = [float(np.interp(pose.time, drop.track.time, each)) for each in drop.track.velocity[:2]]
    heading = float(np.interp(pose.time, drop.track.time, np.unwrap(drop.track.attitude[2])))
    return -1.0 if velocity[0] * np.cos(heading) + velocity[1] * np.sin(heading) < 0.0 else 1.0


def _head(pose: Pose, system: System) -> tuple[str, str]:
    """Time and height of a pose."""
    height = -float(pose.confluence[2])
    return show(pose.time, "time", system), show(height, "length", system, digits=0 if height > 10 else 1)


def _small_print(drop: Drop) -> str:
    wind = "Arrows: mean wind there, as it blows across the view." if drop.vehicle.wind.blows else "Calm."
    return (
        f"Poses from the right side; time after release, height of the confluence. {wind} {_SCALE}\n{CAUTION}"
    )


_SCALE = "All at one scale, lines straight and cloth unbillowed, brakes not shown."
