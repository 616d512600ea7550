"""One way for every command: load, compute, print, warn, draw, write.

A command is a function from a design and its own options to an answer, under the decorator `command`, which
adds the options that all share.
"""

import inspect
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from parasim.answer import Answer
from parasim.caveats import CAUTION, kind_of
from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.config.design import Design
from parasim.config.loader import load_design
from parasim.files import file_stem
from parasim.units import System

if TYPE_CHECKING:
    from parasim.report.report import Report

Ask = Callable[..., "Answer | Report[Any]"]

QuietOption = Annotated[
    bool, typer.Option("--quiet", help="Print the answer only, where the design fails, and the caution.")
]
AllOption = Annotated[bool, typer.Option("--all", help="Print long tables in full.")]

SHARED = {
    "out": (OutOption, None),
    "as_json": (JsonOption, False),
    "units": (UnitsOption, "metric"),
    "quiet": (QuietOption, False),
    "every": (AllOption, False),
}
"""Options of every command: type and default."""


def command(doing: str) -> Callable[[Ask], Callable[..., None]]:
    """Make a command of a function that answers.

    Parameters
    ----------
    doing : str
        Said on a terminal while it works; empty where the function shows its own progress.

    Notes
    -----
    An argument ``design`` is the design, loaded; or its path, if annotated so. An argument ``output`` is
    handed the `Output`, to warn or to keep parts of a long run. An argument of the name of a shared option
    stands in its place.
    """

    def decorate(ask: Ask) -> Callable[..., None]:
        own = inspect.signature(ask).parameters

        def run(*, as_json: bool, units: System, quiet: bool, every: bool, **options: Any) -> None:
            output = Output(
                command=ask.__name__, design=str(options.get("design", "")), as_json=as_json, units=units,
                quiet=quiet, every=every, directory=None if "out" in own else options.pop("out"),
            )  # fmt: skip
            if "output" in own:
                options["output"] = output
            with output.until_end:
                if "design" in own and own["design"].annotation is not Path:
                    options["design"] = loaded(options["design"], output)
                with working(doing, quiet=as_json or not doing):
                    answer = ask(**options)
                deliver(answer.report if isinstance(answer, Answer) else answer, output)

        run.__name__, run.__doc__ = ask.__name__, ask.__doc__
        run.__signature__ = _signature(own)  # type: ignore[attr-defined]
        run.__annotations__ = {}
        return run

    return decorate


def loaded(path: Path, output: Output) -> Design:
    """Design of a file; guard-rail warnings go to the output.

    Raises
    ------
    DesignError
        When the file holds mistakes, or its row lengths rig no canopy.
    """
    from parasim.geometry.rigging import posed

    design = load_design(path)
    for warning in posed(design).warnings():
        output.warn(warning)
    return design


def deliver(report: "Report[Any]", output: Output) -> None:
    """Print an answer, or its document, and write its files."""
    for caveat in report.caveats:
        output.warn(caveat)
    every = output.as_json or not output.quiet
    output.keep_only(lambda text: report.touches(text) and (every or kind_of(text) == "fails"))
    if not output.as_json:
        units = output.units
        output.print(report.first_line(units) if output.quiet else report.text(units, every=output.every))
    if output.quiet and report.cautions:
        output.caution = CAUTION
    document = report.document()
    if output.wants_files:
        with working("drawing", quiet=output.as_json):
            gather(report, output)
        output.add_json(f"{report.COMMAND}.json", document)
    output.finish(document)


def gather(report: "Report[Any]", output: Output) -> None:
    """Put the files of a report together."""
    output.prefix = f"{file_stem(report.name)}_"
    for sentence in report.unwritten():
        output.warn(sentence)
    for name, text in report.tables():
        output.add(name, text)
    for name, content in report.others(output.units):
        output.add(name, content)
    for name, text in report.to_fill_in(output.units):
        output.add_to_fill_in(name, text)
    for name, figure in report.figures(output.units):
        output.add_figure(name, figure)


def _signature(own: "dict[str, inspect.Parameter] | Any") -> inspect.Signature:
    keyword = inspect.Parameter.KEYWORD_ONLY
    given = [
        each.replace(kind=keyword, annotation=DesignArgument if name == "design" else each.annotation)
        for name, each in own.items()
        if name != "output"
    ]
    shared = [
        inspect.Parameter(name, keyword, annotation=kind, default=default)
        for name, (kind, default) in SHARED.items()
        if name not in own
    ]
    return inspect.Signature([*given, *shared])
