"""Pieces of cloth at full size: what to cut, how often, what is marked on each. In millimetres."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from shapely import Polygon, box, unary_union

from parasim.drawing.drawing import Box, Drawing, Label, Path
from parasim.drawing.lettering import HEIGHTS, LINE_PITCH, READABLE, free_room, text_block
from parasim.rotations import FloatArray
from parasim.sewing.allowance import Edge, cut_line, outline_of_edges

PieceKind = Literal["rib", "panel", "stabiliser", "patch"]

WARP = "warp"
"""Word at the arrow along the warp. It runs along the chord on every piece. Common practice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Piece:
    """One template.

    Attributes
    ----------
    name : str
        A plain name, no two alike.
    where : str
        Which ribs or panels it is for, in words.
    number : int
        Among the templates, from 1; with the name it is what a piece is called on every sheet.
    kind : {"rib", "panel", "stabiliser", "patch"}
        What kind of piece.
    places : tuple of int
        Ribs or panels it is for, as drawn; counted from the left tip, from 1.
    mirrored_places : tuple of int
        Those it is for when turned over.
    count : int
        How many to cut in all, turned over or not.
    edges : tuple of Edge
        The sewing line, anticlockwise.
    holes : tuple of ndarray, shape (n, 2)
        Closed lines to cut out. [mm]
    marks : tuple of Path
        Notches, tabs, patches, lines to sew inside the piece.
    tags : tuple of Label
        Short words at the marks.
    view : str
        From where it is seen.
    ease : float
        On a panel of a whole cell: length of the unloaded rib's edge less that of its line. [mm]
    """

    name: str
    where: str
    number: int = 0
    kind: PieceKind
    places: tuple[int, ...]
    mirrored_places: tuple[int, ...] = ()
    count: int
    edges: tuple[Edge, ...]
    holes: tuple[FloatArray, ...] = ()
    marks: tuple[Path, ...] = ()
    tags: tuple[Label, ...] = ()
    view: str = ""
    ease: float = 0.0

    @property
    def called(self) -> str:
        """Number and name."""
        return f"{self.number} {self.name}"

    @property
    def title(self) -> str:
        """Number, name, and which ribs or panels it is for."""
        return f"{self.called} ({self.where})"

    @property
    def mirrored(self) -> int:
        """How many of them are cut turned over."""
        return len(self.mirrored_places)

    @cached_property
    def sewing_line(self) -> FloatArray:
        """Closed, shape (n, 2). [mm]"""
        return outline_of_edges(self.edges)

    @cached_property
    def cut_line(self) -> FloatArray:
        """Closed, shape (n, 2), allowances in it. [mm]"""
        return cut_line(self.edges)

    @property
    def sewn_area(self) -> float:
        """Inside the sewing line, holes taken out. [mm²]"""
        return float(Polygon(self.sewing_line).area - self._hole_area)

    @property
    def cut_area(self) -> float:
        """Inside the cut line, holes taken out. [mm²]"""
        return float(Polygon(self.cut_line).area - self._hole_area)

    @property
    def _hole_area(self) -> float:
        return sum(float(Polygon(hole).area) for hole in self.holes)

    @property
    def sewn_perimeter(self) -> float:
        """[mm]"""
        return float(Polygon(self.sewing_line).length)

    @property
    def cut_perimeter(self) -> float:
        """Without holes. [mm]"""
        return float(Polygon(self.cut_line).length)

    @property
    def size(self) -> FloatArray:
        """Along the warp and across it, allowances included: shape (2,). [mm]"""
        return np.asarray(np.ptp(self.cut_line, axis=0))

    def edge(self, name: str) -> Edge:
        """Edge of that name."""
        return next(edge for edge in self.edges if edge.name == name)

    @property
    def cutting_words(self) -> str:
        """How many to cut, in words."""
        if not self.mirrored:
            return f"cut {self.count}"
        return f"cut {self.count}: {self.count - self.mirrored} as drawn, {self.mirrored} mirrored"

    @property
    def bounds(self) -> Box:
        """Round the cut line."""
        (left, bottom), (right, top) = self.cut_line.min(axis=0), self.cut_line.max(axis=0)
        return Box(left=float(left), bottom=float(bottom), right=float(right), top=float(top))

    def drawing(self, design: str, clear_of: Sequence[Box] = ()) -> Drawing:
        """Template with every line and label, named after the design.

        Parameters
        ----------
        design : str
            Name of the design, printed on the piece.
        clear_of : sequence of Box
            Where the piece's text should not be, such as where pages are glued, if there is room elsewhere.
        """
        first, *others = f"{design}: {self.title}", self.cutting_words, *([self.view] if self.view else [])
        lines, short = [first, *others], [first, ", ".join(others)]
        free = free_room(self.sewing_line, self.holes, self.marks, self.tags)
        clear = free.difference(unary_union([box(b.left, b.bottom, b.right, b.top) for b in clear_of]))
        blocks = [
            text_block(texts, room, arrow_word=WARP) for room in (clear, free) for texts in (lines, short)
        ]
        # The largest, but text of a readable size clear of the glue before larger text that is not.
        sizes = [block[0][0].height if block[0] else 0.0 for block in blocks]
        clear_sizes = [size if size >= READABLE else 0.0 for size in sizes[:2]]
        best = int(np.argmax(clear_sizes if max(clear_sizes) else sizes))
        labels, arrow = blocks[best]
        if not labels:
            labels = self._beside(lines)
        return Drawing(
            title=self.title,
            name=self.called,
            paths=(
                Path(points=self.cut_line, closed=True, kind="cut"),
                *(Path(points=hole, closed=True, kind="cut") for hole in self.holes),
                *(
                    Path(points=edge.points, closed=False, kind=edge.kind)
                    for edge in self.edges
                    if edge.allowance
                ),
                *self.marks,
                *arrow,
            ),
            labels=(*self.tags, *labels),
        )

    def _beside(self, lines: list[str]) -> tuple[Label, ...]:
        """Text below a piece too small to hold it."""
        left, bottom = self.cut_line.min(axis=0)
        height = HEIGHTS[-2]
        return tuple(
            Label(text=text, at=(float(left), float(bottom) - (i + 1) * LINE_PITCH * height), height=height)
            for i, text in enumerate([*lines, f"{WARP} along the lower edge"])
        )
