"""Arguments and options that commands share, and how a command begins."""

from pathlib import Path
from typing import Annotated, Any

import typer

from parasim.config.base import Quantity
from parasim.config.quantity import InvalidValue
from parasim.errors import OptionError, plain
from parasim.units import System


def given_path(text: str) -> Path:
    """Path as it was typed; an empty one would mean the directory one happens to be in."""
    if not text.strip():
        raise typer.BadParameter(f'given "{text}", no path; give one (. is the directory you are in)')
    return Path(text)


DesignArgument = Annotated[
    Path, typer.Argument(metavar="DESIGN", parser=given_path, help="Design file (YAML).", show_default=False)
]
OutOption = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="DIR", parser=given_path, help="Directory for files and plots.", show_default=False
    ),
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print one JSON document and nothing else on stdout.")
]
UnitsOption = Annotated[
    System, typer.Option("--units", help="Units of what is printed; a number given without a unit is SI.")
]
SegmentsOption = Annotated[
    Path | None,
    typer.Option(
        "--segments", metavar="FILE", parser=given_path, show_default=False,
        help="Segments and brakes of the logs, as parasim track writes them (YAML).",
    ),
]  # fmt: skip
WindOption = Annotated[
    str | None,
    typer.Option(
        "--wind", help='Wind at 10 m above ground, or at site.wind.reference_height: "3 m/s", "6 kt".'
    ),
]
WindFromOption = Annotated[
    str | None, typer.Option("--wind-from", help='Where it blows from: "270 deg" or "W".')
]


def quantity_option(name: str, text: str, mark: Quantity) -> float:
    """Read an option such as ``--mass "1.2 kg"``.

    Parameters
    ----------
    name : str
        Name of the option, for messages.
    text : str
        As typed.
    mark : Quantity
        Kind and hard limits.

    Returns
    -------
    float
        In SI.

    Raises
    ------
    OptionError
        When it is another kind of quantity or outside the limits.
    """
    try:
        return mark.read(text)
    except InvalidValue as invalid:
        raise OptionError(f'{name}: given "{_one_line(text)}", {invalid}') from None


def optional_quantity(name: str, text: str | None, mark: Quantity) -> float | None:
    """The same, or None where the option was not given."""
    return None if text is None else quantity_option(name, text, mark)


def _one_line(text: Any) -> str:
    return plain(str(text))[:60]
