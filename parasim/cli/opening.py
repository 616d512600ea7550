"""``parasim opening``: from a packed canopy to the steady glide, its loads and the height it takes."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import optional_quantity
from parasim.cli.run import command
from parasim.config.base import length_between, speed_between
from parasim.config.design import Design
from parasim.config.scenario import HIGHEST_RELEASE

if TYPE_CHECKING:
    from parasim.flight.opening.opening import Opening

Text = str | None

SPEED = speed_between(0.0, 60.0)
HEIGHT = length_between(1.0, HIGHEST_RELEASE)


@command("opening")
def opening(
    design: Design,
    release_speed: Annotated[
        Text,
        typer.Option("--release-speed", help='Speed through the air as it is let go: "15 m/s", "30 kt".'),
    ] = None,
    height: Annotated[Text, typer.Option("--height", help='Release height above ground: "100 m".')] = None,
) -> "Opening":
    """Snatch, opening load, height lost from a packed canopy to the glide; what lines and tabs make of it.

    Example: parasim opening configs/heron.yaml --release-speed "15 m/s" --height "100 m" --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.opening.opening import opening as opening_of

    return opening_of(
        assemble(design),
        release_speed=optional_quantity("--release-speed", release_speed, SPEED),
        release_height=optional_quantity("--height", height, HEIGHT),
    )
