"""The line sheet: what to cut, tie and measure. Numbers that come from flight are handed in as plain numbers.

Lengths run as `zero_points` says, under the measuring tension; so a line at a tab is shorter by the tab
than the way to the skin that the geometry has. Cut length is the finished length, room for what the line
may lose as it settles, and a loop at either end; a line that runs through a junction is cut in one piece
and takes a knot there. The brake trunk is measured to its zero mark and cut longer by its way to the
servo.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, inf

import numpy as np

from parasim.config.design import Design
from parasim.geometry.canopy import Canopy
from parasim.geometry.line_stock import LineStock, build_line_stock, finished_lengths
from parasim.geometry.lines import Line, LineSet, brake_branches
from parasim.geometry.seams import TAB_LENGTH
from parasim.mass.inventory import brake_tail
from parasim.units import System, in_sixteenths, show


def zero_points(system: System) -> tuple[str, ...]:
    """From where to where lengths are measured, in sentences: the one definition, for every sheet."""
    return (
        "A line is measured from loop end to loop end, without the tab. Its lower end is at the end of the "
        "riser or at the knot of the line below; its upper end at the end of the tab's loop, "
        f"{show(TAB_LENGTH, 'tape_length', system)} below the stitching of the tab on the bottom skin or at "
        "the trailing edge.",
        "Brake lines: with the brake at its zero mark, just taut and the trailing edge still straight.",
    )


_ROUNDING = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the sheet: a straight piece.

    Attributes
    ----------
    label : str
        As in `parasim.geometry.lines`.
    kind : str
        "row", "trunk", "branch", "fin" or "brake".
    group : str
        Lines that are alike but for the rib: the rows held, or "brake".
    rib : int
        Number of the rib, from 1 at the left tip; 0 for brake lines.
    length : float
        Under its load in the glide, as the geometry has it: up to the skin, a tab included. [m]
    finished : float
        Loop end to loop end under the measuring tension, without the tab. [m]
    cut : float or None
        Of the piece of line; None for the upper part of a line that runs through. [m]
    remark : str
        What to mind; may be empty.
    run : Run or None
        Where knots and tab are on a line that runs through; with its lower part.
    """

    label: str
    kind: str
    group: str
    rib: int
    length: float
    finished: float
    cut: float | None
    remark: str
    run: "Run | None" = None

    @property
    def finished_mm(self) -> int:
        """Whole millimetres."""
        return round(1e3 * self.finished)

    @property
    def cut_mm(self) -> int | None:
        """Whole millimetres, rounded up."""
        return None if self.cut is None else ceil(1e3 * self.cut - _ROUNDING)

    def cut_words(self, system: System) -> str:
        """Whole millimetres, or inches and sixteenths, rounded up; empty where it is cut with another."""
        if self.cut is None:
            return ""
        return f"{self.cut_mm}" if system == "metric" else in_sixteenths(self.cut, up=True)

    def cut_order(self, system: System) -> str:
        """The remark; for a line that runs through, all that is cut and tied on it, in order."""
        if self.run is None or self.cut is None:
            return self.remark
        knot, tab = (
            f"{1e3 * place:.0f}" if system == "metric" else in_sixteenths(place)
            for place in (self.run.knot, self.run.tab)
        )
        tied = " and ".join(self.run.tied)
        return f"cut {self.cut_words(system)}; riser loop; knot for {tied} at {knot}; tab at {tab}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Places on a line that runs through, finished, from the end of its riser loop.

    Attributes
    ----------
    tied : tuple of str
        Rows that are tied into it.
    knot, tab : float
        Where they are, and where its upper loop ends. [m]
    """

    tied: tuple[str, ...]
    knot: float
    tab: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Differential:
    """How much longer one way from riser end to tab is than the front row's on the same rib.

    Attributes
    ----------
    rib : int
        Number of the rib, from 1 at the left tip.
    side : str
        "L" or "R".
    front : float
        The front row's way, finished: riser end to the end of the tab's loop. [m]
    longer : dict of str to float
        Row, or brake branch by its label, to what it is longer by. [m]
    """

    rib: int
    side: str
    front: float
    longer: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """Lines of one group: how many pieces to cut, and of how much line. [m]"""

    group: str
    kind: str
    count: int
    finished: float
    cut: float


@dataclass(frozen=True, kw_only=True, eq=False)
class LineSheet:
    """The line sheet.

    Attributes
    ----------
    name : str
        Of the design.
    entries : tuple of Entry
        Rib by rib from the left tip, front to rear; brakes last.
    differentials : tuple of Differential
        Rib by rib.
    totals : tuple of Total
        Group by group.
    front_row : str
        Row that the others are compared with.
    ways : dict of str to tuple of str
        Label of each line at a tab to those from the riser end up to it, itself the last.
    stock : LineStock
        Of the line.
    material : str or None
        As in the design.
    diameter, linear_density : float
        Of the line. [m], [kg/m]
    measuring_tension : float
        [N]
    loop_allowance, tie_allowance, brake_tail : float
        In the cut lengths: a loop, a knot in a line that runs through, brake trunk to the servo. [m]
    """

    name: str
    entries: tuple[Entry, ...]
    differentials: tuple[Differential, ...]
    totals: tuple[Total, ...]
    front_row: str
    ways: dict[str, tuple[str, ...]]
    stock: LineStock
    material: str | None
    diameter: float
    linear_density: float
    measuring_tension: float
    loop_allowance: float
    tie_allowance: float
    brake_tail: float

    @property
    def finished(self) -> dict[str, float]:
        """Label to finished length. [m]"""
        return {entry.label: entry.finished for entry in self.entries}

    @property
    def total_cut(self) -> float:
        """All line to be cut. [m]"""
        return sum(total.cut for total in self.totals)

    def tension_words(self, system: System) -> str:
        """Measuring tension with its unit."""
        return pull_words(self.measuring_tension, system)


def build_line_sheet(
    design: Design, canopy: Canopy, line_set: LineSet, *, tension: Mapping[str, float]
) -> LineSheet:
    """Line sheet of a design.

    Parameters
    ----------
    design, canopy, line_set
        What is to be made.
    tension : mapping
        Label to tension in the glide, for the stretch; lines that are not in it are slack then. [N]
    """
    spec = design.lines
    stock = build_line_stock(spec)
    finished = finished_lengths(spec, line_set.lines, tension)
    cutting = _Cutting(design=design, line_set=line_set, stock=stock, finished=finished)
    numbers = list(range(1, canopy.n_ribs + 1)[canopy.loaded_ribs])
    places = {row: i for i, row in enumerate(spec.rows)}
    entries = [cutting.entry(line, numbers[line.rib] if line.rib >= 0 else 0) for line in line_set.lines]
    order = {line.label: _place(line, places) for line in line_set.lines}
    entries.sort(key=lambda entry: order[entry.label])
    return LineSheet(
        name=design.name,
        entries=tuple(entries),
        differentials=_differentials(canopy, line_set, finished, tuple(spec.rows), numbers),
        totals=_totals(entries),
        front_row=next(iter(spec.rows)),
        ways=dict(sorted(line_set.ways.items(), key=lambda way: order[way[0]])),
        stock=stock,
        material=spec.material,
        diameter=spec.diameter,
        linear_density=spec.linear_density,
        measuring_tension=spec.measuring_tension,
        loop_allowance=spec.loop_allowance,
        tie_allowance=spec.tie_allowance,
        brake_tail=cutting.brake_tail,
    )


def _place(line: Line, places: Mapping[str, int]) -> tuple[int, int, int, str, int]:
    """Sorts lines by rib, row and side, a trunk ahead of its branches, and brakes last, left then right."""
    if line.kind == "brake":
        held = brake_branches(line.label)
        return 1, int(line.side == "R"), held[0], "", -len(held)
    if line.kind == "fin":
        return 0, line.rib, len(places), line.rows[0], 0
    return 0, line.rib, min(places[row] for row in line.rows), line.side, -len(line.rows)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cutting:
    """How pieces are cut."""

    design: Design
    line_set: LineSet
    stock: LineStock
    finished: Mapping[str, float]

    @property
    def brake_tail(self) -> float:
        """Brake line below the zero mark: down the riser or on from its ring, the travel, and a loop. [m]"""
        return brake_tail(self.design) + self.design.lines.loop_allowance

    def entry(self, line: Line, rib: int) -> Entry:
        """Line of the sheet."""
        spec = self.design.lines
        finished, settling = self.finished[line.label], 1 + self.stock.shrinkage
        cut: float | None = settling * finished + 2 * spec.loop_allowance
        remark, run = "", None
        if line.kind == "brake" and self._at_riser(line):
            cut = settling * finished + spec.loop_allowance + self.brake_tail
            at_ring = " at the ring" if self.line_set.rings else ""
            remark = f"mark the zero{at_ring}; leave the tail to the servo"
        elif line.kind == "fin":
            remark = "stabiliser: just taut, the fin flat"
        elif line.through and line.kind == "trunk":
            others = self._hold(line)[1:]
            upper = next(other for other in others if other.through)
            whole = finished + self.finished[upper.label]
            cut = settling * whole + 2 * spec.loop_allowance + spec.tie_allowance
            remark = f"one piece with {upper.label}"
            tied = tuple(other.rows[0] for other in others if other is not upper)
            run = Run(tied=tied, knot=finished, tab=whole)
        elif line.through:
            lower = self._hold(line)[0]
            cut, remark = None, f"cut with {lower.label}"
        return Entry(
            label=line.label,
            kind=line.kind,
            group="brake" if line.kind == "brake" else "+".join(line.rows),
            rib=rib,
            length=line.length,
            finished=finished,
            cut=cut,
            remark=remark,
            run=run,
        )

    def _at_riser(self, line: Line) -> bool:
        return any(np.array_equal(line.start, end) for end in self.line_set.brake_ends)

    def _hold(self, line: Line) -> tuple[Line, ...]:
        return next(hold.lines for hold in self.line_set.holds if line in hold.lines)


def _differentials(
    canopy: Canopy,
    line_set: LineSet,
    finished: Mapping[str, float],
    rows: tuple[str, ...],
    numbers: list[int],
) -> tuple[Differential, ...]:
    ways: dict[tuple[int, str], dict[str, float]] = {}
    for hold in line_set.holds:
        for end in hold.uppers:
            way = sum(finished[line.label] for line in line_set.path(end))
            ways.setdefault((hold.rib, hold.side), {})[end.rows[0]] = way
    for fin in line_set.fins:
        ways[fin.rib, fin.side][fin.rows[0]] = finished[fin.label]
    for end in line_set.brakes:
        if "+" not in end.label.rsplit("-", 1)[-1]:
            rib = _nearest_rib(canopy, end, [key[0] for key in ways if key[1] == end.side])
            way = sum(finished[line.label] for line in line_set.path(end))
            ways[rib, end.side][end.label[2:]] = way
    front = rows[0]
    return tuple(
        Differential(
            rib=numbers[rib],
            side=side,
            front=way[front],
            longer={name: way[name] - way[front] for name in way if name != front},
        )
        for (rib, side), way in sorted(ways.items())
    )


def _nearest_rib(canopy: Canopy, brake: Line, ribs: list[int]) -> int:
    place = canopy.point(canopy.rib_angle[canopy.loaded_ribs], np.array(1.0), np.array(0.0))
    distance = {rib: float(np.linalg.norm(place[rib] - brake.end)) for rib in ribs}
    return min(ribs, key=lambda rib: distance.get(rib, inf))


def _totals(entries: list[Entry]) -> tuple[Total, ...]:
    groups = Counter((entry.group, entry.kind) for entry in entries)
    totals = []
    for group, kind in groups:
        members = [entry for entry in entries if (entry.group, entry.kind) == (group, kind)]
        cut = [entry.cut for entry in members if entry.cut is not None]
        totals.append(
            Total(
                group=group,
                kind=kind,
                count=len(cut),
                finished=sum(entry.finished for entry in members),
                cut=sum(cut),
            )
        )
    return tuple(totals)


def pull_words(force: float, system: System) -> str:
    """Force as a spring scale is read. [N]

    Examples
    --------
    >>> pull_words(7.0, "metric"), pull_words(7.0, "imperial")
    ('7 N', '1.6 lbf')
    """
    return f"{force:g} N" if system == "metric" else show(force, "force", system, digits=1)
