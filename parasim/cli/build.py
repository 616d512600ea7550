"""``parasim build``: build order, test ladder and checklists, made from the design."""

from itertools import groupby
from textwrap import fill, indent
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.drawing.printing import PagePaper
from parasim.report.column import aligned

if TYPE_CHECKING:
    from collections.abc import Sequence

    from parasim.ladder.build_page import Pages
    from parasim.sewing.order.steps import Figure, Join, Step

_WIDTH = 110
_INDENT = "    "


def build(
    design: DesignArgument,
    paper: Annotated[PagePaper, typer.Option("--paper", help="Of the PDF.")] = "a4",
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Build order with what to measure, test ladder with what to expect, checklists; to print and tick.

    Example: parasim build configs/heron.yaml --out out --paper letter
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.build import build_flight
    from parasim.ladder.build_page import build_pdf
    from parasim.report.build import BuildReport, build_document, markdown
    from parasim.sewing.templates import templates

    loaded, output = begin("build", design, out=out, as_json=as_json, units=units)
    with working("laying the skin flat, dropping it", quiet=as_json):
        pieces = templates(loaded)
        report = BuildReport(flight=build_flight(assemble(loaded)), templates=pieces, design_file=str(design))
        pages = report.pages(units)
    for caveat in report.caveats:
        output.warn(caveat)
    _print(pages, output)
    document = build_document(report)
    if output.wants_files:
        output.add_text("build.md", markdown(pages))
        output.add_json("build.json", document)
        output.add_bytes("build.pdf", build_pdf(pages, paper))
    output.finish(document)


def _print(pages: "Pages", output: Output) -> None:
    steps, n = pages.steps, sum(len(step.figures) for step in pages.steps)
    output.print(f"{pages.name}: {len(steps)} steps to build it, {n} figures to measure or count on the way")
    for fact in pages.facts:
        output.print(fact)
    number = 0
    for stage, group in groupby(steps, key=lambda step: step.stage):
        output.print(f"\n{stage}")
        for step in group:
            number += 1
            _print_step(step, number, output)
    for rung in pages.rungs:
        output.print(f"\nTest ladder: {rung.title}")
        for words, items in (("do", rung.do), ("measure", rung.measure), ("stops you", rung.stop)):
            _print_lines([f"{words}: {item}" for item in items], output, mark="[ ] ")
        _print_figures(rung.figures, output)
    for checklist in pages.checklists:
        output.print(f"\nChecklist: {checklist.title.lower()}")
        _print_lines(checklist.items, output, mark="[ ] ")
    output.print()
    for caution in pages.cautions:
        output.print(f"caution: {caution}")


def _print_step(step: "Step", number: int, output: Output) -> None:
    _print_lines([f"{number}. {step.title}"], output, mark="[ ] ")
    joins = [_joins(step.joins)] if step.joins else []
    _print_lines([*step.details, *(f"By hand: {words}" for words in step.by_hand), *joins], output)
    _print_figures(step.figures, output)


def _joins(joins: "tuple[Join, ...]") -> str:
    """How many seams, and which; the files list them all."""
    return f"{len(joins)} to sew, in this order: {joins[0].name} to {joins[-1].name}"


def _print_lines(lines: "Sequence[str]", output: Output, mark: str = _INDENT) -> None:
    for line in lines:
        output.print(fill(line, _WIDTH, initial_indent=mark, subsequent_indent=_INDENT))


def _print_figures(figures: "tuple[Figure, ...]", output: Output) -> None:
    from parasim.report.build import figure_rows

    if figures:
        rows = figure_rows(figures, output.units)
        output.print(indent(aligned(rows, heads=["measure", "expected", "range"]), _INDENT))
