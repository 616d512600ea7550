"""The release as a card for the field, one small page. Through reportlab."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

from parasim.drawing.printing import (
    CARDS,
    MARGIN,
    POINTS_PER_MM,
    CardPaper,
    numbered_pdf,
    paragraph,
    printable,
)
from parasim.flight.drop import CAUTIONS
from parasim.flight.release.release import InWind, ReleasePoint, flare_moves
from parasim.report.column import Column, picked
from parasim.report.release import (
    WIND_COLUMNS,
    air_in_words,
    facing,
    gusting,
    measured,
    paces,
    place_in_words,
    show_far,
    show_wind,
    walked,
    wind_rows,
)
from parasim.report.words import show_long, show_pull
from parasim.units import System, show

if TYPE_CHECKING:
    from reportlab.platypus import Flowable, Table

CARD_PAPERS: dict[System, CardPaper] = {"metric": "a5", "imperial": "half letter"}
"""To print on, by units."""

_FRAME = 4.3  # what the page frame takes of the width, both sides [mm]
_BOX = "[  ]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What is printed, in words.

    Attributes
    ----------
    title, answer : str
        Of the card, and where to let go.
    failures, facts, stops, cautions : tuple of str
        What is not kept; height and wind; what stops you; what always stands there.
    numbers : tuple of (str, str)
        What, and how much.
    heads : tuple of str
        Of the table of winds.
    rows : tuple of tuple of str
        Its cells.
    """

    title: str
    answer: str
    failures: tuple[str, ...]
    facts: tuple[str, ...]
    numbers: tuple[tuple[str, str], ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    stops: tuple[str, ...]
    cautions: tuple[str, ...]


def _columns(system: System) -> tuple[Column[InWind], ...]:
    """Of its table of winds."""
    return (
        *picked(WIND_COLUMNS, "wind_m_s", "upwind_m"),
        Column(name="", words="steps", kind="", read=lambda row: paces(row.upwind, system).split()[0]),
        *picked(WIND_COLUMNS, "box_radius_m", "drift_per_circle_m", "up_m", "down_m", "across_m"),
    )


def card(point: ReleasePoint, system: System) -> Card:
    """What is printed of an answer that advises a release point."""
    columns = _columns(system)
    return Card(
        title=f"{point.vehicle.design.name}: release card",
        facts=(
            f"From {show_far(point.height, system)} above ground, gliding, in "
            f"{air_in_words(point, system)}{gusting(point, system)}.",
        ),
        answer=f"Let go {place_in_words(point, system)}, facing {facing(point)}.",
        failures=tuple(point.report.failures(system)),
        numbers=tuple(_numbers(point, system)),
        heads=tuple(column.words for column in columns),
        rows=tuple(tuple(column.cell(row, system) for column in columns) for row in wind_rows(point, system)),
        stops=tuple(_stops(point, system)),
        cautions=CAUTIONS,
    )


def _numbers(point: ReleasePoint, system: System) -> Iterator[tuple[str, str]]:
    plan, circle, time = point.plan, point.circle, point.reach.band("time")
    far, box = hypot(*plan.release), max(plan.box, 0.0)
    pull = f"{show_pull(circle.brake)} of the left brake ({show(circle.pull, 'tape_length', system)})"
    near = f"within {walked(box, system, ' = ')} of that point"
    yield "let go from the target", f"{walked(far, system, ' = ')}, {near}"
    yield "pull to circle", f"{pull}, {show(abs(circle.rate), 'angular_rate', system, digits=0)}"
    lost, drift = (show_far(each, system) for each in (circle.height_per_turn, plan.drift_per_circle))
    yield (
        "a circle",
        f"{show(circle.turn_time, 'time', system, digits=0)}, {lost} of height, {drift} of drift",
    )
    for leg in point.legs:
        if leg.name != "flare":
            ends = f"{show_far(leg.top, system)} to {show_far(leg.bottom, system)}"
            yield leg.name, f"from {ends}, {show_long(leg.time)}"
    yield "flare", "; ".join(_flares(point, system)) or "none in the design file"
    yield "aloft, gliding straight", f"{time.value:.0f} s ({time.low:.0f} to {time.high:.0f} s)"


def _flares(point: ReleasePoint, system: System) -> Iterator[str]:
    """Moves of both brakes on the final, as the design has them."""
    for height, over, pull, _ in flare_moves(point.vehicle, point.plan.final_height).tolist():
        at = show(height, "length", system, digits=1)
        yield f"at {at}: {show_pull(pull)} of both brakes in {over:.3g} s"


def _stops(point: ReleasePoint, system: System) -> Iterator[str]:
    up, down, across = (
        show_far(max(point.reach.band(name).high, 0.0), system) for name in ("up", "down", "across")
    )
    lowest, least = point.plan.lowest_release, point.packed_height
    packed = "the opening not counted" if least is None else f"packed {show_far(least, system)}"
    gust = f", gusts of {show_wind(point.gust, system)} on top" if point.gust else ", gusts included"
    yield f"More wind than {show_wind(point.limit, system)} {measured(point, system)}{gust}."
    yield "Wind from another side than above: find the point anew."
    yield f"Anybody within {up} upwind, {down} downwind or {across} to either side of the release."
    yield f"Less height than {show_far(lowest, system)}, {packed}."
    yield "A brake that jams, or turns it to the wrong side."
    yield "Local rules not settled for this place and day."


def card_pdf(card: Card, system: System) -> bytes:
    """The card on its paper: A5, or half a letter page in imperial units."""
    paper = CARD_PAPERS[system]
    width = CARDS[paper][0] - 2 * MARGIN - _FRAME
    return numbered_pdf(lambda: _story(card, width), title=card.title, paper=paper)


def _story(card: Card, width: float) -> "Iterator[Flowable]":
    yield paragraph(card.title, size=13, bold=True)
    if card.failures:
        yield paragraph(f"Not kept: {'; '.join(card.failures)}.", size=9.5, bold=True)
    yield from (paragraph(fact) for fact in card.facts)
    yield paragraph(card.answer, size=11, bold=True, before=2, after=4)
    yield _table(card.numbers, (0.34 * width, 0.66 * width))
    yield paragraph("By the wind where it is measured; below zero is downwind of the target:", before=4)
    yield _table([card.heads, *card.rows], [width / len(card.heads)] * len(card.heads), head=True)
    yield paragraph("What stops you", size=9.5, bold=True, before=4)
    yield _table([(_BOX, stop) for stop in card.stops], (7.0, width - 7.0))
    for caution in card.cautions:
        yield paragraph(f"Caution: {caution}", size=7.2, bold=True, before=3, after=0)
    yield paragraph("Wind measured, time, let go at: " + 30 * "_", size=8, before=4)


def _table(rows: Sequence[Sequence[str]], widths: Sequence[float], *, head: bool = False) -> "Table":
    """Rows ruled off, words wrapped; the first in heavy type if it is the head."""
    from reportlab.lib import colors
    from reportlab.platypus import Table

    size = 6.8 if head else 8.0
    cells = [
        [paragraph(printable(cell), size=size, bold=head and i == 0, after=0) for cell in row]
        for i, row in enumerate(rows)
    ]
    look = [
        ("LEFTPADDING", (0, 0), (-1, -1), 1),
        ("RIGHTPADDING", (0, 0), (-1, -1), 2 if head else 1),
        ("TOPPADDING", (0, 0), (-1, -1), 0.8),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.4),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.25, colors.grey),
    ]
    table = Table(cells, colWidths=[each * POINTS_PER_MM for each in widths], style=look)
    table.hAlign = "LEFT"
    return table
