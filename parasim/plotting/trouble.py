"""Picture of what may be wrong: size needed over the likely one, the likeliest on top."""

from math import isfinite
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.caveats import CAUTION, said
from parasim.flight.trouble.check import PLAUSIBLE, Check
from parasim.flight.trouble.trouble import Trouble
from parasim.plotting.style import BAND, BLUE, GREY, INK, footnote, look, mark_side, new_figure
from parasim.units import System, show

LEAST, MOST = 0.1, 100.0
"""Ends of the axis, times the likely size. [-]"""

RANGE: dict[str, Any] = {"color": GREY, "linewidth": 3.5, "alpha": 0.6, "solid_capstyle": "butt"}


def trouble_figure(found: Trouble, system: System = "metric") -> Figure:
    """Figure of all computed causes, titled with the likeliest."""
    checks = [check for check in found.checks if check.computed and check.kind]
    with look():
        figure = new_figure(8.2, 1.8 + 0.34 * max(len(checks), 3))
        ax = figure.subplots()
        plot_trouble(found, ax, system)
        footnote(figure, CAUTION)
        ax.set_title(_finding(found, system))
    return figure


def _finding(found: Trouble, system: System) -> str:
    seen = found.seen.words(system) if found.seen else ""
    plausible = [check for check in found.checks if check.plausible]
    end = f"{len(plausible)} {'error' if len(plausible) == 1 else 'errors'} could do it alone"
    return f"{found.vehicle.design.name} {seen}: {end if plausible else 'no likely error does it alone'}"


def plot_trouble(found: Trouble, ax: Axes, system: System = "metric") -> None:
    """Bars of the size needed over the likely one, with bands; an arrow where none to the bound does it."""
    checks = [check for check in found.checks if check.computed and check.kind]
    for row, check in enumerate(checks):
        _plot_one(ax, row, check, system)
    ax.axvspan(LEAST, PLAUSIBLE, **BAND)
    _key(ax)
    mark_side(ax, 1.0, "likely size")
    ax.set_xscale("log")
    ax.set_xlim(LEAST, MOST)
    ax.set_xticks([LEAST, 1.0, 10.0, MOST], ["0.1", "1", "10", "100"])
    ax.set_ylim(len(checks) - 0.4, -1.2)
    ax.set_yticks(range(len(checks)), [said(check.words.error, system) for check in checks])
    ax.set_xlabel("size needed over the likely one [-], the likeliest on top; hatched: may pass unnoticed")
    ax.grid(axis="y", visible=False)


def _plot_one(ax: Axes, row: int, check: Check, system: System) -> None:
    reached = check.needed is not None
    size = check.needed if check.needed is not None else check.bound
    at = _inside(size / check.likely if check.likely else LEAST)
    if isfinite(check.low) and check.likely:
        ends = [_inside(check.low / check.likely), _inside(min(check.high, 1e9) / check.likely)]
        ax.plot(ends, [row, row], **RANGE)
        if check.high / check.likely > MOST:
            ax.plot([MOST], [row], color=GREY, marker=9, linestyle="none", clip_on=False)
    ax.plot([at], [row], color=BLUE if reached else GREY, marker="o" if reached else ">", linestyle="none")
    text = f"{'' if reached else 'not by '}{show(size, check.kind, system, digits=_digits(check, system))}"
    ax.annotate(
        text, (at, row), xytext=(0, 5), textcoords="offset points", ha="center", fontsize=7.5, color=INK
    )


def _key(ax: Axes) -> None:
    """What bar, dot and arrow heads mean, below the axis."""
    ax.plot([], [], **RANGE, label="band, where there is one")
    ax.plot([], [], color=BLUE, marker="o", linestyle="none", label="does it alone")
    ax.plot([], [], color=GREY, marker=">", linestyle="none", label="not even by its bound")
    ax.plot([], [], color=GREY, marker=9, linestyle="none", label="band goes on")
    ax.legend(loc="upper center", bbox_to_anchor=(0.4, -0.16), ncols=4, frameon=False)


def _digits(check: Check, system: System) -> int | None:
    return {"small_mass": 0, "time": 2}.get(check.kind) if system == "metric" else None


def _inside(times: float) -> float:
    return min(max(times, LEAST), MOST)
