"""``parasim new``: write a starter design file."""

import re
from pathlib import Path
from typing import Annotated

import typer

from parasim.cli.options import JsonOption, UnitsOption, given_path, quantity_option
from parasim.cli.output import Output
from parasim.config.base import mass_between, number_between, speed_between
from parasim.config.loader import parse_design
from parasim.errors import OptionError, OutputError, plain
from parasim.files import write_together
from parasim.units import show

MASS = mass_between(0.05, 20.0)
SINK = speed_between(0.5, 12.0)
GLIDE = number_between(1.0, 6.0)


def new(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name of the design.", show_default=False)],
    mass: Annotated[str, typer.Option("--mass", help='Payload mass, such as "1.2 kg".', show_default=False)],
    sink: Annotated[str, typer.Option("--sink", help='Wanted sink, such as "3 m/s".', show_default=False)],
    glide: Annotated[str, typer.Option("--glide", help="Glide ratio to size for.")] = "2.5",
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
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Write a starter design, sized by the hand formula of a steady glide.

    Example: parasim new lark --mass "0.8 kg" --sink "3 m/s"
    """
    from parasim.study.new import size_canopy
    from parasim.study.starter import starter_rigging, starter_text

    size = size_canopy(
        payload_mass=quantity_option("--mass", mass, MASS),
        sink=quantity_option("--sink", sink, SINK),
        glide_ratio=quantity_option("--glide", glide, GLIDE),
    )
    path = _checked_path(name, out, force)
    text = starter_text(name, size, starter_rigging(name, size))
    design = parse_design(text, name=path.name)
    output = Output(command="new", design=str(path), as_json=as_json, units=units)
    for warning in design.warnings():
        output.warn(warning)
    write_together({path: text.encode()})
    output.table(
        [
            ["flat area", show(design.canopy.flat_area, "area", units)],
            ["span x chord", f"{show(size.span, 'length', units)} x {show(size.chord, 'length', units)}"],
            ["cells", size.cells],
            ["line length", show(size.line_length, "length", units)],
            ["airspeed (hand formula)", show(size.airspeed, "speed", units)],
        ],
        title=f"{name}: a first canopy for {show(size.payload_mass, 'mass', units)}",
    )
    output.print(f"wrote {path}; next: parasim glide {path}")
    output.finish(
        {
            "file": str(path),
            "area_m2": design.canopy.flat_area,
            "span_m": size.span,
            "chord_m": size.chord,
            "cells": size.cells,
            "line_length_m": size.line_length,
            "airspeed_m_s": size.airspeed,
            "canopy_mass_kg": size.canopy_mass,
        }
    )


def _checked_path(name: str, out: Path | None, force: bool) -> Path:
    """Name of the file to write; refuses to overwrite and refuses names that are no file names."""
    if not re.fullmatch(r"\w[\w .()+-]{0,59}", name):
        shown = plain(name)[:60]
        raise OptionError(f'NAME: given "{shown}", not a plain name; use letters and digits, such as lark')
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
