"""``parasim glide``: how the design glides, and what changes it."""

from typing import TYPE_CHECKING

from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.flight.glide import Glide


@command("gliding")
def glide(design: Design) -> "Glide":
    """Glide ratio, sink, trim and their margins; what brakes, rigging, a row error and altitude do to them.

    Example: parasim glide configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.glide import glide as steady_glide

    return steady_glide(assemble(design))
