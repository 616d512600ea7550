"""The line sheet as pages to print: tables with a box to tick for every line. Through reportlab."""

from collections.abc import Iterator, Sequence
from itertools import accumulate, groupby
from typing import TYPE_CHECKING, Protocol

from parasim.drawing.printing import (
    POINTS_PER_MM,
    line_width,
    numbered_pdf,
    paper_of,
    paragraph,
    printable,
)
from parasim.sewing.line_sheet import Entry, LineSheet
from parasim.units import System, in_sixteenths, label

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

ENTRY_WIDTHS = (7.0, 24.0, 18.0, 18.0, 20.0)
"""Of the columns ahead of the remark, which is small and holds the longest cut order in sixteenths. [mm]"""
REMARK_SIZE = 7.0
"""Of its letters. [pt]"""

_BOX = "[  ]"


class PageTable(Protocol):
    """A table for the pages: title, heads, and cells as they are printed; a note below it."""

    @property
    def title(self) -> str: ...  # noqa: D102

    @property
    def heads(self) -> Sequence[str]: ...  # noqa: D102

    @property
    def rows(self) -> Sequence[Sequence[object]]: ...  # noqa: D102

    @property
    def note(self) -> str: ...  # noqa: D102


def line_sheet_pdf(
    sheet: LineSheet,
    *,
    facts: Sequence[str],
    tables: Sequence[PageTable],
    cautions: Sequence[str],
    system: System = "metric",
) -> bytes:
    """Pages: facts, cautions, every line with a box to tick, then the tables.

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
    system : {"metric", "imperial"}
        Of lengths, and of the paper.
    """
    unit, paper = label("tape_length", system), paper_of(system)
    width = line_width(paper)

    def story() -> "Iterator[Flowable]":
        yield paragraph(f"{sheet.name}: line sheet", size=15, bold=True)
        yield from (paragraph(fact) for fact in facts)
        yield from (paragraph(f"Caution: {caution}", bold=True) for caution in cautions)
        yield _gap()
        yield _table(
            ("", "label", f"finished\n{unit}", f"cut\n{unit}", f"measured\n{unit}", "remark"),
            [_entry_cells(entry, system) for entry in sheet.entries],
            (*ENTRY_WIDTHS, width - sum(ENTRY_WIDTHS)),
            left=(1, 5),
            groups=tuple(len(list(group)) for _, group in groupby(sheet.entries, key=_hangs_on)),
            small=(5,),
        )
        for table in tables:
            yield _titled(table, width)

    return numbered_pdf(story, title=f"{sheet.name}: line sheet", paper=paper)


def _hangs_on(entry: Entry) -> tuple[int, str]:
    """Rib that a line belongs to, or the side of a brake line."""
    return entry.rib, "" if entry.rib else entry.label[0]


def _entry_cells(entry: Entry, system: System) -> tuple[str, ...]:
    finished = f"{entry.finished_mm}" if system == "metric" else in_sixteenths(entry.finished)
    return _BOX, entry.label, finished, entry.cut_words(system), "", entry.cut_order(system)


def _titled(table: PageTable, room: float) -> "Flowable":
    from reportlab.platypus import KeepTogether

    width = room / len(table.heads)
    widths = tuple(min(width, 34.0) for _ in table.heads)
    parts = [
        _gap(),
        paragraph(table.title, size=11, bold=True),
        _table(table.heads, table.rows, widths, left=(0,)),
    ]
    if table.note:
        parts.append(paragraph(table.note))
    return KeepTogether(parts)


def _table(
    heads: Sequence[str],
    rows: Sequence[Sequence[object]],
    widths: Sequence[float],
    *,
    left: Sequence[int],
    groups: Sequence[int] = (),
    small: Sequence[int] = (),
) -> "Flowable":
    """Table with its heads on every page, a rule below each row, every second shaded.

    Groups, given by how many rows each has, end in a heavy rule and stay on one page.
    """
    from reportlab.lib import colors
    from reportlab.platypus import Table

    lasts = list(accumulate(groups))
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
        *(("FONT", (column, 1), (column, -1), "Helvetica", REMARK_SIZE, 9.5) for column in small),
        *(("ALIGN", (column, 0), (column, -1), "LEFT") for column in left),
        *(("LINEBELOW", (0, last), (-1, last), 0.8, colors.black) for last in lasts),
        *(("NOSPLIT", (0, last - count + 1), (-1, last)) for last, count in zip(lasts, groups, strict=True)),
    ]
    cells = [[printable(str(cell)) for cell in row] for row in (heads, *rows)]
    table = Table(cells, colWidths=[width * POINTS_PER_MM for width in widths], repeatRows=1, style=look)
    table.hAlign = "LEFT"
    return table


def _gap() -> "Flowable":
    from reportlab.platypus import Spacer

    return Spacer(1, 3 * POINTS_PER_MM)
