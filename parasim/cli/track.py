"""``parasim track``: what logged flights say."""

from math import cos, sin
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import given_path, optional_quantity
from parasim.cli.output import Output
from parasim.cli.run import command
from parasim.config.base import density_between, direction_between, mass_between, speed_between
from parasim.errors import OptionError

if TYPE_CHECKING:
    from parasim.logs.track import Track
    from parasim.logs.wind import LogWind

WIND, FROM = speed_between(0.0, 40.0), direction_between(0.0, 360.0)
MASS, DENSITY = mass_between(0.05, 20.0), density_between(0.3, 1.6)


@command("reading")
def track(
    output: Output,
    logs: Annotated[
        list[Path],
        typer.Argument(
            metavar="LOG...", parser=given_path, help="GPX, IGC, NMEA or CSV.", show_default=False
        ),
    ],
    columns: Annotated[
        Path | None,
        typer.Option(
            "--columns", metavar="FILE", parser=given_path, show_default=False,
            help="Map of a CSV file's own heads (YAML); see parasim manual logs.",
        ),
    ] = None,
    segments: Annotated[
        Path | None,
        typer.Option(
            "--segments", metavar="FILE", parser=given_path, show_default=False,
            help="Segments as --out writes them, corrected (YAML).",
        ),
    ] = None,
    brakes: Annotated[
        str | None,
        typer.Option(
            "--brakes", help='Brakes by time after release: "0s: L 0 R 0; 20s: R 50%".', show_default=False
        ),
    ] = None,
    wind: Annotated[
        str | None,
        typer.Option("--wind", help='Mean wind over the flight, where it flew: "3 m/s".', show_default=False),
    ] = None,
    wind_from: Annotated[
        str | None,
        typer.Option("--wind-from", help='Where it blows from: "268 deg" or "W".', show_default=False),
    ] = None,
    mass: Annotated[
        str | None, typer.Option("--mass", help='All-up mass, for the notes: "1.25 kg".', show_default=False)
    ] = None,
    beside: Annotated[
        Path | None,
        typer.Option(
            "--design", metavar="DESIGN", parser=given_path, show_default=False,
            help="Fly this design along, with the logged brakes: predicted against flown.",
        ),
    ] = None,
    air_density: Annotated[
        str | None,
        typer.Option(
            "--air-density", help='Else by standard air: "1.20 kg/m^3".', show_default=False
        ),
    ] = None,
) -> "Track":  # fmt: skip
    """What happened in logged flights: segments, wind, sink, speeds, turns, with errors; notes to learn from.

    Example: parasim track configs/heron_log.csv --mass "1.307 kg" --out out
    """
    from parasim.config.log_columns import OWN_HEADS, read_column_map
    from parasim.config.segments import read_brakes, read_segments
    from parasim.logs.track import track as track_of

    output.design = ", ".join(map(str, logs))
    if columns and not any(log.suffix.lower() == ".csv" for log in logs):
        raise OptionError("--columns: no CSV file among the logs; leave it out")
    found = track_of(
        *logs,
        columns=read_column_map(columns) if columns else OWN_HEADS,
        segments=read_segments(segments) if segments else (),
        brakes=read_brakes(brakes) if brakes else (),
        wind=_wind(
            optional_quantity("--wind", wind, WIND), optional_quantity("--wind-from", wind_from, FROM)
        ),
        mass=optional_quantity("--mass", mass, MASS),
        air_density=optional_quantity("--air-density", air_density, DENSITY),
    )
    return found if beside is None else _predicted(found, beside, output)


def _predicted(found: "Track", beside: Path, output: Output) -> "Track":
    """The logs, and what a design does beside them."""
    from parasim.cli.run import loaded
    from parasim.dynamics.vehicle import assemble
    from parasim.learning.predicted import predicted_track

    return predicted_track(found, assemble(loaded(beside, output)))


def _wind(speed: float | None, direction: float | None) -> "LogWind | None":
    """The wind that was given, if any."""
    import numpy as np

    from parasim.logs.wind import given_wind

    if speed is None and direction is None:
        return None
    if speed is None or (direction is None and speed > 0):
        lacks = "--wind" if speed is None else "--wind-from"
        raise OptionError(f'{lacks}: missing; give both, such as --wind "3 m/s" --wind-from "268 deg"')
    blows_from = direction or 0.0
    return given_wind(-speed * np.array([cos(blows_from), sin(blows_from)]))
