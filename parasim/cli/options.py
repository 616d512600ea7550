"""Arguments and options that commands share, and how a command begins."""

from pathlib import Path
from typing import Annotated, Any

import typer

from parasim.cli.output import Output
from parasim.config.base import Quantity
from parasim.config.design import Design
from parasim.config.loader import load_design
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
UnitsOption = Annotated[System, typer.Option("--units", help="Units of the printed table.")]


def begin(
    command: str, design: Path, *, out: Path | None = None, as_json: bool = False, units: System = "metric"
) -> tuple[Design, Output]:
    """Load the design and open the output of a command; guard-rail warnings are in it already.

    Parameters
    ----------
    command : str
        Name of the command.
    design : Path
        Design file.
    out : Path, optional
        Directory for files; nothing is written without it.
    as_json : bool
        Print one JSON document in place of text.
    units : {"metric", "imperial"}
        Units of printed text.

    Returns
    -------
    tuple of Design and Output

    Raises
    ------
    DesignError
        When the file holds mistakes.
    OutputError
        When the directory cannot be one.
    """
    from parasim.geometry.rigging import posed

    output = Output(command=command, design=str(design), directory=out, as_json=as_json, units=units)
    loaded = load_design(design)
    for warning in posed(loaded).warnings():
        output.warn(warning)
    return loaded, output


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
