"""The line sheet as pages to print: tables with a box to tick for every line. Through reportlab."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from parasim.buildsheet.line_sheet import Entry, LineSheet, in_sixteenths

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

MARGIN = 14.0
"""Of an A4 page. [mm]"""

ENTRY_HEADS = ("", "label", "finished\nmm", "in", "cut\nmm", "in", "measured\nmm", "remark")
ENTRY_WIDTHS = (7.0, 31.0, 16.0, 18.0, 14.0, 18.0, 18.0, 60.0)
"""Of the columns. [mm]"""

_BOX = "[  ]"
_POINTS_PER_MM = 72 / 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class PageTable:
    """A table for the pages: title, heads, and cells as they are printed; a note below it."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


def line_sheet_pdf(
    sheet: LineSheet, *, facts: Sequence[str], tables: Sequence[PageTable], cautions: Sequence[str]
) -> bytes:
    """A4 pages: facts, cautions, every line with a box to tick, then the tables.

    Parameters
    ----------
    sheet : LineSheet
        What is listed.
    facts : sequence of str
        Sentences ahead of the list: zero points, tension, allowances.
    tables : sequence of PageTable
        Behind it: differentials, totals, tolerances, loads.
    cautions : sequence of str
        At the top of the first page.
    """
    from reportlab.lib.pagesizes import A4
    from reportlab.platypus import SimpleDocTemplate

    file = io.BytesIO()
    margin = MARGIN * _POINTS_PER_MM
    document = SimpleDocTemplate(
        file,
        pagesize=A4,
        leftMargin=margin,
        rightMargin=margin,
        topMargin=margin,
        bottomMargin=1.4 * margin,
        title=f"{sheet.name}: line sheet",
        invariant=1,
    )
    story = [
        _text(f"{sheet.name}: line sheet", size=15, bold=True),
        *(_text(fact, size=8.5) for fact in facts),
        *(_text(f"Caution: {caution}", size=8.5, bold=True) for caution in cautions),
        _gap(),
        _table(
            ENTRY_HEADS,
            [_entry_cells(entry) for entry in sheet.entries],
            ENTRY_WIDTHS,
            left=(1, 7),
            heavy=[i for i, (a, b) in enumerate(pairwise(sheet.entries)) if a.rib != b.rib],
        ),
    ]
    for table in tables:
        story += _titled(table)

    def foot(canvas: object, page: object) -> None:
        _foot(canvas, f"{sheet.name}: line sheet", document.page)

    document.build(story, onFirstPage=foot, onLaterPages=foot)
    return file.getvalue()


def _entry_cells(entry: Entry) -> tuple[str, ...]:
    cut = ("", "") if entry.cut is None else (f"{entry.cut_mm}", in_sixteenths(entry.cut, up=True))
    return (_BOX, entry.label, f"{entry.finished_mm}", in_sixteenths(entry.finished), *cut, "", entry.remark)


def _titled(table: PageTable) -> "list[Flowable]":
    from reportlab.platypus import KeepTogether

    width = (210.0 - 2 * MARGIN) / len(table.heads)
    widths = tuple(min(width, 34.0) for _ in table.heads)
    parts = [
        _gap(),
        _text(table.title, size=11, bold=True),
        _table(table.heads, table.rows, widths, left=(0,)),
    ]
    if table.note:
        parts.append(_text(table.note, size=8.5))
    return [KeepTogether(parts)]


def _table(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    widths: Sequence[float],
    *,
    left: Sequence[int],
    heavy: Sequence[int] = (),
) -> "Flowable":
    """Table with its heads on every page, a rule below each row, heavy below some, every second shaded."""
    from reportlab.lib import colors
    from reportlab.platypus import Table

    look: list[tuple[object, ...]] = [
        ("FONT", (0, 0), (-1, 0), "Helvetica-Bold", 7.5, 8.5),
        ("FONT", (0, 1), (-1, -1), "Helvetica", 8.5, 9.5),
        ("ALIGN", (0, 0), (-1, -1), "RIGHT"),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("TOPPADDING", (0, 0), (-1, -1), 1.4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.2),
        ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black),
        ("LINEBELOW", (0, 1), (-1, -1), 0.25, colors.grey),
        ("ROWBACKGROUNDS", (0, 1), (-1, -1), (colors.white, colors.Color(0.94, 0.94, 0.94))),
        *(("ALIGN", (column, 0), (column, -1), "LEFT") for column in left),
        *(("LINEBELOW", (0, row + 1), (-1, row + 1), 0.8, colors.black) for row in heavy),
    ]
    cells = [[_printable(cell) for cell in row] for row in (heads, *rows)]
    table = Table(cells, colWidths=[width * _POINTS_PER_MM for width in widths], repeatRows=1, style=look)
    table.hAlign = "LEFT"
    return table


def _text(words: str, *, size: float, bold: bool = False) -> "Flowable":
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    font = "Helvetica-Bold" if bold else "Helvetica"
    style = ParagraphStyle("words", fontName=font, fontSize=size, leading=1.25 * size, spaceAfter=0.35 * size)
    return Paragraph(escape(_printable(words)), style)


def _gap() -> "Flowable":
    from reportlab.platypus import Spacer

    return Spacer(1, 3 * _POINTS_PER_MM)


def _foot(canvas: object, name: str, number: int) -> None:
    from reportlab.pdfgen.canvas import Canvas

    assert isinstance(canvas, Canvas)
    canvas.setFont("Helvetica", 8)
    height = 0.8 * MARGIN * _POINTS_PER_MM
    canvas.drawString(MARGIN * _POINTS_PER_MM, height, _printable(name))
    canvas.drawRightString((210.0 - MARGIN) * _POINTS_PER_MM, height, f"page {number}")


def _printable(text: str) -> str:
    """Text in the letters of the PDF's own Helvetica; a ? for any other."""
    return text.encode("cp1252", errors="replace").decode("cp1252")
