"""The line set: tabs, cascades, brake fans, straight lengths.

Rows are named front to rear. A cascade joins two or more rows of one rib at a junction; below it one trunk
runs to the riser end. Left lines go to the left riser end, right lines to the right one; a centre rib, which an
even number of cells has, hangs from both.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from parasim.config.design import Design
from parasim.config.lines import CascadeSpec
from parasim.geometry.canopy import Canopy
from parasim.rotations import FloatArray

BRAKE_FAN_HEIGHT = 0.7
"""Where the brake fan opens, from riser end to trailing edge. Common practice, no source."""

LineKind = Literal["row", "trunk", "branch", "brake"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """One straight piece of line.

    Attributes
    ----------
    kind : {"row", "trunk", "branch", "brake"}
        A whole line of a row, the part below a junction, a part above it, or brake line.
    rows : tuple of str
        The rows it holds; ("brake",) for brake lines.
    rib : int
        Index of the loaded rib, left to right from 0; -1 for a brake trunk.
    start, end : ndarray, shape (3,)
        Lower and upper end, body axes. [m]
    """

    kind: LineKind
    rows: tuple[str, ...]
    rib: int
    start: FloatArray
    end: FloatArray

    @property
    def length(self) -> float:
        """Straight, under tension. [m]"""
        return float(np.linalg.norm(self.end - self.start))


@dataclass(frozen=True, kw_only=True, eq=False)
class LineSet:
    """All lines of a canopy, in the pose that they give it.

    Attributes
    ----------
    lines : tuple of Line
        Every piece.
    straight : dict of str to ndarray, shape (n_loaded_ribs,)
        For each row, riser end straight to the tab, as if there were no cascades. [m]
    riser_ends : ndarray, shape (2, 3)
        Left and right, body axes. [m]
    diameter, linear_density : float
        Of the line stock. [m], [kg/m]
    """

    lines: tuple[Line, ...]
    straight: dict[str, FloatArray]
    riser_ends: FloatArray
    diameter: float
    linear_density: float

    @property
    def total_length(self) -> float:
        """Every piece, brake lines included. [m]"""
        return sum(line.length for line in self.lines)


def junction(*, start: FloatArray, tabs: FloatArray, load: FloatArray, height: float) -> FloatArray:
    """Where a cascade joins.

    On the straight line from the lower end to the load-weighted mean of the tabs, at `height` of its length:
    there the trunk pulls towards the resultant of its branches to first order in their spread.

    Parameters
    ----------
    start : ndarray, shape (3,)
        Lower end of the trunk. [m]
    tabs : ndarray, shape (n_rows, 3)
        Upper ends of the branches. [m]
    load : ndarray, shape (n_rows,)
        Share of each, any scale. [-]
    height : float
        0 at the lower end, 1 at the tabs. [-]

    Returns
    -------
    ndarray, shape (3,)
        [m]
    """
    mean_tab = load @ tabs / load.sum()
    return start + height * (mean_tab - start)


def build_lines(design: Design, canopy: Canopy) -> LineSet:
    """Line set of a design on its canopy."""
    spec = design.lines
    names = list(spec.rows)
    tabs = canopy.tabs(np.array([spec.rows[name] for name in names]))
    riser_ends = np.array([[0.0, side * spec.riser.spread / 2, 0.0] for side in (-1, 1)])
    rib_angle = canopy.rib_angle[canopy.loaded_ribs]
    start = riser_ends[(rib_angle > 0).astype(int)]
    held = [
        (rib, end) for rib, angle in enumerate(rib_angle) for end in _riser_ends_of(float(angle), riser_ends)
    ]
    at_tab = {name: tabs[i] for i, name in enumerate(names)}
    joined = {name for cascade in spec.cascades for name in cascade.rows}
    lines = [
        Line(kind="row", rows=(name,), rib=rib, start=riser_end, end=at_tab[name][rib])
        for name in names
        if name not in joined
        for rib, riser_end in held
    ]
    for cascade in spec.cascades:
        for rib, riser_end in held:
            lines += _cascade_lines(cascade, rib, riser_end, at_tab)
    return LineSet(
        lines=(*lines, *_brake_lines(design, canopy, riser_ends)),
        straight={name: np.linalg.norm(at_tab[name] - start, axis=-1) for name in names},
        riser_ends=riser_ends,
        diameter=spec.diameter,
        linear_density=spec.linear_density,
    )


def _riser_ends_of(rib_angle: float, riser_ends: FloatArray) -> FloatArray:
    """Riser ends that a rib's lines run to: its own side's, or both at the centre."""
    if abs(rib_angle) < 1e-9:
        return riser_ends
    return riser_ends[1:] if rib_angle > 0 else riser_ends[:1]


def _cascade_lines(
    cascade: CascadeSpec, rib: int, start: FloatArray, at_tab: dict[str, FloatArray]
) -> list[Line]:
    ends = np.array([at_tab[name][rib] for name in cascade.rows])
    joint = junction(start=start, tabs=ends, load=np.array(cascade.load), height=cascade.height)
    trunk = Line(kind="trunk", rows=tuple(cascade.rows), rib=rib, start=start, end=joint)
    return [
        trunk,
        *(
            Line(kind="branch", rows=(name,), rib=rib, start=joint, end=end)
            for name, end in zip(cascade.rows, ends, strict=True)
        ),
    ]


def brake_tab_angles(canopy: Canopy, span_fraction: float, n_branches: int) -> FloatArray:
    """Arc angles of the right side's brake tabs, each in the middle of its part of the braked span. [rad]

    Parameters
    ----------
    canopy : Canopy
        Whose trailing edge.
    span_fraction : float
        Outer part of each half span that is braked. [-]
    n_branches : int
        Of the fan.

    Returns
    -------
    ndarray, shape (n_branches,)
        Inner to outer.
    """
    inner = canopy.half_arc * (1 - span_fraction)
    return np.linspace(inner, canopy.half_arc, 2 * n_branches + 1)[1::2]


def brake_tabs(design: Design, canopy: Canopy) -> FloatArray:
    """Where the right side's brake fan holds the trailing edge: shape (n_branches, 3), body axes. [m]"""
    angle = brake_tab_angles(canopy, design.brakes.span_fraction, design.brakes.branches)
    return canopy.point(angle, np.array(1.0), np.array(0.0))


def _brake_lines(design: Design, canopy: Canopy, riser_ends: FloatArray) -> list[Line]:
    right = brake_tabs(design, canopy)
    lines = []
    for side, start in zip((-1, 1), riser_ends, strict=True):
        ends = right * np.array([1, side, 1])
        joint = junction(start=start, tabs=ends, load=np.ones(len(ends)), height=BRAKE_FAN_HEIGHT)
        lines.append(Line(kind="brake", rows=("brake",), rib=-1, start=start, end=joint))
        lines += [Line(kind="brake", rows=("brake",), rib=-1, start=joint, end=end) for end in ends]
    return lines
