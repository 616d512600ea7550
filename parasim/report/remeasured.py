"""Lines as measured after a season: what they mean for the glide, and how to bring them back."""

from collections.abc import Iterator
from typing import Any

from parasim.flight.lines import Adjustment, Remeasured
from parasim.making.lines import Lines
from parasim.report.column import Column, Table
from parasim.report.report import Block
from parasim.report.words import in_mm
from parasim.units import System, in_degrees, show

LEAST_CHANGE = 0.0005
"""Of a line that is worth adjusting. [m]"""

Adjusted = tuple[Adjustment, float]
"""A line as measured, and its designed length. [m]"""

ADJUST_COLUMNS: tuple[Column[Adjusted], ...] = (
    Column(name="label", words="line", kind="", read=lambda row: row[0].label),
    Column(name="designed_mm", words="designed", kind="small_length", read=lambda row: row[1]),
    Column(
        name="measured_mm", words="measured", kind="small_length", read=lambda row: row[1] + row[0].change
    ),
    Column(name="change_mm", words="change", kind="small_length", read=lambda row: row[0].change),
    Column(
        name="rigging_change_deg", words="turns rigging by", kind="angle", digits=2,
        read=lambda row: row[0].rigging_change,
    ),
)  # fmt: skip
"""Largest change first; rigging change of that line alone."""

BACK: tuple[Column[Adjusted], ...] = (
    Column(
        name="shorten_mm", words="shorten by", kind="small_length", missing="",
        read=lambda row: row[0].change if row[0].change > 0 else None,
    ),
    Column(
        name="lengthen_mm", words="lengthen by", kind="small_length", missing="",
        read=lambda row: -row[0].change if row[0].change <= 0 else None,
    ),
)  # fmt: skip
"""The change undone, as printed."""

ROW_COLUMNS: tuple[Column[tuple[str, float, float]], ...] = (
    Column(name="row", words="row", kind="", read=lambda row: row[0]),
    Column(name="change_mm", words="change", kind="small_length", read=lambda row: row[1]),
    Column(name="left_less_right_mm", words="left - right", kind="small_length", read=lambda row: row[2]),
)


def measured_blocks(lines: Lines, system: System) -> Iterator[Block]:
    """What measured lines mean, and which to adjust; nothing where none were measured."""
    if lines.remeasured is None:
        return
    yield "\n".join(measured_sentences(lines.remeasured, system))
    rows = [row for row in adjusted(lines) if abs(row[0].change) >= LEAST_CHANGE]
    label, designed, measured, _, turn = ADJUST_COLUMNS
    if rows:
        columns = (label, designed, measured, *BACK, turn)
        yield Table(columns=columns, rows=rows, title="Largest changes first", long=True)


def measured_document(lines: Lines) -> dict[str, Any] | None:
    """As in `parasim.report.lines.lines_document`; None where no lines were measured."""
    found = lines.remeasured
    if found is None:
        return None
    trim, designed = found.trim, found.designed
    rows = [(row, size, found.left_less_right[row]) for row, size in found.row_change.items()]
    return {
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
        "mean_change_mm": in_mm(found.mean_change),
        "rows": Table(columns=ROW_COLUMNS, rows=rows).document(),
        "turn": found.turn,
        "turn_rate_deg_s": None if found.turning is None else in_degrees(found.turning.rate),
        "bank_deg": None if found.turning is None else in_degrees(found.turning.bank),
        "turn_row": found.turn_row,
        "adjust": Table(columns=ADJUST_COLUMNS, rows=adjusted(lines)).document(),
    }


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
            f"Nose-tuck margin {show(found.tuck_margin, 'angle', system)}, stall margin "
            f"{show(found.stall_margin, 'angle', system)}."
        )
    sentences.append(
        f"On the mean the lines changed by {show(found.mean_change, 'small_length', system)}: what all share "
        "moves the trim little, differences between rows move it."
    )
    sentences.append(turn_sentence(found, system))
    return tuple(sentences)


def turn_sentence(found: Remeasured, system: System) -> str:
    """What the differences of left and right do by the model."""
    row, turning = found.turn_row, found.turning
    if row is None:
        return "Left and right agree within what tying takes."
    size, way = found.left_less_right[row], "longer" if found.left_less_right[row] > 0 else "shorter"
    said = f"Row {row} is {show(abs(size), 'small_length', system)} {way} on the left than on the right: "
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
