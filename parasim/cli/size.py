"""``parasim size``: canopy area and rigging angle for a wanted landing."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import quantity_option
from parasim.cli.output import Output
from parasim.cli.progress import counted
from parasim.cli.run import command
from parasim.config.base import energy_between, speed_between
from parasim.config.design import Design
from parasim.errors import OptionError

if TYPE_CHECKING:
    from parasim.study.size import Goal, Sizing

SINK = speed_between(0.3, 15.0)
ENERGY = energy_between(0.1, 5000.0)


@command("")
def size(
    design: Design,
    output: Output,
    sink: Annotated[
        str | None,
        typer.Option("--sink", help='Wanted sink, brakes released: "2.5 m/s".', show_default=False),
    ] = None,
    energy: Annotated[
        str | None,
        typer.Option("--energy", help='Wanted energy at touchdown, still air: "20 J".', show_default=False),
    ] = None,
) -> "Sizing":
    """How large a canopy and what rigging angle give a wanted landing; give --sink or --energy.

    Example: parasim size configs/heron.yaml --sink "2.5 m/s" --out out
    """
    from parasim.study.size import size as size_canopy

    goal, target = _target(sink, energy)
    return size_canopy(
        design, goal=goal, target=target,
        walk=lambda angles: counted(angles, "sizing", quiet=output.as_json),
    )  # fmt: skip


def _target(sink: str | None, energy: str | None) -> "tuple[Goal, float]":
    """What is aimed at, from the one option given."""
    if (sink is None) == (energy is None):
        given = "neither" if sink is None else "both"
        raise OptionError(f'--sink, --energy: given {given}; give one, such as --sink "2.5 m/s"')
    if sink is not None:
        return "sink", quantity_option("--sink", sink, SINK)
    return "energy", quantity_option("--energy", energy or "", ENERGY)
