"""A drop as a document, as rows of a CSV file and as rows for people."""

from math import degrees
from typing import Any

import numpy as np

from parasim.config.scenario import BrakeCommand
from parasim.flight.drop import CAUTIONS, Drop, Touchdown
from parasim.report.words import column, in_degrees, show_bearing, show_pull
from parasim.units import System, show

TRACK_HEADS = (
    "time_s",
    "north_m",
    "east_m",
    "height_m",
    "north_speed_m_s",
    "east_speed_m_s",
    "sink_m_s",
    "ground_speed_m_s",
    "airspeed_m_s",
    "alpha_deg",
    "sideslip_deg",
    "bank_deg",
    "pitch_deg",
    "heading_deg",
    "brake_left_fraction",
    "brake_right_fraction",
)
"""Of drop.csv; places are the confluence's, from the ground under the release; speeds the payload's."""


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
          fall that ends at the same sink).
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
        "cautions": list(CAUTIONS),
        "caveats": list(drop.caveats),
    }


def track_csv(drop: Drop) -> list[list[float]]:
    """Rows under `TRACK_HEADS`."""
    track = drop.track
    roll, pitch, heading = np.degrees(track.attitude)
    columns = (
        track.time,
        track.north,
        track.east,
        track.height,
        *track.velocity,
        track.ground_speed,
        track.airspeed,
        np.degrees(track.alpha),
        np.degrees(track.beta),
        roll,
        pitch,
        heading % 360,
        track.left,
        track.right,
    )
    return [list(row) for row in zip(*map(column, columns), strict=True)]


def touchdown_rows(drop: Drop, system: System) -> list[list[str]]:
    """Each figure of the arrival: under the canopy, in the digits that hold, and unopened."""
    kinds = (
        ("speed over the ground", "ground_speed", "speed"),
        ("sink", "sink", "speed"),
        ("speed along the path", "speed", "speed"),
        ("energy", "energy", "energy"),
        ("energy of the sink alone", "vertical_energy", "energy"),
        ("like a free fall from", "equivalent_height", "length"),
    )
    opened = drop.touchdown
    return [
        [
            words,
            "not known"
            if opened is None
            else show(getattr(opened, name), kind, system, error=drop.error_of_touchdown(name)),
            show(getattr(drop.unopened, name), kind, system),
        ]
        for words, name, kind in kinds
    ]


def headline(drop: Drop, system: System) -> str:
    """Where it lands, or why that is not known."""
    name, time = drop.vehicle.design.name, show(drop.time_aloft, "time", system, error=drop.error_of_time)
    distance = show(drop.distance, "length", system, digits=0, error=drop.error_of_place)
    place = f"{distance} from the point under the release, bearing {show_bearing(drop.bearing)}"
    if drop.touchdown is not None:
        return f"{name} lands {place}, after {time}"
    height = show(drop.end.height, "length", system, digits=0)
    if drop.end.ending == "landed":
        return f"{name}: how and where it lands is not known, {drop.unknown}"
    if drop.end.ending == "aloft":
        return f"{name} is STILL ALOFT after {time}, {height} above ground, {place}"
    return f"{name}: {drop.unknown} {time} after release, {height} above ground; how it lands is not known"


def command_in_words(command: BrakeCommand) -> str:
    """A brake command as it is written in a design file.

    Examples
    --------
    >>> command_in_words(BrakeCommand.model_validate("2s: L 0.3 R 0 over 1s"))
    '2 s: L 30 % R 0 % over 1 s'
    """
    moment = f"{command.at_height:g} m" if command.at_time is None else f"{command.at_time:g} s"
    over = f" over {command.over:g} s" if command.over else ""
    return f"{moment}: L {show_pull(command.left)} R {show_pull(command.right)}{over}"


def wind_in_words(drop: Drop, system: System) -> str:
    """Wind at its reference height.

    A calm is called so.
    """
    wind = drop.vehicle.wind
    if wind.speed == 0:
        return "calm"
    speed, height = (
        show(wind.speed, "wind_speed", system),
        show(wind.reference_height, "length", system, digits=0),
    )
    return f"{speed} from {degrees(wind.from_direction):03.0f} deg at {height}"


def touchdown_document(touchdown: Touchdown) -> dict[str, float]:
    """Arrival as plain data; keys as in `drop_document`."""
    return {
        "ground_speed_m_s": touchdown.ground_speed,
        "sink_m_s": touchdown.sink,
        "speed_m_s": touchdown.speed,
        "mass_kg": touchdown.mass,
        "energy_j": touchdown.energy,
        "vertical_energy_j": touchdown.vertical_energy,
        "equivalent_drop_height_m": touchdown.equivalent_height,
    }
