"""``parasim build``: build order, test ladder and checklists, made from the design."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.output import Output
from parasim.cli.run import command
from parasim.config.design import Design
from parasim.drawing.printing import PagePaper

if TYPE_CHECKING:
    from parasim.making.build import Build


@command("laying the skin flat, dropping it")
def build(
    design: Design,
    output: Output,
    paper: Annotated[
        PagePaper | None,
        typer.Option("--paper", help="Of the PDF; else letter with imperial units, a4 without."),
    ] = None,
) -> "Build":
    """Build order with what to measure, test ladder with what to expect, checklists; to print and tick.

    Example: parasim build configs/heron.yaml --out out --paper letter
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.making.build import build as build_of

    return build_of(assemble(design), design_file=output.design, paper=paper)
