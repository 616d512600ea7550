"""A landing as a document, as rows of a CSV file and as rows for people."""

from typing import Any

from parasim.flight.drop import CAUTIONS
from parasim.flight.landing import COURSES, FORWARD_RESERVE, YARDSTICKS, Arrival, Course, Landing
from parasim.report.drop import touchdown_document
from parasim.report.flare import flare_document
from parasim.report.words import show_range
from parasim.units import System, convert, label, show

COURSE_WORDS: dict[Course, str] = {
    "into": "into the wind",
    "across": "across the wind",
    "with": "with the wind",
}

LIMIT_WORDS = {
    "sink": ("sink", "max_sink", "speed"),
    "ground_speed": ("speed over the ground", "max_ground_speed", "speed"),
    "energy": ("energy", "max_energy", "energy"),
    "load": ("peak load", "max_load", "ratio"),
}
"""Figure with a limit: words, key in the design's `landing`, kind of quantity."""

LANDING_HEADS = (
    "way",
    "course",
    "wind_m_s",
    "ground_speed_m_s",
    "sink_m_s",
    "speed_m_s",
    "energy_j",
    "vertical_energy_j",
    "equivalent_drop_height_m",
    "mean_load_g",
    "peak_load_g",
    "obstacle_load_g",
    "backwards",
    "sink_verdict",
    "ground_speed_verdict",
    "energy_verdict",
    "load_verdict",
)
"""Of landing.csv; loads in weights, peak of a triangular pulse; verdict within, over or no limit given."""


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
          ``unopened_from_m``): the columns of `LANDING_HEADS`.
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
            key: {"low": landing.bands.figures[name].low, "high": landing.bands.figures[name].high}
            for key, name in (
                ("sink_m_s", "sink"),
                ("ground_speed_m_s", "ground_speed"),
                ("energy_j", "energy"),
            )
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
        "arrivals": [arrival_document(arrival) for arrival in landing.arrivals],
        "unopened": [arrival_document(arrival) for arrival in landing.unopened],
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


def arrival_document(arrival: Arrival) -> dict[str, Any]:
    """Arrival under `LANDING_HEADS`."""
    figures = touchdown_document(arrival.touchdown)
    figures.pop("mass_kg")
    return {
        "way": arrival.way,
        "course": arrival.course,
        "wind_m_s": arrival.wind,
        **figures,
        "mean_load_g": arrival.mean_load,
        "peak_load_g": arrival.peak_load,
        "obstacle_load_g": arrival.obstacle_load,
        "backwards": arrival.backwards,
        **{f"{verdict.name}_verdict": verdict.word for verdict in arrival.verdicts},
    }


def landing_csv(landing: Landing) -> list[list[Any]]:
    """Rows under `LANDING_HEADS`."""
    documents = (arrival_document(arrival) for arrival in (*landing.arrivals, *landing.unopened))
    return [
        [round(value, 4) if isinstance(value, float) else value for value in map(found.get, LANDING_HEADS)]
        for found in documents
    ]


def still_rows(landing: Landing, system: System) -> list[list[str]]:
    """Figures of the arrival in the lowest wind, one column a way, unopened last, and the band."""
    arrivals = [landing.still(way) for way in _all_ways(landing)]
    bands = landing.bands.figures

    def row(
        words: str, values: list[float], kind: str, band: str = "", *, digits: int | None = None
    ) -> list[str]:
        shown = [show(value, kind, system, digits=digits) for value in values]
        with_band = (
            show_range(bands[band].low, bands[band].high, kind, system) if band and _is_still(landing) else ""
        )
        return [words, *shown, with_band]

    touchdowns = [arrival.touchdown for arrival in arrivals]
    return [
        row("sink", [t.sink for t in touchdowns], "speed", "sink"),
        row("speed over the ground", [t.ground_speed for t in touchdowns], "speed", "ground_speed"),
        row("speed along the path", [t.speed for t in touchdowns], "speed"),
        row("energy", [t.energy for t in touchdowns], "energy", "energy"),
        row("energy of the sink alone", [t.vertical_energy for t in touchdowns], "energy"),
        row("like a free fall from", [t.equivalent_height for t in touchdowns], "length"),
        row("mean load [weights]", [a.mean_load for a in arrivals], "ratio", digits=0),
        row("peak load [weights]", [a.peak_load for a in arrivals], "ratio", digits=0),
        row("peak against an obstacle", [a.obstacle_load for a in arrivals], "ratio", digits=0),
    ]


def limit_rows(landing: Landing, system: System) -> list[list[str]]:
    """Each limit: verdict in the minimum wind, and the winds in which each course keeps within it."""
    rows = []
    for name, (words, key, kind) in LIMIT_WORDS.items():
        given = getattr(landing.limits, key)
        if given is None:
            rows.append([words, "-", "any", "? no limit given"])
            continue
        for way in (*landing.ways, "unopened"):
            verdict = landing.still(way).verdict(name)
            courses = [""] * 3
            if way != "unopened":
                courses = [_winds_within(landing.series(way, course), name, system) for course in COURSES]
            rows.append(
                [words, _limit(given, kind, system), way, f"{verdict.symbol} {verdict.word}", *courses]
            )
    return rows


def wind_rows(landing: Landing, way: str, system: System) -> list[list[str]]:
    """Ground speed and energy over wind for each course, with the verdict on the energy."""
    rows = []
    for i, wind in enumerate(landing.winds):
        cells = [show(float(wind), "wind_speed", system)]
        for course in COURSES:
            arrival = landing.series(way, course)[i]
            mark = arrival.verdict("energy").symbol
            back = " back" if arrival.backwards else ""
            cells += [
                show(arrival.touchdown.ground_speed, "speed", system) + back,
                f"{show(arrival.touchdown.energy, 'energy', system)} {mark}",
            ]
        rows.append(cells)
    return rows


def yardstick_rows(landing: Landing, system: System) -> list[list[str]]:
    """How many times each yardstick it is, one column a way, unopened last."""
    rows = []
    for stick in YARDSTICKS:
        kind = "energy" if stick.quantity == "energy" else "speed"
        times = [_measured(landing.still(way), stick.quantity) / stick.value for way in _all_ways(landing)]
        rows.append([stick.name, show(stick.value, kind, system), *(f"{ratio:.2g} x" for ratio in times)])
    return rows


def yardstick_words() -> list[str]:
    """What each yardstick is, one sentence each."""
    return [f"{stick.name}: {stick.words}" for stick in YARDSTICKS]


def wind_sentence(landing: Landing, system: System) -> str:
    """Up to what wind it makes headway."""
    return (
        f"It makes headway against less than {show(landing.still_wind, 'wind_speed', system)} of wind; with "
        f"{100 * FORWARD_RESERVE:.0f} % of its forward speed in hand, up to "
        f"{show(landing.wind_limit, 'wind_speed', system)} [our choice of reserve, no source]."
    )


def _limit(given: float, kind: str, system: System) -> str:
    return show(given, kind, system, digits=0 if kind == "ratio" else None)


def _is_still(landing: Landing) -> bool:
    return float(landing.winds[0]) == 0.0


def _all_ways(landing: Landing) -> tuple[str, ...]:
    return (*landing.ways, "unopened")


def _measured(arrival: Arrival, quantity: str) -> float:
    return arrival.touchdown.energy if quantity == "energy" else arrival.touchdown.sink


def _winds_within(series: tuple[Arrival, ...], name: str, system: System) -> str:
    """Range of winds in which a limit is kept; the series rises or dips once, so one range gives it."""
    kept = [arrival.wind for arrival in series if arrival.verdict(name).word == "within"]
    if not kept:
        return "none"
    if len(kept) == len(series):
        return "all shown"
    if len(kept) == 1:
        return f"only {show(kept[0], 'wind_speed', system)}"
    low, high = (f"{convert(wind, 'wind_speed', system):.1f}" for wind in (kept[0], kept[-1]))
    return f"{low} to {high} {label('wind_speed', system)}"
