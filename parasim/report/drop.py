"""What `parasim drop` answers."""

from collections.abc import Iterator
from math import atan2, degrees, pi
from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.caveats import about
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.thin_air import FOLLOWED_FROM
from parasim.flight.aloft import Level, levels, round_heights
from parasim.flight.arrival import Touchdown, verdicts
from parasim.flight.drop import CAUTIONS, LAST, Drop, unopened_drift
from parasim.flight.track import Track
from parasim.report.column import Column, Grid, Table, of_array, row_document, text_last
from parasim.report.limits import LIMIT_WORDS, not_kept, show_limited
from parasim.report.report import Block, Report
from parasim.report.words import (
    compass_point,
    place_words,
    show_bearing,
    show_duration,
    show_pull,
    show_typed_wind,
)
from parasim.units import System, convert, in_degrees, label, show, unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def _arrival(name: str, words: str, kind: str, figure: str) -> tuple[str, Column[Touchdown]]:
    return figure, Column(name=name, words=words, kind=kind, read=attrgetter(figure))


TOUCHDOWN: dict[str, Column[Touchdown]] = dict(
    (
        _arrival("sink_m_s", "sink", "speed", "sink"),
        _arrival("ground_speed_m_s", "speed over the ground", "speed", "ground_speed"),
        _arrival("speed_m_s", "speed along the path", "speed", "speed"),
        _arrival("energy_j", "energy", "energy", "energy"),
        _arrival("vertical_energy_j", "energy of the sink alone", "energy", "vertical_energy"),
        _arrival("equivalent_drop_height_m", "fall with same sink", "length", "equivalent_height"),
        _arrival("energy_drop_height_m", "fall with same energy", "length", "energy_height"),
    )
)
"""Of an arrival, by their names in `Touchdown`."""


UNKNOWN_WIND = 0.01
"""Part of a distance that is not shown where the wind aloft is a guess. [-] Our choice."""

LEVEL_COLUMNS: tuple[Column[Level], ...] = (
    Column(name="height_m", words="height", kind="length", digits=0, read=lambda row: row.height),
    Column(name="time_s", words="after", kind="time", digits=0, read=lambda row: row.time),
    Column(name="airspeed_m_s", words="airspeed", kind="speed", read=lambda row: row.airspeed),
    Column(
        name="equivalent_airspeed_m_s", words="equivalent", kind="speed",
        read=lambda row: row.equivalent_airspeed,
    ),
    Column(name="sink_m_s", words="sink", kind="speed", read=lambda row: row.sink),
    Column(name="wind_m_s", words="wind", kind="wind_speed", read=lambda row: row.wind),
    Column(
        name="wind_from_deg", words="from", kind="angle", read=lambda row: row.wind_from,
        show=lambda angle: f"{degrees(angle):03.0f} deg",
    ),
    Column(name="air_density_kg_m3", words="", kind="density", read=lambda row: row.air_density),
    Column(
        name="reynolds", words="Reynolds", kind="", read=lambda row: row.reynolds,
        show=lambda reynolds: f"{reynolds:.1e}",
    ),
    Column(name="mach", words="", kind="ratio", read=lambda row: row.mach),
)  # fmt: skip
"""Of a drop on its way down; heights above ground, airspeed is true."""


MUCH = 0.1
"""Part of the airspeed that a headwind has to fall off by to be named, and of the way through the air that
its drift has to be. Our choice. [-]"""


class DropReport(Report[Drop]):
    """One drop, from release to touchdown."""

    COMMAND = "drop"
    CAUTIONS = CAUTIONS

    def touches(self, caveat: str) -> bool:
        """As `Report.touches`; brakes only where some are commanded."""
        return super().touches(caveat) and (bool(self.result.release.brakes) or about(caveat) != "brakes")

    def failures(self, units: System) -> list[str]:
        """Limits of the payload that the landing does not keep."""
        touchdown, limits = self.result.touchdown, self.result.vehicle.design.landing
        return [] if touchdown is None else not_kept(verdicts(touchdown, limits), units)

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        yield headline(self.result, units)
        yield Grid(rows=text_last(release_rows(self.result, units)))
        yield Grid(
            rows=touchdown_rows(self.result, units), heads=["touchdown", "canopy open", "unopened"],
            note=f"{limits_sentence(self.result, units)}\n{unopened_sentence(self.result, units)}".lstrip(),
        )  # fmt: skip
        rows = way_down(self.result, units)
        yield Table(
            columns=LEVEL_COLUMNS, rows=rows,
            brief=None if self.result.release.height >= FOLLOWED_FROM else 0,
            title="On the way down (airspeed is true; equivalent: at the density of sea level)",
        )  # fmt: skip

    def document(self) -> dict[str, Any]:
        """As `drop_document`."""
        return drop_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        track = self.result.track
        yield "drop.csv", Table(columns=track_columns(track), rows=range(len(track.time))).csv()
        yield "drop_heights.csv", Table(columns=LEVEL_COLUMNS, rows=way_down(self.result)).csv()

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """As `Report.others`."""
        from parasim.plotting.strip import strip_svg

        yield "drop_strip.svg", strip_svg(self.result, units)

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.drop import history_figure, side_figure, track_figure

        yield "drop_side.png", side_figure(self.result, units)
        yield "drop_track.png", track_figure(self.result, units)
        yield "drop_history.png", history_figure(self.result, units)


def drop_document(drop: Drop) -> dict[str, Any]:
    """Drop as plain data.

    Returns
    -------
    dict
        - ``name``; ``release``: ``height_m`` of the confluence above ground, ``start``, ``heading_deg``,
          ``velocity_m_s`` (north, east, down; null unless started with one), ``brakes`` (sentences);
          ``wind``: ``speed_m_s`` and ``from_deg`` at ``reference_height_m``, ``at_release_m_s``.
        - ``landed``; ``ending`` ("landed", "aloft", "slack lines", "overturned"); ``time_aloft_s``,
          ``height_m``, ``distance_m``, ``north_m``, ``east_m`` and ``bearing_deg`` of its end, from below the
          release.
        - ``accuracy``: difference from the same flight at a finer tolerance: ``distance_m``,
          ``time_aloft_s``, ``ground_speed_m_s``, ``sink_m_s``; ``alike``: whether the two agree.
        - ``touchdown`` (null where it is not known) and ``unopened``: ``ground_speed_m_s``, ``sink_m_s``,
          ``speed_m_s``, ``mass_kg``, ``energy_j``, ``vertical_energy_j``, ``equivalent_drop_height_m`` (free
          fall that ends at the same sink), ``energy_drop_height_m`` (with the same energy).
        - ``unopened_drift_m``: how far the wind takes it on that fall.
        - ``way_down``: on its way, at round heights and at its end, ``height_m`` above ground, ``time_s``
          after release, ``airspeed_m_s`` (true), ``equivalent_airspeed_m_s``, ``sink_m_s``, ``wind_m_s``,
          ``wind_from_deg``, ``air_density_kg_m3``, ``reynolds`` (on mean chord) and ``mach``.
        - ``cautions`` and ``caveats``: sentences.
    """
    release, wind = drop.release, drop.vehicle.wind
    return {
        "name": drop.vehicle.design.name,
        "release": {
            "height_m": release.height,
            "start": release.start,
            "heading_deg": in_degrees(release.heading),
            "velocity_m_s": release.velocity if release.start == "velocity" else None,
            "brakes": [command_in_words(command) for command in release.brakes],
        },
        "wind": {
            "speed_m_s": wind.speed,
            "from_deg": in_degrees(wind.from_direction),
            "reference_height_m": wind.reference_height,
            "at_release_m_s": float(np.hypot(*wind.velocity(release.height))),
        },
        "landed": drop.trajectory.landed,
        "ending": drop.end.ending,
        "time_aloft_s": drop.time_aloft,
        "height_m": drop.end.height,
        "distance_m": drop.distance,
        "north_m": drop.end.north,
        "east_m": drop.end.east,
        "bearing_deg": in_degrees(drop.bearing),
        "accuracy": {
            "distance_m": drop.error_of_place,
            "time_aloft_s": drop.error_of_time,
            "ground_speed_m_s": drop.error_of_touchdown("ground_speed"),
            "sink_m_s": drop.error_of_touchdown("sink"),
            "alike": drop.alike,
        },
        "touchdown": None if drop.touchdown is None else touchdown_document(drop.touchdown),
        "unopened": touchdown_document(drop.unopened),
        "unopened_drift_m": float(np.hypot(*unopened_drift(drop.vehicle, release.height))),
        "way_down": Table(columns=LEVEL_COLUMNS, rows=way_down(drop)).document(),
        "cautions": list(CAUTIONS),
        "caveats": list(drop.caveats),
    }


def way_down(drop: Drop, system: System = "metric") -> tuple[Level, ...]:
    """The drop at heights that are round in the units asked for, and at its end."""
    heights = round_heights(drop.release.height, unit("length", system).size)
    return levels(drop.vehicle, drop.track, heights)


def track_columns(track: Track) -> tuple[Column[int], ...]:
    """Places are the confluence's, from the ground under the release; speeds the payload's."""
    north_speed, east_speed, sink = track.velocity
    bank, pitch, heading = track.attitude
    return (
        of_array("time_s", "time", track.time),
        of_array("north_m", "length", track.north),
        of_array("east_m", "length", track.east),
        of_array("height_m", "length", track.height),
        of_array("north_speed_m_s", "speed", north_speed),
        of_array("east_speed_m_s", "speed", east_speed),
        of_array("sink_m_s", "speed", sink),
        of_array("ground_speed_m_s", "speed", track.ground_speed),
        of_array("airspeed_m_s", "speed", track.airspeed),
        of_array("alpha_deg", "angle", track.alpha),
        of_array("sideslip_deg", "angle", track.beta),
        of_array("bank_deg", "angle", bank),
        of_array("pitch_deg", "angle", pitch),
        of_array("heading_deg", "angle", heading % (2 * pi)),
        of_array("brake_left_fraction", "", track.left),
        of_array("brake_right_fraction", "", track.right),
    )


def release_rows(drop: Drop, system: System) -> list[list[str]]:
    """How it begins."""
    release = drop.release
    moves = [command_in_words(command, system) for command in release.brakes]
    return [
        ["release height", f"{show(release.height, 'length', system, digits=0)} above ground"],
        ["start", f"{release.start}, heading {show_bearing(release.heading)}"],
        ["wind", wind_in_words(drop, system)],
        *(["" if i else "brakes", words] for i, words in enumerate(moves or ["released"])),
        ["mass that lands", show(drop.vehicle.mass, "mass", system)],
    ]


def touchdown_rows(drop: Drop, system: System) -> list[list[str]]:
    """Each figure of the arrival: under the canopy, in the digits that hold, and unopened."""
    opened = drop.touchdown
    return [
        [
            column.words,
            "not known"
            if opened is None
            else show(getattr(opened, name), column.kind, system, error=drop.error_of_touchdown(name)),
            column.cell(drop.unopened, system),
        ]
        for name, column in TOUCHDOWN.items()
    ]


def headline(drop: Drop, system: System) -> str:
    """Where it lands, or why that is not known."""
    name = drop.vehicle.design.name
    time = show_duration(drop.time_aloft, system, error=drop.error_of_time)
    guess = drop.distance * UNKNOWN_WIND if wind_guessed(drop) else 0.0
    distance = show(drop.distance, "length", system, digits=0, error=max(drop.error_of_place, guess))
    distance = f"about {distance}" if guess else distance
    place = f"{distance} from the point under the release, bearing {show_bearing(drop.bearing)}"
    if drop.touchdown is not None:
        landing = drop.touchdown
        return (
            f"{name} lands {place}{against_drift(drop, system)}{held_wind(drop, system)}, after {time}: "
            f"{show(landing.sink, 'speed', system)} down{harder(drop, system)} and "
            f"{show(landing.ground_speed, 'speed', system)} over the ground, "
            f"{show(landing.energy, 'energy', system)}; one drop, no band"
        )
    height = show(drop.end.height, "length", system, digits=0)
    if drop.end.ending == "landed":
        return f"{name}: how and where it lands is not known, {drop.unknown}"
    if drop.end.ending == "aloft":
        return f"{name} is STILL ALOFT after {time}, {height} above ground, {place}"
    return f"{name}: {drop.unknown} {time} after release, {height} above ground; how it lands is not known"


def against_drift(drop: Drop, system: System) -> str:
    """How far the air goes the other way, where that is much of its own way through it; else empty."""
    drift = drop.air_drift
    far, way = float(np.hypot(*drift)), float(np.trapezoid(drop.track.airspeed, drop.track.time))
    if far < MUCH * way or drift @ (drop.end.north, drop.end.east) >= 0:
        return ""
    shown = show(far, "length", system, digits=0, error=far * UNKNOWN_WIND if wind_guessed(drop) else 0.0)
    return f", upwind while the air drifts {shown} {compass_point(atan2(drift[1], drift[0]))}"


def harder(drop: Drop, system: System) -> str:
    """Why it comes down faster than in still air, where the wind that it faces falls off much; else empty."""
    if drop.headwind_lost < MUCH * float(drop.track.airspeed[-1]):
        return ""
    lost, over = show(drop.headwind_lost, "wind_speed", system), show(LAST, "length", system, digits=0)
    return f" (faster for a headwind that falls off by {lost} over the last {over})"


def unopened_sentence(drop: Drop, system: System) -> str:
    """Where it comes down unopened."""
    height = show(drop.release.height, "length", system, digits=0)
    north, east = unopened_drift(drop.vehicle, drop.release.height).tolist()
    place = place_words(north, east, system) if north or east else "0 m"
    return (
        f"Unopened, from rest at {height}, the wind takes it {place}, from the point under the release: one "
        "fall, no band; parasim scatter maps many."
    )


def wind_guessed(drop: Drop) -> bool:
    """Whether it is let go above what the file says of the wind."""
    wind = drop.vehicle.wind
    return wind.blows and drop.release.height > wind.known_to


def held_wind(drop: Drop, system: System) -> str:
    """What the place of a drop from above the known wind stands on; empty below."""
    if not wind_guessed(drop):
        return ""
    top, up = drop.vehicle.wind.known_to, drop.release.height
    speed = show(float(np.hypot(*drop.vehicle.wind.velocity(top))), "wind_speed", system)
    low, high = (show(height, "length", system, digits=0) for height in (top, up))
    return f" IF the wind stays {speed} from {low} to {high}"


def command_in_words(command: BrakeCommand, system: System = "metric") -> str:
    """A brake command as it may be written in a design file.

    Examples
    --------
    >>> command_in_words(BrakeCommand.model_validate("2s: L 0.3 R 0 over 1s"))
    '2 s: L 30 % R 0 % over 1 s'
    >>> command_in_words(BrakeCommand.model_validate("3 m: L 1 R 1"), "imperial")
    '9.84 ft: L 100 % R 100 %'
    """
    if command.at_height is None:
        moment = f"{command.at_time:g} s"
    else:
        moment = f"{convert(command.at_height, 'length', system):.3g} {label('length', system)}"
    over = f" over {command.over:g} s" if command.over else ""
    return f"{moment}: L {show_pull(command.left)} R {show_pull(command.right)}{over}"


def wind_in_words(drop: Drop, system: System) -> str:
    """Wind at its reference height.

    A calm is called so.
    """
    wind = drop.vehicle.wind
    if wind.speed == 0:
        return "calm"
    height = show(wind.reference_height, "length", system, digits=0)
    speed = show_typed_wind(wind.speed, system)
    return f"{speed} from {show_bearing(wind.from_direction)} at {height} above ground"


OBSTACLE = " (a hit against an obstacle is judged by parasim landing)"
"""Beside a limit of the load, kept on open ground."""


def limits_sentence(drop: Drop, system: System) -> str:
    """Limits of the file that the landing under the canopy keeps; empty without."""
    if drop.touchdown is None:
        return ""
    kept = [
        f"{LIMIT_WORDS[each.name][0]} at most {show_limited(each.limit, each.name, system)}"
        f"{OBSTACLE if each.name == 'load' else ''}"
        for each in verdicts(drop.touchdown, drop.vehicle.design.landing)
        if each.limit is not None and each.value <= each.limit
    ]
    return f"Limits kept, canopy open: {', '.join(kept)}." if kept else ""


def touchdown_document(touchdown: Touchdown) -> dict[str, Any]:
    """Arrival as plain data; keys as in `drop_document`."""
    return {**row_document(TOUCHDOWN.values(), touchdown), "mass_kg": touchdown.mass}
