"""``parasim lines``: the line sheet, what lines carry, and what lines measured after a season mean."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import (
    DesignArgument,
    JsonOption,
    OutOption,
    UnitsOption,
    begin,
    given_path,
    quantity_option,
)
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.config.base import number_between
from parasim.units import in_sixteenths, show

if TYPE_CHECKING:
    from parasim.dynamics.vehicle import Vehicle
    from parasim.report.lines import LineReport

OPENING = number_between(1.0, 50.0)


def lines(
    design: DesignArgument,
    measured: Annotated[
        Path | None,
        typer.Option(
            "--measured",
            metavar="FILE",
            parser=given_path,
            help="CSV file with label,length_mm of every line as measured; gives the glide on them.",
            show_default=False,
        ),
    ] = None,
    opening_factor: Annotated[
        str, typer.Option("--opening-factor", help="Load at opening over that of the glide.")
    ] = "6",
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Cut and finished length of every line, cascades and brakes; tolerances, loads, re-measured lines.

    Example: parasim lines configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.report.lines import lines_document

    factor = quantity_option("--opening-factor", opening_factor, OPENING)
    loaded, output = begin("lines", design, out=out, as_json=as_json, units=units)
    with working("hanging the canopy on its lines", quiet=as_json):
        report = _report(assemble(loaded), factor, measured)
    for caveat in report.caveats:
        output.warn(caveat)
    _print(report, output)
    document = lines_document(report)
    if output.wants_files:
        with working("drawing", quiet=as_json):
            _gather_files(report, output)
        output.add_json("lines.json", document)
    output.finish(document)


def _report(vehicle: "Vehicle", factor: float, measured: Path | None) -> "LineReport":
    from parasim.config.measured import read_measured
    from parasim.flight.line_loads import line_loads
    from parasim.flight.lines import remeasured, row_effects
    from parasim.flight.trim import find_trims
    from parasim.report.lines import LineReport
    from parasim.sewing.line_sheet import build_line_sheet

    trim = find_trims(vehicle, modes=False).chosen
    loads = line_loads(vehicle, trim, opening_factor=factor)
    sheet = build_line_sheet(vehicle.design, vehicle.canopy, vehicle.line_set, tension=loads.tension)
    found = None
    if measured is not None:
        lengths = read_measured(measured, sheet.finished)
        found = remeasured(vehicle, {label: lengths[label] - sheet.finished[label] for label in lengths})
    return LineReport(
        vehicle=vehicle,
        trim=trim,
        sheet=sheet,
        loads=loads,
        effects=row_effects(vehicle),
        remeasured=found,
    )


def _print(report: "LineReport", output: Output) -> None:
    from parasim.flight.line_loads import CAUTIONS
    from parasim.report import line_tables as tables

    sheet, units = report.sheet, output.units
    pieces = sum(total.count for total in sheet.totals)
    output.print(
        f"{sheet.name}: {pieces} pieces of line, {show(sheet.total_cut, 'length', units, digits=1)} to cut"
    )
    for fact in tables.facts(report, units):
        output.print(fact)
    output.print()
    output.table(
        [
            [
                entry.label,
                f"{entry.finished_mm}" if units == "metric" else in_sixteenths(entry.finished),
                "-" if entry.cut is None else
                f"{entry.cut_mm}" if units == "metric" else in_sixteenths(entry.cut, up=True),
                f"  {entry.remark}",
            ]
            for entry in sheet.entries
        ],
        heads=["line", *(["finished mm", "cut mm"] if units == "metric" else ["finished in", "cut in"]), ""],
    )  # fmt: skip
    for table in (
        tables.total_table(sheet, units),
        tables.differential_table(sheet, units),
        tables.tolerance_table(report, units),
        tables.load_table(report, units),
    ):
        output.print()
        output.table(table.rows, heads=table.heads, title=table.title)
        if table.note:
            output.print(table.note)
    if report.remeasured is not None:
        output.print()
        for sentence in tables.measured_sentences(report.remeasured, units):
            output.print(sentence)
        rows = tables.adjust_rows(report.remeasured, units)
        if rows:
            output.table(
                rows, heads=["line", "to come back", "turns rigging by"], title="Largest changes first"
            )
    output.print()
    for caution in CAUTIONS:
        output.print(f"Caution: {caution}")


def _gather_files(report: "LineReport", output: Output) -> None:
    from parasim.flight.line_loads import CAUTIONS
    from parasim.plotting.lines import plan_figure
    from parasim.report import line_tables as tables
    from parasim.report.lines import ADJUST_HEADS, LINE_HEADS, adjust_csv, line_csv, tag_text
    from parasim.sewing.line_page import line_sheet_pdf

    sheet, vehicle, units = report.sheet, report.vehicle, output.units
    output.add_csv("lines.csv", LINE_HEADS, line_csv(report))
    output.add_text("line_tags.txt", tag_text(sheet))
    pages = [
        tables.differential_table(sheet, units),
        tables.total_table(sheet, units),
        tables.tolerance_table(report, units),
        tables.load_table(report, units),
    ]
    output.add_bytes(
        "line_sheet.pdf",
        line_sheet_pdf(sheet, facts=tables.facts(report, units), tables=pages, cautions=CAUTIONS),
    )
    for suffix in ("png", "pdf"):
        figure = plan_figure(
            vehicle.canopy, vehicle.line_set, vehicle.rigging, sheet.finished, name=sheet.name, system=units
        )
        output.add_figure(f"lines_plan.{suffix}", figure)
    if report.remeasured is not None:
        output.add_csv("lines_adjust.csv", ADJUST_HEADS, adjust_csv(report.remeasured, sheet.finished))
