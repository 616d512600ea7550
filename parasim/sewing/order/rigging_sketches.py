"""Small drawings beside the steps from line stock to the rigged canopy; as in `sketching`."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from parasim.drawing.drawing import Anchor, Drawing, Label, Path
from parasim.geometry.risers import hooks
from parasim.rotations import FloatArray
from parasim.sewing.line_sheet import Entry
from parasim.sewing.order.job import Job
from parasim.sewing.order.sketching import Line, Note, label, listing, oval, section, to_scale, way

_SIDE_VIEW = 85.0  # width of the side view of cascades, then where the list and the knots stand [mm]
_LIST, _KNOTS = 72.0, 122.0
_LONG = 10  # a list of more lines is set closer
_CROWD = 6  # of more brake tabs only the first and the last are numbered
_OUTWARDS: tuple[Anchor, Anchor] = ("end", "start")


def line_ends(job: Job) -> Drawing:
    """Lines as they are cut, looped and tagged: a plain one, one that runs through, a brake trunk."""
    sheet, entries = job.line_sheet, job.line_sheet.entries
    plain = next(e for e in entries if e.cut is not None and e.run is None and e.kind != "brake")
    through = next((entry for entry in entries if entry.run is not None), None)
    trunk = next(entry for entry in entries if entry.remark.startswith("mark the zero"))
    lines: list[Line] = []
    labels: list[Label] = []
    shown = [entry for entry in (plain, through, trunk) if entry is not None]
    for i, entry in enumerate(shown):
        paths, words = _looped(job, entry, tail=entry is trunk)
        shift = -24.0 * i
        lines += [(points + np.array([0.0, shift]), kind) for points, kind in paths]
        labels += [replace(word, at=(word.at[0], word.at[1] + shift)) for word in words]
    title = f"Ends of lines (not to scale): {job.size(sheet.loop_allowance)} of line in each loop"
    return section(title, lines, labels)


def _looped(job: Job, entry: Entry, *, tail: bool) -> tuple[list[Line], list[Label]]:
    """One line from its lower end, at the left, to its loop at the tab or the joint."""
    left, right, knot = 0.0, 120.0, 70.0
    start = left + (18.0 if tail else 0.0)
    lines: list[Line] = [
        (way((start + (0.0 if tail else 12.0), 0), (right - 12, 0)), "cut"),
        *_loop(right, -1.0),
        (way((start, 5), (right, 5)), "guide"),
        *((way((x, 3.0), (x, 7.0)), "guide") for x in (start, right)),
    ]
    if tail:
        lines += [(way((left - 12, 0), (start, 0)), "mark"), (way((start, -2.5), (start, 2.5)), "sew")]
    else:
        lines += _loop(left, 1.0)
    tag = start + 26.0
    lines.append((np.array([tag, -2.5]) + oval(3.0, 2.5), "cut"))
    finished = entry.finished if entry.run is None else entry.run.tab
    ends = "zero mark to loop end" if tail else "loop end to loop end"
    labels = [
        label(f"{entry.label}: {ends} {job.size(finished)} finished, cut {_cut(job, entry)}", start, 8.0),
        label("tag", tag + 5.0, -4.5),
    ]
    if entry.run is not None:
        lines.append((np.array([knot, 0.0]) + oval(1.5, 1.5), "cut"))
        tied = " and ".join(entry.run.tied)
        labels.append(label(f"knot for {tied} at {job.size(entry.run.knot)}", knot + 3.0, -4.5))
    if tail:
        labels.append(label(f"tail to the servo, {job.size(job.line_sheet.brake_tail)}", left - 12, -8.5))
    return lines, labels


def _cut(job: Job, entry: Entry) -> str:
    """Length to cut, as the line sheet has it."""
    return f"{entry.cut_words(job.system)} {'mm' if job.system == 'metric' else 'in'}"


def _loop(end: float, inwards: float) -> list[Line]:
    """A loop with its end sewn or knotted down; `inwards` is +1 at the left end, -1 at the right."""
    eye = np.array([end + 5.0 * inwards, 0.0]) + oval(5.0, 1.6)
    ends = ((9.9, 0.0, 12.5, 0.0), (9.6, -0.9, 18.0, -0.9))
    back = [way((end + a * inwards, b), (end + c * inwards, d)) for a, b, c, d in ends]
    ties = [way((end + x * inwards, 0.8), (end + x * inwards, -1.8)) for x in (11.0, 13.0, 15.0)]
    return [*((one, "cut") for one in (eye, *back)), *((tie, "sew") for tie in ties)]


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
        lines += [(_side(np.array([piece.start, piece.end])), "cut") for piece in hold.lines]
        joint = _side(hold.lines[0].end)
        lines.append((joint + oval(6.0, 6.0), "cut"))
        notes += [("".join(piece.rows), _side(piece.end), "middle") for piece in hold.uppers]
        notes.append(("knot", joint + np.array([25.0, -12.0]), "start"))
    title = "Cascades of the left tip rib from the left, nose to the left"
    drawing = to_scale(title, lines, notes, _SIDE_VIEW)
    pieces = [piece for hold in holds for piece in hold.lines]
    listed = [f"{piece.label}: {job.size(length[piece.label])}" for piece in pieces]
    return _with_list(drawing, listed, _knots(_KNOTS, any(piece.through for piece in pieces)))


def brake_fan(job: Job) -> Drawing:
    """Left brake fan from behind, with finished lengths in a list, and how loops are tied."""
    fan = [piece for piece in job.line_set.brakes if piece.side == "L"]
    tabs, joints = ([p for p in fan if p.at_tab is at_tab] for at_tab in (True, False))
    drawn = [_behind(np.array([piece.start, piece.end])) for piece in fan]
    high = max(each[1, 1] for each in drawn) - drawn[0][1, 1]
    if joints:
        down = drawn[0][0] - drawn[0][1]
        drawn[0][0] = drawn[0][1] + 0.3 * high * down / np.hypot(*down)
    edge = job.canopy.point(np.linspace(-job.canopy.half_arc, 0.0, 25), np.array(1.0), np.array(0.0))
    lines: list[Line] = [*((each, "cut") for each in drawn), (_behind(edge), "guide")]
    lines += [(_behind(piece.end) + oval(0.02 * high, 0.02 * high), "cut") for piece in joints]
    above = np.array([0.0, 0.06 * high])
    named = tabs if len(tabs) <= _CROWD else [tabs[0], tabs[-1]]
    notes: list[Note] = [(p.label.rsplit("-", 1)[-1], _behind(p.end) + above, "middle") for p in named]
    title = "Left brake fan from behind; dotted: trailing edge, tip at the left"
    title += "; lowest line drawn short" if joints else ""
    drawing = to_scale(title, lines, notes, _SIDE_VIEW)
    listed = [f"{piece.label}: {job.size(job.line_sheet.finished[piece.label])}" for piece in fan]
    return _with_list(drawing, listed, _knots(_KNOTS, through=False) if joints else ([], []))


def _behind(points: FloatArray) -> FloatArray:
    """From behind, left at the left: body axes [m] to the drawing [mm]."""
    return 1e3 * points[..., [1, 2]] * [1.0, -1.0]


def free_play(job: Job) -> Drawing:
    """What a pull at the brake line does first, from the left."""
    rings = job.line_set.rings is not None
    lines: list[Line] = [
        (way((-55, 6), (0, 0)), "cut"),
        (way((-55, -3), (0, 0)), "cut"),
        (way((-55, -3), (-16, -2), (-2, -8)), "mark"),
        (way((-55, 6), (-16, 1.4), (-2, -8)), "mark"),
        (way((0, 0), (4, -1.5), (4, -56)), "cut"),
        (way((-8, -30), (0, -30)), "guide"),
        *((way((1.5, y), (6.5, y)), "sew") for y in (-30.0, -38.0, -54.0)),
    ]
    where = "at the ring" if rings else "at the riser's end"
    pull = job.design.brakes.travel
    labels = [
        label("trailing edge and brake tab; dashed: pulled down", 5, 1.0),
        label("fan and brake line", 7, -15),
        label(f"zero mark, {where}: line just taut", 9, -31),
        label(f"pulled by {job.size(job.design.free_play)}, free play: now the edge begins to move", 9, -39),
        label(f"pulled by {job.size(pull)}: full brake", 9, -55),
    ]
    return section("Free play of a brake, from the left (not to scale)", lines, labels)


def _with_list(drawing: Drawing, rows: Sequence[str], knots: tuple[list[Path], list[Label]]) -> Drawing:
    """A view with its list of lengths, and how loops are tied where the list leaves room for that."""
    pitch = 4.5 if len(rows) <= _LONG else 3.2
    labels = listing(rows, _LIST, pitch * (len(rows) - 1), pitch)
    clear = max(float(words.corners[:, 0].max()) for words in labels) < _KNOTS - 5.0
    paths, words = knots if clear else ([], [])
    return replace(drawing, paths=(*drawing.paths, *paths), labels=(*drawing.labels, *labels, *words))


def _knots(x: float, through: bool) -> tuple[list[Path], list[Label]]:
    """Loop in loop, or a loop tied about a line that runs through; not to scale."""
    lower = way((x, 0), (x, 38 if through else 12))
    paths = [Path(points=lower, closed=False, kind="cut")]
    if through:
        paths.append(Path(points=np.array([x, 20.0]) + oval(3.0, 2.0), closed=True, kind="cut"))
        paths.append(Path(points=way((x + 3, 20), (x + 12, 38)), closed=False, kind="cut"))
    else:
        paths.append(Path(points=np.array([x, 17.0]) + oval(2.2, 5.0), closed=True, kind="cut"))
        for side in (-1, 1):
            upper = np.array([x + 2.0 * side, 24.0]) + oval(1.6, 5.0)
            end = way((x + 2.0 * side, 29), (x + 6.0 * side, 38))
            paths += [Path(points=upper, closed=True, kind="cut"), Path(points=end, closed=False, kind="cut")]
    words = "tied about the line" if through else "loop in loop"
    return paths, [label(words, x + 6.0, 15.0), label("lower line", x + 3.0, 2.0)]


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
    return to_scale(title, lines, notes)


def zero_mark(job: Job) -> Drawing:
    """Way of a brake line past its riser, where it is marked: at its ring, or at the riser's end."""
    rings, ring = job.line_set.rings, job.design.brakes.ring
    end, top = 30.0, 52.0
    mark = np.array([3.0, end])
    if ring is not None:
        mark[1] += -8.0 if ring.below > 0 else 8.0 if ring.below < 0 else 0.0
    guide = np.array([32.0, 4.0]) if rings is not None else np.array([3.0, 0.0])
    lines: list[Line] = [
        (way((-12, 0), (45, 0)), "guide"),
        (way((0, 0), (0, end)), "cut"),
        *((way((0, end), (x, top)), "mark") for x in (-14.0, -8.0, -2.0)),
        (np.array([[24.0, top], mark, guide]), "cut"),
        (mark + way((-2.5, 0), (2.5, 0)), "sew"),
    ]
    words = "zero mark, at the riser's end"
    labels = [
        label("rows", -15, top, "end"),
        label("brake line from its fan", 26, top - 3.0),
        label("riser", -3, 12, "end"),
        label("payload", -14, -1, "end"),
    ]
    if rings is not None and ring is not None:
        lines += [(mark + oval(2.0, 2.0), "cut"), (guide + oval(1.5, 1.5), "cut")]
        words = "ring on the riser, zero mark here"
        side = "below" if ring.below >= 0 else "above"
        labels += [
            label(f"{job.size(abs(ring.below))} {side} the riser's end", 12, mark[1] - 0.5),
            label(f"servo's guide, {job.size(rings.onward)} on from the ring", 36, 3.0),
        ]
    labels.append(label(words, 12, mark[1] + (3.5 if rings is not None else -0.5)))
    return section("Way of a brake line past its riser (not to scale)", lines, labels)
