"""Drawings laid side by side on a sheet. Everything in millimetres."""

from collections.abc import Sequence
from typing import NamedTuple

from parasim.drawing.drawing import Box, Drawing

GAP = 10.0
"""Between pieces. [mm]"""


class Spot(NamedTuple):
    """Lower left corner of a piece's room. [mm]"""

    x: float
    y: float


def columns(sizes: Sequence[tuple[float, float]], tall: float, gap: float = GAP) -> tuple[list[Spot], float]:
    """Pile rectangles up in columns, in the order given.

    Parameters
    ----------
    sizes : sequence of (float, float)
        Width and height of each. [mm]
    tall : float
        Most height of a column; a taller rectangle gets one of its own. [mm]
    gap : float
        Between any two. [mm]

    Returns
    -------
    spots : list of Spot
        In the same order.
    length : float
        Of all columns together. [mm]

    Examples
    --------
    >>> spots, length = columns([(100, 40), (80, 40), (50, 40)], 100)
    >>> spots, length
    ([Spot(x=0.0, y=0.0), Spot(x=0.0, y=50.0), Spot(x=110.0, y=0.0)], 160.0)
    """
    spots: list[Spot] = []
    x = y = wide = 0.0
    for width, height in sizes:
        if y > 0 and y + height > tall:
            x, y, wide = x + wide + gap, 0.0, 0.0
        spots.append(Spot(x, y))
        y += height + gap
        wide = max(wide, float(width))
    return spots, x + wide


def sheet(drawings: Sequence[Drawing], tall: float) -> tuple[Drawing, ...]:
    """Drawings moved side by side, long ones first, in columns at most `tall` high. [mm]"""
    ordered = sorted(drawings, key=lambda drawing: -drawing.box.width)
    boxes = [drawing.box for drawing in ordered]
    spots, _ = columns([(box.width, box.height) for box in boxes], tall)
    return tuple(
        drawing.moved(spot.x - box.left, spot.y - box.bottom)
        for drawing, box, spot in zip(ordered, boxes, spots, strict=True)
    )


def joined_box(drawings: Sequence[Drawing]) -> Box:
    """Round all drawings."""
    boxes = [drawing.box for drawing in drawings]
    return Box(
        left=min(box.left for box in boxes),
        bottom=min(box.bottom for box in boxes),
        right=max(box.right for box in boxes),
        top=max(box.top for box in boxes),
    )
