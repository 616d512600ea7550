"""A scatter in words."""

from math import atan2, degrees, pi

import numpy as np

from parasim.config.scatter import Spread
from parasim.report.words import factor_in_words, place_words
from parasim.scatter.inputs import FLIGHT_INPUTS, Calibration, Input
from parasim.scatter.scatter import Scatter
from parasim.scatter.sensitivity import FIGURES as DRIVEN
from parasim.scatter.statistics import QUANTILES, Advice, Share
from parasim.units import System, show

SHOWN_QUANTILES = (0.5, 0.95, 0.99)
"""Of each distribution."""

FIGURE_WORDS = {
    "ground_speed": "speed over the ground",
    "sink": "sink",
    "speed": "speed along the path",
    "energy": "energy",
    "time_aloft": "time aloft",
    "distance": "distance from under the release",
    "load": "peak load",
    "any": "any of them",
    "along": "place along the cloud",
    "across": "place across the cloud",
}

KIND_OF_LIMIT = {"sink": "speed", "ground_speed": "speed", "energy": "energy"}
"""Kind of quantity of a limit; a load is in weights."""

INPUT_WORDS = {
    "wind_from": "wind direction",
    "left_trim": "left brake trim",
    "right_trim": "right brake trim",
}

AREA_ERROR = 5e-4
"""Part of a region's area that is not given: three digits are, four at most. [-] Our choice: the fifth moves
with the processor, through the few members that spiral."""


CHECKED = (
    "Check on unseen landings: the region drawn from half of the landings, and the part of the other half "
    "that it holds; the nearer to the region's own per cent, the better it is known."
)
"""What stands in that column."""


def input_words(name: str) -> str:
    """Name of an input as it is spoken."""
    return INPUT_WORDS.get(name, factor_in_words(name))


def input_rows(scatter: Scatter, system: System) -> list[list[str]]:
    """Rows for people: each input that varies, its nominal value and its spread."""
    return [
        [input_words(each.name), show_input(each.name, each.nominal, system), spread_words(each, system)]
        for each in scatter.inputs
    ]


def show_input(name: str, value: float, system: System) -> str:
    """Value of an input with its unit."""
    kind = FLIGHT_INPUTS.get(name)
    return f"{value:.4g}" if kind is None else show(value, kind, system)


def spread_words(each: Input, system: System) -> str:
    """Spread of an input in words."""
    spread = each.spread
    if isinstance(spread, Calibration):
        low, high = each.nominal - 2 * spread.below, each.nominal + 2 * spread.above
        return f"normal within {low:.4g} to {high:.4g} (its range)"
    return _spread_words(each.name, spread, system)


def _spread_words(name: str, spread: Spread, system: System) -> str:
    kind = "percent" if spread.relative else FLIGHT_INPUTS.get(name)
    texts = [f"{x:.4g}" if kind is None else show(x, kind, system) for x in spread.numbers]
    match spread.kind:
        case "normal":
            off = "" if spread.numbers[0] == 0 else f", {texts[0]} off on average"
            return f"normal, deviation {texts[1]}{off}"
        case "uniform":
            return f"uniform, {texts[0]} to {texts[1]} off"
        case "triangular":
            return f"triangular, {texts[0]}, {texts[1]}, {texts[2]} off"
        case _:
            return f"lognormal, deviation {texts[0]}"


def show_share(share: Share) -> str:
    """Share as per cent with its interval.

    Examples
    --------
    >>> show_share(Share(name="late", count=3, of=100, low=0.006, high=0.085))
    '3.0 % (0.6 to 8.5)'
    """
    return f"{100 * share.value:.1f} % ({100 * share.low:.1f} to {100 * share.high:.1f})"


def headline(scatter: Scatter, system: System) -> str:
    """The ground to keep clear, and how many do not open."""
    reach = scatter.reach
    everything, most = (
        show_or_unknown(radius, "length", system, digits=0)
        for radius in (reach.largest, reach.quantiles[QUANTILES.index(0.99)])
    )
    over = next((each for each in scatter.limits if each.name == "any"), None)
    these = f"all {len(scatter.landed)} known landings" if scatter.members.uncomputed else "all of these"
    limits = "; the file gives no limits" if over is None else ""
    if over is not None and not over.count:
        limits = f"; over a limit of the payload {show_share(over)}"
    return (
        f"{scatter.vehicle.design.name}, {len(scatter.members)} drops: {these} lie within {everything} "
        f"of the point under the release (99 % within {most}; brakes as in the file, how far one can fly "
        f"straight off: parasim release); {show_share(scatter.unopened)} do not open in time"
        f"{assumed(scatter)}{limits}"
    )


def assumed(scatter: Scatter) -> str:
    """What was drawn for canopies that never open, a phrase."""
    return f" (assumed: {100 * scatter.vehicle.design.scatter.unopened:g} % never open)"


def place_sentence(scatter: Scatter, system: System) -> str:
    """How far they lie from each other, and where."""
    circles = [
        f"{words} within {show(radius, 'length', system, digits=0)}"
        for words, radius in zip(("half", "90 %"), scatter.radii, strict=False)
        if radius is not None
    ]
    place = f"{' and '.join(circles)} of their mean; " if circles else ""
    drift = place_words(float(scatter.drift[0]), float(scatter.drift[1]), system)
    return f"{place}drift of those that opened {drift}"


def chance_rows(scatter: Scatter) -> list[list[str]]:
    """Chances of failed openings that were drawn from, and whose numbers they are."""
    spec = scatter.vehicle.design.scatter
    given, late = (
        spec.model_fields_set,
        spec.late.model_fields_set if "late" in spec.model_fields_set else set(),
    )
    rows = (
        ("never opens", f"{100 * spec.unopened:.2g} %", "unopened" in given),
        ("opens late", f"{100 * spec.late.probability:.2g} %", "probability" in late),
        ("late by, on average", show(spec.late.delay, "time"), "delay" in late),
    )
    return [[what, value, "the design file" if own else "our choice, no source"] for what, value, own in rows]


def show_or_unknown(value: float | None, kind: str, system: System, *, digits: int | None = None) -> str:
    """A value, or that it is not known."""
    return "not known" if value is None else show(value, kind, system, digits=digits)


def figure_rows(scatter: Scatter, system: System) -> list[list[str]]:
    """Rows for people: distributions of the landings."""
    rows = []
    for each in scatter.distributions:
        cells = [
            each.mean,
            *(each.quantiles[QUANTILES.index(q)] for q in SHOWN_QUANTILES),
            each.largest,
        ]
        digits = 0 if each.kind == "length" else None
        shown = (show_or_unknown(x, each.kind, system, digits=digits) for x in cells)
        rows.append([FIGURE_WORDS[each.name], *shown])
    return rows


def limit_words(share: Share, system: System) -> str:
    """Limit with its unit; empty for any of them."""
    kind = KIND_OF_LIMIT.get(share.name)
    if share.limit is None:
        return ""
    return f"{share.limit:g} weights" if kind is None else show(share.limit, kind, system)


def region_rows(scatter: Scatter, system: System) -> list[list[str]]:
    """Rows for people: regions that hold a part of the landings, ellipse and circle beside."""
    found = scatter.footprint
    if found is None:
        return []
    return [
        [
            f"{100 * region.level:.0f} %",
            show(region.area, "area", system, digits=0, error=AREA_ERROR * region.area),
            f"{100 * region.held:.1f} %",
            "-" if region.cross_checked is None else f"{100 * region.cross_checked:.1f} %",
            show(ellipse.area, "area", system, digits=0, error=AREA_ERROR * ellipse.area),
            f"{100 * ellipse.held:.1f} %",
            show_or_unknown(radius, "length", system, digits=0),
        ]
        for region, ellipse, radius in zip(found.regions, found.ellipses, scatter.radii, strict=True)
    ]


def driver_rows(scatter: Scatter, *, most: int = 2) -> list[list[str]]:
    """Rows for people: which inputs drive each figure, the strongest first."""
    found = scatter.sensitivity
    if found is None:
        return []
    rows = []
    for i, figure in enumerate(DRIVEN):
        order = np.argsort(-np.abs(found.partial[i]))[:most]
        named = [
            f"{input_words(found.names[j])} {found.partial[i, j]:+.2f}"
            for j in order
            if abs(found.partial[i, j]) > found.noise
        ]
        words = driven_words(figure, scatter)
        rows.append([words, f"{100 * found.explained[i]:.0f} %", ", ".join(named) or "none"])
    return rows


def driven_words(figure: str, scatter: Scatter) -> str:
    """Name of a figure; of a place with the bearing in which it is reported."""
    turn = {"along": 0.0, "across": pi / 2}.get(figure)
    if turn is None:
        return FIGURE_WORDS[figure]
    bearing = round(degrees(atan2(scatter.axis[1], scatter.axis[0]) + turn)) % 360
    return f"{FIGURE_WORDS[figure]}, to {bearing:03d} deg"


def sobol_rows(scatter: Scatter, *, most: int = 2) -> list[list[str]]:
    """Rows for people: total Sobol indices, the largest first."""
    found = scatter.sobol
    if found is None:
        return []
    rows = []
    for i, figure in enumerate(DRIVEN):
        order = np.argsort(-found.total[i])[:most]
        cells = [
            f"{input_words(found.names[j])} {100 * found.first[i, j]:.0f}/{100 * found.total[i, j]:.0f} %"
            for j in order
        ]
        rows.append([driven_words(figure, scatter), ", ".join(cells)])
    return rows


def advice_sentence(advice: Advice, system: System) -> str:
    """What part comes down at the target, and from where more would."""
    near = show(advice.target.radius, "length", system, digits=0)
    return (
        f"target {place_words(advice.target.north, advice.target.east, system)}: "
        f"{show_share(advice.now)} come down within {near} of it; released "
        f"{place_words(*advice.release, system)} from the planned place {show_share(advice.moved)} would"
    )
