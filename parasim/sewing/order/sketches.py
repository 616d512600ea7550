"""Small drawings beside the steps: the design's own geometry to scale, and sections of seams, not to scale.

On paper, in millimetres; lines as in the key of the templates: full for cloth and line, dashed for stitching.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import cos, sin

import numpy as np
from shapely import LineString, box
from shapely.geometry.base import BaseGeometry

from parasim.drawing.drawing import Anchor, Drawing, Label, Path, PathKind
from parasim.geometry.risers import hooks
from parasim.geometry.seams import TAB_LENGTH
from parasim.rotations import FloatArray
from parasim.sewing.order.job import Job
from parasim.sewing.pieces import Piece
from parasim.sewing.ribs import row_distance

WIDTH = 150.0
"""Of a drawing, at most. [mm]"""

HEIGHT = 46.0
"""Of what is drawn to scale, at most. [mm]"""

_TYPE = 2.8
_SIDE_VIEW = 85.0  # width of the side view of cascades, then where the list and the knots stand [mm]
_LIST, _KNOTS = 72.0, 122.0
_OUTWARDS: tuple[Anchor, Anchor] = ("end", "start")
_AROUND = 45.0  # shown to either side of a tab [mm]

Line = tuple[FloatArray, PathKind]
Note = tuple[str, FloatArray | tuple[float, float], Anchor]
"""Text, where, and which end of it is there."""


def _label(text: str, x: float, y: float, anchor: Anchor = "start") -> Label:
    return Label(text=text, at=(float(x), float(y)), height=_TYPE, anchor=anchor)


def _to_scale(title: str, lines: Sequence[Line], notes: Sequence[Note], width: float = WIDTH) -> Drawing:
    """Lines and notes in the design's millimetres, made to fit; the title stands below."""
    points = np.vstack([line for line, _ in lines])
    low, high = points.min(axis=0), points.max(axis=0)
    scale = min((width - 30.0) / max(high[0] - low[0], 1.0), HEIGHT / max(high[1] - low[1], 1.0))
    paths = tuple(Path(points=scale * (line - low), closed=False, kind=kind) for line, kind in lines)
    labels = []
    for text, at, anchor in notes:
        x, y = scale * (np.array(at) - low)
        labels.append(_label(text, x, y + 1.0, anchor))
    return Drawing(title=title, paths=paths, labels=(*labels, _label(title, 0.0, -8.0)))


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
    return _to_scale(title, [*skins, *ribs], notes)


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
    return _to_scale(title, lines, notes)


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
    return _to_scale(title, _inside(_lines_of(rib), window), notes)


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
    return _to_scale(title, _lines_of(found), notes)


def _side(points: FloatArray) -> FloatArray:
    """From the left, nose to the left: body axes [m] to the drawing [mm]."""
    return -1e3 * points[..., [0, 2]]


def cascade(job: Job) -> Drawing:
    """Cascades of the left tip rib, with finished lengths in a list, and how loops are tied."""
    length, first = job.line_sheet.finished, min(hold.rib for hold in job.line_set.holds)
    holds = [
        hold for hold in job.line_set.holds if hold.is_cascade and hold.rib == first and hold.side == "L"
    ]
    lines: list[Line] = []
    notes: list[Note] = []
    for hold in holds:
        lines += [(_side(np.array([line.start, line.end])), "cut") for line in hold.lines]
        joint = _side(hold.lines[0].end)
        lines.append((joint + _ring(6.0, 6.0), "cut"))
        notes += [("".join(line.rows), _side(line.end), "middle") for line in hold.uppers]
        notes.append(("knot", joint + np.array([25.0, -12.0]), "start"))
    title = "Cascades of the left tip rib from the left, nose to the left"
    drawing = _to_scale(title, lines, notes, _SIDE_VIEW)
    listed = [
        _label(f"{line.label}: {job.size(length[line.label])}", _LIST, 4.5 * i)
        for i, line in enumerate(reversed([line for hold in holds for line in hold.lines]))
    ]
    paths, words = _knots(_KNOTS, any(line.through for hold in holds for line in hold.lines))
    return replace(drawing, paths=(*drawing.paths, *paths), labels=(*drawing.labels, *listed, *words))


def _ring(wide: float, high: float) -> FloatArray:
    turn = np.linspace(0.0, 2 * np.pi, 33)
    return np.column_stack([wide * np.cos(turn), high * np.sin(turn)])


def _knots(x: float, through: bool) -> tuple[list[Path], list[Label]]:
    """Loop in loop, or a loop tied about a line that runs through; not to scale."""
    lower = _line((x, 0), (x, 38 if through else 12))
    paths = [Path(points=lower, closed=False, kind="cut")]
    if through:
        paths.append(Path(points=np.array([x, 20.0]) + _ring(3.0, 2.0), closed=True, kind="cut"))
        paths.append(Path(points=_line((x + 3, 20), (x + 12, 38)), closed=False, kind="cut"))
    else:
        paths.append(Path(points=np.array([x, 17.0]) + _ring(2.2, 5.0), closed=True, kind="cut"))
        for side in (-1, 1):
            upper = np.array([x + 2.0 * side, 24.0]) + _ring(1.6, 5.0)
            end = _line((x + 2.0 * side, 29), (x + 6.0 * side, 38))
            paths += [Path(points=upper, closed=True, kind="cut"), Path(points=end, closed=False, kind="cut")]
    words = "tied about the line" if through else "loop in loop"
    return paths, [_label(words, x + 6.0, 15.0), _label("lower line", x + 3.0, 2.0)]


def riser(job: Job) -> Drawing:
    """Risers from payload to lines, from behind; from the left where there are front and rear ones."""
    ends, suspension = job.line_set.riser_ends, job.design.payload.suspension
    spread, four = job.design.lines.riser.spread, suspension.four_hooks
    below = hooks(job.design)
    if four:
        top = np.array([_side(ends[i]) for i in (0, 2)])
        bottom = top - [[0.0, 1e3 * size] for size in job.design.riser_lengths]
        names = ["front riser", "rear riser"]
    else:
        top = np.array([[1e3 * end[1], -1e3 * end[2]] for end in ends])
        bottom = np.array([[1e3 * hook[1], -1e3 * hook[2]] for hook in below])
        names = ["left riser", "right riser"]
    fan = [top + np.array([shift, 25.0]) for shift in (-12.0, 0.0, 12.0)]
    lines: list[Line] = [(np.array([low, high]), "cut") for low, high in zip(bottom, top, strict=True)]
    lines += [(np.array([high, up]), "mark") for ups in fan for high, up in zip(top, ups, strict=True)]
    lines.append(
        (
            np.array([bottom.min(axis=0) - [10.0, 0.0], [bottom[:, 0].max() + 10.0, bottom[:, 1].min()]]),
            "guide",
        )
    )
    notes: list[Note] = [
        (
            f"{name}, {job.size(1e-3 * float(np.hypot(*(high - low))))}",
            (low + high) / 2 + np.array([side, 0.0]),
            anchor,
        )
        for name, low, high, side, anchor in zip(names, bottom, top, (-3.0, 3.0), _OUTWARDS, strict=True)
    ]
    where = "from the left, front at the left" if four else "from behind"
    title = f"Risers {where}; left and right {job.size(spread)} apart"
    return _to_scale(title, lines, notes)


def _section(title: str, lines: Sequence[Line], labels: Sequence[Label]) -> Drawing:
    """A section, not to scale, as it stands."""
    paths = tuple(Path(points=line, closed=False, kind=kind) for line, kind in lines)
    low = min(float(line[:, 1].min()) for line, _ in lines)
    left = min(float(line[:, 0].min()) for line, _ in lines)
    return Drawing(title=title, paths=paths, labels=(*labels, _label(title, left, low - 7.0)))


def _line(*points: tuple[float, float]) -> FloatArray:
    return np.array(points)


def skin_seam(job: Job, skin: str, *, tab: bool = False) -> Drawing:
    """Plain seam of two panels and a rib; raw edges inside."""
    into = -1.0 if skin == "top" else 1.0
    lines: list[Line] = [
        (_line((-45, 0), (-1.5, 0), (-1.5, 11 * into)), "cut"),
        (_line((45, 0), (1.5, 0), (1.5, 11 * into)), "cut"),
        (_line((0, into), (0, 24 * into)), "cut"),
        (_line((-5, 1.8 * into), (5, 1.8 * into)), "sew"),
    ]
    if tab:
        lines.append((_line((-0.7, 9), (-0.7, -11), (0, -12.5), (0.7, -11), (0.7, 9)), "mark"))
    raw = job.size(job.design.sewing.seam_allowance)
    labels = [
        _label(f"{skin} panel", -44, 1.5 if skin == "top" else -4.0),
        _label(f"next {skin} panel", 44, 1.5 if skin == "top" else -4.0, "end"),
        _label("rib", 2.5, 21 * into),
        _label(f"raw edges inside, {raw}", 4, 10 * into - 0.8),
        _label("stitching", 6, 3.6 * into - 0.8),
    ]
    if tab:
        labels.append(_label("tab, caught in the seam", 3, -11))
    return _section(f"Seam of the {skin} skin, section across (not to scale): plain", lines, labels)


def last_seam(job: Job) -> Drawing:
    """Seam that closes the last cell: raw edges outside, rolled and topstitched; tab and fin hang clear."""
    raw = job.size(job.design.sewing.seam_allowance)
    lines: list[Line] = [
        (_line((-45, 0), (-1.5, 0), (-1.5, -8), (-14, -8), (-14, -5), (-4, -5)), "cut"),
        (_line((0, 24), (0, -10), (-16, -10), (-16, -3.2), (-4, -3.2)), "cut"),
        (_line((-9, 2), (-9, -12)), "sew"),
        (_line((-4, -1.6), (5, -1.6)), "sew"),
        (_line((1, 7), (1, -12), (1.7, -13.5), (2.4, -12), (2.4, 7)), "mark"),
    ]
    labels = [
        _label("bottom panel", -44, 1.5),
        _label(f"rib {job.canopy.n_ribs}", 2.5, 18),
        _label(f"raw edges outside, {raw}, folded under and topstitched", 6, -8.5),
        _label("tab, caught in the seam", 6, -13.5),
    ]
    if job.canopy.stabiliser is not None:
        lines.append((_line((3.6, 7), (3.6, -24)), "cut"))
        labels.append(_label("stabiliser, outside rib and tab, hanging down", 6, -19))
    return _section(f"Seam at rib {job.canopy.n_ribs}, section (not to scale): felled", lines, labels)


def trailing_edge(job: Job) -> Drawing:
    """Both hems folded inwards, sewn close to the edge."""
    hem = job.size(job.design.sewing.hem)
    lines: list[Line] = [
        (_line((-50, 4), (0, 4), (0, 1), (-22, 1)), "cut"),
        (_line((-50, -4), (0, -4), (0, -1), (-22, -1)), "cut"),
        (_line((-4, 7), (-4, -7)), "sew"),
        (_line((-22, 0), (14, 0.6), (15.5, 0), (14, -0.6), (-22, 0)), "mark"),
    ]
    labels = [
        _label("top skin", -49, 5.5),
        _label("bottom skin", -49, -8.0),
        _label(f"hems folded in, {hem}", -33, 5.5),
        _label("brake tab", 17, -1.0),
    ]
    return _section("Trailing edge, section along the chord (not to scale)", lines, labels)


def zero_mark(job: Job) -> Drawing:
    """Way of a brake line past its riser, where it is marked: at its ring, or at the riser's end."""
    rings, ring = job.line_set.rings, job.design.brakes.ring
    end, top = 30.0, 52.0
    mark = np.array([3.0, end])
    if ring is not None:
        mark[1] += -8.0 if ring.below > 0 else 8.0 if ring.below < 0 else 0.0
    guide = np.array([32.0, 4.0]) if rings is not None else np.array([3.0, 0.0])
    lines: list[Line] = [
        (_line((-12, 0), (45, 0)), "guide"),
        (_line((0, 0), (0, end)), "cut"),
        *((_line((0, end), (x, top)), "mark") for x in (-14.0, -8.0, -2.0)),
        (np.array([[24.0, top], mark, guide]), "cut"),
        (mark + _line((-2.5, 0), (2.5, 0)), "sew"),
    ]
    words = "zero mark, at the riser's end"
    labels = [
        _label("rows", -15, top, "end"),
        _label("brake line from its fan", 26, top - 3.0),
        _label("riser", -3, 12, "end"),
        _label("payload", -14, -1, "end"),
    ]
    if rings is not None and ring is not None:
        lines += [(mark + _ring(2.0, 2.0), "cut"), (guide + _ring(1.5, 1.5), "cut")]
        words = "ring on the riser, zero mark here"
        side = "below" if ring.below >= 0 else "above"
        labels += [
            _label(f"{job.size(abs(ring.below))} {side} the riser's end", 12, mark[1] - 0.5),
            _label(f"servo's guide, {job.size(rings.onward)} on from the ring", 36, 3.0),
        ]
    labels.append(_label(words, 12, mark[1] + (3.5 if rings is not None else -0.5)))
    return _section("Way of a brake line past its riser (not to scale)", lines, labels)
