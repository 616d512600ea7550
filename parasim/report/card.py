"""What `parasim card` answers: the table in words and as data, and a page for the phone that looks it up."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from parasim.caveats import CAUTION, said
from parasim.config.keys import mark_in
from parasim.config.notes import FlightSpec, HandSpec
from parasim.flight.arrival import peak_load
from parasim.flight.landing import COURSES, GROUND, Course
from parasim.flight.release.look_up import InWindAtHeight, LookUp
from parasim.flight.release.plan import PACE
from parasim.flight.turn.turn import TURN_CAUTIONS
from parasim.ladder.checklists import NOBODY_BELOW, Checklist
from parasim.making.card import Card
from parasim.report.column import Column, Table, row_document
from parasim.report.flare import headline as flare_headline
from parasim.report.limits import not_kept
from parasim.report.line_loads import weak_parts
from parasim.report.release import show_far, show_wind
from parasim.report.report import Block, Report
from parasim.report.summary import environment_of_pages
from parasim.report.words import in_mm, show_pull
from parasim.units import System, in_degrees, show, unit

DIGITS = 4
"""Decimals of the table's figures: a tenth of a millimetre where the page shows metres."""

CELL_COLUMNS: tuple[Column[InWindAtHeight], ...] = (
    Column(name="upwind_m", words="", kind="length", read=lambda cell: cell.upwind),
    Column(name="right_m", words="", kind="length", read=lambda cell: cell.right),
    Column(name="box_m", words="", kind="length", read=lambda cell: cell.box),
    Column(name="limit_m_s", words="", kind="wind_speed", read=lambda cell: cell.limit),
    Column(name="radius_m", words="", kind="length", read=lambda cell: cell.radius.high),
    Column(name="time_s", words="", kind="time", read=lambda cell: cell.time.value),
    Column(name="time_low_s", words="", kind="time", read=lambda cell: cell.time.low),
    Column(name="time_high_s", words="", kind="time", read=lambda cell: cell.time.high),
    Column(name="plan_time_s", words="", kind="time", read=lambda cell: cell.plan_time),
    Column(name="drift_per_circle_m", words="", kind="length", read=lambda cell: cell.drift_per_circle),
    Column(name="unopened_energy_j", words="", kind="energy", read=lambda cell: cell.unopened_energy),
    Column(name="unopened_drift_m", words="", kind="length", read=lambda cell: cell.unopened_drift),
)
"""Of a wind at a height."""

PAGE_UNITS = {"length": 0, "wind_speed": 1, "energy": 1, "time": 0, "speed": None, "small_length": None,
              "mass": None}  # fmt: skip
"""Kinds of quantity that the page shows, and their decimals; None for the usual ones."""

PACKED = "The model reached no steady glide after opening: how high a packed canopy needs is not known."


class CardReport(Report[Card]):
    """What is looked up in the field."""

    COMMAND = "card"
    CAUTIONS = TURN_CAUTIONS
    BANDED = True

    def failures(self, units: System) -> list[str]:
        """What is kept in no wind, and circles that may be spirals."""
        least, pulls = self.result.look_up.spiral.low, [each.brake for each in self.result.look_up.circles]
        most, begin = show_pull(max(pulls)), show_pull(least)
        spirals = f"may spiral from {begin} of one brake on, and circles at up to {most}"
        return [*self.kept_in_no_wind(units), *([spirals] if max(pulls) > least else [])]

    def kept_in_no_wind(self, units: System) -> list[str]:
        """Limits and strengths that are not kept, by the worse end of each band."""
        flight, limits = self.result.build.flight, self.result.vehicle.design.landing
        worst = {name: flight.bands.figures[name].high for name in ("sink", "energy")}
        worst["load"] = peak_load(worst["sink"], limits.stop_distance)
        calm = [each for each in self.result.landings("into")[0].verdicts if each.name != "ground_speed"]
        checks = [check for check in flight.opening.checks if check.part != "payload"]
        return [*not_kept(calm, units, worst=worst), *weak_parts(checks, units)]

    def unknowns(self, units: System) -> list[str]:
        """What neither the file nor the model knows, in sentences."""
        found = [said(caveat, units) for caveat in self.result.lacking]
        lost = [said(each, units) for each in self.result.look_up.bands.caveats("steady glide")]
        return [*found, *lost, *([] if self.result.minimum_release_height else [PACKED])]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        found = self.result.look_up
        yield headline(self.result, units)
        shown = [i for i, height in enumerate(found.heights) if float(height).is_integer()]
        yield Table(
            columns=height_columns(found), rows=shown, title="From each height, gliding",
            note="Clear: farthest that it can glide straight from the point under the release, in a calm and "
            f"in the strongest wind of the table, at the high end of the band. {interpolation(self.result)}",
        )  # fmt: skip

    def document(self) -> dict[str, Any]:
        """As `card_document`."""
        return card_document(self.result)

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """The page."""
        yield "card.html", page(self, units)


def card_document(card: Card) -> dict[str, Any]:
    """The card's table as plain data.

    Returns
    -------
    dict
        - ``name``, ``design_file``, ``digest``: of the design; the digest is the beginning of the SHA-256 of
          the design as read; ``calibration``: where its numbers come from, in words; ``made``: the day.
        - ``set``: what the card shows first: ``wind_m_s``, ``from_deg``, ``height_m``; ``measured_at_m``: the
          height at which the wind is measured; ``step_m``: length of a step.
        - ``least_height_m`` of all: under which there is no plan; ``minimum_release_height_m``: packed, null
          where not known; ``spirals_from_brake_fraction``: low end of the band.
        - ``limits`` of the payload, null where not given: ``max_energy_j``, ``max_ground_speed_m_s``.
        - ``winds``: ``wind_m_s`` at the measuring height, ``gust_m_s`` kept in hand, ``ground_wind_m_s``;
          of landings with the brakes released ``energy_into_j``, ``energy_across_j``, ``energy_with_j`` and
          ``ground_speed_into_m_s``, ``ground_speed_across_m_s``, ``ground_speed_with_m_s`` (into the wind,
          across it, with it).
        - ``heights``: ``height_m`` above ground, gliding; the circle's ``brake_fraction``, ``pull_mm``,
          ``turn_time_s``, ``height_lost_per_turn_m``, and ``least_height_m`` for one of them and the final;
          ``cells``: for each of the winds the columns of `CELL_COLUMNS`: where to let go from the target,
          upwind and to the right of that, how far off it may be (under zero: it may not come home at all),
          the wind's limit, the radius to keep clear about the point under the release (high end of its
          band), time aloft gliding straight and by the plan, drift in a circle, and unopened.
        - ``failures`` and ``unknown``: what is not kept in any wind, and what is not known: sentences.
        - ``cautions`` and ``caveats``: sentences.
    """
    found, design, report = card.look_up, card.vehicle.design, CardReport(card)
    return {
        "name": design.name,
        "design_file": card.design_file,
        "digest": design.digest,
        "calibration": calibration(card),
        "made": date.today().isoformat(),
        "set": first_set(card),
        "measured_at_m": found.wind.height,
        "step_m": PACE,
        "least_height_m": found.least_height,
        "minimum_release_height_m": card.minimum_release_height,
        "spirals_from_brake_fraction": found.spiral.low,
        "limits": {
            "max_energy_j": design.landing.max_energy,
            "max_ground_speed_m_s": design.landing.max_ground_speed,
        },
        "winds": list(_winds(card)),
        "heights": list(_heights(found)),
        "failures": report.kept_in_no_wind("metric"),
        "unknown": report.unknowns("metric"),
        "cautions": list(TURN_CAUTIONS),
        "caveats": list(card.caveats),
    }


def first_set(card: Card) -> dict[str, float]:
    """The design's own wind and height, where the table has them."""
    found, height = card.look_up, card.vehicle.design.drop.height
    lowest, highest = float(found.heights[0]), float(found.heights[-1])
    return {
        "wind_m_s": found.wind.speed,
        "from_deg": round(in_degrees(found.wind.comes_from)) % 360,
        "height_m": height if lowest <= height <= highest else highest,
    }


def _winds(card: Card) -> Iterator[dict[str, float]]:
    landings = {course: card.landings(course) for course in COURSES}

    def of(course: Course, j: int) -> dict[str, float]:
        down = landings[course][j].touchdown
        energy, speed = round(down.energy, DIGITS), round(down.ground_speed, DIGITS)
        return {f"energy_{course}_j": energy, f"ground_speed_{course}_m_s": speed}

    for j, wind in enumerate(card.look_up.winds.tolist()):
        yield {
            "wind_m_s": wind,
            "gust_m_s": round(float(card.look_up.gusts[j]), DIGITS),
            "ground_wind_m_s": round(card.ground_winds[j], DIGITS),
            **{key: value for course in COURSES for key, value in of(course, j).items()},
        }


def _heights(found: LookUp) -> Iterator[dict[str, Any]]:
    rows = zip(found.heights.tolist(), found.circles, found.leasts, found.cells, strict=True)
    for height, circle, least, cells in rows:
        yield {
            "height_m": round(height, DIGITS),
            "brake_fraction": round(circle.brake, DIGITS),
            "pull_mm": in_mm(circle.pull),
            "least_height_m": round(least, DIGITS),
            "turn_time_s": round(circle.turn_time, DIGITS),
            "height_lost_per_turn_m": round(circle.height_per_turn, DIGITS),
            "cells": [
                {key: _rounded(value) for key, value in row_document(CELL_COLUMNS, cell).items()}
                for cell in cells
            ],
        }


def _rounded(value: Any) -> Any:
    return round(value, DIGITS) + 0.0 if isinstance(value, float) else value


def calibration(card: Card) -> str:
    """Where the calibration comes from, a sentence also where all of it is default."""
    return card.vehicle.design.calibration.in_words() or "Calibration: default, no flight of this canopy."


def headline(card: Card, system: System) -> str:
    """What the table covers, in a sentence."""
    found = card.look_up
    limits = [row[0].limit for row in found.cells]
    return (
        f"{card.vehicle.design.name}: card for releases from {show_far(found.heights[0], system)} to "
        f"{show_far(found.heights[-1], system)} in up to {show_wind(found.winds[-1], system)} of wind "
        f"{measured_here(found, system)}; a release point is advised in up to "
        f"{show_wind(max(limits), system)} from the lowest, {show_wind(limits[-1], system)} from the highest"
    )


def measured_here(found: LookUp, system: System) -> str:
    """Height at which the wind is measured."""
    return f"at {show_far(found.wind.height, system)} above ground"


def height_columns(found: LookUp) -> tuple[Column[int], ...]:
    """Of a height, by its place in the grid."""
    return (
        Column(
            name="", words="release", kind="length", digits=0, read=lambda i: float(found.heights[i])
        ),
        Column(
            name="", words="wind, at most", kind="wind_speed", read=lambda i: found.cells[i][0].limit
        ),
        Column(
            name="", words="circle left", kind="", read=lambda i: found.circles[i].brake, show=show_pull
        ),
        Column(
            name="", words="a circle takes", kind="length", digits=0,
            read=lambda i: found.circles[i].height_per_turn,
        ),
        Column(
            name="", words="clear, calm", kind="length", digits=0,
            read=lambda i: found.cells[i][0].radius.high,
        ),
        Column(
            name="", words="strongest wind", kind="length", digits=0,
            read=lambda i: found.cells[i][-1].radius.high,
        ),
        Column(
            name="", words="unopened", kind="energy", read=lambda i: found.cells[i][0].unopened_energy
        ),
    )  # fmt: skip


def interpolation(card: Card) -> str:
    """How the page looks up, in a sentence."""
    found = card.look_up
    return (
        f"The page looks up {len(found.heights)} heights by {len(found.winds)} winds and interpolates "
        "linearly between them; another direction turns all of it; outside the table it says so."
    )


def page_units(system: System) -> dict[str, dict[str, Any]]:
    """Label, size and decimals of what the page shows."""
    shown = {kind: unit(kind, system) for kind in PAGE_UNITS}
    return {
        kind: {"label": one.label, "size": one.size, "digits": one.digits if digits is None else digits}
        for (kind, digits), one in zip(PAGE_UNITS.items(), shown.values(), strict=True)
    }


def note_limits() -> dict[str, tuple[float, float]]:
    """What the notes reader takes of what is weighed and measured by hand, lowest and highest. [SI]"""
    names = ("height_lost", "time", "circles", "distance", "height", "wind")
    marks = {name: mark_in(HandSpec.model_fields[name]) for name in names}
    marks["mass"] = mark_in(FlightSpec.model_fields["mass"])
    return {name: (mark.low, mark.high) for name, mark in marks.items()}


def ticked_lists(card: Card, system: System) -> tuple[Checklist, ...]:
    """Before a drop first, as it is what one stands there with."""
    lists = {each.key: each for each in card.build.pages(system).checklists}
    return tuple(lists[key] for key in ("pre_drop", "after_landing", "pre_pack"))


def page(report: CardReport, units: System) -> str:
    """The page as one HTML file: nothing comes from the network, nothing leaves but what is downloaded."""
    card = report.result
    data = card_document(card)
    minimum = card.minimum_release_height
    return (
        environment_of_pages()
        .get_template("card.html")
        .render(
            data={
                **{key: data[key] for key in data if key not in ("cautions", "caveats")},
                "failures": report.kept_in_no_wind(units),
                "unknown": report.unknowns(units),
                "units": page_units(units),
                "note_limits": note_limits(),
                "nobody_below": NOBODY_BELOW,
                "steps": {"wind": 0.5, "height": 5.0} if units == "metric" else {"wind": 1.0, "height": 10.0},
            },
            **{key: data[key] for key in ("name", "design_file", "digest", "made", "calibration")},
            units=page_units(units),
            step=show(PACE, "length", units),
            caution=CAUTION,
            cautions=TURN_CAUTIONS,
            measured=measured_here(card.look_up, units),
            ground=show(GROUND, "length", units, digits=0),
            flare=flare_headline(card.flare, units).removeprefix(f"{data['name']}: "),
            minimum=None if minimum is None else show_far(minimum, units),
            checklists=ticked_lists(card, units),
            rests=[interpolation(card), *report.said_caveats(units)],
        )
    )
