"""Steps from the cut pieces to the sewn canopy. Order and tolerances are common practice, no source."""

from collections.abc import Iterator

import numpy as np

from parasim.geometry.seams import TAB_LENGTH, TAB_TAIL, TAB_TAPE
from parasim.sewing.cut_list import EDGE_TAPE, TABS_TAPE, Run, tape_runs
from parasim.sewing.order import joins
from parasim.sewing.order.job import CLOTH_TOLERANCE, MASS_TOLERANCE, SPAN_TOLERANCE, Job, listed
from parasim.sewing.order.steps import COUNT, Figure, Join, Step
from parasim.sewing.pieces import Piece
from parasim.sewing.ribs import row_distance

CLOTH, RIBS, SKINS, CLOSING = "Cloth", "Ribs and panels", "Skins", "Closing"


def sewing_steps(job: Job) -> tuple[Step, ...]:
    """Steps that this design needs, each naming what it waits for."""
    return (
        *_cloth(job),
        *_ribs(job),
        *_panels(job),
        *_skins(job),
        *_closing(job),
    )


def _cloth(job: Job) -> Iterator[Step]:
    yield Step(
        key="cut",
        stage=CLOTH,
        title="Cut all pieces from the printed templates",
        details=(
            "Measure the check bars on every sheet first. The index lists the sheets of every piece; glue "
            "them cross on cross, those of the same number: 1-0 on 1-0.",
            "Lay the arrow along the warp; cut with heat, or seal the edges after.",
            "Write its number on every piece, inside the seam allowance: ribs 1 to "
            f"{job.canopy.n_ribs} and panels from the left tip.",
            f"{job.design.canopy.cells} cells and {job.canopy.n_half_cells} spaces between ribs make "
            f"{job.canopy.n_ribs} ribs, both end ribs counted.",
        ),
        figures=tuple(
            Figure(name=piece.title, value=float(piece.count), kind=COUNT) for piece in job.templates.pieces
        ),
    )
    yield Step(
        key="check_cut",
        stage=CLOTH,
        title="Inspect: measure ribs and panels along their sewing lines",
        details=(
            "A piece that is out is cut again; a pair that differs left to right is worse than both off.",
        ),
        after=("cut",),
        figures=(*_rib_figures(job), *_panel_figures(job)),
    )


def _rib_figures(job: Job) -> Iterator[Figure]:
    for piece in job.templates.pieces:
        if piece.kind == "rib":
            length, height = 1e-3 * np.ptp(piece.sewing_line, axis=0)
            for name, size in (("length along the chord", length), ("height", height)):
                yield _cloth_figure(f"{piece.called}: {name}", float(size))


def _panel_figures(job: Job) -> Iterator[Figure]:
    """Widths of panels; those that agree to the millimetre are reported together."""
    alike: dict[tuple[str, ...], list[Piece]] = {}
    for piece in job.templates.pieces:
        if piece.kind == "panel":
            skin = "top" if piece.name.startswith("top panel") else "bottom"
            widths = (f"{1e3 * width:.0f}" for width in _panel_widths(piece).values())
            alike.setdefault((skin, *widths), []).append(piece)
    for (skin, *_), pieces in alike.items():
        numbers = tuple(piece.number for piece in pieces)
        panels = pieces[0].called if len(pieces) == 1 else f"pieces {listed(numbers)}, {skin} panels"
        for where, width in _panel_widths(pieces[0]).items():
            yield _cloth_figure(f"{panels}: {where}", width)


def _panel_widths(piece: Piece) -> dict[str, float]:
    """What is measured to its length; the edges of a tapered canopy stand aslant to the warp. [m]"""
    return {
        "along the front edge": 1e-3 * piece.edge("front").length,
        "along the rear edge": 1e-3 * piece.edge("rear").length,
        "across the warp, widest": 1e-3 * float(np.ptp(piece.sewing_line[:, 1])),
    }


def _cloth_figure(name: str, size: float) -> Figure:
    return Figure(name=name, value=size, kind="tape_length", tolerance=CLOTH_TOLERANCE)


def _ribs(job: Job) -> Iterator[Step]:
    templates, spec = job.templates, job.design.canopy
    _, inner, middle = joins.ribs_of(templates)
    ribs = [piece for piece in templates.pieces if piece.kind == "rib"]
    holed = [piece for piece in ribs if piece.holes]
    if holed:
        yield Step(
            key="ports",
            stage=RIBS,
            title=f"Cut the cross-ports into the inner ribs, {listed(tuple(sorted((*inner, *middle))))}",
            details=("With heat, so that no edge frays. The end ribs stay plain: they hold the air in.",),
            after=("check_cut",),
            figures=(
                Figure(name="holes in each inner rib", value=float(len(holed[0].holes)), kind=COUNT),
                *(
                    Figure(
                        name=f"{piece.called}: diameter of a hole",
                        value=spec.crossports.diameter * _chord(job, piece),
                        kind="tape_length",
                        tolerance=CLOTH_TOLERANCE,
                    )
                    for piece in holed
                ),
            ),
        )
    patches = joins.patch_joins(templates)
    if patches:
        yield Step(
            key="patches",
            stage=RIBS,
            title="Sew the reinforcing patches on the loaded ribs",
            details=(
                "These ribs first: they carry all load. Unloaded ribs have neither patches nor tabs."
                if middle
                else "All ribs carry load here.",
                "Flat, before anything else is on the rib; the bottom edge stays flush for the skin.",
            ),
            after=("check_cut",),
            joins=patches,
        )
    runs = {run.where: run for run in tape_runs(templates)}
    if runs:
        yield _tape(job, runs[EDGE_TAPE])
    yield Step(
        key="tabs",
        stage=RIBS,
        title=f"Baste the line tabs to the bottom edge of ribs {listed(joins.loaded_ribs(templates))}",
        details=(
            _tab_words(job, taped=bool(runs)),
            "Loop outwards, ends in the seam allowance: the bottom seam catches them. Front row first.",
        ),
        after=("patches", "tape", "check_cut"),
        joins=joins.tab_joins(templates),
        by_hand=_low_tabs(job),
        figures=(
            *([_tab_tape(runs[TABS_TAPE])] if runs else []),
            _cloth_figure("tab, stitching to loop end", TAB_LENGTH),
            *_tab_figures(job, ribs),
        ),
    )
    yield Step(
        key="nose_ribs",
        stage=RIBS,
        title="Hem the nose edge of every rib, where the inlet is",
        details=(
            f"Between the two ticks at the nose; fold {job.size(job.design.sewing.seam_allowance)} under.",
            _INLET[spec.inlet.kind],
        ),
        after=("ports", "patches", "check_cut"),
    )


def _tape(job: Job, run: Run) -> Step:
    return Step(
        key="tape",
        stage=RIBS,
        title=f"Sew the tape along the lower edge of ribs {listed(joins.loaded_ribs(job.templates))}",
        details=(
            f"Tape of {job.say(job.design.sewing.tape, 'linear_density')}, flat on the sewing line"
            f"{', over the patches' if job.design.sewing.patch else ''}, from the lower lip to the "
            "trailing edge; not drawn tight, so that the edge keeps its length.",
        ),
        after=("patches", "check_cut"),
        joins=joins.tape_joins(job.templates),
        figures=(Figure(name=f"tape along the {run.where}, in all", value=run.length, kind="run"),),
    )


def _tab_words(job: Job, *, taped: bool) -> str:
    return (
        f"{'Tape' if taped else 'Strips'} of {job.size(TAB_TAPE)} each, folded in half: "
        f"{job.size(TAB_TAIL)} of either end in the seam, the loop's end {job.size(TAB_LENGTH)} from the "
        "stitching. Brake tabs are the same."
    )


def _tab_tape(run: Run) -> Figure:
    name = f"tape for {run.count} tabs, those of the brakes too"
    return Figure(name=name, value=run.length, kind="run")


_INLET = {
    "flush": "Flush inlet: the nose is cut along the section, so hem on the curve, with small tucks.",
    "open": "Open inlet: the whole nose is cut off, so this hem is straight and carries the inlet's shape.",
}


def _has_ports(job: Job) -> bool:
    return any(piece.holes for piece in job.templates.pieces)


def _chord(job: Job, piece: Piece) -> float:
    """Of a rib. [m]"""
    return float(job.canopy.chord_at(job.canopy.rib_angle[piece.places[0] - 1]))


def _low_tabs(job: Job) -> tuple[str, ...]:
    limit = joins.reach(job.canopy)
    rows = [row for row, x in job.design.lines.rows.items() if x > limit]
    return tuple(
        f"Tabs of row {row}: they sit where the tip rib is lower than {job.size(joins.PRESSER_FOOT)}; the "
        "foot of a machine does not get between the skins there."
        for row in rows
    )


def _tab_figures(job: Job, ribs: list[Piece]) -> Iterator[Figure]:
    loaded = joins.loaded_ribs(job.templates)
    for piece in ribs:
        if piece.places[0] in loaded:
            bottom, chord = piece.edge("bottom"), 1e3 * _chord(job, piece)
            for row, x in job.design.lines.rows.items():
                distance = 1e-3 * row_distance(bottom, x * chord)
                yield _cloth_figure(f"{piece.called}: lower lip to tab {row}", distance)


def _panels(job: Job) -> Iterator[Step]:
    hem = job.size(job.design.sewing.hem)
    yield Step(
        key="lips",
        stage=RIBS,
        title="Hem the front edge of every panel: upper and lower lip of the inlet",
        details=(f"Fold {hem} under, so that both lips stand open.",),
        after=("check_cut",),
    )
    yield Step(
        key="brake_tabs",
        stage=RIBS,
        title="Baste the brake tabs to the rear edge of the bottom panels",
        details=("At the ticks, loop outwards; the seam of the trailing edge catches them.",),
        after=("check_cut",),
        joins=joins.brake_joins(job.templates),
    )
    if job.canopy.stabiliser is not None:
        yield Step(
            key="stabilisers",
            stage=RIBS,
            title="Hem front, lower and rear edge of both stabilisers",
            details=("The top edge stays raw. Make a left and a right one.", *_fin_tabs(job)),
            after=("check_cut",),
            figures=(
                _cloth_figure("stabiliser: height below the seam", job.canopy.stabiliser.height),
                _cloth_figure("stabiliser: along the chord", job.canopy.stabiliser.chord),
            ),
        )


def _fin_tabs(job: Job) -> Iterator[str]:
    fins = job.design.canopy.stabilisers
    if fins is not None and fins.rows:
        yield f"At the ticks of {', '.join(fins.rows)} sew a tab into the lower hem, loop downwards."


def _skins(job: Job) -> Iterator[Step]:
    templates, canopy = job.templates, job.canopy
    top, bottom = (joins.skin_joins(templates, skin) for skin in ("top", "bottom"))
    inside = [joins.on_middle_line(templates, rib) for rib in range(1, canopy.n_ribs + 1)]
    middle = tuple(join for join, is_inside in zip(top, inside, strict=True) if is_inside)
    if middle:
        yield Step(
            key="middle_ribs",
            stage=SKINS,
            title="Sew the unloaded ribs on the middle line of their top panels",
            details=("While the panel lies flat: matching the notches, from the front to the rear.",),
            after=("ports", "nose_ribs", "lips"),
            joins=middle,
        )
    yield Step(
        key="top_skin",
        stage=SKINS,
        title="Sew the top skin: panel, rib, panel in one seam, from the left tip to the right",
        details=(
            "Match the notches; where the three edges differ, ease them in, never cut. Raw edges inside.",
        ),
        after=("ports", "patches", "tabs", "nose_ribs", "lips", "middle_ribs"),
        joins=tuple(join for join, is_inside in zip(top, inside, strict=True) if not is_inside),
    )
    yield Step(
        key="check_top",
        stage=SKINS,
        title="Inspect the top skin: every rib upright, no pleat, left like right",
        details=("Fold it at the centre: seams of left and right ribs lie on each other.",),
        after=("top_skin",),
    )
    yield Step(
        key="bottom_skin",
        stage=SKINS,
        title="Sew the bottom skin rib by rib, from the left tip to the right",
        details=_bottom_details(job),
        after=("check_top", "tabs", "lips", "brake_tabs", "stabilisers"),
        joins=bottom,
    )
    yield from _rear_ends(job, bottom)


def _bottom_details(job: Job) -> tuple[str, ...]:
    n = job.canopy.n_ribs
    fins = (
        (
            "Into the seams of both end ribs goes the stabiliser as well, its top edge between rib and skin; "
            f"at rib {n} outside rib and tabs, so that it hangs clear of the edges folded under.",
        )
        if job.canopy.stabiliser is not None
        else ()
    )
    middle = (
        ("An unloaded rib is sewn on the middle line in its turn, while its panel's right edge is free.",)
        if any(joins.on_middle_line(job.templates, rib) for rib in range(1, n + 1))
        else ()
    )
    return (
        "One rib at a time: its raw edges come to lie in the next cell, which is still open.",
        *middle,
        *fins,
        f"The seam at rib {n} closes the last cell: its raw edges come to lie outside. Fold them under and "
        "topstitch, or bind them.",
        "Tabs pass through the seam; sew twice over each.",
    )


def _rear_ends(job: Job, bottom: tuple[Join, ...]) -> Iterator[Step]:
    if not any(join.by_hand for join in bottom):
        return
    longest, shortest = (pick(join.by_hand for join in bottom) for pick in (max, min))
    how_far = job.size(longest)
    if job.size(shortest) != how_far:
        how_far = f"{job.size(shortest)} at the tips to {how_far} at the centre"
    yield Step(
        key="rear_ends",
        stage=SKINS,
        title="By hand: the rear end of every rib's bottom seam",
        details=("Backstitch from where the machine stopped to the trailing edge, while that is open.",),
        after=("bottom_skin",),
        by_hand=(
            f"Bottom skin at ribs 1 to {job.canopy.n_ribs}, the last {how_far} before the trailing edge: "
            f"behind {100 * joins.reach(job.canopy):.0f} % of the chord the tip rib is lower than "
            f"{job.size(joins.PRESSER_FOOT)}, and the foot of a machine does not get between the skins.",
        ),
        figures=(Figure(name="rear ends sewn by hand", value=float(len(bottom)), kind=COUNT),),
    )


def _closing(job: Job) -> Iterator[Step]:
    canopy = job.canopy
    tip = float(canopy.chord_at(canopy.rib_angle[:1])[0])
    yield Step(
        key="check_cells",
        stage=CLOSING,
        title="Inspect every cell from the rear, the last time that it is open",
        details=(
            "Draw out loose threads and pins; pull at every tab.",
            *(["Look through the cross-ports: all of them open."] if _has_ports(job) else []),
            "Span: along the seams' line of the bottom skin at the quarter chord, laid flat, tip to tip.",
        ),
        after=("bottom_skin", "rear_ends"),
        figures=(
            Figure(
                name="span along the arc, bottom skin",
                value=canopy.span,
                kind="tape_length",
                tolerance=SPAN_TOLERANCE * canopy.span,
            ),
            _cloth_figure("tip chord, leading to trailing edge", tip),
        ),
    )
    yield Step(
        key="trailing_edge",
        stage=CLOSING,
        title="Close the trailing edge, last of all seams, from tip to tip",
        details=(
            f"From outside: fold both hems ({job.size(job.design.sewing.hem)}) inwards and sew close to the "
            "edge. The rear ends of the ribs and the brake tabs are caught in it.",
        ),
        after=("check_cells", "brake_tabs"),
        joins=joins.trailing_joins(job.templates),
    )
    yield Step(
        key="weigh_canopy",
        stage=CLOSING,
        title="Inspect: weigh the canopy without lines",
        details=(
            "Heavier than given: look for wrong cloth or wide seams before the lines go on. What it weighs "
            "goes into a notes file, as_built.canopy_mass, for parasim learn.",
        ),
        after=("trailing_edge",),
        figures=(
            Figure(
                name="canopy without lines",
                value=job.cloth_mass,
                kind="small_mass",
                tolerance=MASS_TOLERANCE * job.cloth_mass,
            ),
        ),
    )
