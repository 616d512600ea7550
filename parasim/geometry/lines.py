"""The line set: tabs, cascades, brake fans, straight lengths.

Rows are named front to rear. A cascade joins two or more rows of one rib at a junction; below it one trunk
runs to the riser end. Left lines go to the left riser end, right lines to the right one; a centre rib, which
an even number of cells has, hangs from both.

Every straight piece has a label: rib (counted from 1 at the left tip, unloaded ribs too), side of its riser
end, and the rows that it holds. `03L-A+B` is the trunk of rows A and B, `03L-A` the branch above it or a
whole line; brake lines are labelled by the branches they hold, inner to outer: `L-brake-1+2`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np

from parasim.config.design import Design
from parasim.config.lines import CascadeSpec
from parasim.geometry.brake_ring import BrakeRings, build_brake_rings
from parasim.geometry.canopy import Canopy
from parasim.geometry.cascade import balanced_joint, junction, trunk_load
from parasim.geometry.fin_lines import fin_places, fin_tabs, riser_of_fin_row
from parasim.geometry.risers import load_point, riser_ends, riser_of_row
from parasim.rotations import FloatArray

LineKind = Literal["row", "trunk", "branch", "fin", "brake"]
Side = Literal["L", "R"]
SIDES: tuple[Side, Side] = ("L", "R")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """One straight piece of line.

    Attributes
    ----------
    kind : {"row", "trunk", "branch", "fin", "brake"}
        A whole line of a row, the part below a junction, a part above it, one to a stabiliser, or brake line.
    rows : tuple of str
        The rows it holds; ("brake",) for brake lines.
    rib : int
        Index of the loaded rib, left to right from 0; -1 for brake line.
    side : {"L", "R"}
        Of its riser end.
    label : str
        As in the head of this module.
    start, end : ndarray, shape (3,)
        Lower and upper end, body axes. [m]
    through : bool
        Whether it is part of a line that runs unbroken through a junction.
    """

    kind: LineKind
    rows: tuple[str, ...]
    rib: int
    side: Side
    label: str
    start: FloatArray
    end: FloatArray
    through: bool = False

    @property
    def length(self) -> float:
        """Straight, under tension. [m]"""
        return float(np.linalg.norm(self.end - self.start))

    @property
    def at_tab(self) -> bool:
        """Whether its upper end is at a tab, not at a joint."""
        return len(brake_branches(self.label)) == 1 if self.kind == "brake" else self.kind != "trunk"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hold:
    """What one line at a riser end holds: a tab, or by a cascade several tabs of one rib.

    Attributes
    ----------
    lines : tuple of Line
        The whole line; or the trunk, then its branches.
    share : ndarray, shape (n_tabs,)
        Of each tab in the load; adds to one. [-]
    """

    lines: tuple[Line, ...]
    share: FloatArray

    @property
    def rib(self) -> int:
        """Index of the loaded rib."""
        return self.lines[0].rib

    @property
    def side(self) -> Side:
        """Of the riser end."""
        return self.lines[0].side

    @property
    def uppers(self) -> tuple[Line, ...]:
        """The lines that reach the tabs."""
        return self.lines[1:] or self.lines

    @property
    def start(self) -> FloatArray:
        """Riser end, shape (3,). [m]"""
        return self.lines[0].start

    @property
    def tabs(self) -> FloatArray:
        """Tabs held, shape (n_tabs, 3). [m]"""
        return np.array([line.end for line in self.uppers])

    @property
    def is_cascade(self) -> bool:
        """Whether lines join on the way."""
        return len(self.lines) > 1

    @property
    def tension_ratio(self) -> FloatArray:
        """Tension of each of `lines` over the summed pull on the tabs; a trunk has less than one. [-]"""
        if not self.is_cascade:
            return np.ones(1)
        along = trunk_load(start=self.start, joint=self.lines[0].end, tabs=self.tabs, load=self.share)
        return np.append(along, self.share)

    @property
    def pull(self) -> FloatArray:
        """Force on the canopy over the summed pull on the tabs, shape (3,). [-]"""
        down = np.array([line.start - line.end for line in self.uppers])
        return self.share @ (down / np.linalg.norm(down, axis=-1, keepdims=True))

    def misfit(self, moved: FloatArray, change: Mapping[str, float]) -> tuple[float, FloatArray]:
        """How much too long lines of changed length are for a canopy that moved, and the slope of that.

        Parameters
        ----------
        moved : ndarray, shape (3,)
            Shift of all tabs. [m]
        change : mapping
            Label to added length; zero for labels that are not in it. [m]

        Returns
        -------
        misfit : float
            Mean by load of the line left over at the tabs, positive for slack. [m]
        slope : ndarray, shape (3,)
            By `moved`. [-]

        Notes
        -----
        With its trunk taut, the joint of a cascade goes where the branches balance under their shares. There
        the mean length by load is smallest, so that the joint's own motion does not enter the slope.
        """
        tabs = self.tabs + moved
        foot = self.start
        if self.is_cascade:
            trunk = self.lines[0].length + change.get(self.lines[0].label, 0.0)
            foot = balanced_joint(start=self.start, tabs=tabs, load=self.share, trunk=trunk)
        reach = np.linalg.norm(tabs - foot, axis=-1)
        there = np.array([line.length + change.get(line.label, 0.0) for line in self.uppers])
        return float(self.share @ (there - reach)), -self.share @ ((tabs - foot) / reach[:, None])


@dataclass(frozen=True, kw_only=True, eq=False)
class LineSet:
    """All lines of a canopy, in the pose that they give it.

    Attributes
    ----------
    holds : tuple of Hold
        Rows, cascaded or not: rib by rib as they were built.
    fins : tuple of Line
        From the stabilisers' lower edges to the riser ends: they hold no pose.
    brakes : tuple of Line
        Both sides.
    straight : dict of str to ndarray, shape (n_loaded_ribs,)
        For each row, riser end straight to the tab, as if there were no cascades. [m]
    riser_ends : ndarray, shape (2, 3) or (4, 3)
        Left and right, body axes; or front left, front right, rear left, rear right. [m]
    load_point : ndarray, shape (3,)
        On the payload, at the height of its centre of mass: what the load hangs on, body axes. The confluence
        where a payload swings about it. [m]
    diameter, linear_density : float
        Of the line stock. [m], [kg/m]
    rings : BrakeRings or None
        That the brake lines run through.
    """

    holds: tuple[Hold, ...]
    brakes: tuple[Line, ...]
    straight: dict[str, FloatArray]
    riser_ends: FloatArray
    load_point: FloatArray
    diameter: float
    linear_density: float
    rings: BrakeRings | None = None
    fins: tuple[Line, ...] = ()

    @property
    def brake_ends(self) -> FloatArray:
        """Riser ends, or rings, that brake lines run to, left and right: shape (2, 3), body axes. [m]"""
        return self.riser_ends[-2:] if self.rings is None else self.rings.place

    @property
    def brake_trunk(self) -> Line:
        """Lowest piece of the right brake line."""
        return next(line for line in self.brakes if line.side == "R")

    @property
    def brake_bend(self) -> float | None:
        """Angle by which a brake line turns at its ring; None without rings. [rad]"""
        return None if self.rings is None else self.rings.bend(self.brake_trunk.end)

    @property
    def lines(self) -> tuple[Line, ...]:
        """Every straight piece."""
        return (*(line for hold in self.holds for line in hold.lines), *self.fins, *self.brakes)

    @property
    def tab_lines(self) -> tuple[Line, ...]:
        """Those that end at a tab."""
        return tuple(line for line in self.lines if line.at_tab)

    @property
    def total_length(self) -> float:
        """Every piece, brake lines included. [m]"""
        return sum(line.length for line in self.lines)

    @property
    def ways(self) -> dict[str, tuple[str, ...]]:
        """Label of each line at a tab of the canopy to those from the riser end up to it, itself the last."""
        ends = [line for line in self.tab_lines if line.kind != "fin"]
        return {end.label: tuple(line.label for line in self.path(end)) for end in ends}

    def path(self, end: Line) -> tuple[Line, ...]:
        """Lines from the riser end up to and with one that ends at a tab."""
        if end.kind == "brake":
            held = set(brake_branches(end.label))
            same_side = [line for line in self.brakes if line.side == end.side]
            below = [line for line in same_side if held <= set(brake_branches(line.label))]
            return tuple(sorted(below, key=lambda line: -len(brake_branches(line.label))))
        if end.kind == "fin":
            return (end,)
        hold = next(hold for hold in self.holds if end in hold.lines)
        return (hold.lines[0], end) if hold.is_cascade else (end,)


def build_lines(design: Design, canopy: Canopy) -> LineSet:
    """Line set of a design on its canopy."""
    spec = design.lines
    names = list(spec.rows)
    tabs = canopy.tabs(np.array([spec.rows[name] for name in names]))
    at_tab = {name: tabs[i] for i, name in enumerate(names)}
    ends = riser_ends(design, canopy)
    at_riser = {name: ends[2 * riser : 2 * riser + 2] for name, riser in riser_of_row(design).items()}
    joined = {name for cascade in spec.cascades for name in cascade.rows}
    holds = [
        Hold(lines=(hung.line("row", (name,), at_tab[name]),), share=np.ones(1))
        for name in names
        if name not in joined
        for hung in _hung_ribs(canopy, at_riser[name])
    ]
    for cascade in spec.cascades:
        holds += _cascade_holds(cascade, _hung_ribs(canopy, at_riser[cascade.rows[0]]), at_tab)
    right = (canopy.rib_angle[canopy.loaded_ribs] > 0).astype(int)
    rings = build_brake_rings(design, canopy)
    brake_ends = ends[-2:] if rings is None else rings.place
    return LineSet(
        holds=tuple(holds),
        brakes=tuple(_brake_lines(design, canopy, brake_ends)),
        straight={name: np.linalg.norm(at_tab[name] - at_riser[name][right], axis=-1) for name in names},
        riser_ends=ends,
        load_point=load_point(design, canopy),
        diameter=spec.diameter,
        linear_density=spec.linear_density,
        rings=rings,
        fins=_fin_lines(design, canopy, ends),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _HungRib:
    """A loaded rib and a riser end that its lines run to."""

    rib: int
    number: int
    side: Side
    riser_end: FloatArray

    def line(
        self,
        kind: LineKind,
        rows: tuple[str, ...],
        ends: Mapping[int, FloatArray] | FloatArray,
        *,
        start: FloatArray | None = None,
        through: bool = False,
    ) -> Line:
        """Line of this rib from `start`, else the riser end, to where `ends` has it for this rib."""
        return Line(
            kind=kind,
            rows=rows,
            rib=self.rib,
            side=self.side,
            label=f"{self.number:02d}{self.side}-{'+'.join(rows)}",
            start=self.riser_end if start is None else start,
            end=ends[self.rib],
            through=through,
        )


def _hung_ribs(canopy: Canopy, ends: FloatArray) -> list[_HungRib]:
    """Each loaded rib with its own side's riser end, or with both at the centre."""
    numbers = range(1, canopy.n_ribs + 1)[canopy.loaded_ribs]
    hung = []
    for rib, (number, angle) in enumerate(zip(numbers, canopy.rib_angle[canopy.loaded_ribs], strict=True)):
        sides = (0, 1) if abs(angle) < 1e-9 else (int(angle > 0),)
        hung += [_HungRib(rib=rib, number=number, side=SIDES[i], riser_end=ends[i]) for i in sides]
    return hung


def _fin_lines(design: Design, canopy: Canopy, ends: FloatArray) -> tuple[Line, ...]:
    """Left and right line of every tab, just taut with the fin hanging flat as it is drawn."""
    places, risers = fin_places(design, canopy), riser_of_fin_row(design, canopy)
    if not places:
        return ()
    tips = _hung_ribs(canopy, ends[:2])
    lines = []
    for name, tabs in zip(places, fin_tabs(canopy, np.array(list(places.values()))), strict=True):
        for hung, tab, end in zip((tips[0], tips[-1]), tabs, ends[2 * risers[name] :], strict=False):
            lines.append(hung.line("fin", (name,), {hung.rib: tab}, start=end))
    return tuple(lines)


def _cascade_holds(
    cascade: CascadeSpec, hung_ribs: list[_HungRib], at_tab: dict[str, FloatArray]
) -> list[Hold]:
    rows = tuple(cascade.rows)
    share = np.array(cascade.load) / sum(cascade.load)
    rib = [hung.rib for hung in hung_ribs]
    joints = junction(
        start=np.array([hung.riser_end for hung in hung_ribs]),
        tabs=np.array([at_tab[name][rib] for name in rows]),
        load=share,
        height=cascade.height,
    )
    holds = []
    for hung, joint in zip(hung_ribs, joints, strict=True):
        trunk = hung.line("trunk", rows, {hung.rib: joint}, through=cascade.through is not None)
        branches = [
            hung.line("branch", (name,), at_tab[name], start=joint, through=name == cascade.through)
            for name in rows
        ]
        holds.append(Hold(lines=(trunk, *branches), share=share))
    return holds


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


def brake_branches(label: str) -> tuple[int, ...]:
    """Branches that a brake line holds, by its label.

    Examples
    --------
    >>> brake_branches("L-brake-1+2")
    (1, 2)
    """
    return tuple(int(number) for number in label.rsplit("-", 1)[-1].split("+"))


def _brake_lines(design: Design, canopy: Canopy, ends: FloatArray) -> list[Line]:
    """Trunk, levels and branches of both fans; equal shares of the load at every joint."""
    right = brake_tabs(design, canopy)
    lines = []
    for side, mirror, riser_end in zip(SIDES, (-1.0, 1.0), ends, strict=True):
        fan = _Fan(side=side, tabs=right * [1.0, mirror, 1.0], first=design.brakes.fan_height)
        lines += fan.lines(riser_end, list(range(len(right))), design.brakes.levels, 0.0)
    return lines


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fan:
    """Brake lines of one side: tabs inner to outer, shape (n_branches, 3) [m]; height of the first joint [-].

    Joints are placed from below, each as if its branches ran straight to the tabs: with one level that is
    their balance, with more it holds to first order.
    """

    side: Side
    tabs: FloatArray
    first: float

    def lines(self, start: FloatArray, held: list[int], levels: int, reached: float) -> list[Line]:
        """Line from `start` that holds some tabs, and all above it, with so many levels of joints to come."""
        if len(held) == 1:
            return [self._line(start, self.tabs[held[0]], held)]
        height = self.first if reached == 0.0 else reached + (1 - reached) / (levels + 1)
        tabs = self.tabs[held]
        part_of_rest = (height - reached) / (1 - reached)
        joint = junction(start=start, tabs=tabs, load=np.ones(len(tabs)), height=part_of_rest)
        n_lines = {1: len(held), 2: ceil(len(held) / 2)}.get(levels, 2)
        groups = np.array_split(np.array(held), max(n_lines, 2))
        above = [line for group in groups for line in self.lines(joint, group.tolist(), levels - 1, height)]
        return [self._line(start, joint, held), *above]

    def _line(self, start: FloatArray, end: FloatArray, held: list[int]) -> Line:
        label = f"{self.side}-brake-{'+'.join(str(i + 1) for i in held)}"
        return Line(kind="brake", rows=("brake",), rib=-1, side=self.side, label=label, start=start, end=end)
