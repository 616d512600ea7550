"""Pictures of the turn: steady turns over the pull, and how a turn begins."""

from math import degrees

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.flight.turn.steady import SteadyTurn
from parasim.flight.turn.step import StepResponse
from parasim.flight.turn.turn import SPIRAL_CAUTION, Turn
from parasim.plotting.style import BAND, INK, LINES, SERIES, axis_label, footnote, look, new_figure, shown
from parasim.rotations import FloatArray
from parasim.units import System, show

PANELS = (
    ("heading", "heading", "angle"),
    ("rate", "turn rate", "angular_rate"),
    ("bank", "bank", "angle"),
    ("sideslip", "sideslip", "angle"),
    ("height_lost", "height lost", "length"),
)
"""Of the step responses over time: attribute, words, kind of quantity."""


def turn_figure(turn: Turn, system: System = "metric") -> Figure:
    """Figure of the steady turns, titled with the last one and its band."""
    with look():
        figure = new_figure(9.6, 4.8)
        rate, size = figure.subplots(1, 2, width_ratios=(1.25, 1.0))
        plot_rates(turn, rate, system)
        plot_size(turn, size, system)
        figure.suptitle(_finding(turn, system), x=0.01, ha="left", fontsize=11, fontweight="bold")
        footnote(figure, f"Steady turns in still air. {SPIRAL_CAUTION}\n{CAUTION}")
    return figure


def _finding(turn: Turn, system: System) -> str:
    last, name = turn.right[-1], turn.vehicle.design.name
    if not last.rate:
        return f"{name}: no steady turn; one brake spirals it"
    brake, band = turn.rate_bands[-1]
    rate = show(last.rate, "angular_rate", system, digits=0)
    text = f"{name} turns at {rate} under {100 * last.brake:.0f} % of one brake"
    if brake != last.brake or np.isnan(band.low):
        return f"{text}: a spiral"
    if np.isinf(band.high):
        return f"{text}; it may be {degrees(band.low):.0f} deg/s, it may spiral"
    return f"{text}; it may be {degrees(band.low):.0f} to {degrees(band.high):.0f} deg/s"


def plot_rates(turn: Turn, ax: Axes, system: System = "metric") -> None:
    """Turn rate over the pull, that of the left brake to the left; bands hatched, open ones to the edge."""
    travel = turn.vehicle.design.brakes.travel
    for turns, side, series, name in (
        (turn.right, 1.0, SERIES[0], "right brake"),
        (turn.left, -1.0, SERIES[1], "left brake"),
    ):
        pull = side * _pull(turns, system)
        rates = shown(np.array([each.rate for each in turns]), "angular_rate", system)
        ax.plot(pull, rates, **series, markevery=2, label=name)
    top = _rate_scale(turn)
    for side in (1.0, -1.0):
        brake, low, high = _band_edges(turn)
        x = side * shown(travel * brake, "small_length", system)
        edges = side * np.clip(shown(low, "angular_rate", system), -top, top)
        others = side * np.clip(shown(high, "angular_rate", system), -top, top)
        may_spiral = bool(np.isinf(high).any())
        label = "band (to the edge: may spiral)" if may_spiral else "band (may go on beyond the edge)"
        if not may_spiral and float(np.max(shown(high, "angular_rate", system))) <= top:
            label = "band"
        ax.fill_between(x, edges, others, **BAND, label=label if side > 0 else None)
    ax.axhline(0.0, color=INK, linewidth=0.9)
    ax.axvline(0.0, color=INK, linewidth=0.9)
    ax.set_ylim(-top, top)
    ax.set_xlabel(axis_label("pull: left brake to the left, right to the right", "small_length", system))
    ax.set_ylabel(axis_label("turn rate, right positive", "angular_rate", system))
    ax.legend(loc="upper left")


def _band_edges(turn: Turn) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Right brakes from zero to full, and the ends of the band; none above where it spirals. [-], [rad/s]"""
    brake, low, high = np.array(
        [(0.0, 0.0, 0.0), *((b, band.low, band.high) for b, band in turn.rate_bands)]
    ).T
    spirals = np.isnan(low)
    low[spirals] = low[~spirals][-1]
    high[spirals] = np.inf
    return brake, low, high


def _rate_scale(turn: Turn) -> float:
    """End of the scale of turn rates: half as much again as the fastest steady one. [deg/s]"""
    return 1.5 * max(degrees(max(abs(each.rate) for each in turn.right)), 2.0)


def _pull(turns: tuple[SteadyTurn, ...], system: System) -> FloatArray:
    return shown(np.array([each.pull for each in turns]), "small_length", system)


def plot_size(turn: Turn, ax: Axes, system: System = "metric") -> None:
    """Radius and height lost per turn over the pull, of either brake."""
    for turns, markers in ((turn.right, "o^"), *(() if turn.mirrored else ((turn.left, "sD"),))):
        side = "either" if turn.mirrored else "right" if turns is turn.right else "left"
        pull = _pull(turns, system)
        for name, values, marker, line in (
            ("radius", [each.radius for each in turns], markers[0], SERIES[0]),
            ("height lost per turn", [each.height_per_turn for each in turns], markers[1], SERIES[1]),
        ):
            look_of = {**line, "marker": marker}
            if side == "left":
                look_of |= {"linestyle": "none", "markerfacecolor": "none", "markersize": 8.5}
            length = shown(np.array(values), "length", system)
            ax.plot(pull, length, **look_of, markevery=2, label=f"{name}, {side} brake")
    minimum = min((each.radius for each in turn.right if each.rate), default=1.0)
    ax.set_yscale("log")
    ax.set_ylim(*shown(np.array([0.4 * minimum, 30 * minimum]), "length", system))
    ax.yaxis.set_major_formatter("{x:g}")
    ax.yaxis.set_minor_formatter(lambda x, _: f"{x:g}" if str(x)[:1] in "235" else "")
    ax.set_xlabel(axis_label("pull of one brake", "small_length", system))
    ax.set_ylabel(axis_label("radius, height", "length", system) + ", log scale")
    ax.set_xlim(left=0.0)
    ax.legend(loc="lower left")


def step_figure(turn: Turn, system: System = "metric") -> Figure:
    """Figure of the step responses, titled with how soon the turn is there."""
    with look():
        figure = new_figure(9.6, 7.0)
        axes = figure.subplots(3, 2)
        for (name, words, kind), ax in zip(PANELS, axes.T.flat, strict=False):
            plot_steps(turn, ax, name, words, kind, system)
        plot_tracks(turn, axes.T.flat[5], system)
        axes[0, 0].legend(loc="upper left")
        figure.suptitle(_step_finding(turn, system), x=0.01, ha="left", fontsize=11, fontweight="bold")
        signs = "Right, right wing down and air from the right are positive."
        footnote(figure, f"Still air. {signs}\n{SPIRAL_CAUTION}\n{CAUTION}")
    return figure


def _step_finding(turn: Turn, system: System) -> str:
    name, last = turn.vehicle.design.name, turn.steps[-1]
    if np.isnan(last.rise_time):
        return f"{name} hardly turns at {100 * last.right:.0f} % of the right brake"
    sink = show(_late_sink(last), "speed", system)
    return (
        f"{name} reaches its turn rate {last.rise_time:.2f} s after a pull to {100 * last.right:.0f} % "
        f"begins, overshoots by {100 * last.overshoot:.0f} %, then sinks {sink}"
    )


def _late_sink(step: StepResponse) -> float:
    late = step.time > step.time[-1] - 2.0
    return float(np.polyfit(step.time[late], step.height_lost[late], 1)[0])


def plot_steps(turn: Turn, ax: Axes, name: str, words: str, kind: str, system: System = "metric") -> None:
    """One figure of every step response over time."""
    for line, step in zip(LINES, turn.steps, strict=False):
        ax.plot(
            step.time,
            shown(getattr(step, name), kind, system),
            **line,
            label=f"right brake {100 * step.right:.0f} %",
        )
    ax.set_xlim(0.0, turn.steps[0].time[-1])
    ax.set_ylabel(axis_label(words, kind, system))
    ax.set_xlabel(axis_label("time after the pull begins", "time", system))


def plot_tracks(turn: Turn, ax: Axes, system: System = "metric") -> None:
    """Path over the ground of every step response, seen from above, north up."""
    for line, series, step in zip(LINES, SERIES, turn.steps, strict=False):
        east, north = shown(step.east, "length", system), shown(step.north, "length", system)
        ax.plot(east, north, **line)
        ax.plot(east[-1], north[-1], color=series["color"], marker=series["marker"])
    ax.set_aspect("equal", adjustable="datalim")
    ax.set_xlabel(axis_label("east", "length", system))
    ax.set_ylabel(axis_label("north", "length", system))
