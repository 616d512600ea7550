"""Picture of an opening: force over time, and peak over release speed."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.environment.atmosphere import GRAVITY
from parasim.flight.opening.opening import CAUTIONS, Case, Opening
from parasim.plotting.style import BAND, INK, LINES, SERIES, axis_label, footnote, look, new_figure, shown
from parasim.units import System, show, show_range

SNATCH_BAND = {**BAND, "facecolor": "0.95", "hatch": "\\\\\\\\", "zorder": 0.5}
"""Hatched the other way than the band of the opening."""


def opening_figure(opening: Opening, system: System = "metric") -> Figure:
    """Figure of force (above) and of loads over release speed (below), titled with the worst load."""
    case, now = opening.now.designed, opening.now
    loads = {"snatch": case.snatch[0], "opening": case.peak}
    ends = {"snatch": case.snatch[1:], "opening": now.peak_band}
    worst = max(loads, key=lambda name: max(ends[name]))
    low, high = (show(end, "force", system, digits=0) for end in ends[worst])
    band = f" ({show_range(*ends[worst], 'force', system, digits=0)})" if low != high else ""
    speed = show(case.release_speed, "speed", system, digits=0)
    with look():
        figure = new_figure(6.8, 7.8)
        upper, lower = figure.subplots(2, 1, height_ratios=[1, 1.25])
        plot_force(opening, upper, system)
        plot_peaks(opening, lower, system)
        upper.set_title(
            f"{opening.vehicle.design.name} let go at {speed}: worst is the {worst}, "
            f"{show(loads[worst], 'force', system, digits=0)}{band}"
        )
        footnote(figure, "\n".join(CAUTIONS))
    return figure


def plot_force(opening: Opening, ax: Axes, system: System = "metric") -> None:
    """Force after line stretch, both ways; the bound without slowing down, and the payload's weight."""
    now = opening.now
    for case, words, style in zip((now.plain, now.held), _names(opening), LINES, strict=False):
        time, force = _from_stretch(case)
        ax.plot(time, shown(force, "force", system), **style, label=words)
    ends = [_from_stretch(case) for case in (now.quick, now.slow)]
    for (time, force), words in zip(ends, ("as designed, range of filling", ""), strict=True):
        ax.plot(time, shown(force, "force", system), color="0.55", linestyle=":", linewidth=1.2, label=words)
    bound = now.designed.bound
    ax.axhline(
        float(shown(bound, "force", system)), color=INK, linestyle=(0, (6, 3)), linewidth=1.2,
        label="upper bound of the opening, snatch apart",
    )  # fmt: skip
    weight = now.designed.opener.payload_mass * GRAVITY
    ax.axhline(
        float(shown(weight, "force", system)), color=INK, linestyle=(0, (6, 2, 1, 2)), linewidth=1.0,
        label="payload's weight",
    )  # fmt: skip
    ax.set_xlim(left=0.0)
    ax.set_ylim(0.0, float(shown(1.45 * bound, "force", system)))
    ax.set_xlabel("time after line stretch [s]")
    ax.set_ylabel(axis_label("force on the payload", "force", system))
    ax.legend(loc="upper right", ncols=2)


def plot_peaks(opening: Opening, ax: Axes, system: System = "metric") -> None:
    """Peak over release speed, with the band of the filling constant's range."""
    speed = shown(np.array([one.designed.release_speed for one in opening.speeds]), "speed", system)
    low, high = np.array([one.peak_band for one in opening.speeds]).T
    ax.fill_between(
        speed, shown(low, "force", system), shown(high, "force", system), **BAND,
        label="as designed, range of filling",
    )  # fmt: skip
    ways = ([one.plain for one in opening.speeds], [one.held for one in opening.speeds])
    for cases, words, style in zip(ways, _names(opening), SERIES, strict=False):
        peaks = np.array([case.peak for case in cases])
        ax.plot(speed, shown(peaks, "force", system), **style, label=words)
    snatch, soft, stiff = np.array([one.designed.snatch for one in opening.speeds]).T
    ax.fill_between(
        speed, shown(soft, "force", system), shown(stiff, "force", system), **SNATCH_BAND,
        label="snatch, soft to stiff lines",
    )  # fmt: skip
    ax.plot(speed, shown(snatch, "force", system), **SERIES[2], label="snatch at line stretch, likely")
    for i, (words, strength) in enumerate(torn_at(opening)):
        at = float(shown(strength, "force", system))
        ax.axhline(at, color=INK, linestyle=(0, (6, 3)), linewidth=1.0)
        # Side by side, for two strengths may be near each other.
        ax.annotate(
            words, (0.02 + 0.3 * i, at), xytext=(0, 3), fontsize=8, color=INK,
            xycoords=ax.get_yaxis_transform(), textcoords="offset points",
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1},
        )  # fmt: skip
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel(axis_label("release speed", "speed", system))
    ax.set_ylabel(axis_label("load on the payload", "force", system))
    ax.set_title("Loads over release speed, and what holds them")
    ax.legend(loc="upper left", bbox_to_anchor=(0.0, -0.16), ncols=2, frameon=False)


def torn_at(opening: Opening) -> list[tuple[str, float]]:
    """Load of the whole at a snatch that takes each part to its strength, where that is known. [N]"""
    snatch = opening.now.designed.snatch[0]
    return [
        (f"{check.part}: limit" if check.part == "payload" else f"a {check.part} breaks",
         check.strength * snatch / check.load)
        for check in opening.checks
        if check.event == "snatch" and check.strength is not None
    ]  # fmt: skip


def _from_stretch(case: Case) -> tuple[np.ndarray, np.ndarray]:
    return case.filling.time - case.filling.time[0], case.filling.force


def _names(opening: Opening) -> tuple[str, str]:
    held = opening.held_by if opening.held_by != "nothing" else opening.compared_with
    names = ("without slider or reefing", "with a slider" if held == "slider" else "reefed")
    designed = 0 if opening.held_by == "nothing" else 1
    marked = [f"{name} (as designed)" if i == designed else name for i, name in enumerate(names)]
    return marked[0], marked[1]
