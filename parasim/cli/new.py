"""``parasim new``: write a starter design file."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import given_path, quantity_option
from parasim.cli.output import Output
from parasim.cli.run import command
from parasim.config.base import length_between, mass_between, speed_between
from parasim.errors import OptionError, OutputError, plain
from parasim.files import write_together

if TYPE_CHECKING:
    from parasim.study.new import Starter

MASS = mass_between(0.05, 20.0)
SINK = speed_between(0.5, 12.0)
EDGE = length_between(0.01, 2.0)


@command("sizing")
def new(
    output: Output,
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name of the design.", show_default=False)],
    mass: Annotated[str, typer.Option("--mass", help='Payload mass, such as "1.2 kg".', show_default=False)],
    sink: Annotated[str, typer.Option("--sink", help='Wanted sink, such as "3 m/s".', show_default=False)],
    box: Annotated[
        str | None,
        typer.Option(
            "--box",
            help='Payload\'s box, fore-aft, across, upright: "220 mm, 120 mm, 120 mm".',
            show_default="guessed from the mass",
        ),
    ] = None,
    whole_band: Annotated[
        bool,
        typer.Option("--whole-band", help="Keep the whole band of the sink at or under it, not its middle."),
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            parser=given_path,
            help="File to write; NAME.yaml by default.",
            show_default=False,
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite the file if it is there.")] = False,
) -> "Starter":
    """Write a starter design that sinks as slowly as wanted, by the model.

    Example: parasim new lark --mass "0.8 kg" --sink "2.5 m/s"
    """
    from parasim.study.new import check_name
    from parasim.study.new import new as starter_of

    check_name(name)
    payload_mass, wanted = quantity_option("--mass", mass, MASS), quantity_option("--sink", sink, SINK)
    edges = None if box is None else _edges(box)
    path = _checked_path(name, out, force)
    output.design = str(path)
    starter = starter_of(
        name, mass=payload_mass, sink=wanted, box=edges, units=output.units, whole_band=whole_band
    )
    write_together({path: starter.content.encode()})
    return replace(starter, file=str(path))


def _edges(text: str) -> list[float]:
    parts = text.split(",")
    if len(parts) != 3:
        raise OptionError(
            f'--box: given "{plain(text)[:60]}", not three lengths; use such as "220 mm, 120 mm, 120 mm"'
        )
    return [quantity_option("--box", part.strip(), EDGE) for part in parts]


def _checked_path(name: str, out: Path | None, force: bool) -> Path:
    """Name of the file to write; refuses to overwrite."""
    path = Path(f"{name}.yaml") if out is None else out
    try:
        taken, is_directory = path.exists(), path.is_dir()
    except (OSError, ValueError):
        raise OutputError(f"--out: {str(path)[:60]!r} is no file name; give another one") from None
    if is_directory:
        raise OutputError(f"--out: {path} is a directory; give the name of a file")
    if taken and not force:
        raise OutputError(f"{path} is already there; give another name, --out FILE or --force")
    return path
