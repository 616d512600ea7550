"""Picture of the pieces on the cloth."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path

from parasim.plotting.style import INK, axis_label, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System

KINDS: dict[str, dict[str, Any]] = {
    "rib": {"facecolor": "#dfe7ef", "hatch": ""},
    "top panel": {"facecolor": "#f4e6d8", "hatch": "//"},
    "bottom panel": {"facecolor": "#f7f2e2", "hatch": "\\\\"},
    "stabiliser": {"facecolor": "#dcebd8", "hatch": "xx"},
    "patch": {"facecolor": "#e8e8e8", "hatch": "...."},
}
"""Fill by kind of piece; the hatch distinguishes them without colour."""

LONG, TALL, MINIMUM_LONG = 11.0, 6.6, 6.4  # of the figure [in]
BELOW = 1.5  # for title, axis and legend [in]
TYPE = (4.0, 8.0)  # smallest and largest of the numbers [points]
POINTS = 72.0  # an inch


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """One piece where it lies.

    Attributes
    ----------
    outline : ndarray, shape (n, 2)
        Cut line: along the cloth, and across. [m]
    holes : tuple of ndarray, shape (n, 2)
        Cut out of it. [m]
    kind : str
        A key of `KINDS`.
    text : str
        Written on it.
    middle : tuple of float
        Where. [m]
    room : float
        Radius of a circle about the middle that is clear of all edges. [m]
    """

    outline: FloatArray
    holes: tuple[FloatArray, ...] = ()
    kind: str
    text: str
    middle: tuple[float, float]
    room: float


def plot_nest(
    shapes: Sequence[Shape], ax: Axes, *, width: float, length: float, scale: float, system: System = "metric"
) -> None:
    """Draw all pieces on the cloth, warp along x; `scale` is that of the paper, for the type. [m], [in/m]"""
    for shape in shapes:
        lines = [shown(line, "dimension", system) for line in (shape.outline, *shape.holes)]
        style = KINDS[shape.kind]
        # As an artist: the limits are set below, and working them out from each piece takes a while.
        ax.add_artist(PathPatch(_path(lines), edgecolor="0.3", linewidth=0.6, **style))
        size = min(1.3 * POINTS * scale * shape.room / max(1.0, 0.6 * len(shape.text)), TYPE[1])
        if size >= TYPE[0] or shape.kind == "patch":
            ax.annotate(
                shape.text, tuple(shown(np.array(shape.middle), "dimension", system)),
                ha="center", va="center", fontsize=max(size, TYPE[0]), color=INK,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.2, "alpha": 0.85},
            )  # fmt: skip
    x, y = (float(shown(side, "dimension", system)) for side in (length, width))
    ax.plot([0, x, x, 0, 0], [0, 0, y, y, 0], color=INK, linewidth=1.3, clip_on=False)
    ax.set_xlim(0.0, x)
    ax.set_ylim(0.0, y)
    ax.set_aspect("equal")
    ax.grid(False)
    ax.set_xlabel(axis_label("along the cloth (warp)", "dimension", system))
    ax.set_ylabel(axis_label("across", "dimension", system))


def _path(lines: Sequence[FloatArray]) -> Path:
    # Holes run against the outline, so that they stay empty.
    turned = [_anticlockwise(line) if i == 0 else _anticlockwise(line)[::-1] for i, line in enumerate(lines)]
    closed = [np.vstack([line, line[:1]]) for line in turned]
    codes = [[Path.MOVETO, *[Path.LINETO] * (len(line) - 2), Path.CLOSEPOLY] for line in closed]
    return Path(np.vstack(closed), np.concatenate(codes))


def _anticlockwise(line: FloatArray) -> FloatArray:
    (x, y), (x_next, y_next) = line.T, np.roll(line, -1, axis=0).T
    return line if float((x * y_next - x_next * y).sum()) > 0 else line[::-1]


def nest_figure(
    shapes: Sequence[Shape], *, width: float, length: float, title: str, note: str, system: System = "metric"
) -> Figure:
    """Picture of a nest.

    Parameters
    ----------
    shapes : sequence of Shape
        Every piece.
    width, length : float
        Of the cloth taken. [m]
    title : str
        The finding.
    note : str
        Small print over the key.
    system : {"metric", "imperial"}
        Units of the axes.
    """
    with look():
        scale = min(LONG / length, TALL / width)
        figure = new_figure(max(scale * length + 1.0, MINIMUM_LONG), scale * width + BELOW)
        ax = figure.subplots()
        plot_nest(shapes, ax, width=width, length=length, scale=scale, system=system)
        ax.set_title(title)
        used = [kind for kind in KINDS if any(shape.kind == kind for shape in shapes)]
        figure.legend(
            handles=[Patch(edgecolor="0.3", linewidth=0.6, label=kind, **KINDS[kind]) for kind in used],
            loc="outside lower center", ncols=len(used), title=note, title_fontsize=7.5,
        )  # fmt: skip
    return figure
