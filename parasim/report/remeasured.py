"""Lines as measured after a season: what they mean for the glide, and how to bring them back."""

from collections.abc import Iterator
from typing import Any

from parasim.config.measured import TO_RISER
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE
from parasim.flight.lines import Adjustment, Remeasured
from parasim.making.lines import Lines
from parasim.report.column import Column, Table, csv_text
from parasim.report.limits import short_margins
from parasim.report.report import Block
from parasim.report.words import in_mm
from parasim.units import System, in_degrees, in_sixteenths, show

AS_DESIGNED = "The table has no measured length in it: all lines are taken as designed."

LEAST_CHANGE = 0.0005
"""Of a line that is worth adjusting. [m]"""

Adjusted = tuple[Adjustment, float]
"""A line as measured, and its designed length. [m]"""

ADJUST_COLUMNS: tuple[Column[Adjusted], ...] = (
    Column(name="label", words="line", kind="", read=lambda row: row[0].label),
    Column(name="designed_mm", words="designed", kind="tape_length", read=lambda row: row[1]),
    Column(
        name="measured_mm", words="measured", kind="tape_length", read=lambda row: row[1] + row[0].change
    ),
    Column(name="change_mm", words="change", kind="tape_length", read=lambda row: row[0].change),
    Column(
        name="rigging_change_deg", words="turns rigging by", kind="angle", digits=2,
        read=lambda row: row[0].rigging_change,
    ),
)  # fmt: skip
"""Largest change first; rigging change of that line alone."""

BACK: tuple[Column[Adjusted], ...] = (
    Column(
        name="shorten_mm", words="shorten by", kind="tape_length", missing="",
        read=lambda row: row[0].change if row[0].change > 0 else None,
    ),
    Column(
        name="lengthen_mm", words="lengthen by", kind="tape_length", missing="",
        read=lambda row: -row[0].change if row[0].change <= 0 else None,
    ),
)  # fmt: skip
"""The change undone, as printed."""

ROW_COLUMNS: tuple[Column[tuple[str, float, float]], ...] = (
    Column(name="row", words="row", kind="", read=lambda row: row[0]),
    Column(name="change_mm", words="longer by", kind="tape_length", read=lambda row: row[1]),
    Column(name="left_less_right_mm", words="left - right", kind="tape_length", read=lambda row: row[2]),
)


def sheet_to_fill_in(lines: Lines, system: System) -> str:
    """Table of every line, then of every whole way with a joint in it, to write measured lengths into; CSV.

    `parasim lines --measured` reads it back: heads as in `parasim.config.measured`.
    """
    sheet, unit = lines.sheet, "mm" if system == "metric" else "in"
    ways = [(label, way) for label, way in sheet.ways.items() if len(way) > 1]
    whole = [(label + TO_RISER, sum(sheet.finished[piece] for piece in way)) for label, way in ways]
    return csv_text(
        ["line", f"designed_{unit}", f"measured_{unit}", "measure_under"],
        [
            [
                label,
                round(in_mm(length)) if system == "metric" else in_sixteenths(length),
                "",
                sheet.tension_words(system),
            ]
            for label, length in (*sheet.finished.items(), *whole)
        ],
    )


def measured_blocks(lines: Lines, system: System) -> Iterator[Block]:
    """What measured lines mean, and which to adjust; nothing where none were measured."""
    if lines.remeasured is None:
        return
    if not lines.measured:
        yield AS_DESIGNED
        return
    found = lines.remeasured
    yield "\n".join([given_sentence(lines), *measured_sentences(found, system)])
    yield Table(
        columns=ROW_COLUMNS, rows=row_changes(found), title="Whole ways from riser to tab, on the mean"
    )
    rows = [row for row in adjusted(lines) if abs(row[0].change) >= LEAST_CHANGE]
    label, designed, measured, _, turn = ADJUST_COLUMNS
    if rows:
        columns = (label, designed, measured, *BACK, turn)
        yield Table(columns=columns, rows=rows, title="Largest changes first", long=True)
    else:
        yield "Nothing to shorten or lengthen."


def measured_document(lines: Lines) -> dict[str, Any] | None:
    """As in `parasim.report.lines.lines_document`; None where no lines were measured."""
    found = lines.remeasured
    if found is None:
        return None
    trim, designed = found.trim, found.designed
    return {
        "given_count": len(lines.measured or {}),
        "rigging_angle_deg": in_degrees(found.rigging.rigging_angle),
        "rigging_change_deg": in_degrees(found.rigging.rigging_angle - found.designed_rigging.rigging_angle),
        "misfit_mm": in_mm(found.rigging.misfit),
        "glide_ratio": trim and trim.glide_ratio,
        "airspeed_m_s": trim and trim.airspeed,
        "sink_m_s": trim and trim.sink,
        "designed_glide_ratio": designed.glide_ratio,
        "designed_airspeed_m_s": designed.airspeed,
        "designed_sink_m_s": designed.sink,
        "tuck_margin_deg": in_degrees(found.tuck_margin),
        "stall_margin_deg": in_degrees(found.stall_margin),
        "designed_tuck_margin_deg": in_degrees(found.designed_tuck_margin),
        "designed_stall_margin_deg": in_degrees(found.designed_stall_margin),
        "mean_change_mm": in_mm(found.mean_change),
        "rows": Table(columns=ROW_COLUMNS, rows=row_changes(found)).document(),
        "turn": found.turn,
        "turn_rate_deg_s": None if found.turning is None else in_degrees(found.turning.rate),
        "bank_deg": None if found.turning is None else in_degrees(found.turning.bank),
        "turn_row": found.turn_row,
        "adjust": Table(columns=ADJUST_COLUMNS, rows=adjusted(lines)).document(),
    }


def row_changes(found: Remeasured) -> list[tuple[str, float, float]]:
    """Each row, its mean change, and what left is longer by than right. [m]"""
    return [(row, size, found.left_less_right[row]) for row, size in found.row_change.items()]


def headline(lines: Lines, system: System) -> str:
    """What the lines as measured do, in a sentence; nothing where none were measured."""
    found = lines.remeasured
    if found is None or not lines.measured:
        return ""
    rigged = show(found.rigging.rigging_angle, "angle", system, digits=2)
    designed = show(found.designed_rigging.rigging_angle, "angle", system, digits=2)
    said = f"on the lines as measured it is rigged at {rigged} (designed: {designed})"
    if found.trim is None:
        return said
    sink = show(found.trim.sink, "speed", system)
    way = f"turns {found.turn} by itself" if found.turn else "holds its heading"
    kept = "" if lost_margins(found, system) else ", both margins as asked"
    return f"{said}, glides {found.trim.glide_ratio:.2f} to 1, sinks {sink} and {way}{kept}"


def given_sentence(lines: Lines) -> str:
    """How much was measured."""
    count, whole = len(lines.measured or {}), sum(label.endswith(TO_RISER) for label in lines.measured or {})
    ways = f", {whole} of them whole ways to the riser" if whole else ""
    return f"Measured: {count} length{'s' * (count != 1)}{ways}; whatever is blank is taken as designed."


def adjusted(lines: Lines) -> list[Adjusted]:
    """Every line as measured, largest change first."""
    assert lines.remeasured is not None
    return [(each, lines.sheet.finished[each.label]) for each in lines.remeasured.adjustments]


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
            f"Nose-tuck margin {show(found.tuck_margin, 'angle', system)} "
            f"({show(found.designed_tuck_margin, 'angle', system)}), stall margin "
            f"{show(found.stall_margin, 'angle', system)} "
            f"({show(found.designed_stall_margin, 'angle', system)})."
        )
        asked = " and ".join(show(least, "angle", system) for least in (TUCK_RESERVE, STALL_RESERVE))
        sentences.append(
            "Bring the lines back before it flies."
            if lost_margins(found, system)
            else f"Both margins keep the {asked} asked of them, by the likely figures."
        )
    sentences.append(
        f"On the mean the lines changed by {show(found.mean_change, 'tape_length', system)}: what all share "
        "moves the trim little, differences between rows move it."
    )
    sentences.append(turn_sentence(found, system))
    return tuple(sentences)


def lost_margins(found: Remeasured, system: System) -> list[str]:
    """Margins on the lines as measured that are under what is asked of them."""
    return short_margins(found.tuck_margin, found.stall_margin, "as measured is", system)


def turn_sentence(found: Remeasured, system: System) -> str:
    """What the differences of left and right do by the model."""
    row, turning = found.turn_row, found.turning
    if row is None:
        return "Left and right agree within what tying takes."
    size, way = found.left_less_right[row], "longer" if found.left_less_right[row] > 0 else "shorter"
    said = f"Row {row} is {show(abs(size), 'tape_length', system)} {way} on the left than on the right: "
    if turning is None:
        return said + "no steady turn could be followed, it may spiral. Do not fly it."
    if found.turn is None:
        return said + "nobody steering, it flies straight by the model."
    radius = show(turning.radius, "length", system, digits=0)
    rate, bank = show(abs(turning.rate), "angular_rate", system), show(abs(turning.bank), "angle", system)
    return said + (
        f"nobody steering, it turns {found.turn} at {rate}, banked {bank}, in a circle of {radius} radius. "
        "By the model, roughly: the payload moves aside, the cloth twists and gives no further; uneven brake "
        "lines count as brakes."
    )
