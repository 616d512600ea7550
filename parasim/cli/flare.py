"""``parasim flare``: the pull of both brakes that lands softest."""

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from parasim.cli.options import quantity_option
from parasim.cli.run import command
from parasim.config.base import length_between
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.flight.flare.flare import Flare

HEIGHT_ERROR_LIMITS = length_between(0.0, 2.0)

AimOption = Annotated[
    Literal["sink", "energy", "both"], typer.Option("--for", help="What to minimise at touchdown.")
]


@command("flaring")
def flare(
    design: Design,
    aim: AimOption = "both",
    stages: Annotated[
        int, typer.Option("--stages", min=1, max=2, help="Pull in one move or in two (slower).")
    ] = 1,
    height_error: Annotated[
        str, typer.Option("--height-error", help="The height may be off so much; the worst within it counts.")
    ] = "0.3 m",
) -> "Flare":
    """When and how far to pull both brakes before touchdown, what it gains, what a miss or a gust does.

    Example: parasim flare configs/heron.yaml --for sink --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.flare.flare import flare as best_flare

    error = quantity_option("--height-error", height_error, HEIGHT_ERROR_LIMITS)
    return best_flare(assemble(design), aim=aim, stages=stages, height_error=error)
