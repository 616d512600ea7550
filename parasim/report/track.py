"""What `parasim track` answers."""

from collections.abc import Iterator, Sequence
from math import degrees, hypot
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.environment.wind import from_direction
from parasim.logs.circle import wind_errors
from parasim.logs.figures import Figure, Flown, Refused
from parasim.logs.segments import Segment, letter
from parasim.logs.track import LoggedFlight, Track
from parasim.logs.wind import WindLayer
from parasim.report.column import Column, Grid, Table, row_document
from parasim.report.flight_notes import notes_yaml, segments_yaml
from parasim.report.report import Block, Report
from parasim.units import System, show, unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Picture

KINDS = {
    "sink": "speed",
    "forward_speed": "speed",
    "airspeed": "speed",
    "glide_ratio": "ratio",
    "turn_rate": "angular_rate",
    "radius": "length",
    "bank": "angle",
    "swing_period": "time",
    "opening_time": "time",
    "flare_gain": "speed",
}
"""Kinds of quantity of figures, in the order in which they are shown."""

SIDED = ("turn_rate", "bank")
"""Figures that are positive to the right; printed with their side."""

IN_KEYS = {
    "speed": "_m_s",
    "angular_rate": "_deg_s",
    "length": "_m",
    "angle": "_deg",
    "time": "_s",
    "ratio": "",
}


def _of(name: str, part: str) -> Column[Flown]:
    """Column of a figure's value or error."""
    key = f"{name}{'_error' if part == 'error' else ''}{IN_KEYS[KINDS[name]]}"

    def read(flown: Flown) -> float | None:
        figure = flown.get(name)
        return None if figure is None else float(getattr(figure, part))

    return Column(name=key, words="", kind=KINDS[name], read=read)


STRETCH_COLUMNS: tuple[Column[Flown], ...] = (
    Column(name="kind", words="", kind="", read=lambda f: f.first.kind),
    Column(name="start_s", words="", kind="time", read=lambda f: f.first.start),
    Column(name="end_s", words="", kind="time", read=lambda f: f.segments[-1].end),
    Column(name="turned_deg", words="", kind="angle", read=lambda f: sum(s.turned for s in f.segments)),
    Column(name="left_brake_percent", words="", kind="percent", read=lambda f: f.first.left),
    Column(name="right_brake_percent", words="", kind="percent", read=lambda f: f.first.right),
    *(_of(name, part) for name in list(KINDS)[:-2] for part in ("value", "error")),
)
"""Of a steady stretch: times after the log's first fix, brakes, figures and their errors."""

LAYER_COLUMNS: tuple[Column[WindLayer], ...] = (
    Column(name="time_s", words="log time", kind="time", read=lambda w: w.time),
    Column(name="height_m", words="height", kind="length", read=lambda w: w.height, digits=0),
    Column(name="speed_m_s", words="wind", kind="wind_speed", read=lambda w: hypot(*w.velocity)),
    Column(
        name="speed_error_m_s", words="error", kind="wind_speed",
        read=lambda w: wind_errors(w.velocity, w.covariance)[0], digits=2,
    ),
    Column(
        name="from_deg", words="from", kind="angle", read=lambda w: from_direction(w.velocity), digits=0
    ),
    Column(
        name="from_error_deg", words="error", kind="angle",
        read=lambda w: wind_errors(w.velocity, w.covariance)[1], digits=0,
    ),
)  # fmt: skip
"""Of the wind over one circle or some."""


class TrackReport(Report[Track]):
    """What logged flights say."""

    COMMAND = "track"

    @property
    def name(self) -> str:
        """Of the log; of several, flights."""
        flights = self.result.flights
        return flights[0].name if len(flights) == 1 else "flights"

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        yield "\n".join(headline(flight, units) for flight in self.result.flights)
        for flight in self.result.flights:
            yield from flight_blocks(flight, units)

    def document(self) -> dict[str, Any]:
        """As `track_document`."""
        return track_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        for flight in self.result.flights:
            yield (
                f"{self._prefix(flight)}track.csv",
                Table(columns=STRETCH_COLUMNS, rows=flight.each).csv(),
            )

    def to_fill_in(self, units: System) -> Iterator[tuple[str, str]]:
        """Segments to correct, and notes."""
        yield "segments.yaml", segments_yaml(self.result)
        yield "notes.yaml", notes_yaml(self.result)

    def figures(self, units: System) -> Iterator[tuple[str, "Picture"]]:
        """As `Report.figures`."""
        from parasim.plotting.track import track_figure

        for flight in self.result.flights:
            yield f"{self._prefix(flight)}track.png", track_figure(flight, units)

    def _prefix(self, flight: LoggedFlight) -> str:
        return "" if len(self.result.flights) == 1 else f"{flight.name}_"


def track_document(track: Track) -> dict[str, Any]:
    """Logged flights as plain data.

    Returns
    -------
    dict
        - `name`; `mass_kg` as given, or null; `flights`: one entry a log.
        - Of a flight `log`, `format` and `log_start` in words; `duration_s` from release to touchdown,
          `release_s` and `touchdown_s` after the log's first fix with their `release_error_s` and
          `touchdown_error_s`, and `release_seen`, `touchdown_seen`; `height_m` of the release above the
          ground; `air_density_kg_m3`; `height_from` pressure, GNSS or log; `counts` of what was left out or
          put right, `remarks`.
        - `segments`: each `kind`, `start_s` and `end_s` after the first fix, `turned_deg` to the right,
          `left_brake_percent` and `right_brake_percent`.
        - `wind`: `speed_m_s`, `speed_error_m_s`, `from_deg`, `from_error_deg`, `how`, `changes`, and `layers`
          by circles with `LAYER_COLUMNS`; null where it is not known, `wind_lacks` says why.
        - `stretches`: of each steady one, and `alike`: of those taken together: `STRETCH_COLUMNS`; `how` of
          each figure, and `refused`: the figures that it cannot give, each with its reason.
        - `opening_time_s`, `flare_gain_m_s` with `opening_time_error_s`, `flare_gain_error_m_s`; null where
          not seen.
        - An error is one standard deviation. `cautions`, `caveats`: sentences.
        - With a design also `design`; `predicted`: of each flight `log`, `from_s` and `to_s` after release,
          between which it was flown again, and of `height`, `sink`, `ground_speed` and `distance_off` each
          `outside_fraction`: part of the moments outside the band by more than two errors, and `outside`:
          whether that is more than may be; `not_predicted`: `log` and `why`.
    """
    return {
        "name": TrackReport(track).name,
        "mass_kg": track.mass,
        "flights": [_flight_document(flight) for flight in track.flights],
        "cautions": list(TrackReport.CAUTIONS),
        "caveats": list(track.caveats),
    }


def _flight_document(flight: LoggedFlight) -> dict[str, Any]:
    log, course, wind = flight.log, flight.course, flight.winds.wind
    return {
        "log": log.file,
        "format": log.kind,
        "log_start": log.start or None,
        "duration_s": course.duration,
        "release_s": course.release.time,
        "release_error_s": course.release.error,
        "release_seen": course.release.seen,
        "touchdown_s": course.touchdown.time,
        "touchdown_error_s": course.touchdown.error,
        "touchdown_seen": course.touchdown.seen,
        "height_m": flight.height,
        "air_density_kg_m3": flight.density,
        "height_from": log.height_from,
        "counts": dict(log.counts),
        "remarks": list(log.remarks),
        "segments": [_segment_document(segment) for segment in course.segments],
        "wind": None if wind is None else _wind_document(flight),
        "wind_lacks": flight.winds.why_not or None,
        "stretches": [_flown_document(flown) for flown in flight.each],
        "alike": [_flown_document(flown) for flown in flight.alike],
        **_event("opening_time", "_s", flight.opening_time),
        **_event("flare_gain", "_m_s", flight.flare_gain),
    }


def _segment_document(segment: Segment) -> dict[str, Any]:
    return {
        "kind": segment.kind,
        "start_s": segment.start,
        "end_s": segment.end,
        "turned_deg": degrees(segment.turned),
        "left_brake_percent": None if segment.left is None else 100 * segment.left,
        "right_brake_percent": None if segment.right is None else 100 * segment.right,
    }


def _wind_document(flight: LoggedFlight) -> dict[str, Any]:
    wind = flight.winds.wind
    assert wind is not None
    along, across = wind_errors(wind.velocity, wind.covariance)
    return {
        "speed_m_s": hypot(*wind.velocity),
        "speed_error_m_s": along,
        "from_deg": degrees(from_direction(wind.velocity)),
        "from_error_deg": degrees(across),
        "how": wind.how,
        "changes": wind.changes,
        "layers": Table(columns=LAYER_COLUMNS, rows=wind.layers).document(),
    }


def _flown_document(flown: Flown) -> dict[str, Any]:
    return {
        **row_document(STRETCH_COLUMNS, flown),
        "how": {figure.name: figure.how for figure in flown.figures},
        "refused": {refused.name: refused.why for refused in flown.refused},
    }


def _event(name: str, ending: str, found: Figure | Refused) -> dict[str, float | None]:
    value, error = (found.value, found.error) if isinstance(found, Figure) else (None, None)
    return {f"{name}{ending}": value, f"{name}_error{ending}": error}


def shown_figure(figure: Figure, units: System) -> str:
    """Value and error, in digits that the error is worth."""
    value = abs(figure.value) if figure.name in SIDED else figure.value
    return f"{show(value, KINDS[figure.name], units)} (± {_bare(figure, units)})"


def _bare(figure: Figure, units: System) -> str:
    """An error without its unit, two digits of it."""
    of = unit(KINDS[figure.name], units)
    error = figure.error / of.size
    decimals = of.digits
    while error < 10.0**-decimals and decimals < of.digits + 2:
        decimals += 1
    return f"{error:.{decimals}f}"


def headline(flight: LoggedFlight, units: System) -> str:
    """How long it flew, how it sinks and turns, and the wind, in a sentence."""
    course = flight.course
    ends = {
        (True, True): "from release to touchdown",
        (True, False): "from release to the end of the log",
        (False, True): "from the beginning of the log to touchdown",
        (False, False): "in the air, neither release nor touchdown seen",
    }[course.release.seen, course.touchdown.seen]
    said = [
        f"{flight.log.file}: {course.duration:.0f} s {ends}",
        *_motions(flight, units),
        wind_words(flight, units),
    ]
    return "; ".join(part for part in said if part)


def _motions(flight: LoggedFlight, units: System) -> Iterator[str]:
    straight = next((f for f in flight.alike if f.first.kind == "straight"), None)
    phrases = []
    if straight and (sink := straight.get("sink")):
        phrases.append(f"sinks {shown_figure(sink, units)} straight")
        if forward := straight.get("forward_speed"):
            phrases.append(f"flies {shown_figure(forward, units)} through the air")
    for flown in flight.alike:
        if flown.first.kind == "circles" and (rate := flown.get("turn_rate")):
            side = "right" if rate.value > 0 else "left"
            phrases.append(f"turns {side} {shown_figure(rate, units)}")
    if not phrases:
        phrases.append("no steady stretch of 10 s")
    yield ", ".join(phrases)


def wind_words(flight: LoggedFlight, units: System) -> str:
    """The wind in a phrase, or that it is not known."""
    wind = flight.winds.wind
    return "wind not known" if wind is None else wind.words(units)


def flight_blocks(flight: LoggedFlight, units: System) -> Iterator[Block]:
    """Tables and sentences of one flight."""
    yield Grid(
        rows=segment_rows(flight, units), long=True,
        heads=["", "what", "log time", "after release", "height", "left", "right"],
        title=f"{flight.log.file}, {_began(flight)}; heights above ground",
    )  # fmt: skip
    for flown in flight.alike:
        yield Grid(
            rows=figure_rows(flown.figures, units), heads=["figure", "", "error", "how it was got"],
            title=f"{flown.lasting}{brakes_words(flown)}",
        )  # fmt: skip
    events = [event for event in (flight.opening_time, flight.flare_gain) if isinstance(event, Figure)]
    if events:
        yield Grid(rows=figure_rows(events, units), title="Opening and flare")
    if any(len(flown.segments) > 1 for flown in flight.alike):
        yield Grid(
            rows=leg_rows(flight, units), heads=["", "stretch", "sink", "error", "forward speed", "error"],
            title="Each stretch by itself", long=True,
        )  # fmt: skip
    if flight.winds.wind is not None and flight.winds.wind.layers:
        yield Table(columns=LAYER_COLUMNS, rows=flight.winds.wind.layers, title="Wind by height", long=True)
    refused = refusals(flight)
    if refused:
        yield "\n".join(["Not given:", *(f"  {line}" for line in refused)])
    yield reading_words(flight, units)


def _began(flight: LoggedFlight) -> str:
    return f"begun {flight.log.start}" if flight.log.start else "times after its first fix"


def segment_rows(flight: LoggedFlight, units: System) -> list[list[str]]:
    """Release, stretches, moves of the brakes and touchdown in order of time."""
    course = flight.course
    rows = [
        (segment.start + 1e-3, _segment_row(flight, i, segment, units))
        for i, segment in enumerate(course.segments)
    ]
    for words, moment in (("release", course.release), ("touchdown", course.touchdown)):
        error = f" ± {moment.error:.1f}" if moment.seen else ""
        name = words if moment.seen else f"{words} not seen"
        row = _moment_row(flight, name, moment.time, error, units)
        rows.append((moment.time + (2e-3 if words == "touchdown" else 0.0), [*row, "", ""]))
    for pull in course.pulls:
        row = _moment_row(flight, "brakes to", course.release.time + pull.at, "", units)
        rows.append((course.release.time + pull.at, [*row, _pull(pull.left), _pull(pull.right)]))
    return [row for _, row in sorted(rows, key=lambda each: each[0])]


def _segment_row(flight: LoggedFlight, i: int, segment: Segment, units: System) -> list[str]:
    heights = " to ".join(_height(flight, time, units) for time in (segment.start, segment.end))
    return [
        letter(i), segment.words, f"{segment.start:.1f} to {segment.end:.1f} s",
        f"{segment.start - flight.course.release.time:.1f} s", heights,
        _pull(segment.left), _pull(segment.right),
    ]  # fmt: skip


def _moment_row(flight: LoggedFlight, words: str, time: float, error: str, units: System) -> list[str]:
    after = f"{time - flight.course.release.time:.1f} s"
    return ["", words, f"{time:.1f} s{error}", after, _height(flight, time, units)]


def _height(flight: LoggedFlight, time: float, units: System) -> str:
    return show(float(flight.log.height.at(np.array([time]))[0, 0]), "length", units, digits=0)


def _pull(share: float | None) -> str:
    return "?" if share is None else f"{100 * share:.0f} %"


def brakes_words(flown: Flown) -> str:
    """Brakes of a stretch in words."""
    left, right = flown.first.left, flown.first.right
    if left is None or right is None:
        return ", brakes not known"
    return ", brakes released" if max(left, right) < 0.005 else f", brakes L {_pull(left)} R {_pull(right)}"


def figure_rows(figures: Sequence[Figure], units: System) -> list[list[str]]:
    """Each figure, its error and how it was got."""
    order = list(KINDS)
    rows = []
    for figure in sorted(figures, key=lambda figure: order.index(figure.name)):
        side = ""
        if figure.name in SIDED:
            side = " right" if figure.value > 0 else " left"
        value = show(abs(figure.value) if side else figure.value, KINDS[figure.name], units)
        rows.append([figure.name.replace("_", " "), value + side, f"± {_bare(figure, units)}", figure.how])
    widest = max((len(row[-1]) for row in rows), default=0)
    return [[*row[:-1], row[-1].ljust(widest)] for row in rows]


def leg_rows(flight: LoggedFlight, units: System) -> list[list[str]]:
    """Sink and forward speed of every steady stretch."""
    rows = []
    for flown in flight.each:
        row = [letter(flight.course.segments.index(flown.first)), flown.first.words]
        for name in ("sink", "forward_speed"):
            figure = flown.get(name)
            row += (
                ["-", "-"]
                if figure is None
                else [show(figure.value, "speed", units), f"± {_bare(figure, units)}"]
            )
        rows.append(row)
    return rows


def refusals(flight: LoggedFlight) -> list[str]:
    """Figures that the log cannot give, and why; each reason once."""
    found: dict[tuple[str, str], list[str]] = {}
    for flown in flight.each:
        place = letter(flight.course.segments.index(flown.first))
        for refused in flown.refused:
            found.setdefault((refused.name, refused.why), []).append(place)
    lines = [
        f"{name.replace('_', ' ')} of {', '.join(places)}: {why}" for (name, why), places in found.items()
    ]
    events = [event for event in (flight.opening_time, flight.flare_gain) if isinstance(event, Refused)]
    return [*lines, *(f"{event.name.replace('_', ' ')}: {event.why}" for event in events)]


def reading_words(flight: LoggedFlight, units: System) -> str:
    """What was read, and what was left out or put right."""
    log = flight.log
    step = min(log.speeds.step, log.place.step)
    heights = {"pressure": "by pressure in standard air", "GNSS": "by GNSS", "log": "as logged"}[
        log.height_from
    ]
    speeds = "as logged" if log.velocity is not None else "from places"
    counted = "; ".join(f"{name}: {count}" for name, count in log.counts.items()) or "nothing"
    remarks = "".join(f" {remark.said(units)}" for remark in log.remarks)
    density = show(flight.density, "density", units, digits=3)
    density += " as given" if flight.density_given else " by standard air"
    zero = "touchdown" if flight.course.touchdown.seen else "the last fix"
    return (
        f"Read: {log.kind}, {len(log.place.time)} places, {step:.2g} s apart; ground speeds {speeds}; "
        f"heights {heights}, zero at {zero}; air density {density}. "
        f"Left out or put right: {counted}.{remarks}"
    )
