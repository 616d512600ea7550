"""Drawings to PDF: cut up into pages to glue together, or on one large sheet; through reportlab."""

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, degrees
from typing import TYPE_CHECKING

import numpy as np
from shapely import LineString, MultiLineString, box

from parasim.drawing.drawing import Box, Drawing, Label, Path
from parasim.drawing.layout import joined_box
from parasim.drawing.printing import POINTS_PER_MM, printable
from parasim.drawing.style import KEY_HEIGHT, PAPERS, STYLES, Paper, key
from parasim.errors import OptionError
from parasim.rotations import FloatArray

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

MARGIN = 8.0
"""Left free on all sides; most printers need 5 or 6. [mm]"""

OVERLAP = 10.0
"""Of neighbouring pages. [mm]"""

LARGEST_PAGE = 5080.0
"""Longest side of a PDF page: 14400 units of 1/72 in. [mm] ISO 32000, from memory."""

_NARROWEST = 190.0
_ROOM = 2.0
_CROSS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """How a drawing is cut up into pages.

    Attributes
    ----------
    page : tuple of float
        Width and height of the paper. [mm]
    columns, rows : int
        Of pages; rows are counted from the top.
    origin : tuple of float
        Lower left corner of all windows together, in the drawing. [mm]
    """

    page: tuple[float, float]
    columns: int
    rows: int
    origin: tuple[float, float]

    @property
    def window(self) -> tuple[float, float]:
        """Width and height of what a page shows of the drawing. [mm]"""
        return window_of(self.page)

    @property
    def step(self) -> tuple[float, float]:
        """From page to page. [mm]"""
        width, height = self.window
        return width - OVERLAP, height - OVERLAP

    def view(self, row: int, column: int) -> Box:
        """Part of the drawing that a page shows; row and column from 0, from the top left. [mm]"""
        left = self.origin[0] + column * self.step[0]
        bottom = self.origin[1] + (self.rows - 1 - row) * self.step[1]
        return Box(left=left, bottom=bottom, right=left + self.window[0], top=bottom + self.window[1])


def glued_strips(tiles: Tiling) -> tuple[Box, ...]:
    """Strips that two pages share, in the drawing's place."""
    last = tiles.view(tiles.rows - 1, tiles.columns - 1)
    left, bottom = tiles.origin
    top = bottom + tiles.rows * tiles.step[1] + OVERLAP
    columns = [left + i * tiles.step[0] for i in range(1, tiles.columns)]
    rows = [bottom + i * tiles.step[1] for i in range(1, tiles.rows)]
    return (
        *(Box(left=x, bottom=bottom, right=x + OVERLAP, top=top) for x in columns),
        *(Box(left=left, bottom=y, right=last.right, top=y + OVERLAP) for y in rows),
    )


def window_of(page: tuple[float, float]) -> tuple[float, float]:
    """Room for the drawing on a page: margins and key taken off. [mm]"""
    return page[0] - 2 * MARGIN, page[1] - 2 * MARGIN - KEY_HEIGHT


def tiling(bounds: Box, paper: Paper) -> Tiling:
    """Fewest pages for what is inside the bounds, upright or lying."""
    short, long = PAPERS[paper]
    return min(
        (_tiling_on(page, bounds) for page in ((long, short), (short, long))),
        key=lambda t: t.columns * t.rows,
    )


def _tiling_on(page: tuple[float, float], bounds: Box) -> Tiling:
    counts, origin = [], []
    sides = ((bounds.left, bounds.width), (bounds.bottom, bounds.height))
    for (start, size), window in zip(sides, window_of(page), strict=True):
        step = window - OVERLAP
        # The outermost half overlap of the first and last page is kept free, for the crosses.
        count = max(1, ceil((size + 2 * _ROOM) / step - 1e-9))
        counts.append(count)
        origin.append(start + size / 2 - (count * step + OVERLAP) / 2)
    return Tiling(page=page, columns=counts[0], rows=counts[1], origin=(origin[0], origin[1]))


def pdf_bytes(drawings: Sequence[Drawing], *, title: str, paper: Paper) -> bytes:
    """One PDF document at full size.

    Parameters
    ----------
    drawings : sequence of Drawing
        Each is cut up on its own; on one sheet they stand where they are.
    title : str
        Name of the design, on every page.
    paper : {"a4", "letter", "a3", "sheet"}
        To print on.

    Raises
    ------
    OptionError
        When one sheet would be larger than a PDF page can be.
    """
    from reportlab.pdfgen.canvas import Canvas

    file = io.BytesIO()
    canvas = Canvas(file, invariant=1, pageCompression=1)
    canvas.setTitle(printable(title))
    if paper == "sheet":
        _sheet_page(canvas, drawings, title)
    else:
        pages = [page for drawing in drawings for page in _pages(drawing, paper)]
        for number, (drawing, tiles, row, column) in enumerate(pages, start=1):
            place = f"row {row + 1} of {tiles.rows}, column {column + 1} of {tiles.columns}"
            words = (f"{title}: {drawing.title}", f"page {number} of {len(pages)}", place)
            _tile_page(canvas, drawing, tiles, row, column, words)
    canvas.save()
    return file.getvalue()


def _pages(drawing: Drawing, paper: Paper) -> Iterator[tuple[Drawing, Tiling, int, int]]:
    """Pages of a drawing that show any of it."""
    tiles = tiling(drawing.box, paper)
    lines = MultiLineString([LineString(path.loop) for path in drawing.paths])
    for row in range(tiles.rows):
        for column in range(tiles.columns):
            view = tiles.view(row, column)
            if lines.intersects(box(view.left, view.bottom, view.right, view.top)):
                yield drawing, tiles, row, column


def _tile_page(
    canvas: "Canvas", drawing: Drawing, tiles: Tiling, row: int, column: int, words: tuple[str, str, str]
) -> None:
    canvas.setPageSize(tuple(POINTS_PER_MM * side for side in tiles.page))
    canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
    _draw(canvas, key(words, tiles.window[0]).moved(MARGIN, MARGIN))
    view, (width, height) = tiles.view(row, column), tiles.window
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(MARGIN, MARGIN + KEY_HEIGHT, width, height)
    canvas.clipPath(frame, stroke=0)
    shift = MARGIN - view.left, MARGIN + KEY_HEIGHT - view.bottom
    _draw(canvas, drawing.moved(*shift))
    _draw(canvas, registration(tiles, row, column).moved(*shift))
    canvas.restoreState()
    canvas.showPage()


def registration(tiles: Tiling, row: int, column: int) -> Drawing:
    """Crosses where a page meets its neighbours, and the lines between them, in the drawing's place.

    A cross is named by its column and row of crosses, A0 at the top left, so that the same name is on every
    page that shows it.
    """
    paths, labels, corners = [], [], []
    view = tiles.view(row, column)
    half = OVERLAP / 2
    for down, across in ((0, 0), (0, 1), (1, 1), (1, 0)):
        x = view.right - half if across else view.left + half
        y = view.bottom + half if down else view.top - half
        corners.append([x, y])
        paths += [_line(x - _CROSS, y, x + _CROSS, y), _line(x, y - _CROSS, x, y + _CROSS)]
        name = f"{chr(ord('A') + column + across)}{row + down}"
        labels.append(Label(text=name, at=(x + 1.0, y + 1.0), height=2.6))
    paths.append(Path(points=np.array(corners), closed=True, kind="guide"))
    return Drawing(title="registration", paths=tuple(paths), labels=tuple(labels))


def _line(x1: float, y1: float, x2: float, y2: float) -> Path:
    return Path(points=np.array([[x1, y1], [x2, y2]]), closed=False, kind="cut")


def _sheet_page(canvas: "Canvas", drawings: Sequence[Drawing], title: str) -> None:
    bounds = joined_box(drawings)
    width = max(bounds.width, _NARROWEST) + 2 * MARGIN + 2 * OVERLAP
    height = bounds.height + 2 * MARGIN + 2 * OVERLAP + KEY_HEIGHT
    if max(width, height) > LARGEST_PAGE:
        raise OptionError(
            f"--paper: sheet, the pieces take {max(width, height) / 1e3:.1f} m and a PDF page ends at "
            f"{LARGEST_PAGE / 1e3:.2f} m; use a3, a4 or letter"
        )
    origin = (bounds.left - OVERLAP, bounds.bottom - OVERLAP)
    tiles = Tiling(page=(width, height), columns=1, rows=1, origin=origin)
    together = drawings[0].together(*drawings[1:])
    words = (f"{title}: all pieces on one sheet", "page 1 of 1", "row 1 of 1, column 1 of 1")
    _tile_page(canvas, together, tiles, 0, 0, words)


def _draw(canvas: "Canvas", drawing: Drawing) -> None:
    """Draw with the canvas in millimetres."""
    canvas.setLineJoin(1)
    for path in drawing.paths:
        style = STYLES[path.kind]
        canvas.setLineWidth(style.width)
        canvas.setDash(list(style.dash))
        canvas.drawPath(_canvas_path(canvas, path.points, path.closed), stroke=1, fill=0)
    canvas.setDash([])
    for label in drawing.labels:
        _draw_text(canvas, label)


def _canvas_path(canvas: "Canvas", points: FloatArray, closed: bool) -> object:
    path = canvas.beginPath()
    path.moveTo(*map(float, points[0]))
    for x, y in points[1:]:
        path.lineTo(float(x), float(y))
    if closed:
        path.close()
    return path


def _draw_text(canvas: "Canvas", label: Label) -> None:
    canvas.saveState()
    canvas.translate(*label.at)
    canvas.rotate(degrees(label.angle))
    canvas.setFont("Helvetica", label.height)
    draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
    draw[label.anchor](0, 0, printable(label.text))
    canvas.restoreState()
