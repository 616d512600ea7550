"""``parasim landing``: what arrives at the ground in every wind."""

from typing import TYPE_CHECKING, Annotated

import numpy as np
import typer

from parasim.cli.flare import AimOption
from parasim.cli.options import quantity_option
from parasim.cli.run import command
from parasim.config.base import speed_between
from parasim.config.design import Design
from parasim.config.quantity import NUMBER
from parasim.errors import OptionError
from parasim.rotations import FloatArray

if TYPE_CHECKING:
    from parasim.flight.landing import Landing

WIND = speed_between(0.0, 40.0)
USUAL_WINDS = "0..8 m/s"


@command("landing")
def landing(
    design: Design,
    wind: Annotated[
        str,
        typer.Option(
            "--wind", help='Winds at the canopy as it lands, 1 m up: "0..8 m/s", "0..15 kt"; or one.'
        ),
    ] = USUAL_WINDS,
    no_flare: Annotated[bool, typer.Option("--no-flare", help="Brakes released only; quicker.")] = False,
    aim: AimOption = "both",
) -> "Landing":
    """Speed, energy and load at touchdown in every wind, flared or not, against limits and yardsticks.

    Example: parasim landing configs/heron.yaml --wind "0..8 m/s" --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.landing import landing as every_landing

    return every_landing(assemble(design), winds=read_winds(wind), flared=not no_flare, aim=aim)


def read_winds(text: str) -> FloatArray:
    """Winds of a range such as "0..8 m/s", about 1 m/s apart, or one wind. [m/s]

    A unit behind the range belongs to both ends.

    Raises
    ------
    OptionError
        When it is neither, or the range does not rise.

    Examples
    --------
    >>> read_winds("0..4").tolist()
    [0.0, 1.0, 2.0, 3.0, 4.0]
    """
    first, mark, last = text.partition("..")
    if not mark:
        return np.array([quantity_option("--wind", text, WIND)])
    unit = NUMBER.sub("", last.strip(), count=1).strip()
    if NUMBER.fullmatch(first.strip()):
        first = f"{first.strip()} {unit}"
    low, high = (quantity_option("--wind", end.strip(), WIND) for end in (first, last))
    if low >= high:
        raise OptionError(
            f'--wind: given "{text[:40]}", it does not rise; use a range such as "{USUAL_WINDS}"'
        )
    return np.linspace(low, high, max(2, round(high - low) + 1))
