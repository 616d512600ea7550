"""``parasim size``: canopy area and rigging angle for a wanted landing."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin, quantity_option
from parasim.cli.output import Output
from parasim.cli.progress import counted
from parasim.config.base import energy_between, speed_between
from parasim.errors import OptionError
from parasim.units import show

if TYPE_CHECKING:
    from parasim.study.sizing import Goal, Sizing

SINK = speed_between(0.3, 15.0)
ENERGY = energy_between(0.1, 5000.0)


def size(
    design: DesignArgument,
    sink: Annotated[
        str | None,
        typer.Option("--sink", help='Wanted sink, brakes released: "2.5 m/s".', show_default=False),
    ] = None,
    energy: Annotated[
        str | None,
        typer.Option("--energy", help='Wanted energy at touchdown, still air: "20 J".', show_default=False),
    ] = None,
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """How large a canopy and what rigging angle give a wanted landing; give --sink or --energy.

    Example: parasim size configs/heron.yaml --sink "2.5 m/s" --out out
    """
    from parasim.report.sizing import SIZE_HEADS, sizing_csv, sizing_document
    from parasim.study.sizing import size as size_canopy

    goal, target = _target(sink, energy)
    loaded, output = begin("size", design, out=out, as_json=as_json, units=units)
    result = size_canopy(
        loaded, goal=goal, target=target, walk=lambda angles: counted(angles, "sizing", quiet=as_json)
    )
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = sizing_document(result)
    if output.wants_files:
        output.add_csv("size.csv", SIZE_HEADS, sizing_csv(result))
        output.add_json("size.json", document)
        if len(result.grid[0]) > 1:
            from parasim.plotting.sizing import sizing_figure

            output.add_figure("size.png", sizing_figure(result, units))
    output.finish(document)


def _target(sink: str | None, energy: str | None) -> "tuple[Goal, float]":
    """What is aimed at, from the one option given."""
    if (sink is None) == (energy is None):
        given = "neither" if sink is None else "both"
        raise OptionError(f'--sink, --energy: given {given}; give one, such as --sink "2.5 m/s"')
    if sink is not None:
        return "sink", quantity_option("--sink", sink, SINK)
    return "energy", quantity_option("--energy", energy or "", ENERGY)


def _print(result: "Sizing", output: Output) -> None:
    from parasim.flight.drop import CAUTIONS
    from parasim.report import sizing as report
    from parasim.report.words import FLAT_AREA

    units = output.units
    words, kind = report.GOAL_WORDS[result.goal]
    wanted = f"{words} of {show(result.target, kind, units)}"
    best = result.best
    if best is None:
        output.print(f"{result.design.name}: {report.failure_sentence(result, units)}")
    else:
        output.print(
            f"{result.design.name} for {wanted} with the brakes released in still air: flat area "
            f"{show(best.area, 'area', units)}, rigging {show(best.rigging_angle, 'angle', units)}"
        )
        output.print(report.cost_sentence(result, units))
        output.print(report.band_sentence(result, units))
        output.print()
        output.table(report.length_rows(result, units), title="Lengths of that canopy")
    output.print()
    output.table(
        report.answer_rows(result, units),
        heads=report.ANSWER_HEADS,
        title=f"Canopies with {wanted}, by rigging angle; margins: + kept, x not",
    )
    output.print(f"flat area: {FLAT_AREA}")
    output.print()
    for caution in CAUTIONS:
        output.print(f"caution: {caution}")
