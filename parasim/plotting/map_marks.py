"""What a map needs beside what it shows: where north is, where the wind blows, how long a stretch is."""

from math import degrees, floor, log10

import numpy as np
from matplotlib.axes import Axes
from matplotlib.transforms import ScaledTranslation

from parasim.environment.wind import Wind
from parasim.plotting.style import INK
from parasim.rotations import FloatArray
from parasim.units import System, convert, label, unit

ARROW = 0.55
"""Length of the wind's arrow. [in]"""

NARROWEST = 0.75
"""Of a map's sides, over the longer one."""


def frame_map(ax: Axes) -> None:
    """Limits around all that is drawn, nearly square, with room for the scale bar below."""
    ax.autoscale_view()
    ends = np.array([ax.get_xlim(), ax.get_ylim()])
    middle, half = ends.mean(axis=1), np.ptp(ends, axis=1) / 2
    half = np.maximum(half, NARROWEST * half.max())
    ax.set_xlim(middle[0] - half[0], middle[0] + half[0])
    ax.set_ylim(middle[1] - 1.16 * half[1], middle[1] + half[1])


def wind_arrow(
    ax: Axes, wind: Wind, center: FloatArray, system: System, *, beside: tuple[float, float] | None = None
) -> None:
    """Arrow that points where the wind blows at its reference height, speed and direction beside it.

    Parameters
    ----------
    ax : Axes
        What to draw on, north up.
    wind : Wind
        What blows.
    center : ndarray, shape (2,)
        Middle of the arrow, in fractions of the axes.
    system : {"metric", "imperial"}
        Units.
    beside : tuple of float, optional
        Where the words begin; else to the right of the arrow.
    """
    if wind.speed == 0:
        ax.annotate("calm", tuple(center), xycoords="axes fraction", fontsize=9)
        return
    north, east = wind.velocity(wind.reference_height)
    x, y = ARROW / 2 * np.array([east, north]) / np.hypot(north, east)
    dots = ax.figure.dpi_scale_trans
    ends = [ax.transAxes + ScaledTranslation(sign * x, sign * y, dots) for sign in (1, -1)]
    ax.annotate(
        "", tuple(center), xytext=tuple(center), xycoords=ends[0], textcoords=ends[1],
        arrowprops={"arrowstyle": "-|>", "linewidth": 2, "color": INK, "mutation_scale": 16},
    )  # fmt: skip
    speed = f"{convert(wind.speed, 'wind_speed', system):.1f} {label('wind_speed', system)}"
    ax.annotate(
        f"wind {speed}\nfrom {degrees(wind.from_direction):03.0f} deg", beside or (0.2, float(center[1])),
        xycoords="axes fraction", va="center", fontsize=8.5,
    )  # fmt: skip


def north_arrow(ax: Axes, foot: tuple[float, float], *, length: float = 0.1) -> None:
    """Arrow to north, which is up; its foot and length in fractions of the axes."""
    x, y = foot
    ax.annotate(
        "", (x, y + length), xytext=(x, y), xycoords="axes fraction",
        arrowprops={"arrowstyle": "-|>", "linewidth": 2, "color": INK, "mutation_scale": 16},
    )  # fmt: skip
    ax.annotate(
        "N", (x, y + length + 0.01), xycoords="axes fraction", ha="center", va="bottom", fontsize=11,
        fontweight="bold", color=INK,
    )  # fmt: skip


def scale_bar(ax: Axes, system: System) -> None:
    """Bar of a round length in the lower right corner; the axes are in the unit of length."""
    left, right = ax.get_xlim()
    low, high = ax.get_ylim()
    length = round_length(0.25 * (right - left))
    end, y = right - 0.04 * (right - left), low + 0.035 * (high - low)
    height = 0.012 * (high - low)
    for i, face in enumerate(("black", "white")):
        ax.barh(
            y, length / 2, height, left=end - length + i * length / 2, color=face, edgecolor="black",
            linewidth=0.8, zorder=5,
        )  # fmt: skip
    words = f"{length:g} {unit('length', system).label}"
    ax.annotate(words, (end - length / 2, y + height), ha="center", va="bottom", fontsize=8.5, zorder=5)
    ax.set_xlim(left, right)
    ax.set_ylim(low, high)


def round_length(longest: float) -> float:
    """Largest of 1, 2, 5, 10, ... that is not longer.

    Examples
    --------
    >>> round_length(37.0), round_length(0.7), round_length(100.0)
    (20.0, 0.5, 100.0)
    """
    power = 10.0 ** floor(log10(longest))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= longest * (1 + 1e-9))
