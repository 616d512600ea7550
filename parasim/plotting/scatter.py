"""Pictures of a scatter: a map of the landings, how they land, and what drives it."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.flight.drop import CAUTIONS
from parasim.plotting.map_marks import frame_map, north_arrow, scale_bar, wind_arrow
from parasim.plotting.style import (
    BLUE,
    GREEN,
    GREY,
    INK,
    RUST,
    axis_label,
    footnote,
    look,
    mark_side,
    new_figure,
    shown,
)
from parasim.rotations import FloatArray
from parasim.scatter.members import OUTCOMES, TOO_LATE, UNOPENED
from parasim.scatter.scatter import Scatter
from parasim.scatter.sensitivity import FIGURES as DRIVEN
from parasim.scatter.statistics import Share
from parasim.units import System, show

MARKS: tuple[dict[str, Any], ...] = (
    {"marker": ".", "s": 8, "color": "0.55", "linewidths": 0},
    {"marker": "s", "s": 18, "facecolors": "none", "edgecolors": GREEN, "linewidths": 1.0},
    {"marker": "v", "s": 90, "facecolors": "none", "edgecolors": RUST, "linewidths": 2.2},
    {"marker": "x", "s": 90, "color": RUST, "linewidths": 2.4},
)
"""Of the outcomes; canopies that do not open in time larger, and drawn on top."""

RINGS: tuple[dict[str, Any], ...] = (
    {"color": BLUE, "linestyle": "-", "linewidth": 2.2},
    {"color": BLUE, "linestyle": "--", "linewidth": 1.8},
    {"color": BLUE, "linestyle": ":", "linewidth": 1.6},
)
"""Of the regions, smallest first."""

STEPS: tuple[dict[str, Any], ...] = (
    {"color": BLUE, "linestyle": "-"},
    {"color": GREEN, "linestyle": "--"},
    {"color": RUST, "linestyle": "-."},
    {"color": INK, "linestyle": ":"},
)
"""Of the outcomes in histograms."""

MOST_DOTS = 20000
"""Landings drawn; more only blacken the map."""

MOST_BARS = 7
"""Inputs to a panel."""

BINS = 45

PANEL_WORDS = {
    "along": "place along the cloud",
    "across": "place across the cloud",
    "ground_speed": "speed over the ground",
    "sink": "sink",
    "energy": "energy at touchdown",
}


def map_figure(scatter: Scatter, system: System = "metric") -> Figure:
    """Map of the landings with the regions that hold parts of them, titled with the ground to keep clear."""
    with look():
        figure = new_figure(8.6, 6.6)
        ax, side = figure.subplots(1, 2, width_ratios=[4.2, 1.3])
        side.set_axis_off()
        plot_map(scatter, ax, system)
        handles, words = ax.get_legend_handles_labels()
        side.legend(
            handles,
            words,
            loc="upper left",
            bbox_to_anchor=(-0.1, 1.0),
            frameon=False,
            markerscale=1.3,
        )
        north_arrow(side, (0.1, 0.25))
        wind_arrow(side, scatter.vehicle.wind, np.array([0.15, 0.1]), system, beside=(0.45, 0.1))
        partial = "" if scatter.complete else "PARTIAL, "
        ax.set_title(f"{partial}{_name(scatter)}: {_spread(scatter, system)}")
        footnote(figure, "\n".join(CAUTIONS))
    return figure


def plot_map(scatter: Scatter, ax: Axes, system: System = "metric") -> None:
    """Landings, regions, release and target: north up, equal axes, with a scale bar."""
    landed = scatter.landed
    for outcome, (words, mark) in enumerate(zip(OUTCOMES, MARKS, strict=True)):
        those = landed.select(landed.outcome == outcome)
        if len(those):
            place = [shown(each[:MOST_DOTS], "length", system) for each in (those.east, those.north)]
            ax.scatter(
                *place,
                **mark,
                label=f"{words} ({len(those)})",
                zorder=5 if outcome in (TOO_LATE, UNOPENED) else 2 + 0.1 * outcome,
            )
    _rings(scatter, ax, system)
    _clear(scatter, ax, system)
    ax.plot(0, 0, marker="o", markersize=9, color=INK, linestyle="none", label="under the release", zorder=4)
    _target(scatter, ax, system)
    ax.set_aspect("equal")
    ax.set_xlabel(axis_label("east", "length", system))
    ax.set_ylabel(axis_label("north", "length", system))
    frame_map(ax)
    scale_bar(ax, system)


def _clear(scatter: Scatter, ax: Axes, system: System) -> None:
    """Circle about the point under the release that holds all landings flown here; more may lie beyond."""
    if scatter.reach.largest is None:
        return
    radius, angle = float(shown(scatter.reach.largest, "length", system)), np.linspace(0, 2 * np.pi, 181)
    words = f"to keep clear at least: holds the\n{len(scatter.landed)} known landings; more may\nlie beyond"
    ax.plot(
        radius * np.sin(angle), radius * np.cos(angle), color=RUST, linestyle=(0, (8, 3)), linewidth=1.2,
        label=words, zorder=3,
    )  # fmt: skip


def _rings(scatter: Scatter, ax: Axes, system: System) -> None:
    if scatter.footprint is None:
        return
    for region, style in zip(scatter.footprint.regions, RINGS, strict=True):
        rings = [ring for polygon in region.polygons for ring in polygon]
        for i, ring in enumerate(rings):
            east, north = shown(ring, "length", system).T
            words = f"{100 * region.level:.0f} % of landings" if i == 0 else None
            ax.plot(east, north, **style, label=words, zorder=3)
    east, north = shown(scatter.footprint.ellipses[1].outline(), "length", system).T
    ax.plot(
        east, north, color=GREY, linestyle=(0, (6, 2, 1, 2)), linewidth=1.0, zorder=3,
        label="90 % if it were normal",
    )  # fmt: skip


def _target(scatter: Scatter, ax: Axes, system: System) -> None:
    if scatter.advice is None:
        return
    target = scatter.advice.target
    place = shown(np.array([target.east, target.north]), "length", system)
    ax.plot(*place, marker="+", markersize=15, markeredgewidth=2.2, color=RUST, linestyle="none",
            label="target", zorder=4)  # fmt: skip
    angle = np.linspace(0, 2 * np.pi, 91)
    radius = float(shown(target.radius, "length", system))
    ax.plot(
        place[0] + radius * np.sin(angle), place[1] + radius * np.cos(angle), color=RUST, linewidth=1.0,
        label=f"within {show(target.radius, 'length', system, digits=0)}", zorder=4,
    )  # fmt: skip
    north, east = scatter.advice.release
    ax.plot(
        *shown(np.array([east, north]), "length", system), marker="o", markersize=9, markerfacecolor="white",
        markeredgecolor=INK, linestyle="none", label="release here for it", zorder=4,
    )  # fmt: skip


def landing_figure(scatter: Scatter, system: System = "metric") -> Figure:
    """Figure of how the landings are spread in speed and energy, titled with what is over the limits."""
    with look():
        figure = new_figure(7.2, 8.0)
        panels = figure.subplots(3, 1)
        plot_landings(scatter, panels, system)
        panels[0].set_title(f"{_name(scatter)}: {_over(scatter, system)}")
        footnote(figure, "\n".join(CAUTIONS))
    return figure


def plot_landings(scatter: Scatter, panels: FloatArray, system: System = "metric") -> None:
    """Histograms of ground speed, sink and energy by outcome, limits marked; panels of shape (3,)."""
    kinds = (
        ("ground_speed", "speed over the ground at touchdown", "speed"),
        ("sink", "sink at touchdown", "speed"),
        ("energy", "energy at touchdown", "energy"),
    )
    landed = scatter.landed
    limits = {each.name: each for each in scatter.limits}
    for ax, (name, words, kind) in zip(panels, kinds, strict=True):
        values = shown(np.asarray(getattr(landed, name)), kind, system)
        bins = np.linspace(0.0, float(values.max()) * 1.02 + 1e-9, BINS)
        for outcome, style in enumerate(STEPS):
            those = values[landed.outcome == outcome]
            if len(those):
                ax.hist(those, bins=bins, histtype="step", linewidth=1.7, label=OUTCOMES[outcome], **style)
        ax.set_yscale("log")
        ax.set_ylim(bottom=0.7)
        ax.set_xlim(left=0.0)
        ax.set_xlabel(axis_label(words, kind, system))
        ax.set_ylabel("drops, log scale")
        limit = limits[name].limit if name in limits else None
        if limit is not None and float(shown(limit, kind, system)) > ax.get_xlim()[1]:
            ax.annotate(f"limit {show(limit, kind, system)}, beyond the picture", (0.02, 0.9),
                        xycoords="axes fraction", fontsize=8, color=INK)  # fmt: skip
        elif limit is not None:
            mark_side(ax, float(shown(limit, kind, system)), "limit")
        else:
            ax.annotate("no limit given", (0.02, 0.9), xycoords="axes fraction", fontsize=8, color=INK)
    panels[0].legend(loc="upper right")


def _spread(scatter: Scatter, system: System) -> str:
    """How far from the point under the release all come down, or that some landings are not known."""
    lost, radius = scatter.members.uncomputed, scatter.reach.largest
    if lost or radius is None:
        return f"{lost} of {len(scatter.members)} drops end in the air, their landing not known"
    far = show(radius, "length", system, digits=0)
    return f"all {len(scatter.landed)} landings lie within {far} of under the release"


def _over(scatter: Scatter, system: System) -> str:
    over: Share | None = next((each for each in scatter.limits if each.name == "any"), None)
    if over is None:
        speed = next(each for each in scatter.distributions if each.name == "speed")
        half = speed.quantiles[2]
        return (
            f"half land {'not known' if half is None else 'below ' + show(half, 'speed', system)}; no limits"
        )
    return f"{100 * over.value:.1f} % of landings are over a limit of the payload"


def sensitivity_figure(scatter: Scatter) -> Figure:
    """Figure of which inputs drive each figure of the landing, titled with the strongest for the place."""
    found = scatter.sensitivity
    assert found is not None
    by_sobol = scatter.sobol is not None
    with look():
        figure = new_figure(9.6, 7.2)
        panels = figure.subplots(2, 3).ravel()
        for i, (ax, figure_name) in enumerate(zip(panels, DRIVEN, strict=False)):
            if by_sobol:
                plot_sobol(scatter, ax, i)
            else:
                plot_sensitivity(scatter, ax, i)
            ax.set_title(PANEL_WORDS[figure_name], fontsize=9.5, loc="left")
        panels[-1].set_axis_off()
        panels[-1].text(0.0, 0.95, _how_to_read(scatter), va="top", fontsize=8.5, wrap=True)
        footnote(figure, "\n".join(CAUTIONS))
        strongest = found.names[int(np.argmax(np.abs(found.partial[0])))]
        figure.suptitle(
            f"{_name(scatter)}: {_spoken(strongest)} moves the landing along the cloud most",
            x=0.01, ha="left", fontsize=11, fontweight="bold",
        )  # fmt: skip
    return figure


def plot_sensitivity(scatter: Scatter, ax: Axes, row: int) -> None:
    """Bars of the influences on one figure, by its place in `DRIVEN`; falling ones hatched."""
    found = scatter.sensitivity
    assert found is not None
    order = np.argsort(-np.abs(found.partial[row]))[:MOST_BARS][::-1]
    values = found.partial[row][order]
    bars = ax.barh([_spoken(found.names[j]) for j in order], values, color=BLUE, edgecolor=INK, linewidth=0.6)
    for bar, value in zip(bars, values, strict=True):
        if value < 0:
            bar.set(facecolor="white", hatch="////", edgecolor=RUST)
    ax.axvline(0.0, color=INK, linewidth=0.8)
    for side in (-found.noise, found.noise):
        ax.axvline(side, color=GREY, linestyle=":", linewidth=1.0)
    ax.set_xlim(-1.05, 1.05)
    ax.set_xlabel("influence, -1 to +1 [-]")
    ax.tick_params(axis="y", labelsize=8)
    ax.grid(axis="y", visible=False)


def plot_sobol(scatter: Scatter, ax: Axes, row: int) -> None:
    """Bars of the Sobol indices of one figure: alone (filled) and with others (outline), with intervals."""
    found = scatter.sobol
    assert found is not None
    order = np.argsort(-found.total[row])[:MOST_BARS][::-1]
    names = [_spoken(found.names[j]) for j in order]
    total, first = 100 * found.total[row][order], 100 * found.first[row][order]
    low, high = (100 * found.total_interval[end, row][order] for end in (0, 1))
    off = np.maximum([total - low, high - total], 0.0)
    ax.barh(names, total, height=0.7, facecolor="white", edgecolor=INK, hatch="////", xerr=off,
            error_kw={"linewidth": 1.0, "capsize": 2})  # fmt: skip
    ax.barh(names, np.maximum(first, 0.0), height=0.35, color=BLUE)
    ax.set_xlim(left=0.0)
    ax.set_xlabel("part of the variance [%]")
    ax.tick_params(axis="y", labelsize=8)
    ax.grid(axis="y", visible=False)


def _how_to_read(scatter: Scatter) -> str:
    found = scatter.sensitivity
    assert found is not None
    if scatter.sobol is not None:
        return (
            "Sobol indices: part of the variance\nthat an input makes, alone (filled)\nand with all it does "
            "together\nwith others (hatched); lines: 95 %.\n"
            f"{scatter.sobol.flights} flights, canopies that open\nas designed."
        )
    explained = "\n".join(
        f"{PANEL_WORDS[name]}: {100 * part:.0f} %" for name, part in zip(DRIVEN, found.explained, strict=True)
    )
    return (
        "Filled: more of it, more of that.\nHatched: more of it, less of that.\nDotted: as large comes by "
        f"chance.\n{found.count} canopies that opened as designed.\n\n"
        f"Share explained by all inputs:\n{explained}"
    )


def _spoken(name: str) -> str:
    return name.replace("_", " ")


def _name(scatter: Scatter) -> str:
    return scatter.vehicle.design.name
