"""``parasim turn``: what one brake does."""

from typing import TYPE_CHECKING

from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.flight.turn.turn import Turn


@command("turning")
def turn(design: Design) -> "Turn":
    """What one brake does: turn rate, radius, bank and height lost, how it begins, where it spirals.

    Example: parasim turn configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.turn.turn import turn as turn_of

    return turn_of(assemble(design))
