"""``parasim summary``: a design on one page, to print."""

from pathlib import Path
from typing import TYPE_CHECKING

from parasim.cli.output import Output
from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.making.summary import Summary


@command("gliding, landing, turning, opening it")
def summary(design: Design, output: Output) -> "Summary":
    """A design on one page: limits and margins as rulers, what to make, how to fly it.

    With --out as an HTML page to print, sections with pictures below it.

    Example: parasim summary configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.making.summary import summary as summary_of

    return summary_of(assemble(design), design_file=Path(output.design).name)
