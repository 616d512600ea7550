"""``parasim summary``: a design on one page, to print."""

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.beside import Helper
from parasim.cli.learn import logs_of
from parasim.cli.options import SegmentsOption, given_path
from parasim.cli.output import Output
from parasim.cli.run import command, loaded
from parasim.errors import ParasimError

if TYPE_CHECKING:
    from parasim.report.summary import SummaryReport


@command("gliding, landing, turning, opening it")
def summary(
    design: Path,
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
) -> "SummaryReport":  # fmt: skip
    """A design on one page: limits and margins as rulers, what to make, how to fly it.

    With --out as an HTML page to print, sections with pictures below it; with --scatter and --log also a map
    of landings, and flights beside what is predicted.

    Example: parasim summary configs/heron.yaml --out out
    """
    helper = Helper("parasim.report.summary_share")
    output.until_end.callback(helper.close)
    from parasim.dynamics.vehicle import assemble
    from parasim.making.summary import PARTS
    from parasim.making.summary import summary as summary_of
    from parasim.report.summary import SummaryReport
    from parasim.report.summary_share import PARTS as SHARED
    from parasim.report.summary_share import share

    read = loaded(design, output)
    helper.ask(share, read, output.units, output.wants_files)
    flights = logs_of(log, segments)
    vehicle, shared, parts = assemble(read), helper.results(), {}
    if helper.there:
        with suppress(ParasimError):  # met again below, where the first in their order is reported
            parts = {name: work(vehicle) for name, work in PARTS.items() if name not in SHARED}
        parts |= next(shared, {})
    found = summary_of(vehicle, design_file=design.name, drops=scatter, logs=flights, parts=parts)
    return SummaryReport(found, shared if helper.there else None)
