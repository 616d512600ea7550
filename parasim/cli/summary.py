"""``parasim summary``: a design on one page, to print."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.learn import logs_of
from parasim.cli.options import SegmentsOption, given_path
from parasim.cli.output import Output
from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.making.summary import Summary


@command("gliding, landing, turning, opening it")
def summary(
    design: Design,
    output: Output,
    scatter: Annotated[
        int,
        typer.Option("--scatter", min=0, max=100_000, help="Drops of a map of landings; 0 for none."),
    ] = 0,
    log: Annotated[
        list[Path] | None,
        typer.Option(
            "--log", metavar="LOG", parser=given_path, show_default=False,
            help="Logged flight, to stand beside what is predicted; again for more.",
        ),
    ] = None,
    segments: SegmentsOption = None,
) -> "Summary":  # fmt: skip
    """A design on one page: limits and margins as rulers, what to make, how to fly it.

    With --out as an HTML page to print, sections with pictures below it; with --scatter and --log also a map
    of landings, and flights beside what is predicted.

    Example: parasim summary configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.making.summary import summary as summary_of

    logs = logs_of(log, segments)
    return summary_of(assemble(design), design_file=Path(output.design).name, drops=scatter, logs=logs)
