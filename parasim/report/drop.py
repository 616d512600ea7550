"""A drop as a document, as rows of a CSV file and as rows for people."""

from math import degrees
from typing import Any

import numpy as np

from parasim.config.scenario import BrakeCommand
from parasim.flight.drop import CAUTIONS, Drop, Touchdown
from parasim.report.words import column, in_degrees, show_pull
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
"""Of drop.csv; places are the confluence's, from the ground below the release; speeds the payload's."""


def drop_document(drop: Drop) -> dict[str, Any]:
    """Drop as plain data.

    Returns
    -------
    dict
        - ``name``; ``release``: ``height_m`` of the confluence above ground, ``start``, ``heading_deg``,
          ``velocity_m_s`` (north, east, down; null unless started with one), ``brakes`` (sentences);
          ``wind``: ``speed_m_s`` and ``from_deg`` at ``reference_height_m``, ``at_release_m_s``.
        - ``landed``; ``time_aloft_s``; ``distance_m``, ``north_m``, ``east_m`` and ``bearing_deg`` of the
          touchdown from below the release.
        - ``touchdown`` and ``unopened``: ``ground_speed_m_s``, ``sink_m_s``, ``speed_m_s``, ``mass_kg``,
          ``energy_j``, ``vertical_energy_j``, ``equivalent_drop_height_m`` (free fall that ends at the same
          sink).
        - ``cautions`` and ``caveats``: sentences.
    """
    release, wind, track = drop.release, drop.vehicle.wind, drop.track
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
        "time_aloft_s": drop.time_aloft,
        "distance_m": drop.distance,
        "north_m": float(track.north[-1]),
        "east_m": float(track.east[-1]),
        "bearing_deg": in_degrees(drop.bearing),
        "touchdown": touchdown_document(drop.touchdown),
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
    """Each figure of the arrival: under the canopy, and unopened."""
    kinds = (
        ("speed over the ground", "ground_speed", "speed"),
        ("sink", "sink", "speed"),
        ("speed along the path", "speed", "speed"),
        ("energy", "energy", "energy"),
        ("energy of the sink alone", "vertical_energy", "energy"),
        ("like a free fall from", "equivalent_height", "length"),
    )
    return [
        [words, *(show(getattr(case, name), kind, system) for case in (drop.touchdown, drop.unopened))]
        for words, name, kind in kinds
    ]


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
