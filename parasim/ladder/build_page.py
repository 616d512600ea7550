"""The build sheet as pages to print: every step, rung and item with a box to tick. Through reportlab."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, groupby
from typing import TYPE_CHECKING

from parasim.drawing.drawing import Drawing
from parasim.drawing.printing import POINTS_PER_MM, PagePaper, line_width, numbered_pdf, paragraph, printable
from parasim.ladder.checklists import Checklist
from parasim.ladder.ladder import Rung
from parasim.sewing.order.steps import Figure, Join, Step
from parasim.units import System

if TYPE_CHECKING:
    from reportlab.platypus import Flowable, Table

BOX = 3.4
"""Side of a box to tick. [mm]"""

_INDENT = 8.0
_GAP = 2.0
_FIGURE_WIDTHS = (82.0, 22.0, 34.0, 15.0, 15.0)
_STOPS = "What stops you going on (tick what did not happen)"
_ROOM = 60.0  # a longer step begins with as much room below it [mm]
_PART = 90.0  # and a part of the sheet with as much [mm]
_SHORT, _FEW = 12, 6  # as many sentences or joins, and as many figures, are kept on one page
_FRAME = 4.3  # what the page frame takes of the width, both sides [mm]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """What is printed, in words.

    Attributes
    ----------
    name : str
        Of the design.
    facts : tuple of str
        Sentences ahead of everything.
    steps : tuple of Step
        In order.
    rungs : tuple of Rung
        From the ground upwards.
    checklists : tuple of Checklist
        Behind them.
    cautions, caveats : tuple of str
        Ahead of the order, the ladder and the checklists; at the end.
    system : {"metric", "imperial"}
        Of figures.
    """

    name: str
    facts: tuple[str, ...]
    steps: tuple[Step, ...]
    rungs: tuple[Rung, ...]
    checklists: tuple[Checklist, ...]
    cautions: tuple[str, ...]
    caveats: tuple[str, ...]
    system: System


def build_pdf(pages: Pages, paper: PagePaper) -> bytes:
    """Pages with boxes to tick, each with its number and how many there are.

    Parameters
    ----------
    pages : Pages
        What is printed.
    paper : {"a4", "letter"}
        To print on.
    """
    return numbered_pdf(lambda: _story(pages), title=f"{pages.name}: build sheet", paper=paper)


def flight_sheet_pdf(pages: Pages, paper: PagePaper) -> bytes:
    """One checklist, all rungs, the other checklists, for a day of flying; arguments as for `build_pdf`."""
    return numbered_pdf(lambda: _flight_story(pages), title=f"{pages.name}: flight sheet", paper=paper)


def _flight_story(pages: Pages) -> "Iterator[Flowable]":
    yield paragraph(f"{pages.name}: flight sheet", size=15, bold=True)
    yield from (paragraph(fact) for fact in pages.facts)
    yield from _cautions(pages)
    first, *others = pages.checklists
    yield _heading(first.title, size=11)
    yield from _ticked(first.items)
    for rung in pages.rungs:
        yield from _rung(rung, pages.system)
    for checklist in others:
        yield _heading(checklist.title, size=11)
        yield from _ticked(checklist.items)


def _story(pages: Pages) -> "Iterator[Flowable]":
    from reportlab.platypus import CondPageBreak, KeepTogether

    yield paragraph(f"{pages.name}: build sheet", size=15, bold=True)
    yield from (paragraph(fact) for fact in pages.facts)
    yield from _cautions(pages)
    yield _heading("Build order")
    number = 0
    for stage, group in groupby(pages.steps, key=lambda step: step.stage):
        steps = list(group)
        for i, step in enumerate(steps):
            number += 1
            yield from _step(step, number, stage if i == 0 else "", pages.system)
    yield CondPageBreak(_PART * POINTS_PER_MM)
    yield _heading("Test ladder")
    yield paragraph(
        "Climb it rung by rung, with dead weight; a rung that did not go well is repeated, not left out."
    )
    yield from _cautions(pages)
    for rung in pages.rungs:
        yield from _rung(rung, pages.system)
    lists = [_checklist(checklist) for checklist in pages.checklists]
    for first in lists[:1]:
        first[:0] = _cautions(pages)
    yield from (KeepTogether(shown) for shown in lists[:-1])
    caveats = [paragraph(caveat, size=7.5) for caveat in pages.caveats]
    # The last list goes with the caveats, so that they never stand alone on a page.
    yield KeepTogether([*chain(*lists[-1:]), _heading("What the figures leave out", size=11), *caveats])


def _checklist(checklist: Checklist) -> "list[Flowable]":
    return [
        _heading(f"Checklist: {checklist.title.lower()}"),
        *_ticked(checklist.items),
        paragraph("Date, place, name: " + 60 * "_", before=6),
    ]


def _cautions(pages: Pages) -> "Iterator[Flowable]":
    yield from (paragraph(f"Caution: {caution}", bold=True) for caution in pages.cautions)


def _step(step: Step, number: int, stage: str, system: System) -> "Iterator[Flowable]":
    from reportlab.platypus import CondPageBreak, KeepTogether

    head = _tick_row(f"{number}. {step.title}", bold=True)
    head.spaceBefore = 5
    heading: list[Flowable] = [*([paragraph(stage, size=11, bold=True, before=8)] if stage else []), head]
    words = [
        *(paragraph(detail, indent=_INDENT) for detail in step.details),
        *(paragraph(f"By hand: {words}", indent=_INDENT, bold=True) for words in step.by_hand),
    ]
    drawn = [_sketch(drawing) for drawing in step.sketches]
    tables = [
        *([_join_table(step.joins)] if step.joins else []),
        *([_figure_table(step.figures, system)] if step.figures else []),
    ]
    if len(words) > _SHORT:  # may be more than a page: the drawing stays by the heading
        yield KeepTogether([*heading, *drawn])
        yield from (*words, *tables)
    elif len(step.joins) <= _SHORT and len(step.figures) <= _FEW:
        yield KeepTogether([*heading, *words, *drawn, *tables])
    else:
        yield CondPageBreak(_ROOM * POINTS_PER_MM)
        yield from (KeepTogether([*heading, *words, *drawn]), *tables)


def _sketch(drawing: Drawing) -> "Flowable":
    """A drawing to its size on paper, below the words of its step."""
    from reportlab.platypus import Flowable as Base

    class Sketch(Base):  # type: ignore[misc]
        def wrap(self, width: float, height: float) -> tuple[float, float]:
            return width, (drawing.box.height + 2 * _GAP) * POINTS_PER_MM

        def draw(self) -> None:
            from parasim.drawing.pdf import draw

            self.canv.saveState()
            self.canv.scale(POINTS_PER_MM, POINTS_PER_MM)
            draw(self.canv, drawing.moved(_INDENT - drawing.box.left, _GAP - drawing.box.bottom))
            self.canv.restoreState()

    return Sketch()


def _rung(rung: Rung, system: System) -> "Iterator[Flowable]":
    from reportlab.platypus import KeepTogether

    yield KeepTogether(
        [
            paragraph(rung.title, size=11, bold=True, before=8),
            *_ticked(rung.do),
            _figure_table(rung.figures, system),
        ]
    )
    for title, items in (("Measure", rung.measure), (_STOPS, rung.stop)):
        yield KeepTogether([paragraph(title, bold=True, before=2), *_ticked(items)])


def _ticked(items: Sequence[str]) -> "list[Flowable]":
    return [_tick_row(item) for item in items]


def _tick_row(words: str, *, bold: bool = False) -> "Table":
    """A box to tick and words beside it, over the whole width."""
    from reportlab.platypus import Table

    row = [[_box(), paragraph(words, bold=bold, size=9 if bold else 8.5, after=0)]]
    table = Table(row, colWidths=[_INDENT * POINTS_PER_MM, "*"], style=_TIGHT)
    table.hAlign = "LEFT"
    return table


_TIGHT = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]


def _box() -> "Flowable":
    from reportlab.graphics.shapes import Drawing, Rect

    side = BOX * POINTS_PER_MM
    box = Drawing(side, side)
    box.add(Rect(0, 0, side, side, fillColor=None, strokeWidth=0.7))
    return box


def _join_table(joins: Sequence[Join]) -> "Table":
    """Boxes for joins, row by row."""
    from reportlab.platypus import Table

    columns = 3 if len(joins) % 3 == 0 and len(joins) % 4 else 4
    width = (line_width("a4") - _INDENT - _FRAME) / columns  # letter is wider
    cells: list[Flowable | str] = []
    for join in joins:
        cells += [_box(), paragraph(join.name, size=8, after=0)]
    cells += [""] * (-len(cells) % (2 * columns))
    rows = [cells[i : i + 2 * columns] for i in range(0, len(cells), 2 * columns)]
    widths = [5.0 * POINTS_PER_MM, (width - 5.0) * POINTS_PER_MM] * columns
    return _indented(Table(rows, colWidths=widths, style=_TIGHT))


def _figure_table(figures: Sequence[Figure], system: System) -> "Table":
    """What to expect, and room for what was measured; one field where there is no left and right."""
    from reportlab.lib import colors
    from reportlab.platypus import Table

    cells = [
        [
            paragraph(f.name, size=8, after=0),
            printable(f.shown(system)),
            printable(f.shown_range(system)),
            "",
            "",
        ]
        for f in figures
    ]
    rows = list(enumerate(figures, start=1))
    two_sides = any(figure.both_sides for figure in figures)
    names = ("expected", "range", "left", "right") if two_sides else ("expected", "range", "measured", "")
    look = [
        ("FONT", (0, 0), (-1, -1), "Helvetica", 8),
        ("FONT", (0, 0), (-1, 0), "Helvetica-Bold", 8),
        ("ALIGN", (1, 0), (2, -1), "RIGHT"),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ("LINEBELOW", (0, 0), (-1, -1), 0.25, colors.grey),
        *(("GRID", (3, row), (4, row), 0.5, colors.black) for row, figure in rows if not figure.given_only),
        *(("SPAN", (3, row), (4, row)) for row, figure in rows if not figure.both_sides),
        *([] if two_sides else [("SPAN", (3, 0), (4, 0))]),
    ]
    table = Table(
        [["", *names], *cells],
        colWidths=[width * POINTS_PER_MM for width in _FIGURE_WIDTHS],
        repeatRows=1,
        style=look,
    )
    return _indented(table)


def _indented(table: "Table") -> "Table":
    """Table below the words of its step, to the right."""
    table.hAlign = "RIGHT"
    table.spaceBefore, table.spaceAfter = 2, 3
    return table


def _heading(words: str, *, size: float = 13) -> "Flowable":
    return paragraph(words, size=size, bold=True, before=8)
