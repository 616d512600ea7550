"""Ribs, stabilisers and the patches at the line tabs. Everything in millimetres.

A rib is drawn with its nose to the left, seen from the left: left and right ribs are the same shape.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor, pi

import numpy as np
from shapely import Point, Polygon, unary_union
from shapely.geometry.base import BaseGeometry
from shapely.prepared import prep

from parasim.config.design import Design
from parasim.config.sewing import SewingSpec
from parasim.drawing.drawing import Label, Path
from parasim.errors import DesignError, Mistake
from parasim.geometry.airfoil import lower_surface, upper_surface
from parasim.geometry.canopy import Canopy
from parasim.geometry.fin_lines import fin_places
from parasim.geometry.seams import STABILISER_FRONT, patch_heights
from parasim.geometry.surface import lower_section, nose_section, upper_section
from parasim.rotations import FloatArray
from parasim.sewing.allowance import Edge, notch_count, notch_places, notches, outward_tick
from parasim.sewing.flatten import arc_length, at_distance
from parasim.sewing.pieces import Piece

HOLE_CLEARANCE = 6.0
"""Cloth left between a cross-port and the sewing line or the next one. [mm] Common practice, no source."""

_ROUNDING = 0.2  # a circle of sides, and a drawn radius [mm]
_TICK_INSIDE = 3.0
_END = 5.0  # nearer to an end of a stabiliser's edge there is no notch [mm]
_CIRCLE_POINTS = 96
_BLUNT = 0.2  # a trailing edge thicker than this is an edge of its own [mm]
_MINIMUM_HOLE = 0.5  # smaller ones are not drawn [mm]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RibPlan:
    """What all ribs have in common.

    Attributes
    ----------
    canopy : Canopy
        As inflated.
    sewing : SewingSpec
        Allowances, notches, patches.
    rows : dict of str to float
        Chordwise position of each row. [-]
    patch_height : dict of str to float
        Of the patch of each row. [mm]
    holes : ndarray, shape (n_holes,)
        Chordwise position of the cross-ports. [-]
    hole_diameter : float
        Over chord. [-]
    fin_rows : dict of str to float
        Place of each tab of the stabilisers over tip chord. [-]
    """

    canopy: Canopy
    sewing: SewingSpec
    rows: dict[str, float]
    patch_height: dict[str, float]
    holes: FloatArray
    hole_diameter: float
    fin_rows: dict[str, float]

    @property
    def seam(self) -> float:
        """Seam allowance. [mm]"""
        return 1e3 * self.sewing.seam_allowance


def notch_spaces(canopy: Canopy, sewing: SewingSpec) -> tuple[int, int]:
    """Spaces between notches along the top and the bottom edge, the same on every rib and panel."""
    chord = 1e3 * canopy.root_chord
    top, bottom = (
        notch_count(chord * float(arc_length(section)[-1]), 1e3 * sewing.notch_spacing)
        for section in (upper_section(canopy), lower_section(canopy))
    )
    return top, bottom


def rib_edges(canopy: Canopy, chord: float, allowance: float) -> tuple[Edge, ...]:
    """Edges of a rib, anticlockwise from the lower lip. Chord and allowance [mm]."""
    bottom, top, nose = (chord * section(canopy) for section in (lower_section, upper_section, nose_section))
    parts = [("bottom", bottom)]
    if np.hypot(*(top[-1] - bottom[-1])) > _BLUNT:
        parts.append(("tail", np.array([bottom[-1], top[-1]])))
    parts += [("top", top[::-1]), ("inlet", nose)]
    return tuple(
        Edge(name=name, points=points, allowance=allowance, kind="fold" if name == "inlet" else "sew")
        for name, points in parts
    )


def plan_ribs(design: Design, canopy: Canopy) -> RibPlan:
    """Rows, patches and cross-ports for the ribs of a design.

    Raises
    ------
    DesignError
        When the cross-ports do not fit into the rib.
    """
    rows, sewing = dict(design.lines.rows), design.sewing
    fin_rows = fin_places(design, canopy)
    height = {name: 1e3 * size for name, size in patch_heights(design, canopy).items()}
    crossports = design.canopy.crossports
    plan = RibPlan(
        canopy=canopy,
        sewing=sewing,
        rows=rows,
        patch_height=height,
        holes=np.zeros(0),
        hole_diameter=crossports.diameter,
        fin_rows=fin_rows,
    )
    return RibPlan(
        canopy=canopy,
        sewing=sewing,
        rows=rows,
        patch_height=height,
        holes=_hole_places(plan, crossports.count),
        hole_diameter=crossports.diameter,
        fin_rows=fin_rows,
    )


def rib_pieces(plan: RibPlan) -> tuple[Piece, ...]:
    """Ribs: end ribs, loaded and unloaded inner ribs; those of the same chord are one template."""
    groups: dict[tuple[str, float], list[int]] = {}
    canopy = plan.canopy
    chords = 1e3 * canopy.chord_at(canopy.rib_angle)
    loaded = set(range(canopy.n_ribs)[canopy.loaded_ribs])
    for i, chord in enumerate(chords):
        end = i in (0, canopy.n_ribs - 1)
        sort = "end" if end else "loaded" if i in loaded else "unloaded"
        groups.setdefault((sort, round(float(chord), 3)), []).append(i + 1)
    alone = {sort: sum(other == sort for other, _ in groups) == 1 for sort, _ in groups}
    return tuple(
        _rib(plan, sort, tuple(numbers), chords[numbers[0] - 1], alone[sort])
        for (sort, _), numbers in sorted(groups.items(), key=lambda group: (_ORDER[group[0][0]], group[1][0]))
    )


_ORDER = {"end": 0, "loaded": 1, "unloaded": 2}


def _rib(plan: RibPlan, sort: str, numbers: tuple[int, ...], chord: float, alone: bool) -> Piece:
    edges = rib_edges(plan.canopy, chord, plan.seam)
    marks, tags = [], []
    if sort != "unloaded":
        for name in plan.rows:
            tab_marks, tag = _tab(plan, edges[0], chord, name)
            marks += tab_marks
            tags.append(tag)
    spaces = notch_spaces(plan.canopy, plan.sewing)
    for edge, count in zip((_named(edges, "top"), _named(edges, "bottom")), spaces, strict=True):
        marks += notches(edge, notch_places(edge.length, count), double=edge.name == "bottom")
    marks += _lip_ticks(edges)
    return Piece(
        name=f"{sort} rib" if alone else f"{sort} rib {numbers[0]}",
        where=f"{'ribs' if len(numbers) > 1 else 'rib'} {_listed(numbers)}",
        kind="rib",
        places=numbers,
        count=len(numbers),
        edges=edges,
        holes=() if sort == "end" else _holes(plan, chord),
        marks=tuple(marks),
        tags=tuple(tags),
        view="seen from the left",
    )


def _lip_ticks(edges: tuple[Edge, ...]) -> list[Path]:
    """Ticks across the allowance where the inlet ends: the lips of the two skins come there."""
    top, bottom = _named(edges, "top"), _named(edges, "bottom")
    return [
        outward_tick(edge, at, inner=0.0, outer=edge.allowance)
        for edge, at in ((top, top.length), (bottom, 0.0))
    ]


def _listed(numbers: tuple[int, ...]) -> str:
    """Numbers in words; even steps are shortened, and a step that is not one is plain to see."""
    steps = {b - a for a, b in pairwise(numbers)}
    if len(numbers) > 4 and len(steps) == 1:
        first, second, *_, last = numbers
        return f"{first} to {last}" if steps == {1} else f"{first}, {second}, ..., {last}"
    return ", ".join(str(number) for number in numbers)


def _named(edges: tuple[Edge, ...], name: str) -> Edge:
    return next(edge for edge in edges if edge.name == name)


def row_distance(bottom: Edge, x: float) -> float:
    """How far along a bottom edge a chordwise place is, from the lower lip; both [mm]."""
    return float(np.interp(x, bottom.points[:, 0], arc_length(bottom.points)))


def _tab(plan: RibPlan, bottom: Edge, chord: float, row: str) -> tuple[list[Path], Label]:
    """Tick across the edge at a tab, the patch's outline, and the row's letter."""
    distance = row_distance(bottom, plan.rows[row] * chord)
    here = at_distance(bottom.points, distance)
    tick = outward_tick(bottom, distance, inner=_TICK_INSIDE, outer=plan.seam)
    room = plan.patch_height[row] or 2 * _TICK_INSIDE
    height = float(np.clip(0.4 * room, 2.5, 6.0))
    tag = Label(
        text=row, at=(here[0], here[1] + _TICK_INSIDE + 0.25 * height + 1), height=height, anchor="middle"
    )
    if not plan.sewing.patch:
        return [tick], tag
    outline = Path(points=patch_outline(plan, bottom, distance, row), closed=True, kind="mark")
    return [tick, outline], tag


def patch_outline(plan: RibPlan, bottom: Edge, distance: float, row: str) -> FloatArray:
    """Patch at a tab: along the bottom edge, half as wide above; anticlockwise, shape (n, 2)."""
    half = 500 * plan.sewing.patch
    along = np.clip(np.linspace(distance - half, distance + half, 9), 0.0, bottom.length)
    base = at_distance(bottom.points, np.unique(along))
    middle = at_distance(bottom.points, distance)
    up = np.array([0.0, plan.patch_height[row]])
    return np.vstack([base, middle + up + [half / 2, 0.0], middle + up - [half / 2, 0.0]])


def _holes(plan: RibPlan, chord: float) -> tuple[FloatArray, ...]:
    turn = np.linspace(0, 2 * pi, _CIRCLE_POINTS, endpoint=False)
    radius = plan.hole_diameter * chord / 2
    if radius < _MINIMUM_HOLE:
        return ()
    # A polygon of the circle's area.
    radius *= np.sqrt(2 * pi / _CIRCLE_POINTS / np.sin(2 * pi / _CIRCLE_POINTS))
    circle = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    return tuple(center + circle for center in chord * _mid_heights(plan.canopy, plan.holes))


def _mid_heights(canopy: Canopy, x: FloatArray) -> FloatArray:
    z = (upper_surface(canopy.outline, x) + lower_surface(canopy.outline, x)) / 2
    return np.column_stack([x, z])


def _hole_places(plan: RibPlan, count: int) -> FloatArray:
    """Chordwise places of the cross-ports: clear of the edges, and of the patches if there is room."""
    canopy = plan.canopy
    chord = 1e3 * float(canopy.chord_at(canopy.rib_angle[1]))
    radius = plan.hole_diameter * chord / 2
    if not count or radius < _MINIMUM_HOLE:
        return np.zeros(0)
    edges = rib_edges(canopy, chord, plan.seam)
    inside = Polygon(np.vstack([edge.points for edge in edges])).buffer(-radius - HOLE_CLEARANCE)
    for allowed in (inside.difference(_patches(plan, edges[0], chord, radius)), inside):
        places = _spread(list(_intervals(canopy, allowed, chord)), count, 2 * radius + HOLE_CLEARANCE)
        if len(places) == count:
            return np.array(places) / chord
    raise DesignError(
        Mistake(
            key="canopy.crossports",
            given=f"{count} of {2 * radius:.0f} mm",
            problem=f"they do not fit {HOLE_CLEARANCE:g} mm clear of the edges of a {chord:.0f} mm rib",
            hint="use fewer or smaller holes",
        )
    )


def _patches(plan: RibPlan, bottom: Edge, chord: float, radius: float) -> BaseGeometry:
    if not plan.sewing.patch:
        return Point()
    outlines = [
        Polygon(patch_outline(plan, bottom, row_distance(bottom, x * chord), row))
        for row, x in plan.rows.items()
    ]
    return unary_union(outlines).buffer(radius + HOLE_CLEARANCE)


def crowded(plan: RibPlan, ribs: Sequence[Piece]) -> dict[str, tuple[int, ...]]:
    """Rows whose patch is nearer than `HOLE_CLEARANCE` to a cross-port, and the ribs where it is, from 1."""
    found: dict[str, tuple[int, ...]] = {}
    if not plan.sewing.patch:
        return found
    for rib in ribs:
        if not (rib.holes and rib.tags):
            continue
        chord = 1e3 * float(plan.canopy.chord_at(plan.canopy.rib_angle[rib.places[0] - 1]))
        bottom, holes = rib.edge("bottom"), unary_union([Polygon(hole) for hole in rib.holes])
        for row, x in plan.rows.items():
            patch = Polygon(patch_outline(plan, bottom, row_distance(bottom, x * chord), row))
            if patch.distance(holes) < HOLE_CLEARANCE - _ROUNDING:
                found[row] = tuple(sorted((*found.get(row, ()), *rib.places)))
    return found


def _intervals(canopy: Canopy, allowed: BaseGeometry, chord: float) -> Iterator[tuple[float, float]]:
    """Stretches of the middle line where a hole's middle may be. [mm]"""
    x = np.linspace(0.02, 0.98, 481)
    room = prep(allowed)
    fits = np.array([room.contains(Point(point)) for point in chord * _mid_heights(canopy, x)])
    ends = np.flatnonzero(np.diff(np.concatenate([[False], fits, [False]]).astype(int)))
    for first, last in ends.reshape(-1, 2):
        yield chord * float(x[first]), chord * float(x[last - 1])


def _spread(intervals: list[tuple[float, float]], count: int, gap: float) -> list[float]:
    """Places in the intervals, at least `gap` apart, the emptiest interval first; fewer when no more fit."""
    held = [0] * len(intervals)
    for _ in range(count):
        room = [
            (high - low + gap) / (n + 1) if n <= floor((high - low) / gap) else 0.0
            for (low, high), n in zip(intervals, held, strict=True)
        ]
        if not room or max(room) <= 0:
            break
        held[int(np.argmax(room))] += 1
    places: list[float] = []
    for (low, high), n in zip(intervals, held, strict=True):
        inner = np.linspace(low, high, n + 2)[1:-1]
        places += (inner if n < 2 or inner[1] - inner[0] >= gap else np.linspace(low, high, n)).tolist()
    # Intervals apart by less than a gap can only be two sides of a patch, which is wider than that.
    return sorted(places)


def patch_pieces(plan: RibPlan) -> tuple[Piece, ...]:
    """One reinforcement for each row, made to fit the tip rib and so every other."""
    if not plan.sewing.patch:
        return ()
    canopy = plan.canopy
    chord = 1e3 * canopy.root_chord * canopy.taper
    bottom = rib_edges(canopy, chord, plan.seam)[0]
    n_loaded = len(range(canopy.n_ribs)[canopy.loaded_ribs])
    return tuple(_patch(plan, bottom, chord, row, n_loaded) for row in plan.rows)


def _patch(plan: RibPlan, bottom: Edge, chord: float, row: str, count: int) -> Piece:
    distance = row_distance(bottom, plan.rows[row] * chord)
    outline = patch_outline(plan, bottom, distance, row)
    base, upper = outline[:-2], outline[-2:]
    at_tab = min(distance, 500 * plan.sewing.patch)
    edges = (
        Edge(name="bottom", points=base, allowance=plan.seam),
        Edge(name="upper", points=np.vstack([base[-1], upper, base[0]]), allowance=0.0),
    )
    return Piece(
        name=f"patch {row}",
        where=f"tabs {row} of the loaded ribs",
        kind="patch",
        places=tuple(number + 1 for number in range(plan.canopy.n_ribs)[plan.canopy.loaded_ribs]),
        count=count,
        edges=edges,
        marks=(outward_tick(edges[0], at_tab, inner=_TICK_INSIDE, outer=plan.seam),),
    )


def stabiliser_pieces(plan: RibPlan) -> tuple[Piece, ...]:
    """Panel below each tip rib: its top edge is the part of the rib's bottom edge that it is sewn to."""
    stabiliser, canopy = plan.canopy.stabiliser, plan.canopy
    if stabiliser is None:
        return ()
    chord = 1e3 * canopy.root_chord * canopy.taper
    bottom = rib_edges(canopy, chord, plan.seam)[0]
    ends = STABILISER_FRONT + np.array([0.0, 1e3 * stabiliser.chord / chord])
    start, stop = (row_distance(bottom, x * chord) for x in np.minimum(ends, 1.0))
    rib_part = _part(bottom.points, start, stop)
    lower = rib_part - [0.0, 1e3 * stabiliser.height]
    hem = 1e3 * plan.sewing.hem
    edges = (
        Edge(name="top", points=rib_part[::-1], allowance=plan.seam),
        Edge(name="front", points=np.array([rib_part[0], lower[0]]), allowance=hem, kind="fold"),
        Edge(name="lower", points=lower, allowance=hem, kind="fold"),
        Edge(name="rear", points=np.array([lower[-1], rib_part[-1]]), allowance=hem, kind="fold"),
    )
    marks, tags = _stabiliser_tabs(plan, edges[0], chord, rib_part)
    along_rib = notch_places(bottom.length, notch_spaces(canopy, plan.sewing)[1])
    inside = along_rib[(along_rib > start + _END) & (along_rib < stop - _END)]
    marks += notches(edges[0], inside - start, double=True)
    for row, place in plan.fin_rows.items():
        tick, tag = _fin_tab(edges[2], row, place * chord, hem)
        marks.append(tick)
        tags.append(tag)
    return (
        Piece(
            name="stabiliser",
            where="left and right",
            kind="stabiliser",
            places=(1, canopy.n_ribs),
            count=2,
            edges=edges,
            marks=tuple(marks),
            tags=tuple(tags),
            view=f"seen from the left; front at {STABILISER_FRONT:.0%} of the tip rib",
        ),
    )


def _fin_tab(lower: Edge, row: str, x: float, hem: float) -> tuple[Path, Label]:
    """Tick across the hem of the lower edge at a tab, and its name above; x along the chord [mm]."""
    distance = float(np.interp(x, lower.points[:, 0], arc_length(lower.points)))
    here = at_distance(lower.points, distance)
    side = 4.0 if x < lower.points[-1, 0] - 10 else -4.0
    tag = Label(text=row, at=(here[0] + side, here[1] + 5.0), height=5.0, anchor="middle")
    return outward_tick(lower, distance, inner=_TICK_INSIDE, outer=hem), tag


def _part(points: FloatArray, start: float, stop: float) -> FloatArray:
    """Part of a line between two distances along it."""
    along = arc_length(points)
    inner = along[(along > start + 1e-9) & (along < stop - 1e-9)]
    return at_distance(points, np.concatenate([[start], inner, [stop]]))


def _stabiliser_tabs(
    plan: RibPlan, top: Edge, chord: float, rib_part: FloatArray
) -> tuple[list[Path], list[Label]]:
    marks, tags = [], []
    for row, ratio in plan.rows.items():
        x = ratio * chord
        if not rib_part[0, 0] - 1e-6 <= x <= rib_part[-1, 0] + 1e-6:
            continue
        distance = top.length - float(np.interp(x, rib_part[:, 0], arc_length(rib_part)))
        marks.append(outward_tick(top, distance, inner=_TICK_INSIDE, outer=plan.seam))
        here = at_distance(top.points, distance)
        side = 4.0 if x < rib_part[-1, 0] - 10 else -4.0
        tags.append(Label(text=row, at=(here[0] + side, here[1] - 9.0), height=5.0, anchor="middle"))
    return marks, tags
