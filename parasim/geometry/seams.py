"""Where the canopy is sewn: edges of ribs and skins, how much is sewn there, and how wide the skin is cut."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import sin

import numpy as np

from parasim.config.design import Design
from parasim.geometry.airfoil import lower_surface, upper_surface
from parasim.geometry.canopy import Canopy
from parasim.geometry.surface import nose_section, skin_points
from parasim.rotations import FloatArray

PATCH_HEIGHT = 0.55
"""Most height of a patch over the thickness of the rib there. [-] Our choice."""

THREAD_PER_SEAM = 3.0
"""Thread, needle and bobbin together, over the length of a seam of one row of stitches. [-]

A lockstitch takes 2.5 to 2.8 in thin cloth; the rest is ends and waste. Common practice, no source.
"""

STABILISER_FRONT = 0.10
"""Where a stabiliser begins, over tip chord from the leading edge. [-] Our choice."""

TAB_LENGTH = 0.020
"""How far the loop of a tab stands out of its seam, from the stitching to the loop's end. [m]

Common practice, no source.
"""

TAB_TAIL = 0.010
"""Either tail of a tab, in the seam. [m] Common practice, no source."""

TAB_TAPE = 2 * (TAB_LENGTH + TAB_TAIL)
"""Tape for one tab: its loop there and back, and two tails. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seams:
    """Lines along which the canopy is sewn, cut into short straight pieces.

    Attributes
    ----------
    middle : ndarray, shape (n_lines, n_pieces, 3)
        Of each piece, body axes. [m]
    piece : ndarray, shape (n_lines, n_pieces)
        Its length. [m]
    """

    middle: FloatArray
    piece: FloatArray

    @property
    def length(self) -> FloatArray:
        """Of each line, shape (n_lines,). [m]"""
        return self.piece.sum(axis=1)

    @property
    def total(self) -> float:
        """Of all lines. [m]"""
        return float(self.piece.sum())


def along(points: FloatArray) -> Seams:
    """Seams through points, shape (n_lines, n, 3)."""
    start, end = points[:, :-1], points[:, 1:]
    return Seams(middle=(start + end) / 2, piece=np.linalg.norm(end - start, axis=-1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CanopySeams:
    """Every seam of a canopy.

    Attributes
    ----------
    top, bottom, nose : Seams
        Edges of each rib, left tip to right: at the top skin, at the bottom skin, the free one in the inlet.
    upper_lip, lower_lip, trailing_edge : Seams
        Along the arc, one line each.
    """

    top: Seams
    bottom: Seams
    nose: Seams
    upper_lip: Seams
    lower_lip: Seams
    trailing_edge: Seams


def build_seams(canopy: Canopy) -> CanopySeams:
    """Seams of a canopy."""
    top, bottom = (skin_points(canopy, per_half_cell=1, upper=upper) for upper in (True, False))
    fine = [skin_points(canopy, per_half_cell=2, upper=upper) for upper in (True, False)]
    return CanopySeams(
        top=along(top),
        bottom=along(bottom),
        nose=along(_noses(canopy)),
        upper_lip=along(fine[0][None, :, 0]),
        lower_lip=along(fine[1][None, :, 0]),
        trailing_edge=along(fine[0][None, :, -1]),
    )


def _noses(canopy: Canopy) -> FloatArray:
    """Free edges of the ribs, upper to lower lip; straight where the nose is cut off."""
    nose = nose_section(canopy)
    return canopy.point(canopy.rib_angle[:, None], nose[None, :, 0], nose[None, :, 1])


def panel_edges(design: Design, canopy: Canopy) -> FloatArray:
    """Edges of panels that are sewn to each rib, of one skin: 1 at the tips, 2 where panels meet, else 0."""
    step = canopy.n_half_cells // canopy.n_cells if design.sewing.panel == "cell" else 1
    edges = np.zeros(canopy.n_ribs)
    edges[::step] = 2.0
    edges[[0, -1]] = 1.0
    return edges


def default_billow(canopy: Canopy) -> float:
    """Extra width for the bulge when the design gives none, over the width between ribs. [-]

    The cloth between two ribs is taken as a circular arc that leaves each rib at the arc angle p of one
    whole cell, so the extra width is p / sin p - 1. Our choice, no source: it is the bulge with which the
    skin turns as much between two ribs as the whole canopy does over two cells.
    """
    angle = canopy.span / (canopy.arc_radius * canopy.n_cells)
    return angle / sin(angle) - 1


def billow_of(design: Design, canopy: Canopy) -> float:
    """Extra width for the bulge over the half cell's width at mid-chord, given or from the arc. [-]"""
    given = design.sewing.billow
    return default_billow(canopy) if given is None else given


def bulge_share(chordwise: FloatArray) -> FloatArray:
    """Share of the billow along a panel: one at mid-chord, zero at its front and rear edge.

    Parameters
    ----------
    chordwise : ndarray, shape (n,)
        Chord ratios from the front to the rear edge. [-]
    """
    front, rear = chordwise[0], chordwise[-1]
    t = (chordwise - front) / (rear - front)
    return np.asarray(np.clip(4 * t * (1 - t), 0.0, 1.0))


def patch_heights(design: Design, canopy: Canopy) -> Mapping[str, float]:
    """Height of the patch at the tabs of each row, made to fit the tip rib. [m]"""
    tip = canopy.root_chord * canopy.taper
    heights = {}
    for row, x in design.lines.rows.items():
        thickness = float(upper_surface(canopy.outline, x) - lower_surface(canopy.outline, x)) * tip
        heights[row] = min(design.sewing.patch, PATCH_HEIGHT * thickness)
    return heights


def tab_count(design: Design, canopy: Canopy) -> int:
    """Tabs to sew in: one for each row on each loaded rib, the stabilisers' and the brakes' on both sides."""
    n_loaded = len(range(canopy.n_ribs)[canopy.loaded_ribs])
    fins = design.canopy.stabilisers
    at_fins = 2 * len(fins.rows) if fins else 0
    return n_loaded * len(design.lines.rows) + at_fins + 2 * design.brakes.branches
