"""Files that logged flights leave: segments to correct and give back, and notes to learn from."""

import json
from collections.abc import Iterator
from math import degrees

from parasim.logs.figures import Figure, Flown
from parasim.logs.segments import Segment
from parasim.logs.track import LoggedFlight, Track

NOTED = {"sink": "m/s", "forward_speed": "m/s", "airspeed": "m/s", "turn_rate": "deg/s", "swing_period": "s"}
"""Figures that go into the notes, and their units; what follows from them would count twice."""


def segments_yaml(track: Track) -> str:
    """What happened, to be corrected and given back with ``--segments``."""
    lines = [
        "# What happened, as found. Correct it and give it back: parasim track LOG... --segments FILE",
        "# Times count from the log's first fix. Kinds: carried, opening, straight, circles, turn, flare.",
        "# left and right: brakes, parts of the full travel; add them where they are missing.",
        "segments:",
    ]
    for flight in track.flights:
        course = flight.course
        lines += [
            f"  - log: {json.dumps(flight.log.file, ensure_ascii=False)}",
            f"    release: {course.release.time:.1f} s",
            f"    touchdown: {course.touchdown.time:.1f} s",
            "    stretches:" + ("" if course.segments else " []"),
        ]
        lines += [f"      - {_segment(segment)}" for segment in course.segments]
    return "\n".join(lines) + "\n"


def _segment(segment: Segment) -> str:
    parts = [f"kind: {segment.kind}", f"from: {segment.start:.1f} s", f"to: {segment.end:.1f} s"]
    if segment.left is not None and segment.right is not None:
        parts += [f"left: {_share(segment.left)}", f"right: {_share(segment.right)}"]
    return "{" + ", ".join(parts) + "}"


def _share(brake: float) -> str:
    return f"{100 * brake:.3g} %"


def notes_yaml(track: Track) -> str:
    """Flights, each with what was measured: value, error of one standard deviation, brakes and how."""
    lines = [
        "# What logged flights measured; errors are one standard deviation, turns to the right positive.",
        "# Glide ratio, radius and bank follow from these and are left out, or they would count twice.",
        "flights:",
    ]
    for flight in track.flights:
        lines += _flight(flight, track.mass)
    return "\n".join(lines) + "\n"


def _flight(flight: LoggedFlight, mass: float | None) -> Iterator[str]:
    yield f"  - name: {json.dumps(flight.name, ensure_ascii=False)}"
    yield f"    mass: {mass:.4g} kg" if mass is not None else "    # mass: 1.25 kg    (all-up; fill in)"
    yield f"    air_density: {flight.density:.3f} kg/m3"
    entries = [entry for flown in flight.alike for entry in _entries(flown)]
    known = any(entry.startswith("-") for entry in entries)
    yield "    measured:" + ("" if known else " []")
    yield from (f"      {entry}" for entry in entries)


def _entries(flown: Flown) -> Iterator[str]:
    """One line a figure; where the brakes are not known a comment to fill in."""
    left, right = flown.first.left, flown.first.right
    known = left is not None and right is not None
    figures = [figure for name in NOTED if (figure := flown.get(name))]
    if figures and not known:
        yield "# brakes not known: fill in left and right, take off the #, and the [] above"
    for figure in figures:
        pulls = (_share(left), _share(right)) if left is not None and right is not None else ("? %", "? %")
        yield ("- " if known else "# - ") + _entry(flown, figure, *pulls)


def _entry(flown: Flown, figure: Figure, left: str, right: str) -> str:
    unit = NOTED[figure.name]
    value, error = figure.value, figure.error
    if unit == "deg/s":
        value, error = degrees(value), degrees(error)
    how = json.dumps(f"{flown.lasting}, {figure.how}", ensure_ascii=False)
    measured = f"{figure.name}: {value:.4g} {unit}, error: {error:.2g} {unit}"
    return f"{{{measured}, left: {left}, right: {right}, how: {how}}}"
