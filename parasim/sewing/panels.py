"""Skin panels, laid flat. Everything in millimetres.

A panel is drawn with its front to the left, seen from above, so that its right edge is on top; the right
half of the canopy is drawn, and the left half cut from the same templates turned over.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, pi
from typing import Literal

import numpy as np

from parasim.config.design import Design
from parasim.drawing.drawing import Label, Path
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import brake_tabs
from parasim.geometry.rigging import QUARTER_CHORD
from parasim.geometry.seams import billow_of, bulge_share
from parasim.geometry.surface import lower_section, upper_section, upper_skin_section
from parasim.rotations import FloatArray
from parasim.sewing.allowance import NOTCH_SHARE, Edge, notch_places, notches, outward_tick
from parasim.sewing.flatten import arc_length, developed_strip, strip_width
from parasim.sewing.pieces import Piece
from parasim.sewing.ribs import notch_spaces

Skin = Literal["top", "bottom"]

_TAG = 4.0
_REAR_NOTCHES = (0.2, 0.3, 0.4)
_CROSS = 3.0  # of a notch to either side of a line inside a panel [mm]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """One panel of one skin: where it is, and its edges laid flat.

    Attributes
    ----------
    skin : {"top", "bottom"}
        Which skin.
    number : int
        From the left tip, from 1.
    ribs : tuple of int
        Ribs it is sewn to, left to right, from 1; three on a panel of a whole cell.
    chords : tuple of float
        Of the left and the right rib. [mm]
    left, right : ndarray, shape (n, 2)
        Flat edges, front to rear. [mm]
    ease : float
        Length of the middle rib's edge less that of the middle line; 0 without a middle rib. [mm]
    brake_tabs : tuple of (int, float)
        Number of each brake tab and its place along the rear edge, 0 at the left, 1 at the right.
    rear_notch : float
        Of the notch in the rear edge from its left end, in the right half nearer to the canopy's centre: the
        same on both skins, so that neither can be sewn in turned over. [mm]
    """

    skin: Skin
    number: int
    ribs: tuple[int, ...]
    chords: tuple[float, float]
    left: FloatArray
    right: FloatArray
    ease: float
    brake_tabs: tuple[tuple[int, float], ...] = ()
    rear_notch: float

    @property
    def pattern(self) -> tuple[object, ...]:
        """What makes it the same template as another."""
        return (*(round(chord, 3) for chord in self.chords), round(self.rear_notch, 3), *self.brake_tabs)


def strips(design: Design, canopy: Canopy, skin: Skin) -> Iterator[Strip]:
    """All panels of a skin, left tip to right."""
    per_cell = canopy.n_half_cells // canopy.n_cells
    step = per_cell if design.sewing.panel == "cell" else 1
    section = upper_skin_section(canopy) if skin == "top" else lower_section(canopy)
    billow = billow_of(design, canopy) * bulge_share(section[:, 0])
    tabs = _tab_angles(design, canopy)
    for number, first in enumerate(range(0, canopy.n_half_cells, step), start=1):
        angles = canopy.rib_angle[first : first + step + 1]
        chords = 1e3 * canopy.chord_at(angles)
        edges = [chord * (section - [QUARTER_CHORD, 0.0]) for chord in chords]
        width = sum(
            (
                strip_width(canopy, left=a, right=b, arc_angle=float(angles[1] - angles[0]), billow=billow)
                for a, b in pairwise(edges)
            ),
            start=np.zeros(len(section)),
        )
        left, right = developed_strip(left=edges[0], right=edges[-1], width=width)
        middle = arc_length((left + right) / 2)[-1]
        brakes = tuple(
            (i, round(float((tab - angles[0]) / (angles[-1] - angles[0])), 6))
            for i, tab in enumerate(tabs, start=1)
            if angles[0] <= tab < angles[-1]
        )
        yield Strip(
            skin=skin,
            number=number,
            ribs=tuple(range(first + 1, first + step + 2)),
            chords=(float(chords[0]), float(chords[-1])),
            left=left,
            right=right,
            ease=float(arc_length(edges[1])[-1] - middle) if step == 2 else 0.0,
            brake_tabs=brakes if skin == "bottom" else (),
            rear_notch=max(_REAR_NOTCHES, key=lambda place: _clear_of(place, brakes))
            * 1e3
            * canopy.arc_radius
            * float(angles[-1] - angles[0]),
        )


def _clear_of(place: float, brakes: Sequence[tuple[int, float]]) -> float:
    """Distance of a notch from the nearest brake tab, as far as it matters; both along the rear edge. [-]"""
    return min(0.1, *(abs(place - at) for _, at in brakes), 1.0)


def _tab_angles(design: Design, canopy: Canopy) -> tuple[float, ...]:
    """Arc angles of the right side's brake tabs, from the inside out. [rad]"""
    y, z = (brake_tabs(design, canopy) - canopy.quarter_chord)[:, 1:].T
    return tuple(np.arctan2(y, canopy.arc_radius - z).tolist())


def panel_pieces(design: Design, canopy: Canopy) -> tuple[Piece, ...]:
    """Templates of both skins; panels that are alike, or alike when turned over, are one template."""
    return tuple(
        piece
        for skin in ("top", "bottom")
        for piece in _of_skin(design, canopy, list(strips(design, canopy, skin)))
    )


def _of_skin(design: Design, canopy: Canopy, all_strips: list[Strip]) -> Iterator[Piece]:
    n = len(all_strips)
    groups: dict[tuple[object, ...], list[Strip]] = {}
    for strip in all_strips[n // 2 :]:
        groups.setdefault(strip.pattern, []).append(strip)
    for alike in groups.values():
        numbers = [strip.number for strip in alike]
        others = [n + 1 - number for number in numbers if 2 * number != n + 1]
        yield _panel(design, canopy, alike[0], tuple(numbers), tuple(sorted(others)), alone=len(groups) == 1)


def _panel(
    design: Design,
    canopy: Canopy,
    strip: Strip,
    numbers: tuple[int, ...],
    others: tuple[int, ...],
    *,
    alone: bool,
) -> Piece:
    seam, hem = 1e3 * design.sewing.seam_allowance, 1e3 * design.sewing.hem
    left, right = strip.left, strip.right
    free = len(left) - len(upper_section(canopy)) if strip.skin == "top" else 0  # points ahead of the ribs
    sides = (
        Edge(name="left", points=left[free:], allowance=seam),
        Edge(name="right", points=right[free:][::-1], allowance=seam),
    )
    rear = Edge(name="rear", points=np.array([left[-1], right[-1]]), allowance=hem)
    front = Edge(name="front", points=np.array([right[0], left[0]]), allowance=hem, kind="fold")
    ahead = [
        Edge(name=f"{name} overhang", points=points, allowance=hem, kind="fold")
        for name, points in (("left", left[: free + 1]), ("right", right[: free + 1][::-1]))
        if free
    ]
    edges = (*ahead[:1], sides[0], rear, sides[1], *ahead[1:], front)
    spaces = notch_spaces(canopy, design.sewing)[strip.skin == "bottom"]
    marks = [
        notch
        for edge in sides
        for notch in notches(edge, notch_places(edge.length, spaces), double=strip.skin == "bottom")
    ]
    marks.append(outward_tick(rear, strip.rear_notch, inner=0.0, outer=NOTCH_SHARE * hem))
    if len(strip.ribs) == 3:
        middle = Edge(name="middle", points=((left + right) / 2)[free:], allowance=0.0)
        marks.append(Path(points=middle.points, closed=False, kind="sew"))
        marks += [
            outward_tick(middle, float(place), inner=_CROSS, outer=_CROSS)
            for place in notch_places(middle.length, spaces)
        ]
    tabs, tags = _brake_marks(strip, rear, hem)
    return Piece(
        name=f"{strip.skin} panel" if alone else f"{strip.skin} panel {numbers[0]}",
        where=f"{'panel' if len(numbers) == 1 else 'panels'} {_span_of(numbers)}"
        + (f"; mirrored: {_span_of(others)}" if others else ""),
        kind="panel",
        places=numbers,
        mirrored_places=others,
        count=len(numbers) + len(others),
        edges=edges,
        marks=(*marks, *tabs),
        tags=(*_edge_tags(strip, several=len(numbers) > 1), *tags),
        view="seen from above",
        ease=strip.ease,
    )


def _span_of(numbers: tuple[int, ...]) -> str:
    whole = len(numbers) > 2 and numbers == tuple(range(numbers[0], numbers[-1] + 1))
    return f"{numbers[0]} to {numbers[-1]}" if whole else ", ".join(map(str, numbers))


def _brake_marks(strip: Strip, rear: Edge, hem: float) -> tuple[list[Path], list[Label]]:
    marks, tags = [], []
    for number, share in strip.brake_tabs:
        distance = share * rear.length
        marks.append(outward_tick(rear, distance, inner=_TAG, outer=hem))
        at = rear.points[0] + share * (rear.points[1] - rear.points[0]) + [-1.5 * _TAG, -0.35 * _TAG]
        text = f"brake tab {number}"
        tags.append(Label(text=text, at=(float(at[0]), float(at[1])), height=_TAG, anchor="end"))
    return marks, tags


def _edge_tags(strip: Strip, *, several: bool) -> list[Label]:
    """Which edge is which: front and trailing edge, and the ribs to left and right."""
    front = (strip.left[0] + strip.right[0]) / 2
    rear = (strip.left[-1] + strip.right[-1]) / 2
    across = strip.right[-1] - strip.left[-1]
    inset = 3.0
    middle_rib = len(strip.ribs) == 3
    shift = -0.25 * float(np.hypot(*(strip.right[0] - strip.left[0]))) if middle_rib else 0.0
    words = {"top": "upper lip", "bottom": "lower lip"}
    tags = [
        Label(text=words[strip.skin], at=(front[0] + inset + 0.8 * _TAG, front[1] + shift), height=_TAG,
              angle=pi / 2, anchor="middle"),
    ]  # fmt: skip
    if not strip.brake_tabs:
        tags.append(Label(text="trailing edge", at=(rear[0] - inset, rear[1] + shift), height=_TAG,
                          angle=atan2(across[1], across[0]), anchor="middle"))  # fmt: skip
    at = len(strip.left) * 5 // 9
    left, right = strip.left[at], strip.right[at]
    names = ("left", "right") if several else tuple(f"rib {rib}" for rib in (strip.ribs[0], strip.ribs[-1]))
    tags.append(Label(text=names[0], at=(left[0], left[1] + inset), height=_TAG, anchor="middle"))
    tags.append(
        Label(text=names[1], at=(right[0], right[1] - inset - 0.8 * _TAG), height=_TAG, anchor="middle")
    )
    return tags
