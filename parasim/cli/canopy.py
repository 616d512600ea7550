"""``parasim canopy``: the geometry of the canopy, its lines and what it weighs."""

from typing import TYPE_CHECKING

from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.making.canopy import Geometry


@command("")
def canopy(design: Design) -> "Geometry":
    """Spans, areas, ribs, line lengths, masses and a picture.

    Example: parasim canopy configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.making.canopy import canopy as canopy_of

    return canopy_of(assemble(design))
