"""Pictures of what was learnt: ranges before and after, flown and predicted; or what trials would narrow."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.learning.learned import FIGURES, Compared, Expected, Learned, Next
from parasim.plotting.style import BAND, BLUE, INK, RUST, SERIES, footnote, look, new_figure
from parasim.units import System

ROW = 0.34
"""Height of a row of a picture. [in]"""

FARTHEST = 8.0
"""Errors beyond which a measurement is drawn at the edge."""


def learn_figure(learned: Learned, system: System = "metric") -> Figure:
    """Figure of the fit; of the trials where there are no notes."""
    with look():
        if not learned.flights and not learned.compared:
            figure = new_figure(7.6, 1.6 + ROW * len(learned.nexts))
            ax = figure.add_subplot()
            plot_trials(learned.nexts, ax)
            ax.set_title(f"{learned.vehicle.design.name}: {_best_in_words(learned)}")
            footnote(figure, CAUTION)
            return figure
        flown = [each for each in learned.compared if each.used]
        rows = max(len(learned.numbers), len(flown))
        if not flown:
            return _numbers_alone(learned)
        figure = new_figure(11.0, 1.8 + ROW * rows)
        left, right = figure.subplots(1, 2)
        plot_numbers(learned, left)
        known = sum(each.known_better for each in learned.numbers)
        left.set_title(
            f"{learned.vehicle.design.name}: the flights narrow {known} of {len(learned.numbers)} numbers"
        )
        plot_flown(flown, right)
        near = sum(abs(each.deviations) <= 2 for each in flown)
        right.set_title(f"{near} of {len(flown)} measurements within two errors of the fit")
        footnote(figure, CAUTION)
    return figure


def _numbers_alone(learned: Learned) -> Figure:
    """Figure of a fit to whole flights alone."""
    figure = new_figure(7.0, 1.8 + ROW * len(learned.numbers))
    ax = figure.add_subplot()
    plot_numbers(learned, ax)
    known = sum(each.known_better for each in learned.numbers)
    ax.set_title(
        f"{learned.vehicle.design.name}: the flights narrow {known} of {len(learned.numbers)} numbers"
    )
    footnote(figure, CAUTION)
    return figure


def plot_numbers(learned: Learned, ax: Axes) -> None:
    """Range of each calibration number before and after, over its range before, which goes from -1 to 1."""
    for row, number in enumerate(learned.numbers):
        y = -row
        ax.barh(y, 2.0, left=-1.0, height=0.7, **BAND, label="range before" if row == 0 else None)
        low, value, high = _over_range(number.before, number.after)
        ax.plot([low, high], [y, y], color=BLUE, linewidth=2.4, solid_capstyle="butt",
                label="range fitted" if row == 0 else None)  # fmt: skip
        ax.plot(value, y, **{**SERIES[0], "linestyle": "none"}, label="fitted" if row == 0 else None)
        ax.annotate(
            f"{number.after.value:.3g}", (value, y), xytext=(0, 5), textcoords="offset points", ha="center",
            fontsize=7.5, color=INK,
        )  # fmt: skip
    ax.axvline(0.0, color=INK, linewidth=0.8, linestyle=":")
    _name_rows(ax, [each.name.replace("_", " ") for each in learned.numbers])
    ax.set_xlabel("from the low (-1) to the high end (1) of the range before [-]")
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=3)


def _over_range(before: Expected, after: Expected) -> tuple[float, float, float]:
    def part(value: float) -> float:
        off = value - before.value
        side = before.high - before.value if off > 0 else before.value - before.low
        return off / side if side else 0.0

    return part(after.low), part(after.value), part(after.high)


def plot_flown(flown: Sequence[Compared], ax: Axes) -> None:
    """What was flown less what was predicted before and what is fitted, in errors of the measurement."""
    ax.axvspan(-2.0, 2.0, color="0.93", zorder=0)
    ax.axvline(0.0, color=INK, linewidth=0.8, linestyle=":")
    for row, each in enumerate(flown):
        y = -row
        before, after = (_in_errors(each, expected) for expected in (each.before, each.after))
        ax.plot(before[[0, 2]], [y + 0.14] * 2, color=RUST, linestyle="--", linewidth=1.4)
        ax.plot(
            before[1], y + 0.14, **{**SERIES[1], "linestyle": "none"},
            label="less predicted before" if row == 0 else None,
        )  # fmt: skip
        _mark_ends(ax, before, y + 0.14, RUST)
        _mark_ends(ax, after, y - 0.14, BLUE)
        ax.plot(after[[0, 2]], [y - 0.14] * 2, color=BLUE, linewidth=2.4, solid_capstyle="butt")
        ax.plot(
            after[1], y - 0.14, **{**SERIES[0], "linestyle": "none"},
            label="less fitted" if row == 0 else None,
        )  # fmt: skip
    _name_rows(ax, _told_apart([f"{each.datum.flight}: {_in_words(each)}" for each in flown]))
    ax.set_xlim(-FARTHEST - 0.5, FARTHEST + 0.5)
    ax.set_xlabel("flown less predicted or fitted, over the measurement's error [-]; shaded: two")
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=2)


def _in_errors(each: Compared, expected: Expected) -> np.ndarray:
    """Flown less the high end, the value and the low end of what was expected, kept to the picture."""
    ends = np.array([expected.high, expected.value, expected.low])
    return np.clip((each.datum.value - ends) / each.error, -FARTHEST, FARTHEST)


def _mark_ends(ax: Axes, ends: np.ndarray, y: float, color: str) -> None:
    """Arrow heads at the edge where what is drawn goes on beyond it."""
    for at, mark in ((-FARTHEST, 9), (FARTHEST, 8)):  # caretleftbase, caretrightbase
        if (ends == at).any():
            ax.plot(at, y, marker=mark, markersize=5, color=color, linestyle="none")


def _told_apart(names: Sequence[str]) -> list[str]:
    """Names of which those that occur more than once are counted.

    Examples
    --------
    >>> _told_apart(["drop 3: sink", "drop 4: sink", "drop 3: sink"])
    ['drop 3: sink (1)', 'drop 4: sink', 'drop 3: sink (2)']
    """
    return [
        f"{name} ({names[: i + 1].count(name)})" if names.count(name) > 1 else name
        for i, name in enumerate(names)
    ]


def _in_words(each: Compared) -> str:
    datum = each.datum
    brakes = f" L{100 * datum.left:.0f} R{100 * datum.right:.0f} %" if datum.left or datum.right else ""
    return f"{datum.measurable.words}{brakes}"


def plot_trials(nexts: Sequence[Next], ax: Axes) -> None:
    """Part by which each trial alone narrows each band."""
    for (key, words), look_of in zip(FIGURES.items(), SERIES, strict=True):
        points = [(100 * each.narrows[key], -row) for row, each in enumerate(nexts) if key in each.narrows]
        if points:
            ax.plot(*np.array(points).T, **{**look_of, "linestyle": "none"}, label=words)
    _name_rows(ax, [each.trial.words for each in nexts])
    ax.set_xlim(-2.0, 102.0)
    ax.set_xlabel("narrows the band by [%]")
    ax.legend(loc="upper center", bbox_to_anchor=(0.3, -0.14), ncols=4)


def _name_rows(ax: Axes, names: Sequence[str]) -> None:
    ax.set_yticks([-row for row in range(len(names))], labels=list(names), fontsize=8.5)
    ax.set_ylim(-len(names) + 0.4, 0.7)


def _best_in_words(learned: Learned) -> str:
    best = learned.best_next
    if best is None:
        return "nothing to measure"
    figure, part = best.best
    return f"{best.trial.words}\nnarrows the {FIGURES[figure]} by {100 * part:.0f} %"
