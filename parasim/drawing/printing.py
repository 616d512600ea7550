"""What printed lists have in common: paper, feet with page x of y, paragraphs, letters. Through reportlab."""

import io
import re
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Literal
from xml.sax.saxutils import escape

from parasim.drawing.style import PAPERS
from parasim.units import System

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

PagePaper = Literal["a4", "letter"]
CardPaper = Literal["a5", "half letter"]
AnyPaper = PagePaper | CardPaper

CARDS = {"a5": (148.0, 210.0), "half letter": (139.7, 215.9)}
"""Small pages: short and long side. [mm] A5: ISO 216; half of 8.5 x 11 in. From memory, unverified."""

MARGIN = 14.0
"""Of a page. [mm]"""

POINTS_PER_MM = 72 / 25.4
"""By definition of the point of PDF, 1/72 in. ISO 32000, from memory."""


def paper_of(system: System) -> PagePaper:
    """Paper of those who measure so, where none is asked for."""
    return "a4" if system == "metric" else "letter"


def line_width(paper: PagePaper) -> float:
    """Of a page between its margins. [mm]"""
    return PAPERS[paper][0] - 2 * MARGIN


def printable(text: str) -> str:
    """Text in the letters of the PDF's own Helvetica; a ? for any other."""
    return text.encode("cp1252", errors="replace").decode("cp1252")


def paragraph(
    words: str,
    *,
    size: float = 8.5,
    bold: bool = False,
    indent: float = 0.0,
    before: float = 0.0,
    after: float | None = None,
) -> "Flowable":
    """Words over the whole width.

    Parameters
    ----------
    words : str
        As printed.
    size, before, after : float
        Of the type, and left free above and below; after: 0.3 of the type if not given. [1/72 in]
    bold : bool
        Heavy type.
    indent : float
        From the left. [mm]
    """
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    style = ParagraphStyle(
        "words",
        fontName="Helvetica-Bold" if bold else "Helvetica",
        fontSize=size,
        leading=1.25 * size,
        leftIndent=indent * POINTS_PER_MM,
        spaceBefore=before,
        spaceAfter=0.3 * size if after is None else after,
    )
    kept = re.sub(r"(?<=\d) (?=\d+/\d|%)", "\N{NO-BREAK SPACE}", words)  # sixteenths, per cent
    return Paragraph(escape(printable(kept)), style)


def numbered_pdf(story: "Callable[[], Iterable[Flowable]]", *, title: str, paper: AnyPaper) -> bytes:
    """Document whose page feet show its title, and each page's number and how many there are.

    Parameters
    ----------
    story : callable
        Makes what is printed; called twice, the first time to count the pages.
    title : str
        Of the document.
    paper : {"a4", "letter", "a5", "half letter"}
        To print on.
    """
    _, count = _printed(story(), title=title, paper=paper, total=0)
    content, _ = _printed(story(), title=title, paper=paper, total=count)
    return content


def _printed(story: "Iterable[Flowable]", *, title: str, paper: AnyPaper, total: int) -> tuple[bytes, int]:
    from reportlab.platypus import SimpleDocTemplate

    file = io.BytesIO()
    margin = MARGIN * POINTS_PER_MM
    width, height = (side * POINTS_PER_MM for side in (PAPERS | CARDS)[paper])
    document = SimpleDocTemplate(
        file,
        pagesize=(width, height),
        leftMargin=margin,
        rightMargin=margin,
        topMargin=margin,
        bottomMargin=1.4 * margin,
        title=printable(title),
        invariant=1,
    )

    def foot(canvas: object, page: object) -> None:
        from reportlab.pdfgen.canvas import Canvas

        assert isinstance(canvas, Canvas)
        canvas.setFont("Helvetica", 8)
        canvas.drawString(margin, 0.8 * margin, printable(title))
        canvas.drawRightString(width - margin, 0.8 * margin, f"page {document.page} of {total}")

    document.build(list(story), onFirstPage=foot, onLaterPages=foot)
    return file.getvalue(), int(document.page)
