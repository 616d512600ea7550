"""Text on a piece, in a place where no scissors go. Everything in millimetres."""

from collections.abc import Sequence

import numpy as np
from shapely import LineString, Point, Polygon, box, unary_union
from shapely.geometry.base import BaseGeometry
from shapely.prepared import prep

from parasim.drawing.drawing import LETTER_WIDTH, Label, Path
from parasim.rotations import FloatArray

HEIGHTS = (6.0, 5.0, 4.0, 3.5, 3.0, 2.5)
"""Sizes of type tried, largest first. [mm] Below the last it is no longer easily read."""

READABLE = 3.0
"""Size of type read at arm's length. [mm] Common practice, no source."""

LINE_PITCH = 1.5
"""From line to line over the height of type. [-]"""

_ARROW_LETTERS = 14
_GRID = 25


def text_block(
    lines: Sequence[str], free: BaseGeometry, *, arrow_word: str = ""
) -> tuple[tuple[Label, ...], tuple[Path, ...]]:
    """Lines of text with an arrow below, as large as fits into the free part of a piece, near its middle.

    Parameters
    ----------
    lines : sequence of str
        From top to bottom.
    free : shapely geometry
        Where nothing else is drawn.
    arrow_word : str
        Written before an arrow that shows the warp, along x. No arrow when empty.

    Returns
    -------
    labels, paths
        Both empty when it fits nowhere.
    """
    letters = max([len(line) for line in lines] + ([len(arrow_word) + _ARROW_LETTERS] if arrow_word else []))
    rows = len(lines) + bool(arrow_word)
    for height in HEIGHTS:
        width, tall = letters * LETTER_WIDTH * height, rows * LINE_PITCH * height
        corner = _room(free, width, tall)
        if corner is not None:
            return _block(lines, corner, height=height, tall=tall, arrow_word=arrow_word)
    return (), ()


def _room(free: BaseGeometry, width: float, tall: float) -> FloatArray | None:
    """Lower left corner of an upright rectangle inside the free part, as near to its middle as can be."""
    left, bottom, right, top = free.bounds
    if width > right - left or tall > top - bottom:
        return None
    x, y = np.meshgrid(np.linspace(left, right - width, _GRID), np.linspace(bottom, top - tall, _GRID))
    corners = np.column_stack([x.ravel(), y.ravel()])
    middle = np.array([free.centroid.x - width / 2, free.centroid.y - tall / 2])
    room = prep(free)
    for corner in corners[np.argsort(np.hypot(*(corners - middle).T))]:
        if room.contains(box(*corner, corner[0] + width, corner[1] + tall)):
            return np.asarray(corner)
    return None


def _block(
    lines: Sequence[str], corner: FloatArray, *, height: float, tall: float, arrow_word: str
) -> tuple[tuple[Label, ...], tuple[Path, ...]]:
    left, baseline = float(corner[0]), float(corner[1]) + tall + 0.35 * height
    labels = []
    for text in [*lines, *([arrow_word] if arrow_word else [])]:
        baseline -= LINE_PITCH * height
        labels.append(Label(text=text, at=(left, baseline), height=height))
    if not arrow_word:
        return tuple(labels), ()
    start = left + (len(arrow_word) + 1) * LETTER_WIDTH * height
    length = (_ARROW_LETTERS - 1) * LETTER_WIDTH * height
    return tuple(labels), double_arrow((start, baseline + 0.35 * height), length, head=0.5 * height)


def double_arrow(start: tuple[float, float], length: float, *, head: float) -> tuple[Path, ...]:
    """Arrow with two heads along x, for the warp: a shaft and its heads."""
    a = np.array(start)
    b = a + np.array([length, 0.0])
    wing = np.array([[head, head / 2], [0.0, 0.0], [head, -head / 2]])
    parts = (np.array([a, b]), a + wing, b + wing * [-1.0, 1.0])
    return tuple(Path(points=points, closed=False, kind="mark") for points in parts)


def free_room(
    sewn: FloatArray, holes: Sequence[FloatArray], marks: Sequence[Path], tags: Sequence[Label]
) -> BaseGeometry:
    """Part of a piece inside its sewing line where no hole, mark or tag is."""
    taken = [Polygon(hole).buffer(2.0) for hole in holes]
    taken += [
        (LineString(mark.loop) if len(mark.points) > 1 else Point(mark.points[0])).buffer(1.5)
        for mark in marks
    ]
    taken += [Polygon(tag.corners).buffer(1.0) for tag in tags]
    free = Polygon(sewn).buffer(-2.0)
    return free.difference(unary_union(taken)) if taken else free
