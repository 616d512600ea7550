"""Pieces laid out on cloth so that little is left over. Everything in millimetres.

The cloth runs along x, its warp with it, and is `width` wide along y. A piece keeps its warp: it is laid as
drawn or turned end for end, and those cut mirrored are turned over first. True outlines are nested, tails
beside noses: each piece goes as near to the start of the cloth as it can, large pieces first, on a grid of
cells that it takes whole. What it takes beyond its outline is room for the scissors.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil

import numpy as np
from shapely import Polygon, box
from shapely.ops import polylabel

from parasim.drawing.drawing import LETTER_WIDTH, Drawing, Label, Path
from parasim.drawing.style import KEY_HEIGHT, key
from parasim.rotations import FloatArray
from parasim.sewing.cloth import check_width
from parasim.sewing.pieces import Piece
from parasim.units import System, show

CELL = 4.0
"""Side of a cell of the grid: the finer, the tighter and slower. [mm]"""

GAP = 1.0
"""Minimum room between pieces. [mm]"""

ALIKE = 0.9
"""Pieces no smaller than this much of an earlier one are not looked a place for before it: quicker. [-]"""

_KEY_WIDTH = 190.0
_KEY_GAP = 10.0
_LARGEST_TYPE = 14.0
_AS_GOOD = 0.8  # room half-way along, over the most there is, to be taken for the text
_STRETCH = 48  # columns looked at together
_MORE = 0.25  # the grid is made longer by so much of itself when full

IntArray = np.ndarray[tuple[int, ...], np.dtype[np.int64]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Placement:
    """One piece on the cloth.

    Attributes
    ----------
    piece : Piece
        Its template.
    mirrored : bool
        Whether it is cut turned over.
    turned : bool
        Whether it is laid end for end.
    at : tuple of float
        x and y of the lower left corner of its room. [mm]
    """

    piece: Piece
    mirrored: bool
    turned: bool
    at: tuple[float, float]

    @cached_property
    def outline(self) -> FloatArray:
        """Cut line where it lies on the cloth, shape (n, 2). [mm]"""
        return self._moved(self.piece.cut_line)

    @cached_property
    def holes(self) -> tuple[FloatArray, ...]:
        """Cut out of it, shape (n, 2) each. [mm]"""
        return tuple(self._moved(hole) for hole in self.piece.holes)

    @cached_property
    def heart(self) -> tuple[tuple[float, float], float]:
        """Middle and radius of a circle for text, clear of holes: half-way, or the largest there is. [mm]"""
        inside = Polygon(self.outline, self.holes)
        half_way, widest = inside.envelope.centroid, polylabel(inside, 1.0)
        room = {spot: float(inside.boundary.distance(spot)) for spot in (half_way, widest)}
        central = inside.contains(half_way) and room[half_way] > _AS_GOOD * room[widest]
        middle = half_way if central else widest
        return (middle.x, middle.y), room[middle]

    def _moved(self, points: FloatArray) -> FloatArray:
        way = {"mirrored": self.mirrored, "turned": self.turned}
        corner = _turned(self.piece.cut_line, **way).min(axis=0)
        return _turned(points, **way) - corner + self.at


@dataclass(frozen=True, kw_only=True, eq=False)
class Nest:
    """All pieces on the cloth.

    Attributes
    ----------
    placements : tuple of Placement
        Every piece as often as it is cut.
    width : float
        Of the cloth. [mm]
    """

    placements: tuple[Placement, ...]
    width: float

    @cached_property
    def length(self) -> float:
        """Cloth taken along the warp. [mm]"""
        return max(float(placement.outline[:, 0].max()) for placement in self.placements)

    @property
    def efficiency(self) -> float:
        """Area inside all cut lines over that of the cloth taken. [-]"""
        inside = sum(float(Polygon(placement.outline).area) for placement in self.placements)
        return inside / (self.width * self.length)

    def drawings(self, design: str, system: System = "metric") -> tuple[Drawing, Drawing]:
        """The cloth and every piece's cut line and name, true size; and a key below."""
        cloth, units = f"{self.length:.0f} x {self.width:.0f} mm", "drawn in millimetres, "
        if system == "imperial":
            run, wide = show(1e-3 * self.length, "run", system), show(1e-3 * self.width, "dimension", system)
            cloth, units = f"{run} x {wide}", ""
        lines = (
            f"{design}: nest",
            f"{len(self.placements)} pieces on {cloth} of cloth",
            f"{units}true size",
        )
        below = key(lines, max(self.length, _KEY_WIDTH)).moved(0.0, -KEY_HEIGHT - _KEY_GAP)
        return self._drawing(f"{design}: nest"), below

    def _drawing(self, title: str) -> Drawing:
        corners = np.array([[0.0, 0.0], [self.length, 0.0], [self.length, self.width], [0.0, self.width]])
        return Drawing(
            title=title,
            paths=(
                Path(points=corners, closed=True, kind="guide"),
                *(
                    Path(points=line, closed=True, kind="cut")
                    for one in self.placements
                    for line in (one.outline, *one.holes)
                ),
            ),
            labels=tuple(_name(one) for one in self.placements),
        )


def _name(placement: Placement) -> Label:
    (x, y), room = placement.heart
    text = placement.piece.called + (" (mirrored)" if placement.mirrored else "")
    long = 2 * room if placement.holes else 0.8 * float(np.ptp(placement.outline[:, 0]))
    height = min(_LARGEST_TYPE, 0.7 * room, long / (LETTER_WIDTH * len(text)))
    return Label(text=text, at=(x, y - 0.35 * height), height=height, anchor="middle")


def laid(outline: FloatArray, *, mirrored: bool, turned: bool) -> FloatArray:
    """Outline turned over about its warp, then end for end, its room's lower left corner at the origin."""
    points = _turned(outline, mirrored=mirrored, turned=turned)
    return np.asarray(points - points.min(axis=0))


def _turned(points: FloatArray, *, mirrored: bool, turned: bool) -> FloatArray:
    points = points * [1.0, -1.0] if mirrored else points
    return -points if turned else points


def nest(pieces: Sequence[Piece], width: float, *, cell: float = CELL, gap: float = GAP) -> Nest:
    """Lay out every piece as often as it is cut.

    Parameters
    ----------
    pieces : sequence of Piece
        Templates with their counts.
    width : float
        Of the cloth. [mm]
    cell : float
        Side of a cell of the grid. [mm]
    gap : float
        Minimum room between pieces. [mm]

    Raises
    ------
    DesignError
        When a piece is wider than the cloth.
    """
    check_width(pieces, width)
    tries = (_laid_out(pieces, width, cell, gap, order) for order in (_by_length, _by_area))
    return min(tries, key=lambda found: found.length)


def _by_length(piece: Piece) -> float:
    return float(piece.size[0])


def _by_area(piece: Piece) -> float:
    return float(np.prod(piece.size))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """Cells that a piece takes: row by row, from its bottom, first cell and one past the last; its height."""

    first: IntArray
    past: IntArray
    height: float


def _rows(outline: FloatArray, cell: float, gap: float) -> _Rows:
    """Cells of a piece laid at a corner of the grid, which lies half a gap outside the cloth.

    Each row takes all from the leftmost to the rightmost point of the outline in it, half a gap around.
    """
    corner = outline.min(axis=0) - gap / 2
    wide, tall = np.ptp(outline, axis=0) + gap
    # Mitres of sharp corners may reach further out than need be: cut off at the box round the piece.
    room = Polygon(outline - corner).buffer(gap / 2, join_style="mitre").intersection(box(0, 0, wide, tall))
    grown = np.asarray(room.exterior.coords)
    n_rows = ceil(tall / cell - 1e-9)
    # Points where the outline crosses from row to row belong to both.
    start, end = grown[:-1], grown[1:]
    first, past = np.full(n_rows, np.inf), np.full(n_rows, -np.inf)
    for row in range(n_rows):
        low, high = row * cell, (row + 1) * cell
        rise = end[:, 1] - start[:, 1]
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.clip((np.array([[low], [high]]) - start[:, 1]) / rise, 0.0, 1.0)
        touches = (np.minimum(start[:, 1], end[:, 1]) <= high) & (np.maximum(start[:, 1], end[:, 1]) >= low)
        t = np.where(rise == 0, np.array([[0.0], [1.0]]), t)
        x = (start[:, 0] + t * (end[:, 0] - start[:, 0]))[:, touches]
        first[row], past[row] = x.min(), x.max()
    return _Rows(
        first=np.floor(first / cell + 1e-9).astype(np.int64),
        past=np.ceil(past / cell - 1e-9).astype(np.int64),
        height=float(np.ptp(outline[:, 1])),
    )


class _Grid:
    """The cloth as cells, taken or free; grows longer as needed. The one thing here that changes in place."""

    def __init__(self, width: float, length: float, cell: float, gap: float) -> None:
        self.width, self.cell = width, cell
        self.taken = np.zeros((ceil((width + gap) / cell), ceil((length + gap) / cell) + 1), dtype=bool)

    def first_fit(self, rows: _Rows, start: int) -> tuple[int, int] | None:
        """Leftmost column from `start` on, and lowest row there, at which all cells of a piece are free."""
        n_rows, n_columns = self.taken.shape
        # The last row of cells may lie partly beyond the cloth; no piece does.
        across = int((self.width - rows.height) / self.cell + 1e-9) + 1
        ahead = n_columns - int(rows.past.max()) - start + 1
        if ahead < 1:
            return None
        sums = np.zeros((n_rows, n_columns - start + 1), dtype=np.int32)
        np.cumsum(self.taken[:, start:], axis=1, out=sums[:, 1:])
        for begin in range(0, ahead, _STRETCH):
            wide = min(_STRETCH, ahead - begin)
            hits = np.zeros((across, wide), dtype=np.int32)
            for row, (first, past) in enumerate(zip(rows.first + begin, rows.past + begin, strict=True)):
                band = sums[row : row + across]
                hits += band[:, past : past + wide] - band[:, first : first + wide]
            free = hits == 0
            columns = np.flatnonzero(free.any(axis=0))
            if len(columns):
                return start + begin + int(columns[0]), int(np.argmax(free[:, columns[0]]))
        return None

    def take(self, rows: _Rows, column: int, row: int) -> None:
        """Mark a piece's cells."""
        for j, (first, past) in enumerate(zip(rows.first, rows.past, strict=True)):
            self.taken[row + j, column + first : column + past] = True

    def lengthen(self) -> None:
        """Add columns."""
        n_rows, n_columns = self.taken.shape
        more = np.zeros((n_rows, max(1, int(_MORE * n_columns))), dtype=bool)
        self.taken = np.hstack([self.taken, more])


def _laid_out(
    pieces: Sequence[Piece], width: float, cell: float, gap: float, order: Callable[[Piece], float]
) -> Nest:
    longest = max(float(piece.size[0]) for piece in pieces)
    grid = _Grid(width, 1.5 * longest, cell, gap)
    placements: list[Placement] = []
    since = dict.fromkeys((False, True), 0)
    like: FloatArray | None = None
    for piece in sorted(pieces, key=order, reverse=True):
        if like is None or np.any(piece.size < ALIKE * like):
            since, like = dict.fromkeys(since, 0), piece.size
        for mirrored, count in ((False, piece.count - piece.mirrored), (True, piece.mirrored)):
            ways = {turned: _rows(_as_cut(piece, mirrored, turned), cell, gap) for turned in since}
            for _ in range(count):
                turned, (column, row) = _first_place(grid, ways, since)
                grid.take(ways[turned], column, row)
                at = (column * cell, row * cell)
                placements.append(Placement(piece=piece, mirrored=mirrored, turned=turned, at=at))
    return Nest(placements=tuple(placements), width=width)


def _first_place(
    grid: _Grid, ways: dict[bool, _Rows], since: dict[bool, int]
) -> tuple[bool, tuple[int, int]]:
    """Turned or not, and where; `since` is moved on: what did not fit up to there will not fit again."""
    while True:
        found = {turned: grid.first_fit(rows, since[turned]) for turned, rows in ways.items()}
        fits = [(spot, turned) for turned, spot in found.items() if spot is not None]
        if not fits:
            grid.lengthen()
            continue
        since |= {turned: spot[0] for turned, spot in found.items() if spot is not None}
        spot, turned = min(fits)
        return turned, spot


def _as_cut(piece: Piece, mirrored: bool, turned: bool = False) -> FloatArray:
    return laid(piece.cut_line, mirrored=mirrored, turned=turned)
