"""``parasim manual``: the manual, page by page, or all of it as one HTML file."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.run import command

if TYPE_CHECKING:
    from parasim.manual.manual import Manual


@command("")
def manual(
    topic: Annotated[str, typer.Argument(metavar="[TOPIC]", show_default=False)] = "",
    part: Annotated[str, typer.Argument(metavar="[PART]", show_default=False)] = "",
) -> "Manual":
    """Keys, JSON, files, wind, sources, terms and more; without a topic, what there is.

    Example: parasim manual keys canopy
    """
    from parasim.manual.manual import manual as page_of

    return page_of(topic, part)
