"""``parasim trouble``: what to check after something was seen in the air."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.flight.trouble.trouble import Trouble


@command("looking for causes")
def trouble(
    design: Design,
    symptom: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SYMPTOM]",
            help='What was seen, such as "turns left 10 deg/s"; without it, what can be asked.',
            show_default=False,
        ),
    ] = None,
) -> "Trouble":
    """What to check after something was seen in the air, likeliest first, in mm and grams of this design.

    Example: parasim trouble configs/heron.yaml "turns left 10 deg/s" --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.trouble.symptom import read_seen
    from parasim.flight.trouble.trouble import trouble as trouble_of

    phrase = " ".join(symptom or ())
    if phrase:
        read_seen(phrase)  # before anything is worked out
    return trouble_of(assemble(design), phrase)
