"""Pictures of a sweep: lines over one key, contours over two; of a search: lines through the best."""

from dataclasses import replace
from math import ceil
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from parasim.config.variation import Variation
from parasim.plotting.style import (
    BLUE,
    INK,
    RUST,
    SERIES,
    axis_label,
    footnote,
    label_contours,
    look,
    new_figure,
    shown,
)
from parasim.rotations import FloatArray
from parasim.study.limits import Limit
from parasim.study.optimise import allowed
from parasim.study.outputs import OUTPUTS
from parasim.study.search import Search
from parasim.study.sweep import Sweep, cautions_of
from parasim.units import System, show, unit

GAP: dict[str, Any] = {"marker": "x", "color": RUST, "linestyle": "none", "markersize": 6}
BEST: dict[str, Any] = {"marker": "*", "color": INK, "markersize": 13, "linestyle": "none"}
OWN: dict[str, Any] = {
    "marker": "o", "color": INK, "markersize": 8, "markerfacecolor": "white", "linestyle": "none",
}  # fmt: skip
OWN_LINE: dict[str, Any] = {"color": INK, "linestyle": (0, (1, 2)), "linewidth": 1.2}
LIMIT: dict[str, Any] = {"color": RUST, "linestyle": (0, (6, 2, 1, 2)), "linewidth": 1.2}
METRIC_UNITS = {"mm", "cm", "m", "g", "kg", "m/s", "m^2"}
"""In which keys may be written; imperial pictures show others as they were written."""
HATCH = "////"
EVEN_STEPS = 4.0
"""Largest over smallest value up to which contours lie in even steps. [-]"""

MOST_COLUMNS = 2
WORDS_SERIES = len(SERIES)


def in_system(sweep: Sweep, system: System) -> Sweep:
    """The same with its keys in imperial units, where that is asked for and they were written in metric."""
    parts, variations = [], []
    for given in sweep.variations:
        each = given
        metric = each.unit in METRIC_UNITS
        kind = each.imperial_kind(each.high * each.factor) if system == "imperial" and metric else None
        shown_in = None if kind is None else unit(kind, system)
        parts.append(1.0 if shown_in is None else each.factor / shown_in.size)
        numbers = tuple(parts[-1] * number for number in each.numbers)
        if shown_in is not None:
            each = replace(each, unit=shown_in.label, numbers=numbers, factor=shown_in.size)
        variations.append(each)
    return replace(
        sweep,
        variations=tuple(variations),
        own=tuple(None if x is None else part * x for part, x in zip(parts, sweep.own, strict=True)),
        variants=tuple(
            replace(one, settings=tuple(part * x for part, x in zip(parts, one.settings, strict=True)))
            for one in sweep.variants
        ),
    )


def line_figure(sweep: Sweep, system: System = "metric") -> Figure:
    """Figure over one key, a panel an output; over two of which one has words, a line a word."""
    sweep = in_system(sweep, system)
    count = len(sweep.names)
    columns = min(count, MOST_COLUMNS)
    rows = ceil(count / columns)
    with look():
        figure = new_figure(6.6 if columns == 1 else 11.0, 1.0 + 3.1 * rows)
        axes = np.ravel(figure.subplots(rows, columns, squeeze=False))
        for ax, name in zip(axes, sweep.names, strict=False):
            plot_line(sweep, name, ax, system)
            words, found = _finding(sweep, name, system)
            ax.set_title(f"{words}\n{found}", fontsize=9.5)
        for ax in axes[count:]:
            ax.remove()
        keys = " and ".join(variation.key for variation in sweep.variations)
        figure.suptitle(f"{sweep.design.name} over {keys}", x=0.01, ha="left", fontweight="bold")
        footnote(figure, "\n".join(sweep.cautions))
    return figure


def plot_line(sweep: Sweep, name: str, ax: Axes, system: System = "metric") -> None:
    """One output over a key, a line for each value of the other; limits, own value and gaps marked."""
    x, kind = _line_axes(sweep), OUTPUTS[name].kind
    first = sweep.variations[x]
    field = sweep.field(name) if len(sweep.variations) == 1 else np.moveaxis(sweep.field(name), x, 0)
    values = shown(field, kind, system).reshape(len(first.numbers), -1)
    for i, column in enumerate(values.T):
        style = dict(SERIES[i % WORDS_SERIES])
        if first.words:
            style["linestyle"] = "none"
        label = (
            sweep.variations[1 - x].text(sweep.variations[1 - x].numbers[i]) if values.shape[1] > 1 else None
        )
        ax.plot(first.numbers, column, **style, label=label)
    _mark_limits(ax, [limit for _, limit in sweep.limits_on(name)], values, system)
    lost = np.array(first.numbers)[np.isnan(values).any(axis=1)]
    if len(lost):
        ax.plot(lost, np.zeros(len(lost)), transform=ax.get_xaxis_transform(), clip_on=False, **GAP,
                label="no figure")  # fmt: skip
    own = sweep.own[x]
    _mark_own(ax, own, first)
    _label_keys(ax, first, "x")
    ax.set_ylabel(axis_label(OUTPUTS[name].words.replace(" [weights]", ""), kind, system))
    if kind == "ratio" and OUTPUTS[name].suffix == "g":
        ax.set_ylabel("landing load [weights]")
    if values.shape[1] > 1:
        ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=3)
    elif ax.get_legend_handles_labels()[0]:
        ax.legend(loc="best")


def _line_axes(sweep: Sweep) -> int:
    """Which key lies along x: the one that is no words, if there is one."""
    return 1 if len(sweep.variations) == 2 and sweep.variations[0].words else 0


def _mark_own(ax: Axes, own: float | None, variation: Variation) -> None:
    """Line at the file's own value of a key, or its value in words where it lies off the picture."""
    if own is None or variation.words:
        return
    if variation.low <= own <= variation.high:
        ax.axvline(own, **OWN_LINE, label="this design")
    else:
        ax.plot([], [], **OWN_LINE, label=f"this design: {variation.text(own)} (off the picture)")


def _mark_limits(ax: Axes, limits: list[Limit], values: FloatArray, system: System) -> None:
    """Line at each limit near the values, the side that is not kept named."""
    finite = values[np.isfinite(values)]
    for limit in limits:
        kind = OUTPUTS[limit.name].kind
        place = float(shown(limit.value, kind, system))
        text = f"limit: {limit.sign} {show(limit.value, kind, system)}"
        if finite.size and _is_near(place, finite):
            ax.axhline(place, **LIMIT, label=text)
        else:
            ax.plot([], [], **LIMIT, label=f"{text} (off the picture)")


def _is_near(place: float, values: FloatArray) -> bool:
    """Whether a limit is so near that showing it does not flatten the curve."""
    low, high = float(values.min()), float(values.max())
    room = max(high - low, 0.05 * abs(high), 1e-9)
    return low - 1.5 * room <= place <= high + 1.5 * room


def _label_keys(ax: Axes, variation: Variation, axis: str) -> None:
    """Name and unit of a key along an axis; words stand at their places."""
    getattr(ax, f"set_{axis}label")(f"{variation.key} [{variation.unit or '-'}]")
    if variation.words:
        names = [str(variation.write(x)) for x in variation.numbers]
        getattr(ax, f"set_{axis}ticks")(list(variation.numbers), names)
        getattr(ax, f"set_{axis}label")(variation.key)
        getattr(ax, f"set_{axis}lim")(-0.3, len(names) - 0.7)


def contour_figure(sweep: Sweep, name: str, system: System = "metric") -> Figure:
    """Figure of one output over two keys, titled with where it is minimum and most."""
    sweep = in_system(sweep, system)
    with look():
        figure = new_figure(7.6, 5.2)
        ax = figure.add_subplot()
        plot_contours(sweep, name, ax, system)
        ax.set_title(f"{sweep.design.name}: {' '.join(_finding(sweep, name, system))}", fontsize=10)
        footnote(figure, "\n".join(cautions_of([name])))
    return figure


def plot_contours(sweep: Sweep, name: str, ax: Axes, system: System = "metric") -> None:
    """Contours of one output over both keys; hatched where a limit is not kept, crosses at gaps."""
    across, up = sweep.variations
    x, y = np.array(across.numbers), np.array(up.numbers)
    kind = OUTPUTS[name].kind
    values = np.ma.masked_invalid(shown(sweep.field(name), kind, system).T)
    handles: list[Any] = []
    if values.count() and float(np.ptp(values.compressed())) > 0:
        ax.contourf(x, y, values, levels=12, cmap="Greys", alpha=0.35)
        lines = ax.contour(x, y, values, levels=_levels(values.compressed()), colors=[BLUE], linewidths=1.1)
        limits = [float(shown(limit.value, kind, system)) for _, limit in sweep.limits_on(name)]
        label_contours(ax, lines, "%.4g", but=limits)
    for _, limit in sweep.limits_on(name):
        handles += _hatch_limit(ax, x, y, values, limit, system)
    j, i = np.nonzero(np.ma.getmaskarray(values))
    if len(i):
        handles += ax.plot(x[i], y[j], **GAP, label="no figure", clip_on=False)
    own_x, own_y = sweep.own
    if own_x is not None and own_y is not None and x[0] <= own_x <= x[-1] and y[0] <= own_y <= y[-1]:
        handles += ax.plot(own_x, own_y, **OWN, label="this design", clip_on=False, zorder=5)
    _label_keys(ax, across, "x")
    _label_keys(ax, up, "y")
    ax.grid(False)
    name_and_unit = axis_label(OUTPUTS[name].words, kind, system).replace(" [-]", "")
    handles.insert(0, Line2D([], [], color=BLUE, linewidth=1.1, label=name_and_unit))
    ax.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1.0), borderaxespad=0.0)


def _levels(values: FloatArray) -> list[float] | int:
    """Values of contours: in even steps, or in even ratios where the values span a large one."""
    low, high = float(values.min()), float(values.max())
    if low <= 0 or high < EVEN_STEPS * low:
        return 8
    return sorted({float(f"{level:.2g}") for level in np.geomspace(low, high, 11)[1:-1]})


def _hatch_limit(
    ax: Axes, x: FloatArray, y: FloatArray, values: Any, limit: Limit, system: System
) -> list[Any]:
    """Hatch where a limit is not kept; returns legend entries."""
    kind = OUTPUTS[limit.name].kind
    place = float(shown(limit.value, kind, system))
    lack = place - values if limit.at_least else values - place
    side = "under" if limit.at_least else "over"
    text = f"{side} the limit of {show(limit.value, kind, system)}"
    if not lack.count() or float(lack.max()) <= 0:
        return [Line2D([], [], linestyle="none", label=f"nowhere {text}")]
    ax.contourf(x, y, lack, levels=[0.0, 1e12], colors="none", hatches=[HATCH])
    if float(lack.min()) < 0:
        ax.contour(x, y, lack, levels=[0.0], colors=[RUST], linewidths=1.6, linestyles="dashed")
    return [Patch(facecolor="white", edgecolor="0.5", hatch=HATCH, label=text)]


def _finding(sweep: Sweep, name: str, system: System) -> tuple[str, str]:
    """An output, and what it does over the sweep, in few words."""
    output = OUTPUTS[name]
    low, high = sweep.smallest(name), sweep.largest(name)
    words = output.words.replace(" [weights]", "")
    if low is None or high is None:
        return words, "no figure anywhere"
    ends = [show(v.value(name), output.kind, system) for v in (low, high)]
    if ends[0] == ends[1]:
        return words, f"stays {ends[0]}"
    at = [
        ", ".join(v.text(x) for v, x in zip(sweep.variations, one.settings, strict=True))
        for one in (low, high)
    ]
    return words, f"from {ends[0]} ({at[0]}) to {ends[1]} ({at[1]})"


def search_figure(search: Search, system: System = "metric") -> Figure:
    """Figure of lines through the best design, one a key: the goal, and where all limits are kept."""
    count = len(search.variations)
    columns = min(count, MOST_COLUMNS)
    rows = ceil(count / columns)
    output = search.output
    with look():
        figure = new_figure(6.6 if columns == 1 else 11.0, 1.3 + 3.2 * rows)
        axes = np.ravel(figure.subplots(rows, columns, squeeze=False))
        for i, ax in enumerate(axes[:count]):
            plot_search_line(search, i, ax, system)
        for ax in axes[count:]:
            ax.remove()
        aim = f"{'minimum' if search.minimum else 'most'} {output.words}"
        if search.edges:
            aim = f"{'least' if search.minimum else 'most'} {output.words} found, at an end of the search"
        found = (
            "no design here keeps all limits"
            if search.best is None
            else show(search.best.value(search.goal), output.kind, system)
        )
        figure.suptitle(
            f"{search.file.design().name}, {aim}: {found}", x=0.01, ha="left", fontweight="bold", fontsize=11
        )
        footnote(figure, "\n".join(search.cautions))
    return figure


def plot_search_line(search: Search, i: int, ax: Axes, system: System = "metric") -> None:
    """The goal along one key through the best design, the others kept: filled where all limits are kept."""
    variation, line, kind = search.variations[i], search.lines[i], search.output.kind
    x = np.array([variant.settings[i] for variant in line])
    y = shown(np.array([variant.value(search.goal) for variant in line]), kind, system)
    keeps = np.array([allowed(variant, search.goal, search.limits) for variant in line])
    ax.plot(x, y, color=BLUE, linewidth=1.4)
    marks: dict[str, Any] = {"linestyle": "none", "marker": "o", "color": BLUE}
    if keeps.any():
        ax.plot(x[keeps], y[keeps], **marks, label="keeps all limits")
    if (~keeps & np.isfinite(y)).any():
        ax.plot(x[~keeps], y[~keeps], **marks, markerfacecolor="white", label="does not keep a limit")
    lost = x[~np.isfinite(y)]
    if len(lost):
        ax.plot(lost, np.zeros(len(lost)), transform=ax.get_xaxis_transform(), clip_on=False, **GAP,
                label="no figure")  # fmt: skip
    if search.best is not None:
        best = float(shown(search.best.value(search.goal), kind, system))
        ax.plot(
            search.best.settings[i],
            best,
            **BEST,
            label="at an end" if search.edges else "best",
            zorder=5,
            clip_on=False,
        )
    own = variation.own(search.file)
    _mark_own(ax, own, variation)
    _label_keys(ax, variation, "x")
    ax.set_ylabel(axis_label(search.output.words, kind, system))
    ax.set_title(_key_finding(search, i), fontsize=9.5)
    ax.legend(loc="best")


def _key_finding(search: Search, i: int) -> str:
    variation = search.variations[i]
    if search.best is None:
        return f"{variation.key}: through the nearest"
    low, high = search.good_ranges[i]
    text = f"{variation.key} {variation.write(search.best.settings[i])}"
    if variation.key in search.idle_keys:
        return f"{variation.key} makes no difference"
    if variation.key in search.edges:
        return f"{text}: at the {search.edges[variation.key]} edge"
    if variation.key in search.flat_keys:
        return f"{text}: flat from {variation.text(low)} to {variation.text(high)}"
    return f"{text}: within 2 % from {variation.text(low)} to {variation.text(high)}"
