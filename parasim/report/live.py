"""What is said of a drop flown by hand: while it flies, how it landed, and its log."""

from dataclasses import fields
from math import atan2, cos, degrees, hypot, pi

import numpy as np

from parasim.files import file_stem
from parasim.flight.arrival import Verdict
from parasim.flight.drop import unopened
from parasim.flight.landing import Course
from parasim.flight.live import REASONS, LiveFlight
from parasim.flight.track import Track
from parasim.report.column import Column, Table, of_array
from parasim.report.landing import COURSE_WORDS
from parasim.report.limits import LIMIT_WORDS, show_limited
from parasim.report.words import show_bearing, show_pull
from parasim.rotations import FloatArray
from parasim.units import System, show

SIMULATED = "simulated"
"""In the name of its log, and the head of a column of ones that no receiver writes."""


LIES, LOG_STEP = 15.0, 0.1
"""How long its log goes on after touchdown, and between rows. Our choice. [s]"""

TARGET = "target: {north: 20 m, east: -30 m, radius: 9 m}"
"""How a target is written, for one who has none."""

SIDEWAYS = cos(pi / 4)
"""Cosine of the angle to the wind within which a heading is into it, or with it. Our choice. [-]"""

MOVING = ("velocity", "airspeed", "rates")
"""What of a track is zero when it lies on the ground."""

TRACKED = tuple(field.name for field in fields(Track) if field.name != "time")


def log_columns(track: Track) -> tuple[Column[int], ...]:
    """Columns of its log, with the heads that `parasim track` reads; places are the confluence's."""
    north_speed, east_speed, _ = track.velocity
    return (
        of_array("time_s", "time", track.time),
        of_array("north_m", "length", track.north),
        of_array("east_m", "length", track.east),
        of_array("height_m", "length", track.height),
        of_array("north_m_s", "speed", north_speed),
        of_array("east_m_s", "speed", east_speed),
        of_array("airspeed_m_s", "speed", track.airspeed),
        of_array("pitch_deg", "angle", track.attitude[1]),
        of_array("left_percent", "percent", track.left),
        of_array("right_percent", "percent", track.right),
        Column(name=SIMULATED, words="", kind="", read=lambda row: 1),
    )


def lying(track: Track) -> Track:
    """The track with `LIES` seconds more at its last place, for a receiver goes on when it lies there."""
    count = round(LIES / LOG_STEP)

    def held(values: FloatArray, *, moves: bool = False) -> FloatArray:
        last = np.repeat(values[..., -1:], count, axis=-1)
        return np.concatenate([values, np.zeros_like(last) if moves else last], axis=-1)

    return Track(
        time=np.append(track.time, track.time[-1] + LOG_STEP * np.arange(1.0, count + 1)),
        **{name: held(getattr(track, name), moves=name in MOVING) for name in TRACKED},
    )


def log_text(flight: LiveFlight) -> str:
    """Its log as CSV, ten rows a second, at rest for a while where it landed."""
    track = lying(flight.track) if flight.ending == "landed" else flight.track
    return Table(columns=log_columns(track), rows=range(len(track.time))).csv()


def instruments(flight: LiveFlight, system: System = "metric") -> dict[str, str]:
    """What is shown while it flies: names and figures with their units."""
    now = flight.now
    shown = {
        "time": show(flight.time, "time", system),
        "height": show(flight.underside, "length", system, digits=1),
        "sink": show(float(now.sink[0]), "speed", system),
        "airspeed": show(float(now.airspeed[0]), "speed", system),
        "over the ground": show(float(now.ground_speed[0]), "speed", system),
        "heading": show_bearing(float(now.attitude[2, 0])),
        "wind": wind_words(flight, system),
        "brakes": f"L {show_pull(float(now.left[0]))} R {show_pull(float(now.right[0]))}",
    }
    if flight.target is not None:
        shown["target"] = f"{_away(flight, system)}, bearing {show_bearing(_bearing(flight))}"
    return shown


def landing_words(flight: LiveFlight, system: System = "metric") -> list[str]:
    """How it ended, a sentence each: its touchdown against the limits of the file, and the target."""
    name, height = flight.vehicle.design.name, show(float(flight.now.height[0]), "length", system, digits=0)
    when = show(flight.time, "time", system)
    landing = flight.touchdown
    if landing is None:
        why = REASONS.get(flight.ending, "it is still aloft")
        return [
            f"{name}: {why} {when} after release, {height} above ground; how it lands is not known.",
            f"Unopened it would arrive with {show(_unopened(flight), 'energy', system)}.",
        ]
    return [
        f"{name} is down after {when}: {show(landing.sink, 'speed', system)} down and "
        f"{show(landing.ground_speed, 'speed', system)} over the ground, "
        f"{show(landing.energy, 'energy', system)}.",
        _facing(flight, system),
        *(_against(verdict, system) for verdict in flight.verdicts),
        _place(flight, system),
        f"Unopened it would arrive with {show(_unopened(flight), 'energy', system)}.",
    ]


def _against(verdict: Verdict, system: System) -> str:
    words, key, _ = LIMIT_WORDS[verdict.name]
    value = f"{words[0].upper()}{words[1:]} {show_limited(verdict.value, verdict.name, system)}"
    if verdict.limit is None:
        return f"{value}: no limit is set; the file can set one: {key}, under landing."
    limit = show_limited(verdict.limit, verdict.name, system)
    part = f"{100 * verdict.value / verdict.limit:.0f} % of it"
    return f"{value}: {verdict.word} the limit of {limit}, {part}."


def _place(flight: LiveFlight, system: System) -> str:
    """Where it is, from the target or else from the point under the release."""
    north, east = flight.state[:2].tolist()
    away = show(hypot(north, east), "length", system, digits=0)
    below = f"{away} from the point under the release, bearing {show_bearing(atan2(east, north))}"
    if flight.target is None:
        return f"It lies {below}. No target is set; the file can hold one under scatter: {TARGET}."
    return f"It lies {_away(flight, system)} from the target, {below}."


def wind_words(flight: LiveFlight, system: System) -> str:
    """Mean wind where it is now, and where that blows from."""
    north, east = flight.vehicle.wind.velocity(max(float(flight.now.height[0]), 0.0))
    speed = hypot(north, east)
    if speed == 0.0:
        return "calm"
    return f"{show(speed, 'wind_speed', system)} from {show_bearing(atan2(-east, -north))}"


def _facing(flight: LiveFlight, system: System) -> str:
    """How it faced the wind when it came down."""
    heading = float(flight.now.attitude[2, 0])
    north, east = flight.vehicle.wind.velocity(max(float(flight.now.height[0]), 0.0))
    if hypot(north, east) == 0.0:
        return f"It came down in a calm, heading {show_bearing(heading)}."
    along = cos(heading - atan2(-east, -north))
    course: Course = "into" if along > SIDEWAYS else "with" if along < -SIDEWAYS else "across"
    return (
        f"It came down {COURSE_WORDS[course]}: heading {show_bearing(heading)}, "
        f"wind {wind_words(flight, system)}."
    )


def _away(flight: LiveFlight, system: System) -> str:
    distance = flight.distance_to_target
    return show(distance, "length", system, digits=0)


def _bearing(flight: LiveFlight) -> float:
    """Of the target from where it is. [rad]"""
    north, east = flight.state[:2].tolist()
    return 0.0 if flight.target is None else atan2(flight.target[1] - east, flight.target[0] - north)


def _unopened(flight: LiveFlight) -> float:
    """Energy of the same release with the canopy unopened. [J]"""
    return unopened(flight.vehicle, flight.begins.height).energy


def air_words(flight: LiveFlight, system: System = "metric") -> str:
    """What it is released from, and into which air."""
    site, wind = flight.vehicle.design.site, flight.vehicle.wind
    height = show(flight.begins.height, "length", system, digits=0)
    blows = "calm"
    if wind.blows:
        speed, at = (
            show(wind.speed, "wind_speed", system),
            show(wind.reference_height, "length", system, digits=0),
        )
        blows = f"wind {speed} from {degrees(wind.from_direction):03.0f} deg at {at}"
    moving = [
        name for name, spec in (("gust", site.gust), ("turbulence", site.turbulence)) if spec is not None
    ]
    air = f"{blows}, {' and '.join(moving)} of the file" if moving else blows
    return f"From {height} above ground ({flight.begins.start}); {air}."


def log_name(flight: LiveFlight, number: int = 1) -> str:
    """Name of its log; from the second on numbered."""
    name = file_stem(flight.vehicle.design.name)
    return f"{name}_{SIMULATED}_flight{'' if number == 1 else f'_{number}'}.csv"
