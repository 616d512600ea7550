"""``parasim drop``: one drop, from release to touchdown."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import WindFromOption, WindOption
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.cli.run import command
from parasim.config.design import Design
from parasim.config.loader import override
from parasim.errors import DesignError, Mistake, OptionError, plain
from parasim.files import file_stem

if TYPE_CHECKING:
    from parasim.flight.drop import Drop

OPTION_OF_KEY = {
    "drop.height": "--height",
    "site.wind.speed": "--wind",
    "site.wind.from": "--wind-from",
    "drop.heading": "--heading",
    "drop.start": "--start",
    "drop.velocity": "--velocity",
    "drop.brakes": "--brake",
}
"""Key of the design file that each option overrides."""

Text = str | None
BRAKE_HELP = 'In place of the file\'s: "2s: L 0.3 R 0.0" or "20m: L 80% R 80% over 1s"; may be repeated.'


@command("")
def drop(
    design: Design,
    output: Output,
    height: Annotated[
        Text, typer.Option("--height", help='Release height above ground: "60 m", "200 ft", "10 km".')
    ] = None,
    wind: WindOption = None,
    wind_from: WindFromOption = None,
    heading: Annotated[
        Text, typer.Option("--heading", help='Compass heading at release: "90 deg" or "E".')
    ] = None,
    start: Annotated[Text, typer.Option("--start", help="steady (gliding), rest or velocity.")] = None,
    velocity: Annotated[
        Text,
        typer.Option("--velocity", help='North, east, down, for --start velocity: "3 m/s, 0 m/s, 1 m/s".'),
    ] = None,
    brake: Annotated[
        list[str] | None,
        typer.Option("--brake", help=BRAKE_HELP, show_default=False),
    ] = None,
    film: Annotated[
        bool, typer.Option("--film", help="Write a moving picture (GIF) too; needs --out.")
    ] = False,
) -> "Drop":
    """Where and how it lands, and unopened. Options override the design file's drop and site.

    Example: parasim drop configs/heron.yaml --height "60 m" --wind "6 kt" --brake "2s: L 0.3 R 0"
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.drop import drop as drop_of

    changes: dict[str, object] = {
        "drop.height": height,
        "site.wind.speed": wind,
        "site.wind.from": wind_from,
        "drop.heading": heading,
        "drop.start": start,
        "drop.velocity": None if velocity is None else three_speeds(velocity),
        "drop.brakes": brake,
    }
    if film and not output.wants_files:
        raise OptionError("--film: given without --out, nowhere to write it; add --out DIR")
    given = {key: value for key, value in changes.items() if value is not None}
    with working("dropping, per cent of the way down", quiet=output.as_json) as shown:
        dropped = drop_of(assemble(with_options(design, given)), progress=shown)
    if film:
        add_film(dropped, output)
    return dropped


def add_film(dropped: "Drop", output: Output) -> None:
    """Gather the moving picture of a drop; how long and large it is is said at the end."""
    from parasim.plotting.film import film_of

    with working("filming, frames", quiet=output.as_json) as shown:
        film = film_of(dropped, output.units, shown)
    output.add(f"{file_stem(dropped.vehicle.design.name)}_drop_film.gif", film.content)
    if not output.quiet:
        output.at_last(lambda: output.print(film.note))


def three_speeds(text: str) -> list[str]:
    """Parts of a velocity, still as text.

    Raises
    ------
    OptionError
        If they are not three.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 3:
        shown = plain(text)[:60]
        raise OptionError(
            f'--velocity: given "{shown}", not three speeds; '
            'use north, east, down, such as "3 m/s, 0 m/s, 1 m/s"'
        )
    return parts


def with_options(
    design: Design, changes: dict[str, object], options: Mapping[str, str] = OPTION_OF_KEY
) -> Design:
    """Design with options in place of its keys, checked like the file.

    Parameters
    ----------
    design : Design
        As the file has it.
    changes : dict
        Dotted key to what was given.
    options : Mapping
        Key, or its beginning, to the option that overrides it.

    Raises
    ------
    OptionError
        Naming the option.
    """
    if changes.get("drop.start") in ("steady", "rest") and "drop.velocity" not in changes:
        changes = {**changes, "drop.velocity": None}
    if "drop.velocity" in changes and changes["drop.velocity"] is not None:
        changes = {"drop.start": "velocity", **changes}
    try:
        return override(design, changes)
    except DesignError as error:
        raise OptionError("\n".join(_of_option(mistake, options) for mistake in error.mistakes)) from None


def _of_option(mistake: Mistake, options: Mapping[str, str]) -> str:
    option = next((name for key, name in options.items() if mistake.key.startswith(key)), mistake.key)
    given = f"given {mistake.given}" if mistake.given else ""
    found = ", ".join(part for part in (given, mistake.problem) if part)
    hint = f"; add {option}" if mistake.problem == "missing" else f"; {mistake.hint}" if mistake.hint else ""
    return f"{option}: {found}{hint}"
