"""A drop as a moving picture: the pose from its side and from behind, and how far it is along its path."""

import io
from collections.abc import Callable
from dataclasses import dataclass
from math import ceil

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from parasim.caveats import CAUTION
from parasim.flight.drop import Drop
from parasim.plotting.drop import ground_path, landing_title
from parasim.plotting.poses import Pose, View, poses
from parasim.plotting.strip import plot_pose, window_of
from parasim.plotting.style import INK, axis_label, footnote, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, show

FRAMES_A_SECOND, MOST_FRAMES = 10, 300
"""Of a film; a longer flight is shown so many times faster. Our choice. [1/s], [-]"""

LAST_HELD = 2.0
"""How long the last frame stands. Our choice. [s]"""

DOTS = 90.0
"""Of a frame. Our choice. [1/in]"""

GREYS = 32
"""Of a frame: the pictures are drawn in few. Our choice."""


VIEWS: tuple[View, View] = ("side", "behind")


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """An animated GIF.

    Attributes
    ----------
    content : bytes
        Of the file.
    times : tuple of float
        After release, of each frame. [s]
    faster : int
        How many times faster than the flight it is shown.
    """

    content: bytes
    times: tuple[float, ...]
    faster: int

    @property
    def note(self) -> str:
        """How long and how large it is, a sentence."""
        length = len(self.times) / FRAMES_A_SECOND + LAST_HELD
        speed = "as fast as it flies" if self.faster == 1 else f"{self.faster} times as fast as it flies"
        size = len(self.content) / 1e6
        return f"film: {len(self.times)} frames, {length:.0f} s at a showing, {speed}; {size:.1f} MB"


def frame_times(duration: float) -> tuple[FloatArray, int]:
    """Times of the frames of a flight, its end the last, and how many times faster it is shown. [s]

    Examples
    --------
    >>> times, faster = frame_times(41.0)
    >>> len(times), faster, float(times[1])
    (206, 2, 0.2)
    """
    faster = max(ceil(duration * FRAMES_A_SECOND / MOST_FRAMES), 1)
    before = np.arange(0.0, duration, faster / FRAMES_A_SECOND)
    return np.append(before, duration), faster


def film_of(
    drop: Drop, system: System = "metric", progress: Callable[[int, int], object] | None = None
) -> Film:
    """Film of a drop; `progress` is called with how many of how many frames are drawn."""
    from PIL import Image

    times, faster = frame_times(drop.time_aloft)
    shots, frames = poses(drop, times), []
    window = window_of(shots)
    with look():
        figure, panels, dot = _stage(drop, system)
        size = figure.canvas.get_width_height()
        for pose in shots:
            _frame(drop, pose, panels, window, dot, system)
            figure.savefig(drawn := io.BytesIO(), format="rgba", dpi=DOTS)
            picture = Image.frombytes("RGBA", size, drawn.getvalue())
            frames.append(picture.convert("L").quantize(GREYS))
            if progress is not None:
                progress(len(frames), len(shots))
    file = io.BytesIO()
    held = [1000 // FRAMES_A_SECOND] * (len(frames) - 1) + [round(1000 * LAST_HELD)]
    frames[0].save(file, format="GIF", save_all=True, append_images=frames[1:], duration=held, loop=0)
    return Film(content=file.getvalue(), times=tuple(times.tolist()), faster=faster)


def _stage(drop: Drop, system: System) -> tuple[Figure, tuple[Axes, Axes, Axes], Line2D]:
    """Figure with two panels for the pose and the path with a dot on it; laid out once for all frames."""
    track = drop.track
    along, height = shown(ground_path(track), "length", system), shown(track.height, "length", system)
    figure = new_figure(7.4, 4.2)
    side, behind, path = figure.subplots(1, 3, width_ratios=(1.0, 1.0, 1.3))
    path.plot(along, height, color="0.5", linewidth=1.0)
    path.axhline(0.0, color=INK, linewidth=1.6)
    (dot,) = path.plot([along[0]], [height[0]], marker="o", color=INK, linestyle="none")
    path.set_aspect("equal")
    path.set_xlabel(axis_label("along the ground track", "length", system))
    path.set_ylabel(axis_label("height", "length", system))
    figure.suptitle(landing_title(drop, system), fontsize=10.5, fontweight="bold", x=0.01, ha="left")
    footnote(figure, CAUTION)
    for ax, words in ((side, "from the right"), (behind, "from behind")):
        ax.set_title(words, fontsize=8.5, fontweight="normal")
        ax.set_axis_off()
    path.set_title("\n\n", fontsize=9, fontweight="normal")
    figure.set_dpi(DOTS)
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    return figure, (side, behind, path), dot


def _frame(
    drop: Drop, pose: Pose, panels: tuple[Axes, Axes, Axes], window: FloatArray, dot: Line2D, system: System
) -> None:
    """Put one moment on the stage."""
    *pictures, path = panels
    for ax, view in zip(pictures, VIEWS, strict=True):
        words = ax.get_title(loc="left")
        ax.clear()
        plot_pose(drop, pose, ax, view, window, system)
        ax.set_title(words, fontsize=8.5, fontweight="normal")
    track = drop.track

    def now(values: FloatArray) -> float:
        return float(np.interp(pose.time, track.time, values))

    place = now(ground_path(track)), now(track.height)
    dot.set_data(*([float(shown(each, "length", system))] for each in place))
    path.set_title(
        f"{show(pose.time, 'time', system)}, {show(place[1], 'length', system, digits=0)} high\n"
        f"airspeed {show(now(track.airspeed), 'speed', system)}, "
        f"sink {show(now(track.sink), 'speed', system)}\n"
        f"brakes L {100 * now(track.left):.0f} % R {100 * now(track.right):.0f} %",
        fontsize=9, fontweight="normal",
    )  # fmt: skip
