"""``parasim release``: where to let go for a target, and how far it can land."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.drop import with_options
from parasim.cli.options import WindFromOption, WindOption, optional_quantity, quantity_option
from parasim.cli.run import command
from parasim.cli.scatter import two
from parasim.config.base import length_between, percent_between, speed_between
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.flight.release.release import ReleasePoint

Text = str | None
GUST = speed_between(0.0, 20.0)
BRAKE = percent_between(5.0, 100.0)
PLACE = length_between(-50000.0, 50000.0)
GustOption = Annotated[
    Text, typer.Option("--gust", help='Kept in hand against the wind: "2 m/s"; else the site\'s.')
]
CircleOption = Annotated[
    Text, typer.Option("--brake", help='Pull to circle with: "60 %"; else 50 % or what fits.')
]


@command("planning")
def release(
    design: Design,
    height: Annotated[
        Text, typer.Option("--height", help='Release height above ground, gliding: "80 m", "250 ft".')
    ] = None,
    wind: WindOption = None,
    wind_from: WindFromOption = None,
    gust: GustOption = None,
    brake: CircleOption = None,
    target: Annotated[
        Text,
        typer.Option("--target", help='Metres north and east of under a planned release: "0 m, 120 m".'),
    ] = None,
) -> "ReleasePoint":
    """Where to let go for a target, the plan to fly from there, the wind's limit, and how far it can land.

    Example: parasim release configs/heron.yaml --height "80 m" --wind "4 m/s" --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.release.release import release as release_of

    place: tuple[float, float] | None = None
    if target is not None:
        north, east = (quantity_option("--target", part, PLACE) for part in two(target, "--target"))
        place = north, east
    gusts, pull = optional_quantity("--gust", gust, GUST), optional_quantity("--brake", brake, BRAKE)
    changes = {"drop.height": height, "site.wind.speed": wind, "site.wind.from": wind_from}
    given: dict[str, object] = {key: value for key, value in changes.items() if value is not None}
    return release_of(
        assemble(with_options(design, given)),
        gust=gusts,
        brake=pull,
        target=place,
    )
