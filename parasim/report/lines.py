"""What `parasim lines` answers: the line sheet, loads, and what errors and measured lines do."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from parasim.flight.line_loads import CAUTIONS, MINIMUM_MARGIN
from parasim.flight.lines import RowEffect
from parasim.flight.trim import Trim
from parasim.geometry.lines import LineSet
from parasim.making.lines import Lines
from parasim.report.column import Column, Table, picked
from parasim.report.line_loads import load_table, loads_document, weak_parts, worst_loads
from parasim.report.remeasured import (
    ADJUST_COLUMNS,
    adjusted,
    headline,
    lost_margins,
    measured_blocks,
    measured_document,
    sheet_to_fill_in,
)
from parasim.report.report import Block, Report
from parasim.report.words import in_mm
from parasim.sewing.line_page import line_sheet_pdf
from parasim.sewing.line_sheet import Differential, Entry, LineSheet, Total, pull_words, zero_points
from parasim.units import System, in_degrees, in_sixteenths, label, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

NAN = float("nan")

PART_WORDS = {
    "row": "whole",
    "trunk": "lower",
    "branch": "upper",
    "fin": "stabiliser",
    "brake": "brake",
    "": "",
}
"""Kinds of line in words."""

Loaded = tuple[Entry, float, float]
"""A line of the sheet, its tension at 1 g and at opening. [N]"""


def _remark(system: System) -> Column[Loaded]:
    return Column(name="remark", words="remark", kind="", read=lambda row: row[0].cut_order(system))


LINE_COLUMNS: tuple[Column[Loaded], ...] = (
    Column(name="label", words="line", kind="", read=lambda row: row[0].label),
    Column(name="kind", words="kind", kind="", read=lambda row: row[0].kind),
    Column(name="holds", words="holds", kind="", read=lambda row: row[0].group),
    Column(name="rib", words="rib", kind="", read=lambda row: row[0].rib),
    Column(name="length_mm", words="length", kind="small_length", read=lambda row: row[0].length),
    Column(name="finished_mm", words="finished", kind="small_length", read=lambda row: row[0].finished),
    Column(name="finished_whole_mm", words="finished mm", kind="", read=lambda row: row[0].finished_mm),
    Column(
        name="finished_in", words="finish in", kind="", read=lambda row: in_sixteenths(row[0].finished)
    ),
    Column(name="cut_mm", words="cut mm", kind="", read=lambda row: row[0].cut_mm),
    Column(
        name="cut_in", words="cut in", kind="",
        read=lambda row: None if row[0].cut is None else in_sixteenths(row[0].cut, up=True),
    ),
    Column(name="tension_n", words="at 1 g", kind="force", read=lambda row: row[1]),
    Column(name="opening_tension_n", words="opening", kind="force", read=lambda row: row[2]),
    _remark("metric"),
)  # fmt: skip
"""Length: under load; finished: under the measuring tension; inches to the sixteenth; cut: none where the
line is cut with another."""

PRINTED: dict[System, tuple[str, ...]] = {
    "metric": ("label", "finished_whole_mm", "cut_mm"),
    "imperial": ("label", "finished_in", "cut_in"),
}

FINENESS: dict[System, str] = {"metric": "millimetre", "imperial": "sixteenth of an inch"}

TOTAL_COLUMNS: tuple[Column[Total], ...] = (
    Column(
        name="group", words="holds", kind="", read=lambda total: total.group,
        show=lambda group: "brakes" if group == "brake" else group,
    ),
    Column(name="kind", words="part", kind="", read=lambda total: total.kind, show=PART_WORDS.__getitem__),
    Column(
        name="count", words="pieces", kind="", read=lambda total: total.count,
        show=lambda count: f"{count or 'in lower'}",
    ),
    Column(
        name="finished_m", words="finished", kind="run", read=lambda total: total.finished, missing=""
    ),
    Column(name="cut_m", words="to cut", kind="run", read=lambda total: total.cut),
)  # fmt: skip


def _of_trim(figure: Callable[[Trim], float]) -> Callable[[RowEffect], float | None]:
    return lambda effect: None if effect.trim is None else figure(effect.trim)


EFFECT_COLUMNS: tuple[Column[RowEffect], ...] = (
    Column(name="row", words="row", kind="", read=lambda effect: effect.row),
    Column(name="error_mm", words="error", kind="tape_length", read=lambda effect: effect.error, missing=""),
    Column(
        name="rigging_change_deg", words="rigging", kind="angle", digits=2, missing="",
        read=lambda effect: effect.rigging_change,
    ),
    Column(
        name="glide_ratio", words="glide ratio", kind="ratio", read=_of_trim(lambda trim: trim.glide_ratio),
        missing="no glide",
    ),
    Column(name="airspeed_m_s", words="airspeed", kind="speed", read=_of_trim(lambda trim: trim.airspeed)),
    Column(
        name="forward_speed_m_s", words="lands forward at", kind="speed",
        read=_of_trim(lambda trim: trim.forward_speed),
    ),
    Column(name="sink_m_s", words="and down at", kind="speed", read=_of_trim(lambda trim: trim.sink)),
)  # fmt: skip


class LinesReport(Report[Lines]):
    """The line sheet."""

    COMMAND = "lines"
    CAUTIONS = CAUTIONS
    TOUCHED = frozenset({"canopy", "fins", "flight", "lines", "payload", "rigging"})

    def failures(self, units: System) -> list[str]:
        """Weak lines and tabs, and measured lines without a glide."""
        found, loads = self.result.remeasured, self.result.loads
        weak = weak_parts(self.result.checks, units)
        if loads.margin is not None and loads.margin < MINIMUM_MARGIN:
            weak.append(
                f"line {loads.highest[0]} keeps {loads.margin:.1f} times its load at "
                f"{loads.opening_factor:g} g (wanted {MINIMUM_MARGIN:g})"
            )
        if loads.slack:
            weak.append(f"{len(loads.slack)} lines carry next to nothing in the glide")
        if found is not None and found.trim is None:
            weak.append("no steady glide on the lines as measured")
        elif found is not None and found.turn_row is not None and found.turning is None:
            weak.append("no steady turn on the uneven lines as measured: it may spiral")
        return weak + (lost_margins(found, units) if found is not None else [])

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        sheet = self.result.sheet
        pieces = sum(total.count for total in sheet.totals)
        length = show(sheet.total_cut, "run", units, digits=1)
        loads = worst_loads(self.result.checks, units)
        found = headline(self.result, units)
        answer = f"{found}; {pieces} pieces" if found else f"{pieces} pieces"
        yield f"{sheet.name}: {answer} of line, {length} to cut{loads}"
        yield from measured_blocks(self.result, units)
        yield "\n".join(facts(sheet, self.result.vehicle.line_set, units))
        columns = (*picked(LINE_COLUMNS, *PRINTED[units]), _remark(units))
        rows = loaded_lines(self.result)
        yield Table(columns=columns, rows=[row for row in rows if row[0].kind != "brake"], long=True)
        yield Table(columns=columns, rows=[row for row in rows if row[0].kind == "brake"])
        yield from self.pages(units)

    def pages(self, units: System) -> tuple[Table[Any], ...]:
        """Behind the list of lines, here and in the PDF."""
        found = self.result
        return (
            differential_table(found.sheet, units),
            total_table(found.sheet),
            tolerance_table(found),
            load_table(found, units),
        )

    def document(self) -> dict[str, Any]:
        """As `lines_document`."""
        return lines_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield "lines.csv", Table(columns=LINE_COLUMNS, rows=loaded_lines(self.result)).csv()
        if self.result.remeasured is not None:
            yield "lines_adjust.csv", Table(columns=ADJUST_COLUMNS, rows=adjusted(self.result)).csv()

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """Tags and pages to print."""
        sheet = self.result.sheet
        yield "line_tags.txt", tag_text(sheet, units)
        tables = [table.grid(units) for table in self.pages(units)]
        yield (
            "line_sheet.pdf",
            line_sheet_pdf(
                sheet,
                facts=facts(sheet, self.result.vehicle.line_set, units),
                tables=tables,
                cautions=CAUTIONS,
                system=units,
            ),
        )

    def to_fill_in(self, units: System) -> Iterator[tuple[str, str]]:
        """The sheet on which measured lengths are written, unless they were given."""
        if self.result.measured is None:
            yield "lines_to_measure.csv", sheet_to_fill_in(self.result, units)

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.lines import plan_figure

        sheet, vehicle = self.result.sheet, self.result.vehicle
        for suffix in ("png", "pdf"):
            figure = plan_figure(
                vehicle.canopy,
                vehicle.line_set,
                vehicle.rigging,
                sheet.finished,
                name=sheet.name,
                system=units,
            )
            yield f"lines_plan.{suffix}", figure


def lines_document(lines: Lines) -> dict[str, Any]:
    """The line sheet as plain data.

    Returns
    -------
    dict
        - ``name``; ``rigging_angle_deg``; ``measuring_tension_n``, ``loop_allowance_mm``,
          ``tie_allowance_mm``, ``brake_tail_mm``, ``brake_ring`` (null without: ``bend_deg``, ``onward_mm``
          from ring to guide, ``path_mm`` from knot to guide), ``zero_points`` (sentences); ``material``,
          ``diameter_mm``, ``linear_density_g_m``.
        - ``lines``: for each ``label``: ``kind``, ``holds``, ``rib`` (from 1 at the left tip; 0: brake),
          ``length_mm`` (under load, up to the skin), ``finished_mm`` (under the measuring tension),
          ``finished_whole_mm``, ``finished_in``, ``cut_mm`` and ``cut_in`` (null: cut with another),
          ``tension_n`` (1 g), ``opening_tension_n``, ``remark``.
        - ``totals``: for each ``group`` and ``kind``: ``count``, ``finished_m``, ``cut_m``; ``total_cut_m``.
        - ``differentials``: for each ``rib`` and ``side``: ``front_row``, ``front_mm``, ``others`` (``row``,
          ``longer_mm``).
        - ``junction_residual_fraction``: pull across the trunk over the load, at worst.
        - ``tolerance``: for each ``row`` and ``error_mm``: ``rigging_change_deg``, ``glide_ratio``,
          ``airspeed_m_s``, ``forward_speed_m_s``, ``sink_m_s`` of the landing with the brakes released (null:
          no glide).
        - ``loads``: ``opening_factor``, ``rows`` (``row``, ``share_fraction``, ``asked_fraction``, and of its
          line loaded most ``most_on``, ``tension_n``, ``opening_tension_n``),
          ``center_of_pressure_fraction`` (of chord), ``highest`` (label), ``highest_tension_n``,
          ``opening_tension_n``, ``strength_n``, ``knotted_strength_n``, ``strength_is_estimated``,
          ``knot_efficiency_fraction``, ``margin``, ``slack`` (labels), ``stabilisers`` (for each ``label``:
          ``tension_n`` at 1 g and ``bound_n`` in side flow, estimates),
          ``chordwise_left_fraction``, ``confluence_moment_n_m`` (nose-up positive).
        - ``measured`` (null without ``--measured``): ``given_count`` (lengths in the table; 0: all as
          designed), ``rigging_angle_deg``, ``rigging_change_deg``,
          ``misfit_mm``, ``glide_ratio``, ``airspeed_m_s``, ``sink_m_s``, ``designed_glide_ratio``,
          ``designed_airspeed_m_s``, ``designed_sink_m_s``, ``tuck_margin_deg``, ``stall_margin_deg``,
          ``designed_tuck_margin_deg``, ``designed_stall_margin_deg``,
          ``mean_change_mm``, ``rows`` (``row``, ``change_mm``, ``left_less_right_mm``), ``turn`` (left,
          right or null), ``turn_rate_deg_s`` and ``bank_deg`` (right positive; null: no steady turn),
          ``turn_row``, ``adjust`` (largest first: ``label``, ``designed_mm``,
          ``measured_mm``, ``change_mm``, ``rigging_change_deg``).
        - ``caveats`` and ``cautions``: sentences.
    """
    sheet = lines.sheet
    return {
        "name": sheet.name,
        "rigging_angle_deg": in_degrees(lines.vehicle.rigging.rigging_angle),
        "measuring_tension_n": sheet.measuring_tension,
        "loop_allowance_mm": in_mm(sheet.loop_allowance),
        "tie_allowance_mm": in_mm(sheet.tie_allowance),
        "brake_tail_mm": in_mm(sheet.brake_tail),
        "brake_ring": _ring(lines.vehicle.line_set),
        "zero_points": list(zero_points("metric")),
        "material": sheet.material,
        "diameter_mm": in_mm(sheet.diameter),
        "linear_density_g_m": 1e3 * sheet.linear_density,
        "lines": Table(columns=LINE_COLUMNS, rows=loaded_lines(lines)).document(),
        "totals": Table(columns=TOTAL_COLUMNS, rows=sheet.totals).document(),
        "total_cut_m": sheet.total_cut,
        "differentials": [_differential(each, sheet.front_row) for each in sheet.differentials],
        "junction_residual_fraction": lines.residual,
        "tolerance": Table(columns=EFFECT_COLUMNS, rows=lines.effects).document(),
        "loads": loads_document(lines),
        "measured": measured_document(lines),
        "caveats": list(lines.caveats),
        "cautions": list(CAUTIONS),
    }


def _ring(line_set: LineSet) -> dict[str, float] | None:
    rings, bend = line_set.rings, line_set.brake_bend
    if rings is None or bend is None:
        return None
    return {
        "bend_deg": in_degrees(bend),
        "onward_mm": in_mm(rings.onward),
        "path_mm": in_mm(line_set.brake_trunk.length + rings.onward),
    }


def _differential(each: Differential, front: str) -> dict[str, Any]:
    return {
        "rib": each.rib,
        "side": each.side,
        "front_row": front,
        "front_mm": in_mm(each.front),
        "others": [{"row": row, "longer_mm": in_mm(size)} for row, size in each.longer.items()],
    }


def ring_facts(sheet: LineSheet, line_set: LineSet, system: System) -> Iterator[str]:
    """Where brake lines go that run through rings: finished, all along their path from the knot."""
    rings, bend = line_set.rings, line_set.brake_bend
    if rings is None or bend is None:
        return
    trunk = sheet.finished[line_set.brake_trunk.label]
    whole, first, onward = (
        show(length, "tape_length", system) for length in (trunk + rings.onward, trunk, rings.onward)
    )
    yield (
        f"Brake lines run through rings, where their zero mark is: {first} from the knot of the branches to "
        f"the "
        f"ring, round {show(bend, 'angle', system)}, and {onward} on to the servo's guide, {whole} along "
        f"the path."
    )


def facts(sheet: LineSheet, line_set: LineSet, system: System) -> tuple[str, ...]:
    """What the lengths mean, in sentences for the sheet."""
    material = sheet.material or "material not given"
    shrinkage = (
        f" and {100 * sheet.stock.shrinkage:.1f} % for settling"
        if sheet.stock.shrinkage
        else ", none for settling"
    )

    def size(length: float) -> str:
        return show(length, "tape_length", system)

    return (
        f"Line: {show(sheet.diameter, 'small_length', system, digits=1 if system == 'metric' else 3)}, "
        f"{show(sheet.linear_density, 'linear_density', system)}, {material}. "
        f"{show(sheet.total_cut, 'run', system, digits=1)} to cut in all; buy a tenth more.",
        f"Measure under {sheet.tension_words(system)}, to the {FINENESS[system]} "
        f"({pull_words(5.0, system)} to {pull_words(10.0, system)} is common practice).",
        *zero_points(system),
        f"Cut length holds {size(sheet.loop_allowance)} for a loop at each end{shrinkage}; "
        f"a knot in a line that runs through takes {size(sheet.tie_allowance)}; "
        f"the brake trunk has {size(sheet.brake_tail)} below its zero mark (way to the servo, travel, loop).",
        *ring_facts(sheet, line_set, system),
        "Labels: rib counted from 1 at the left tip, side of the riser end, rows held. Put the tag at the "
        "upper end.",
    )


def loaded_lines(lines: Lines) -> list[Loaded]:
    """Every line, with what it carries."""
    tension, opening = lines.loads.tension, lines.loads.opening_of
    return [(each, tension[each.label], opening(each.label)) for each in lines.sheet.entries]


def differential_table(sheet: LineSheet, system: System) -> Table[Differential]:
    """Ways from riser to tab compared with the front row's."""
    names = sorted({name for d in sheet.differentials for name in d.longer}, key=_by_row)
    front, unit = sheet.front_row, label("tape_length", system)

    def bare(length: float) -> str:
        return show(length, "tape_length", system).removesuffix(f" {unit}")

    return Table(
        columns=(
            Column(name="rib", words="rib", kind="", read=lambda d: f"{d.rib}{d.side}"),
            Column(name="front_mm", words=front, kind="", read=lambda d: d.front, show=bare),
            *(_longer(name, front, bare) for name in names),
        ),
        rows=sheet.differentials,
        title=f"Longer than row {front} of the same rib, riser end to tab [{unit}]",
        note="Finished ways through the cascades. Brake branches are compared with the rib nearest to them.",
    )


def _longer(name: str, front: str, bare: Callable[[float], str]) -> Column[Differential]:
    return Column(
        name=f"{name}_mm", words=f"{name} - {front}", kind="", missing="", show=bare,
        read=lambda d: d.longer.get(name),
    )  # fmt: skip


def _by_row(name: str) -> tuple[bool, str]:
    return name.startswith("brake"), name


def total_table(sheet: LineSheet) -> Table[Total]:
    """Pieces and line by group."""
    pieces = sum(total.count for total in sheet.totals)
    whole = Total(group="all", kind="", count=pieces, finished=NAN, cut=sheet.total_cut)
    return Table(columns=TOTAL_COLUMNS, rows=(*sheet.totals, whole), title="Pieces to cut")


def tolerance_table(lines: Lines) -> Table[RowEffect]:
    """What an error of a row does to trim and to the landing without flare."""
    designed = RowEffect(row="as designed", error=NAN, rigging_change=NAN, trim=lines.trim)
    return Table(
        columns=EFFECT_COLUMNS,
        rows=(designed, *lines.effects),
        title="What an error of a whole row does, brakes released in still air",
        note="Error: negative if too short. Rigging positive nose-down. Brake lines too long are slack; "
        "too short, they pull by what the free play leaves over.",
    )


def tag_text(sheet: LineSheet, system: System) -> str:
    """Tags to print and cut out, one a line: label, what it holds and its finished length."""
    return "".join(
        f"{entry.label}  {show(entry.finished, 'tape_length', system)}  {sheet.name}\n"
        for entry in sheet.entries
    )
