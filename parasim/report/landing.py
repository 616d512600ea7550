"""What `parasim landing` answers."""

from collections.abc import Iterator
from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.caveats import about, said
from parasim.flight.arrival import peak_load
from parasim.flight.drop import CAUTIONS
from parasim.flight.landing import (
    COURSES,
    FORWARD_RESERVE,
    GROUND,
    WINDS,
    YARDSTICKS,
    Arrival,
    Course,
    Landing,
)
from parasim.flight.release.reach import measured_at
from parasim.report.column import Column, Grid, Table, of_part
from parasim.report.drop import TOUCHDOWN
from parasim.report.flare import flare_document
from parasim.report.limits import LIMIT_WORDS, not_kept, show_limited
from parasim.report.report import Block, Report
from parasim.units import System, convert, label, show, show_range, unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COURSE_WORDS: dict[Course, str] = {
    "into": "into the wind",
    "across": "across the wind",
    "with": "with the wind",
}
"""How the canopy faces the wind."""

SEARCHED = 0.005
"""Part of the speed of a flared arrival that the search for the flare leaves open. [-]"""

LOADS: dict[str, Column[Arrival]] = {
    "mean_load": Column(
        name="mean_load_g", words="mean load [weights]", kind="ratio", read=lambda a: a.mean_load, digits=0
    ),
    "peak_load": Column(
        name="peak_load_g", words="peak load [weights]", kind="ratio", read=lambda a: a.peak_load, digits=0
    ),
    "obstacle_load": Column(
        name="obstacle_load_g", words="peak against an obstacle", kind="ratio",
        read=lambda a: a.obstacle_load, digits=0,
    ),
}  # fmt: skip
"""Loads in weights, peak of a triangular pulse."""

ARRIVAL: dict[str, Column[Arrival]] = {
    name: of_part(column, attrgetter("touchdown")) for name, column in TOUCHDOWN.items()
} | LOADS
"""Figures of one arrival."""


def _verdict(name: str) -> Column[Arrival]:
    return Column(name=f"{name}_verdict", words="", kind="", read=lambda a: a.verdict(name).word)


LANDING_COLUMNS: tuple[Column[Arrival], ...] = (
    Column(name="way", words="way", kind="", read=lambda a: a.way),
    Column(name="course", words="course", kind="", read=lambda a: a.course),
    Column(name="wind_m_s", words="wind", kind="wind_speed", read=lambda a: a.wind),
    *ARRIVAL.values(),
    Column(name="backwards", words="", kind="", read=lambda a: a.backwards),
    *map(_verdict, LIMIT_WORDS),
)
"""Of every arrival; verdict within, over or no limit given."""


class LandingReport(Report[Landing]):
    """What arrives at the ground in every wind."""

    COMMAND = "landing"
    BANDED = True
    CAUTIONS = CAUTIONS

    def touches(self, caveat: str) -> bool:
        """As `Report.touches`; brakes only where it is flared."""
        return super().touches(caveat) and (self.result.flare is not None or about(caveat) != "brakes")

    def failures(self, units: System) -> list[str]:
        """Limits not kept with the brakes released, by the bands in still air, and from what wind on."""
        landing, way = self.result, "brakes released"
        return [
            *not_kept(landing.still(way).verdicts, units, worst=worst_figures(landing)),
            *obstacle_not_kept(landing, way, units),
            *winds_not_kept(landing, way, units),
            *headway_not_kept(landing, units),
        ]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        landing = self.result
        air, ways = air_in_words(landing, units), _all_ways(landing)
        yield headline(landing, units)
        yield Grid(
            rows=still_rows(landing, units), note=still_sentences(landing, units),
            heads=[f"in {air}", *ways, *(["band, brakes released"] if _is_still(landing) else [])],
        )  # fmt: skip
        yield Grid(
            rows=limit_rows(landing, units),
            heads=["limit", "given", "way", "still" if _is_still(landing) else "least wind", *COURSES],
            title="Limits of the payload: + within, x over, ? no limit given; right: in which winds "
            f"[{label('wind_speed', units)}] it is kept, by how the canopy faces them",
        )
        for way in landing.ways:
            yield Grid(
                rows=wind_rows(landing, way, units), long=True,
                heads=["wind", *(head for course in COURSES for head in (f"{course}: ground", "energy"))],
                title=f"{way.capitalize()}: speed over the ground and energy, by how it faces the wind",
                note=steady_wind(landing, units),
            )  # fmt: skip
        yield wind_sentence(landing, units)
        yield Grid(
            rows=yardstick_rows(landing, units), heads=["yardstick", "", *ways],
            title="Yardsticks, to get a feeling; none of them is a permission",
            note="\n".join(f"{stick.name}: {said(stick.words, units)}" for stick in YARDSTICKS),
        )  # fmt: skip

    def document(self) -> dict[str, Any]:
        """As `landing_document`."""
        return landing_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        rows = (*self.result.arrivals, *self.result.unopened)
        yield "landing.csv", Table(columns=LANDING_COLUMNS, rows=rows).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.landing import landing_figure

        yield "landing.png", landing_figure(self.result, units)


def landing_document(landing: Landing) -> dict[str, Any]:
    """Landing as plain data.

    Returns
    -------
    dict
        - ``name``; ``mass_kg``; ``forward_speed_m_s``, ``sink_m_s``, ``airspeed_m_s`` with the brakes
          released in
          still air;
          ``bands`` of ``sink_m_s``, ``ground_speed_m_s``, ``energy_j`` in still air: ``low``, ``high``;
          ``bands_lost``: factors at one end of whose range there is no steady glide;
          ``no_glide_fraction``: then the part of the canopies drawn from all ranges that has none, else null.
        - ``limits``: ``stop_distance_m``, ``max_sink_m_s``, ``max_ground_speed_m_s``, ``max_energy_j``,
          ``max_load_g``; null where none is given.
        - ``no_way_wind_m_s``: wind as fast as the canopy; ``wind_limit_m_s``: with ``forward_reserve`` kept.
        - ``arrivals`` (way brakes released or flared; course into, across or with the wind) and ``unopened``
          (from
          ``unopened_from_m``): the columns of `LANDING_COLUMNS`.
        - ``yardsticks``: ``name``, ``quantity``, ``value_j`` or ``value_m_s``, ``words``, ``times``: by way,
          the arrival in the minimum wind over it.
        - ``flare``: as from `parasim flare`, null without; ``cautions`` and ``caveats``: sentences.
    """
    limits = landing.limits
    return {
        "name": landing.vehicle.design.name,
        "mass_kg": landing.vehicle.mass,
        "airspeed_m_s": landing.trim.airspeed,
        "forward_speed_m_s": landing.trim.forward_speed,
        "sink_m_s": landing.trim.sink,
        "bands": {
            ARRIVAL[name].name: {"low": band.low, "high": band.high}
            for name, band in landing.bands.figures.items()
        },
        "bands_lost": list(landing.bands.lost),
        "no_glide_fraction": landing.bands.lost_share,
        "limits": {
            "stop_distance_m": limits.stop_distance,
            "max_sink_m_s": limits.max_sink,
            "max_ground_speed_m_s": limits.max_ground_speed,
            "max_energy_j": limits.max_energy,
            "max_load_g": limits.max_load,
        },
        "no_way_wind_m_s": landing.still_wind,
        "wind_limit_m_s": landing.wind_limit,
        "forward_reserve": FORWARD_RESERVE,
        "arrivals": Table(columns=LANDING_COLUMNS, rows=landing.arrivals).document(),
        "unopened": Table(columns=LANDING_COLUMNS, rows=landing.unopened).document(),
        "unopened_from_m": landing.vehicle.design.drop.height,
        "yardsticks": [
            {
                "name": stick.name,
                "quantity": stick.quantity,
                "value_j" if stick.quantity == "energy" else "value_m_s": stick.value,
                "words": stick.words,
                "times": {
                    way: _measured(landing.still(way), stick.quantity) / stick.value
                    for way in _all_ways(landing)
                },
            }
            for stick in YARDSTICKS
        ],
        "flare": flare_document(landing.flare) if landing.flare else None,
        "cautions": list(CAUTIONS),
        "caveats": list(landing.caveats),
    }


def air_in_words(landing: Landing, system: System) -> str:
    """The lowest wind that was asked for."""
    wind = float(landing.winds[0])
    return "still air" if wind == 0 else f"{show(wind, 'wind_speed', system)} of wind ahead at the canopy"


def wind_higher_up(landing: Landing, system: System) -> str:
    """The lowest wind as the site measures it, by its profile; empty in still air."""
    wind, share = float(landing.winds[0]), landing.share_of_measured
    if wind == 0 or share <= 0:
        return ""
    height = show(measured_at(landing.vehicle).height, "length", system, digits=0)
    return f" ({show(wind / share, 'wind_speed', system)} at {height})"


def headline(landing: Landing, system: System) -> str:
    """How it lands with the brakes released, in a sentence."""
    touchdown = landing.still("brakes released").touchdown
    air = air_in_words(landing, system) + wind_higher_up(landing, system)
    bands = landing.bands.figures if _is_still(landing) else {}

    def banded(name: str) -> str:
        kind, shown = TOUCHDOWN[name].kind, TOUCHDOWN[name].cell(touchdown, system)
        band = bands.get(name)
        return f"{shown} ({show_range(band.low, band.high, kind, system)})" if band else shown

    return (
        f"{landing.vehicle.design.name} lands with the brakes released at {banded('sink')} down and "
        f"{banded('ground_speed')} over the ground in {air}: {banded('energy')}"
    )


def still_rows(landing: Landing, system: System) -> list[list[str]]:
    """Figures of the arrival in the lowest wind, one column a way, unopened last, and the band."""
    arrivals = [landing.still(way) for way in _all_ways(landing)]
    bands = landing.bands.figures if _is_still(landing) else {}
    rows = []
    for name, column in ARRIVAL.items():
        part = SEARCHED if column.kind == "speed" else 2 * SEARCHED
        row = [column.words]
        row += [column.cell(one, system, part=part if one.way == "flared" else 0.0) for one in arrivals]
        if name in bands:
            row.append(show_range(bands[name].low, bands[name].high, column.kind, system))
        rows.append(row)
    return rows


def still_sentences(landing: Landing, system: System) -> str:
    """Whence it falls unopened, and what the loads rest on."""
    height = show(landing.vehicle.design.drop.height, "length", system, digits=0)
    stop = show(landing.limits.stop_distance, "small_length", system)
    drifting = "" if _is_still(landing) else ", and going with the wind"
    return (
        f"unopened: from {height}{drifting}; where it comes down: parasim drop\n"
        f"loads: sink stopped over {stop}, mean V²/(2 g s) + 1, peak twice that (an assumed triangle)"
    )


def limit_rows(landing: Landing, system: System) -> list[list[str]]:
    """Each limit: verdict in the minimum wind, and the winds in which each course keeps within it."""
    rows = []
    for name, (words, key, kind) in LIMIT_WORDS.items():
        given = getattr(landing.limits, key)
        if given is None:
            rows.append([words, "-", "any", "?"])
            continue
        for way in (*landing.ways, "unopened"):
            verdict = landing.still(way).verdict(name)
            courses = [""] * 3
            if way != "unopened":
                courses = [winds_within(landing.series(way, course), name, system) for course in COURSES]
            limit = show(given, kind, system, digits=0 if kind == "ratio" else None)
            rows.append([words, limit, way, f"{verdict.symbol} {verdict.word}", *courses])
    return [*rows, *obstacle_rows(landing)]


def obstacle_rows(landing: Landing) -> list[list[str]]:
    """The limit of the load against an obstacle: in the minimum wind, unopened left out; none without one."""
    limit = landing.limits.max_load
    if limit is None:
        return []
    over = {way: landing.still(way).obstacle_load > limit for way in landing.ways}
    return [
        ["load on an obstacle", f"{limit:.0f}", way, "x over" if over[way] else "+ within", "", "", ""]
        for way in landing.ways
    ]


def obstacle_not_kept(landing: Landing, way: str, system: System) -> list[str]:
    """Load against an obstacle over its limit, a phrase."""
    load, limit = landing.still(way).obstacle_load, landing.limits.max_load
    if limit is None or load <= limit:
        return []
    return [
        f"against an obstacle, {show_limited(load, 'load', system)} (at most "
        f"{show_limited(limit, 'load', system)})"
    ]


def wind_rows(landing: Landing, way: str, system: System) -> list[list[str]]:
    """Ground speed and energy over wind for each course, with the verdict on the energy."""
    still, rows = landing.still(way).touchdown, []
    error = SEARCHED * still.speed if way == "flared" else 0.0
    for wind in table_winds(landing, system):
        cells = [show(wind, "wind_speed", system)]
        for arrival in landing.in_wind(way, wind):
            mark = arrival.verdict("energy").symbol
            back = " back" if arrival.backwards else ""
            cells += [
                show(arrival.touchdown.ground_speed, "speed", system, error=error) + back,
                show(
                    arrival.touchdown.energy,
                    "energy",
                    system,
                    error=still.mass * arrival.touchdown.speed * error,
                )
                + f" {mark}",
            ]
        rows.append(cells)
    return rows


def table_winds(landing: Landing, system: System) -> list[float]:
    """Winds of the tables; the usual ones in steps that are round in these units. [m/s]"""
    if system == "imperial" and np.array_equal(landing.winds, WINDS):
        return np.arange(0.0, WINDS[-1], 2 * unit("wind_speed", system).size).tolist()
    return landing.winds.tolist()


def steady_wind(landing: Landing, system: System) -> str:
    """Where the winds of the tables blow, and what they leave out."""
    here = show(GROUND, "length", system, digits=0)
    there = show(measured_at(landing.vehicle).height, "length", system, digits=0)
    return (
        f"Wind: steady, at the canopy, some {here} above ground as it lands: by the site's profile "
        f"{100 * landing.share_of_measured:.0f} % of that at {there}, which other commands ask for. In one "
        "that falls off towards the ground it lands harder: see parasim drop."
    )


def yardstick_rows(landing: Landing, system: System) -> list[list[str]]:
    """How many times each yardstick it is, one column a way, unopened last."""
    rows = []
    for stick in YARDSTICKS:
        kind = "energy" if stick.quantity == "energy" else "speed"
        times = [_measured(landing.still(way), stick.quantity) / stick.value for way in _all_ways(landing)]
        rows.append([stick.name, show(stick.value, kind, system), *(f"{ratio:.2g} x" for ratio in times)])
    return rows


def wind_sentence(landing: Landing, system: System) -> str:
    """Up to what wind it makes headway."""
    flared = ""
    if landing.flare is not None:
        flared = f", flared up to {show(landing.way_limit('flared'), 'wind_speed', system, error=0.1)}"
    return (
        "With the brakes released it makes headway against less than "
        f"{show(landing.still_wind, 'wind_speed', system)} of wind; with "
        f"{100 * FORWARD_RESERVE:.0f} % of its forward speed in hand, up to "
        f"{show(landing.wind_limit, 'wind_speed', system)}{flared} [our choice of reserve, no source], at "
        "the canopy. A wind measured lower down may be less than that and yet too much: see parasim release."
    )


def _is_still(landing: Landing) -> bool:
    return float(landing.winds[0]) == 0.0


def _all_ways(landing: Landing) -> tuple[str, ...]:
    return (*landing.ways, "unopened")


def _measured(arrival: Arrival, quantity: str) -> float:
    return arrival.touchdown.energy if quantity == "energy" else arrival.touchdown.sink


def winds_within(series: tuple[Arrival, ...], name: str, system: System) -> str:
    """Range of winds in which a limit is kept; the series rises or dips once, so one range gives it."""
    kept = [convert(arrival.wind, "wind_speed", system) for arrival in series if _keeps(arrival, name)]
    if not kept:
        return "none"
    if len(kept) == len(series):
        return "all"
    return f"only {kept[0]:.1f}" if len(kept) == 1 else f"{kept[0]:.1f} to {kept[-1]:.1f}"


def worst_figures(landing: Landing) -> dict[str, float]:
    """High ends of the bands with the brakes released in still air, where that was asked for. [SI]"""
    if not _is_still(landing):
        return {}
    worst = {name: band.high for name, band in landing.bands.figures.items()}
    return {**worst, "load": peak_load(worst["sink"], landing.limits.stop_distance)}


def winds_not_kept(landing: Landing, way: str, system: System) -> list[str]:
    """Limits kept in the lowest wind, and on which course from what wind on no more; a phrase a limit."""
    found = []
    for name, (words, key, _) in LIMIT_WORDS.items():
        limit = getattr(landing.limits, key)
        if limit is None or not _keeps(landing.still(way), name):
            continue
        first = {course: _first_over(landing.series(way, course), name) for course in COURSES}
        over = [
            f"{COURSE_WORDS[course]} from {show(wind, 'wind_speed', system)}"
            for course, wind in first.items()
            if wind is not None
        ]
        if over:
            found.append(f"{words} over {show_limited(limit, name, system)} {', '.join(over)} at the canopy")
    return found


def headway_not_kept(landing: Landing, system: System) -> list[str]:
    """From what wind on too little way is made against it, if any of those asked for is as strong."""
    if float(landing.winds[-1]) <= landing.wind_limit:
        return []
    limit = show(landing.wind_limit, "wind_speed", system)
    return [f"too little way against winds over {limit} at the canopy"]


def _keeps(arrival: Arrival, name: str) -> bool:
    return arrival.verdict(name).word == "within"


def _first_over(series: tuple[Arrival, ...], name: str) -> float | None:
    """Lowest wind shown in which a limit is not kept. [m/s]"""
    return next((arrival.wind for arrival in series if not _keeps(arrival, name)), None)
