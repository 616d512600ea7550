"""Small drawings beside the steps from the cut pieces to the sewn canopy; as in `sketching`."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import cos, sin

import numpy as np
from shapely import LineString, box
from shapely.geometry.base import BaseGeometry

from parasim.drawing.drawing import Drawing, PathKind
from parasim.geometry.seams import TAB_LENGTH, TAB_TAIL
from parasim.sewing.flatten import at_distance
from parasim.sewing.order.job import Job
from parasim.sewing.order.joins import PRESSER_FOOT, reach
from parasim.sewing.order.sketching import Line, Note, label, listing, section, to_scale, way
from parasim.sewing.panels import Strip, strips
from parasim.sewing.pieces import Piece
from parasim.sewing.ribs import HOLE_CLEARANCE, row_distance

_AROUND = 45.0  # shown to either side of a tab [mm]
_TABBED = 60.0  # shown of a panel ahead of its brake tabs [mm]
_ON_A_LINE = 5  # places of cross-ports
_BY_MACHINE_AND_HAND: tuple[PathKind, PathKind] = ("sew", "mark")


def rib_order(job: Job) -> Drawing:
    """All ribs across the span, numbered."""
    canopy = job.canopy
    loaded = set(range(canopy.n_ribs)[canopy.loaded_ribs])
    out = [np.array([sin(angle), cos(angle)]) for angle in canopy.rib_angle]
    near = [1e3 * canopy.arc_radius * u for u in out]
    far = [
        1e3 * (canopy.arc_radius + canopy.thickness_ratio * float(canopy.chord_at(angle))) * u
        for angle, u in zip(canopy.rib_angle, out, strict=True)
    ]
    ribs: list[Line] = [
        (np.array([a, b]), "cut" if i in loaded else "guide")
        for i, (a, b) in enumerate(zip(near, far, strict=True))
    ]
    skins: list[Line] = [(np.array(near), "cut"), (np.array(far), "cut")]
    n = canopy.n_ribs
    clear = 0.02 * canopy.span * 1e3
    notes: list[Note] = [(f"{i}", far[i - 1] + clear * out[i - 1], "middle") for i in range(1, n + 1)]
    title = f"Order of the ribs, 1 to {n}: seen from behind, left tip at the left"
    title += "; dotted: unloaded" if len(loaded) < n else ""
    return to_scale(title, [*skins, *ribs], notes)


def _loaded(job: Job) -> Piece:
    """A rib with patches and tabs: of the inner ones if there are any."""
    ribs = [piece for piece in job.templates.pieces if piece.kind == "rib" and piece.tags]
    return next((piece for piece in ribs if piece.name.startswith("loaded")), ribs[0])


def _inside(lines: Sequence[Line], window: BaseGeometry) -> list[Line]:
    """Parts of lines in a window."""
    found: list[Line] = []
    for line, kind in lines:
        part = LineString(line).intersection(window)
        found += [
            (np.array(one.coords), kind)
            for one in getattr(part, "geoms", [part])
            if one.geom_type == "LineString" and not one.is_empty
        ]
    return found


def _lines_of(piece: Piece) -> list[Line]:
    closed = np.vstack([piece.cut_line, piece.cut_line[:1]])
    return [
        (closed, "cut"),
        *((edge.points, edge.kind) for edge in piece.edges if edge.allowance),
        *((np.vstack([hole, hole[:1]]), "cut") for hole in piece.holes),
        *((mark.loop, mark.kind) for mark in piece.marks),
    ]


def tab_on_patch(job: Job) -> Drawing:
    """The rib about the tab of the front row: patch, notches, the tab's loop."""
    rib, row = _loaded(job), next(iter(job.design.lines.rows))
    bottom = rib.edge("bottom")
    chord = 1e3 * float(job.canopy.chord_at(job.canopy.rib_angle[rib.places[0] - 1]))
    x = job.design.lines.rows[row] * chord
    along = row_distance(bottom, x)
    y = float(np.interp(x, bottom.points[:, 0], bottom.points[:, 1]))
    loop = 1e3 * TAB_LENGTH
    tab = np.array(
        [[x - 1.5, y - 0], [x - 1.5, y - loop + 2], [x, y - loop], [x + 1.5, y - loop + 2], [x + 1.5, y]]
    )
    window = box(x - _AROUND, y - loop - 2, x + _AROUND, y + 45.0)
    lines = [*_inside(_lines_of(replace(rib, holes=())), window), (tab, "cut")]
    patch = f"patch {row}" if job.design.sewing.patch else f"row {row}"
    notes: list[Note] = [
        (f"tab: loop end {job.size(TAB_LENGTH)} from the stitching", (x + 4.0, y - loop), "start"),
        ("sewing line", (x + _AROUND, y - 2.0), "start"),
        (patch, (x, y + 12.0), "middle"),
    ]
    title = f"Tab {row} on rib {rib.places[0]}: {job.size(1e-3 * along)} behind the lower lip, along the edge"
    return to_scale(title, lines, notes)


def cross_ports(job: Job) -> Drawing | None:
    """An inner rib with its holes, numbered, and where their middles are."""
    rib = next((piece for piece in job.templates.pieces if piece.kind == "rib" and piece.holes), None)
    if rib is None:
        return None
    front, above = float(rib.sewing_line[:, 0].min()), float(rib.cut_line[:, 1].max())
    middles = [float((hole[:, 0].min() + hole[:, 0].max()) / 2) for hole in rib.holes]
    notes: list[Note] = [(f"{i}", (x, above), "middle") for i, x in enumerate(middles, start=1)]
    places = [f"{i}: {job.size(1e-3 * (x - front))}" for i, x in enumerate(middles, start=1)]
    wide = 1e-3 * float(np.ptp(rib.holes[0][:, 0]))
    title = f"Rib {rib.places[0]}: cross-ports of {job.size(wide)}; middles behind the front of the nose"
    drawing = to_scale(title, _lines_of(rib), notes)
    rows = [", ".join(places[i : i + _ON_A_LINE]) for i in range(0, len(places), _ON_A_LINE)]
    rows.append(f"at least {job.size(1e-3 * HOLE_CLEARANCE)} of cloth between a hole and a seam or the next")
    return replace(drawing, labels=(*drawing.labels, *listing(rows, 0.0, -12.5)))


def nose(job: Job) -> Drawing:
    """The front of a rib, where the inlet is."""
    rib = _loaded(job)
    inlet, chord = rib.edge("inlet").points, float(np.ptp(rib.sewing_line[:, 0]))
    left, low = rib.cut_line.min(axis=0)
    window = box(left - 1, low - 1, left + 0.3 * chord, rib.cut_line[:, 1].max() + 1)
    middle = inlet[len(inlet) // 2]
    fold = job.size(1e-3 * rib.edge("inlet").allowance)
    notes: list[Note] = [
        (f"nose, fold {fold} under", (left - 4.0, middle[1]), "end"),
        ("upper lip", (left - 4.0, max(inlet[0, 1], middle[1] + 0.02 * chord)), "end"),
        ("lower lip", (left - 4.0, min(inlet[-1, 1], middle[1] - 0.02 * chord)), "end"),
    ]
    title = f"Nose of rib {rib.places[0]}, {job.design.canopy.inlet.kind} inlet: hem between the two lips"
    return to_scale(title, _inside(_lines_of(rib), window), notes)


def stabiliser(job: Job) -> Drawing | None:
    """The stabiliser as it is cut."""
    found = next((piece for piece in job.templates.pieces if piece.kind == "stabiliser"), None)
    if found is None or job.canopy.stabiliser is None:
        return None
    (left, low), (right, high) = found.sewing_line.min(axis=0), found.sewing_line.max(axis=0)
    notes: list[Note] = [
        ("sewn into the bottom seam of the end rib", ((left + right) / 2, high + 12.0), "middle"),
        ("hem", ((left + right) / 2, low + 4.0), "middle"),
        (f"{job.size(job.canopy.stabiliser.height)} high", (right + 18.0, (low + high) / 2), "start"),
    ]
    for tag in found.tags:  # those of the upper edge below its stitching
        down = 14.0 if tag.at[1] > (low + high) / 2 else 0.0
        notes.append((tag.text, (tag.at[0], tag.at[1] - down), tag.anchor))
    title = f"{found.called}: front at the left; {job.size(job.canopy.stabiliser.chord)} along the chord"
    return to_scale(title, _lines_of(found), notes)


def skin_seam(job: Job, skin: str, *, tab: bool = False) -> Drawing:
    """Plain seam of two panels and a rib; raw edges inside."""
    into = -1.0 if skin == "top" else 1.0
    lines: list[Line] = [
        (way((-45, 0), (-1.5, 0), (-1.5, 11 * into)), "cut"),
        (way((45, 0), (1.5, 0), (1.5, 11 * into)), "cut"),
        (way((0, into), (0, 24 * into)), "cut"),
        (way((-5, 1.8 * into), (5, 1.8 * into)), "sew"),
    ]
    if tab:
        lines.append((way((-0.7, 9), (-0.7, -11), (0, -12.5), (0.7, -11), (0.7, 9)), "mark"))
    raw = job.size(job.design.sewing.seam_allowance)
    labels = [
        label(f"{skin} panel", -44, 1.5 if skin == "top" else -4.0),
        label(f"next {skin} panel", 44, 1.5 if skin == "top" else -4.0, "end"),
        label("rib", 2.5, 21 * into),
        label(f"raw edges inside, {raw}", 4, 10 * into - 0.8),
        label("stitching", 6, 3.6 * into - 0.8),
    ]
    if tab:
        labels.append(label("tab, caught in the seam", 3, -11))
    return section(f"Seam of the {skin} skin, section across (not to scale): plain", lines, labels)


def last_seam(job: Job) -> Drawing:
    """Seam that closes the last cell: raw edges outside, rolled and topstitched; tab and fin hang clear."""
    raw = job.size(job.design.sewing.seam_allowance)
    lines: list[Line] = [
        (way((-45, 0), (-1.5, 0), (-1.5, -8), (-14, -8), (-14, -5), (-4, -5)), "cut"),
        (way((0, 24), (0, -10), (-16, -10), (-16, -3.2), (-4, -3.2)), "cut"),
        (way((-9, 2), (-9, -12)), "sew"),
        (way((-4, -1.6), (5, -1.6)), "sew"),
        (way((1, 7), (1, -12), (1.7, -13.5), (2.4, -12), (2.4, 7)), "mark"),
    ]
    labels = [
        label("bottom panel", -44, 1.5),
        label(f"rib {job.canopy.n_ribs}", 2.5, 18),
        label(f"raw edges outside, {raw}, folded under and topstitched", 6, -8.5),
        label("tab, caught in the seam", 6, -13.5),
    ]
    if job.canopy.stabiliser is not None:
        lines.append((way((3.6, 7), (3.6, -24)), "cut"))
        labels.append(label("stabiliser, outside rib and tab, hanging down", 6, -19))
    return section(f"Seam at rib {job.canopy.n_ribs}, section (not to scale): felled", lines, labels)


def lips(job: Job) -> Drawing:
    """Front edges of both skins, where the air goes in."""
    hem = job.size(job.design.sewing.hem)
    lines: list[Line] = []
    for side in (1.0, -1.0):
        lines.append((way((60, 9 * side), (0, 9 * side), (0, 6 * side), (22, 6 * side)), "cut"))
        lines.append((way((17, 11 * side), (17, 4 * side)), "sew"))
    labels = [
        label("upper lip", -2, 7.0, "end"),
        label("lower lip", -2, -8.0, "end"),
        label("inlet, stands open", -2, -0.8, "end"),
        label(f"front edge folded under, {hem}", 24, 4.6),
        label("stitching", 24, -6.4),
        label("top panel", 60, 10.5, "end"),
        label("bottom panel", 60, -13.0, "end"),
    ]
    return section("Hems of both lips, section along the chord (not to scale)", lines, labels)


def brake_tab(job: Job) -> Drawing:
    """Rear edge of a bottom panel of the right side, with its brake tabs as they are basted."""
    panel = next(strip for strip in strips(job.design, job.canopy, "bottom") if _inner_tab(strip))
    piece = next(
        p for p in job.templates.pieces if p.name.startswith("bottom panel") and panel.number in p.places
    )
    rear, hem = piece.edge("rear"), piece.edge("rear").allowance
    x, low, high = float(rear.points[:, 0].max()), *np.sort(rear.points[:, 1])
    lines = _inside(_lines_of(piece), box(x - _TABBED, low - 2 * hem, x + 2 * hem, high + 2 * hem))
    notes: list[Note] = [("sewing line", (x - 2.0, (low + high) / 2), "end")]
    loop, tail = 1e3 * TAB_LENGTH, 1e3 * TAB_TAIL
    for number, share in panel.brake_tabs:
        place = at_distance(rear.points, share * rear.length)
        lines.append((place + way((-tail, 2), (loop - 2, 2), (loop, 0), (loop - 2, -2), (-tail, -2)), "cut"))
        words = f"brake tab {number}: {job.size(1e-3 * share * rear.length)} from the seam of rib"
        beside = place + np.array([loop + 3.0, -2.5])
        notes.append((f"{words} {panel.ribs[0]}", beside, "start"))
    title = (
        f"Brake tabs on bottom panel {panel.number}, from above, front at the left, rib {panel.ribs[0]} above"
    )
    drawing = to_scale(title, lines, notes)
    words = (
        f"loop end {job.size(TAB_LENGTH)} from the stitching, {job.size(TAB_TAIL)} of either end in the seam"
    )
    return replace(drawing, labels=(*drawing.labels, *listing([words], 0.0, -12.5)))


def _inner_tab(strip: Strip) -> bool:
    return any(number == 1 for number, _ in strip.brake_tabs)


def rear_end(job: Job) -> Drawing | None:
    """Rear of the tip rib: how far a machine gets, and what is left for the hand."""
    last, chord = reach(job.canopy), 1e3 * float(job.canopy.chord_at(job.canopy.rib_angle[0]))
    if last >= 1.0:
        return None
    rib = next(piece for piece in job.templates.pieces if piece.kind == "rib" and 1 in piece.places)
    bottom, top = rib.edge("bottom").points, rib.edge("top").points[::-1]
    start, stop = max(2.2 * last - 1.2, 0.0) * chord, last * chord
    gap = 0.012 * (chord - start)
    lines = _inside([(bottom, "cut"), (top, "cut")], box(start, -chord, chord + 1, chord))
    low = min(float(edge[:, 1].min()) for edge, _ in lines) - 6 * gap
    sewn = [np.linspace(left + gap, right - gap, 9) for left, right in pairwise((start, stop, chord))]
    lines += [
        (np.column_stack([x, np.interp(x, *bottom.T) + gap]), kind)
        for x, kind in zip(sewn, _BY_MACHINE_AND_HAND, strict=True)
    ]
    front, machine, rear = (float(np.interp(x, *top.T)) for x in (start, stop, chord))
    lines.append((way((stop, float(np.interp(stop, *bottom.T))), (stop, machine)), "guide"))
    notes: list[Note] = [
        (f"skins {job.size(PRESSER_FOOT)} apart: the machine stops here", (stop, machine + gap), "start"),
        ("by machine", ((start + stop) / 2, low), "middle"),
        (f"by hand, {job.size(1e-3 * (chord - stop))}", ((stop + chord) / 2, low), "middle"),
        ("top skin", (start, front + gap), "start"),
        ("trailing edge", (chord + gap, rear), "start"),
    ]
    return to_scale("Rear end of the bottom seam at rib 1, from the left", lines, notes)


def trailing_edge(job: Job) -> Drawing:
    """Both hems folded inwards, sewn close to the edge."""
    hem = job.size(job.design.sewing.hem)
    lines: list[Line] = [
        (way((-50, 4), (0, 4), (0, 1), (-22, 1)), "cut"),
        (way((-50, -4), (0, -4), (0, -1), (-22, -1)), "cut"),
        (way((-4, 7), (-4, -7)), "sew"),
        (way((-22, 0), (14, 0.6), (15.5, 0), (14, -0.6), (-22, 0)), "mark"),
    ]
    labels = [
        label("top skin", -49, 5.5),
        label("bottom skin", -49, -8.0),
        label(f"hems folded in, {hem}", -33, 5.5),
        label("brake tab", 17, -1.0),
    ]
    return section("Trailing edge, section along the chord (not to scale)", lines, labels)
