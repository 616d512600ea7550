"""Picture of a logged flight and of the same as a design flies it: plan, height, sink and ground speed."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.learning.predicted import Prediction, Series
from parasim.plotting.map_marks import north_arrow, scale_bar
from parasim.plotting.style import (
    BAND,
    BLUE,
    INK,
    RUST,
    axis_label,
    footnote,
    look,
    new_figure,
    shown,
)
from parasim.plotting.track import square
from parasim.rotations import FloatArray
from parasim.units import System

FLOWN: dict[str, Any] = {"color": BLUE, "linestyle": "-", "linewidth": 1.8}
PREDICTED: dict[str, Any] = {"color": RUST, "linestyle": (0, (5, 2)), "linewidth": 1.8}
"""They differ in dash, so that colour is only a help."""

EVERY = 20.0
"""Time between places that belong together on the map. Our choice. [s]"""

ROOM = 1.6
"""Height of a picture over what was flown and predicted in it: a band beyond that is cut off. [-]"""


def predicted_figure(prediction: Prediction, design: str, system: System = "metric") -> Figure:
    """Figure of one flight, titled with what lies outside."""
    over_time = [each for each in prediction.series if each.name != "distance_off"]
    with look():
        figure = new_figure(12.0, 7.6)
        grid = figure.add_gridspec(len(over_time), 2, width_ratios=(1.0, 1.15))
        plot_plan(prediction, figure.add_subplot(grid[:, 0]), system)
        for row, series in enumerate(over_time):
            ax = figure.add_subplot(grid[row, 1])
            plot_series(prediction.time, series, ax, system)
            if row == 0:
                ax.legend(loc="upper right", ncols=3)
            if row == len(over_time) - 1:
                ax.set_xlabel("time after release [s]")
        figure.suptitle(_title(prediction, design), x=0.01, ha="left", fontsize=11, fontweight="bold")
        footnote(
            figure, f"Band of two deviations: calibration, wind of the log, heading at first.\n{CAUTION}"
        )
    return figure


def _title(prediction: Prediction, design: str) -> str:
    missed = ", ".join(each.words for each in prediction.missed)
    said = f"outside {design}'s band: {missed}" if missed else f"within {design}'s band"
    return f"{prediction.flight.log.file}: {said}"


def plot_plan(prediction: Prediction, ax: Axes, system: System = "metric") -> None:
    """Both tracks over the ground, north up, places of the same moment joined."""
    origin = prediction.path.place[:, :1]
    flown = shown((prediction.path.place - origin)[::-1], "length", system)
    ax.plot(*flown, **FLOWN, label="flown")
    ax.plot(*flown[:, 0], "v", color=INK, markersize=8)
    if prediction.place is None:
        ax.set_title("place not predicted: the log gives no wind", fontsize=10)
    else:
        computed = shown((prediction.place - origin)[::-1], "length", system)
        ax.plot(*computed, **PREDICTED, label="predicted")
        _joined(prediction, flown, computed, ax)
        ax.set_title(f"joined every {EVERY:.0f} s", fontsize=10)
    square(ax)
    ax.set_xlabel(axis_label("east of the first steady moment", "length", system))
    ax.set_ylabel(axis_label("north", "length", system))
    ax.legend(loc="upper right")
    north_arrow(ax, (0.05, 0.86))
    scale_bar(ax, system)


def _joined(prediction: Prediction, flown: FloatArray, computed: FloatArray, ax: Axes) -> None:
    time = prediction.time - prediction.time[0]
    for moment in np.arange(EVERY, time[-1], EVERY):
        i = int(np.searchsorted(time, moment))
        pair = np.array([flown[:, i], computed[:, i]]).T
        ax.plot(*pair, color=INK, linewidth=0.8)
        ax.plot(*pair[:, 0], "o", color=BLUE, markersize=4)
        ax.plot(*pair[:, 1], "s", color=RUST, markersize=4)


def plot_series(time: FloatArray, series: Series, ax: Axes, system: System = "metric") -> None:
    """One quantity over time, flown and predicted with its band."""
    low, high, flown, computed = (
        shown(row, series.kind, system) for row in (series.low, series.high, series.flown, series.predicted)
    )
    ax.fill_between(time, low, high, **BAND, label="band")
    ax.plot(time, flown, **FLOWN, label="flown")
    ax.plot(time, computed, **PREDICTED, label="predicted")
    both = np.concatenate([flown, computed])
    middle, half = (both.max() + both.min()) / 2, max(float(np.ptp(both)) / 2, 1e-6)
    ax.set_ylim(middle - ROOM * half, middle + ROOM * half)
    ax.set_ylabel(axis_label(series.words, series.kind, system))
    outside = 100 * float(series.outside.mean())
    ax.set_title(f"{series.words}: {outside:.0f} % of the moments outside the band", fontsize=10)
