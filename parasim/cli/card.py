"""``parasim card``: what to look up in the field, on a phone."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import optional_quantity
from parasim.cli.output import Output
from parasim.cli.release import BRAKE, GUST, CircleOption, GustOption, Text
from parasim.cli.run import command
from parasim.config.base import length_between
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.making.card import Card

HIGHEST = length_between(2.0, 1000.0)


@command("planning for every wind and height, flaring")
def card(
    design: Design,
    output: Output,
    highest: Annotated[
        Text,
        typer.Option("--highest", help='Release height up to which: "150 m"; else twice the file\'s.'),
    ] = None,
    gust: GustOption = None,
    brake: CircleOption = None,
) -> "Card":
    """A page for the phone, offline: by wind and height what stops you, where to let go, what to keep clear.

    With --out as one HTML file; it keeps ticks and writes notes that parasim learn reads.

    Example: parasim card configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.making.card import card as card_of

    return card_of(
        assemble(design),
        design_file=Path(output.design).name,
        highest=optional_quantity("--highest", highest, HIGHEST),
        gust=optional_quantity("--gust", gust, GUST),
        brake=optional_quantity("--brake", brake, BRAKE),
    )
