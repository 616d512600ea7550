"""The line sheet as tables and sentences: for the terminal, and for the pages to sew from."""

from parasim.flight.line_loads import LineLoads
from parasim.flight.lines import Remeasured
from parasim.flight.trim import Trim
from parasim.geometry.line_stock import KNOT_EFFICIENCY
from parasim.report.lines import LineReport
from parasim.sewing.line_page import PageTable
from parasim.sewing.line_sheet import ZERO_POINTS, LineSheet
from parasim.units import System, show


def facts(report: LineReport, system: System) -> tuple[str, ...]:
    """What the lengths mean, in sentences for the sheet."""
    sheet = report.sheet
    material = sheet.material or "material not given"
    shrinkage = (
        f" and {100 * sheet.stock.shrinkage:.1f} % for settling"
        if sheet.stock.shrinkage
        else ", none for settling"
    )

    def size(length: float) -> str:
        return show(length, "small_length", system)

    return (
        f"Line: {show(sheet.diameter, 'small_length', system, digits=1 if system == 'metric' else 3)}, "
        f"{show(sheet.linear_density, 'linear_density', system)}, {material}. "
        f"{show(sheet.total_cut, 'length', system, digits=1)} to cut in all; buy a tenth more.",
        f"Measure from loop end to loop end under {sheet.tension_words(system)}, to the millimetre "
        "(5 to 10 N is common practice).",
        *ZERO_POINTS,
        f"Cut length holds {size(sheet.loop_allowance)} for a loop at each end{shrinkage}; "
        f"a knot in a line that runs through takes {size(sheet.tie_allowance)}; "
        f"the brake trunk has {size(sheet.brake_tail)} below its zero mark (riser, travel, loop).",
        "Labels: rib counted from 1 at the left tip, side of the riser end, rows held. Put the tag at the "
        "upper end.",
    )


def differential_table(sheet: LineSheet, system: System) -> PageTable:
    """Ways from riser to tab compared with the front row's."""
    names = sorted({name for d in sheet.differentials for name in d.longer}, key=_by_row)
    rows = tuple(
        (
            f"{d.rib}{d.side}",
            show(d.front, "small_length", system),
            *(show(d.longer[n], "small_length", system) if n in d.longer else "" for n in names),
        )
        for d in sheet.differentials
    )
    front = sheet.front_row
    return PageTable(
        title=f"Longer than row {front} of the same rib, riser end to tab",
        heads=("rib", front, *(f"{name} - {front}" for name in names)),
        rows=rows,
        note="Finished ways through the cascades. Brake branches are compared with the rib nearest to them.",
    )


def _by_row(name: str) -> tuple[bool, str]:
    return name.startswith("brake"), name


def total_table(sheet: LineSheet, system: System) -> PageTable:
    """Pieces and line by group."""
    words = {"row": "whole", "trunk": "lower", "branch": "upper", "brake": "brake"}
    rows = [
        (
            t.group if t.kind != "brake" else "brakes",
            words[t.kind],
            f"{t.count}",
            show(t.finished, "length", system),
            show(t.cut, "length", system),
        )
        for t in sheet.totals
    ]
    whole = ("all", "", f"{sum(t.count for t in sheet.totals)}", "", show(sheet.total_cut, "length", system))
    return PageTable(
        title="Pieces to cut", heads=("holds", "part", "pieces", "finished", "to cut"), rows=(*rows, whole)
    )


def tolerance_table(report: LineReport, system: System) -> PageTable:
    """What an error of a row does to trim and to the landing without flare."""
    rows = [
        (
            effect.row,
            ("+" if effect.error > 0 else "") + show(effect.error, "small_length", system),
            show(effect.rigging_change, "angle", system, digits=2),
            *_flight_cells(effect.trim, system),
        )
        for effect in report.effects
    ]
    designed = ("as designed", "", "", *_flight_cells(report.trim, system))
    return PageTable(
        title="What an error of a whole row does, brakes released in still air",
        heads=("row", "error", "rigging", "glide ratio", "lands forward at", "and down at"),
        rows=(designed, *rows),
        note="Rigging positive nose-down. Brake lines too long are slack; too short, they pull by what the "
        "free play leaves over.",
    )


def _flight_cells(trim: Trim | None, system: System) -> tuple[str, str, str]:
    if trim is None:
        return "no glide", "-", "-"
    return (
        f"{trim.glide_ratio:.2f}",
        show(trim.forward_speed, "speed", system),
        show(trim.sink, "speed", system),
    )


def load_table(report: LineReport, system: System) -> PageTable:
    """What rows and their strongest loaded lines carry."""
    loads = report.loads
    rows = []
    for row, share in loads.row_share.items():
        ends = [line for hold in report.vehicle.line_set.holds for line in hold.uppers if line.rows == (row,)]
        most = max(ends, key=lambda line: round(loads.tension[line.label], 6))
        tension = loads.tension[most.label]
        rows.append(_load_cells(row, share, loads.asked_share[row], most.label, tension, loads, system))
    trunks = [hold.lines[0] for hold in report.vehicle.line_set.holds if hold.is_cascade]
    for group in dict.fromkeys(line.rows for line in trunks):
        most = max(
            (line for line in trunks if line.rows == group),
            key=lambda line: round(loads.tension[line.label], 6),
        )
        share = sum(loads.row_share[row] for row in group)
        asked = sum(loads.asked_share[row] for row in group)
        rows.append(
            _load_cells("+".join(group), share, asked, most.label, loads.tension[most.label], loads, system)
        )
    knotted = loads.stock.knotted_strength
    margin = (
        "" if loads.margin is None else f" The highest line keeps {loads.margin:.1f} times its opening load."
    )
    strength = (
        "The strength of the line is not known."
        if knotted is None
        else f"Line holds {show(loads.stock.strength, 'force', system, digits=0)} straight, "
        f"{show(knotted, 'force', system, digits=0)} at a knot "
        f"({100 * KNOT_EFFICIENCY:.0f} %, common practice)."
    )
    return PageTable(
        title="What the lines carry",
        heads=(
            "row",
            "of all load",
            "free rows take",
            "most on",
            "at 1 g",
            f"opening, {loads.opening_factor:g} g",
        ),
        rows=tuple(rows),
        note=strength + margin,
    )


def _load_cells(
    row: str, share: float, asked: float, label: str, tension: float, loads: LineLoads, system: System
) -> tuple[str, ...]:
    return (
        row,
        f"{100 * share:.0f} %",
        f"{100 * asked:.0f} %",
        label,
        show(tension, "force", system),
        show(loads.opening_factor * tension, "force", system, digits=1),
    )


def adjust_rows(found: Remeasured, system: System, most: int = 12) -> list[list[str]]:
    """Lines to adjust, largest first."""
    return [
        [
            a.label,
            ("shorten by " if a.change > 0 else "lengthen by ") + show(abs(a.change), "small_length", system),
            show(a.rigging_change, "angle", system, digits=2),
        ]
        for a in found.adjustments[:most]
        if abs(a.change) >= 0.0005
    ]


def measured_sentences(found: Remeasured, system: System) -> tuple[str, ...]:
    """What the measured lines mean for the glide."""
    change = found.rigging.rigging_angle - found.designed_rigging.rigging_angle
    way = "nose-down" if change > 0 else "nose-up"
    sentences = [
        f"Lines as measured rig it {show(abs(change), 'angle', system, digits=2)} more {way}, at "
        f"{show(found.rigging.rigging_angle, 'angle', system, digits=2)}."
    ]
    trim, designed = found.trim, found.designed
    if trim is not None:
        sentences.append(
            f"It glides {trim.glide_ratio:.2f} to 1 (designed: {designed.glide_ratio:.2f}) and sinks "
            f"{show(trim.sink, 'speed', system)} ({show(designed.sink, 'speed', system)}) at "
            f"{show(trim.airspeed, 'speed', system)} ({show(designed.airspeed, 'speed', system)}) airspeed."
        )
        sentences.append(
            f"Nose-tuck margin {show(found.tuck_margin, 'angle', system)}, stall margin "
            f"{show(found.stall_margin, 'angle', system)}."
        )
    sentences.append(
        f"On the mean the lines changed by {show(found.mean_change, 'small_length', system)}: what all share "
        "moves the trim little, differences between rows move it."
    )
    row = found.turn_row
    if row is None:
        sentences.append("Left and right agree within what tying takes.")
    else:
        size = found.left_less_right[row]
        longer = "longer" if size > 0 else "shorter"
        sentences.append(
            f"Row {row} is {show(abs(size), 'small_length', system)} {longer} on the left than on the right: "
            f"expect a turn to the {found.turn}, the shorter side (common practice, not computed)."
        )
    return tuple(sentences)
