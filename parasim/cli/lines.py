"""``parasim lines``: the line sheet, what lines carry, and what lines measured after a season mean."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import given_path, quantity_option
from parasim.cli.run import command
from parasim.config.base import number_between
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.making.lines import Lines

OPENING = number_between(1.0, 50.0)


@command("hanging the canopy on its lines")
def lines(
    design: Design,
    measured: Annotated[
        Path | None,
        typer.Option(
            "--measured",
            metavar="FILE",
            parser=given_path,
            help="CSV file with line,measured_mm (or measured_in) of lines measured, the others as designed; "
            "gives the glide on them. --out writes one to fill in.",
            show_default=False,
        ),
    ] = None,
    opening_factor: Annotated[
        str, typer.Option("--opening-factor", help="Load at opening over that of the glide.")
    ] = "6",
) -> "Lines":
    """Cut and finished length of every line, cascades and brakes; tolerances, loads, re-measured lines.

    Example: parasim lines configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.making.lines import lines as lines_of

    factor = quantity_option("--opening-factor", opening_factor, OPENING)
    return lines_of(assemble(design), opening_factor=factor, measured=measured)
