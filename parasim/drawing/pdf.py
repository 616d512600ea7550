"""Drawings to PDF: cut up into pages to glue together, or on one large sheet; through reportlab."""

import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, degrees, pi
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from shapely import GeometryCollection, LineString, MultiLineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from parasim.drawing.drawing import Box, Drawing, Label, Path
from parasim.drawing.layout import joined_box
from parasim.drawing.printing import POINTS_PER_MM, printable
from parasim.drawing.style import KEY_HEIGHT, PAPERS, STYLES, Paper, fitted, key
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
_FROM_CORNER, _SHIFT = 35.0, 4.0  # of the words at an edge: never nearer, and how far they are moved at once


_INDEX_TOP = 20.0
_INDEX_PITCH = 5.0

_SIDES = {"left": (0, -1), "right": (0, 1), "above": (-1, 0), "below": (1, 0)}
"""Where a neighbouring page is: rows down, columns across."""


class Listed(NamedTuple):
    """A piece in the index: its title, how many to cut, and which of the drawings it is on, from 0."""

    title: str
    cut: str
    drawing: int


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


def pdf_bytes(
    drawings: Sequence[Drawing], *, title: str, paper: Paper, index: Sequence[Listed] = ()
) -> bytes:
    """One PDF document at full size.

    Parameters
    ----------
    drawings : sequence of Drawing
        Each is cut up on its own; on one sheet they stand where they are.
    title : str
        Name of the design, on every page.
    paper : {"a4", "letter", "a3", "sheet"}
        To print on.
    index : sequence of Listed
        What is on the drawings, for pages ahead of them; one sheet has none.

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
        _book(canvas, drawings, title, paper, index)
    canvas.save()
    return file.getvalue()


def _book(
    canvas: "Canvas", drawings: Sequence[Drawing], title: str, paper: Paper, index: Sequence[Listed]
) -> None:
    """Index, then every sheet of every drawing; a sheet's number is that of its page."""
    first = len(index_pages(index, [()] * len(drawings), title, paper)) + 1
    pages = [page for drawing in drawings for page in _pages(drawing, paper)]
    number = {(id(page[0]), *page[2:]): i for i, page in enumerate(pages, start=first)}
    total = first - 1 + len(pages)
    of_drawing = [tuple(n for key, n in number.items() if key[0] == id(drawing)) for drawing in drawings]
    for i, listing in enumerate(index_pages(index, of_drawing, title, paper), start=1):
        _index_page(canvas, listing, paper, (f"{title}: index", f"sheet {i} of {total}", "print at 100 %"))
    for drawing, tiles, row, column in pages:
        place = f"row {row + 1} of {tiles.rows}, column {column + 1} of {tiles.columns}"
        here = f"sheet {number[id(drawing), row, column]} of {total} · {place}"
        beside = {
            side: number[id(drawing), row + down, column + across]
            for side, (down, across) in _SIDES.items()
            if (id(drawing), row + down, column + across) in number
        }
        joins = ", ".join(f"{n} {side}" for side, n in beside.items())
        words = (
            f"{title}: {drawing.title}",
            here,
            f"joins sheet {joins}" if joins else "joins no other sheet",
        )
        _tile_page(canvas, drawing, tiles, row, column, words, beside)


def index_pages(
    index: Sequence[Listed], sheets: Sequence[Sequence[int]], title: str, paper: Paper
) -> list[Drawing]:
    """Which piece is on which sheets, and how many to cut: one drawing a page, its top left at the origin.

    Parameters
    ----------
    index : sequence of Listed
        Every piece.
    sheets : sequence of sequence of int
        Numbers of the sheets of each drawing.
    title : str
        Name of the design.
    paper : {"a4", "letter", "a3"}
        To print on.
    """
    width, height = window_of(PAPERS[paper])
    columns = (0.0, 0.5 * width, 0.82 * width)
    room = int((height - _INDEX_TOP) / _INDEX_PITCH)
    pages = []
    for start in range(0, len(index), room):
        rows = [("piece", "how many", "on sheet")]
        rows += [(one.title, one.cut, _run(sheets[one.drawing])) for one in index[start : start + room]]
        labels = [fitted(f"{title}: which piece is on which sheet", width, at=(0.0, -6.0), height=5.0)]
        for i, cells in enumerate(rows):
            y = -_INDEX_TOP - (i - 1) * _INDEX_PITCH + (1.5 if i == 0 else 0.0)
            for left, right, cell in zip(columns, (*columns[1:], width), cells, strict=True):
                labels.append(fitted(cell, right - left - 2.0, at=(left, y), height=3.2))
        y = -_INDEX_TOP + _INDEX_PITCH - 0.5
        pages.append(Drawing(title="index", paths=(_line(0.0, y, width, y),), labels=tuple(labels)))
    return pages


def _run(numbers: Sequence[int]) -> str:
    """Numbers that follow each other."""
    if not numbers:
        return ""
    return f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"


def _index_page(canvas: "Canvas", listing: Drawing, paper: Paper, words: tuple[str, str, str]) -> None:
    page = PAPERS[paper]
    _begin_page(canvas, page, key(words, window_of(page)[0]))
    draw(canvas, listing.moved(MARGIN, page[1] - MARGIN))
    canvas.showPage()


def _pages(drawing: Drawing, paper: Paper) -> Iterator[tuple[Drawing, Tiling, int, int]]:
    """Pages of a drawing that show any of it."""
    tiles = tiling(drawing.box, paper)
    lines = MultiLineString([LineString(path.loop) for path in drawing.paths])
    for row in range(tiles.rows):
        for column in range(tiles.columns):
            view = tiles.view(row, column)
            if lines.intersects(box(view.left, view.bottom, view.right, view.top)):
                yield drawing, tiles, row, column


def _begin_page(canvas: "Canvas", page: tuple[float, float], foot: Drawing) -> None:
    """In millimetres, with the key at the foot."""
    canvas.setPageSize(tuple(POINTS_PER_MM * side for side in page))
    canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
    draw(canvas, foot.moved(MARGIN, MARGIN))


def _tile_page(
    canvas: "Canvas",
    drawing: Drawing,
    tiles: Tiling,
    row: int,
    column: int,
    words: tuple[str, str, str],
    beside: Mapping[str, int],
) -> None:
    _begin_page(canvas, tiles.page, key(words, tiles.window[0]))
    view, (width, height) = tiles.view(row, column), tiles.window
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(MARGIN, MARGIN + KEY_HEIGHT, width, height)
    canvas.clipPath(frame, stroke=0)
    shift = MARGIN - view.left, MARGIN + KEY_HEIGHT - view.bottom
    draw(canvas, drawing.moved(*shift))
    draw(canvas, registration(tiles, row, column, beside, clear_of=drawing).moved(*shift))
    canvas.restoreState()
    canvas.showPage()


def registration(
    tiles: Tiling, row: int, column: int, beside: Mapping[str, int], *, clear_of: Drawing | None = None
) -> Drawing:
    """Crosses where a page meets its neighbours, the lines between them, and at each edge the sheet it joins.

    In the drawing's place. A cross is numbered by its row and column of crosses, 0-0 at the top left, so
    that the same number is on every page that shows it. `beside` has the number of the sheet to the
    "left", "right", "above" and "below"; that is written clear of `clear_of`, if there is room.
    """
    paths, labels, corners = [], [], []
    view = tiles.view(row, column)
    half = OVERLAP / 2
    for down, across in ((0, 0), (0, 1), (1, 1), (1, 0)):
        x = view.right - half if across else view.left + half
        y = view.bottom + half if down else view.top - half
        corners.append([x, y])
        paths += [_line(x - _CROSS, y, x + _CROSS, y), _line(x, y - _CROSS, x, y + _CROSS)]
        name = f"{row + down}-{column + across}"
        labels.append(Label(text=name, at=(x + 1.0, y + 1.0), height=2.6))
    drawn = _drawn(clear_of, view)
    labels += [_edge_mark(view, side, sheet, drawn) for side, sheet in beside.items()]
    paths.append(Path(points=np.array(corners), closed=True, kind="guide"))
    return Drawing(title="registration", paths=tuple(paths), labels=tuple(labels))


def _drawn(drawing: Drawing | None, view: Box) -> BaseGeometry:
    """Lines and labels of a drawing in a view, as one geometry."""
    if drawing is None:
        return GeometryCollection()
    here = box(view.left, view.bottom, view.right, view.top)
    parts: list[BaseGeometry] = [LineString(path.loop) for path in drawing.paths]
    parts += [Polygon(label.corners) for label in drawing.labels]
    return GeometryCollection([part for part in parts if part.intersects(here)])


def _edge_mark(view: Box, side: str, sheet: int, drawn: BaseGeometry) -> Label:
    """In the outer half of the glued strip, as near to its middle as it is clear of what is drawn."""
    down, across = _SIDES[side]
    inset = OVERLAP / 4
    x = (view.left + view.right + across * (view.width - 2 * inset)) / 2
    y = (view.bottom + view.top - down * (view.height - 2 * inset)) / 2
    at = np.array([x + (1.0 if across else 0.0), y - (0.0 if across else 1.0)])
    along = np.array([0.0, 1.0] if across else [1.0, 0.0])
    room = (view.height if across else view.width) / 2 - _FROM_CORNER
    marks = [
        Label(
            text=f"joins sheet {sheet}", at=tuple(at + shift * along), height=2.8,
            angle=pi / 2 if across else 0.0, anchor="middle",
        )
        for shift in sorted(np.arange(-room, room, _SHIFT), key=abs)
    ]  # fmt: skip
    clear = (mark for mark in marks if not Polygon(mark.corners).buffer(1.0).intersects(drawn))
    return next(clear, marks[0])


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
    words = (f"{title}: all pieces on one sheet", "sheet 1 of 1", "joins no other sheet")
    _tile_page(canvas, together, tiles, 0, 0, words, {})


def draw(canvas: "Canvas", drawing: Drawing) -> None:
    """Draw on a canvas whose unit is the millimetre."""
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
