"""``parasim learn``: the calibration fitted to what was measured in flight, and what to measure next."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import SegmentsOption, given_path
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.cli.run import command
from parasim.config.design import Design
from parasim.drawing.printing import PagePaper
from parasim.errors import OptionError, OutputError
from parasim.files import file_stem

if TYPE_CHECKING:
    from parasim.learning.learned import Learned
    from parasim.logs.track import Track


@command("")
def learn(
    design: Design,
    output: Output,
    notes: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="[NOTES]...",
            parser=given_path,
            help="Notes files (YAML) of what was measured; without them, the sheet for the first flights.",
            show_default=False,
        ),
    ] = None,
    log: Annotated[
        list[Path] | None,
        typer.Option(
            "--log",
            metavar="LOG",
            parser=given_path,
            show_default=False,
            help="Logged flight to fit to second by second; again for more.",
        ),
    ] = None,
    segments: SegmentsOption = None,
    paper: Annotated[
        PagePaper | None,
        typer.Option("--paper", help="Of the sheet.", show_default="a4, letter with --units imperial"),
    ] = None,
) -> "Learned":
    """Fit the calibration to what was measured in flight, so that bands narrow; what to measure next.

    Example: parasim learn configs/heron.yaml notes.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.learning.learn import learn as learn_from

    _check_kept(output, design.name)
    logs = logs_of(log, segments)
    with working("flying it at many calibrations", quiet=output.as_json) as progress:
        return learn_from(
            assemble(design), notes or (), logs=logs, progress=progress, design_file=output.design,
            paper=paper,
        )  # fmt: skip


def logs_of(log: "list[Path] | None", segments: Path | None) -> "Track | None":
    """Logged flights, read; None without any."""
    if not log:
        if segments:
            raise OptionError("--segments: of which logs? add --log LOG")
        return None
    from parasim.config.segments import read_segments
    from parasim.logs.track import track

    return track(*log, segments=read_segments(segments) if segments else ())


def _check_kept(output: Output, name: str) -> None:
    """Refuse to write over the design that is read."""
    if output.directory is None:
        return
    path = output.directory / f"{file_stem(name)}_fitted.yaml"
    if path.exists() and path.samefile(output.design):
        raise OutputError(f"--out: {path} is the design itself; give another directory")
