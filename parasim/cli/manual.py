"""``parasim manual``: the manual, page by page, or all of it as one HTML file."""

from typing import Annotated

import typer

from parasim.cli.options import OutOption
from parasim.cli.output import Output


def manual(
    topic: Annotated[str, typer.Argument(metavar="[TOPIC]", show_default=False)] = "",
    part: Annotated[str, typer.Argument(metavar="[PART]", show_default=False)] = "",
    out: OutOption = None,
) -> None:
    """Keys, JSON, files, wind, sources, terms and more; without a topic, what there is.

    Example: parasim manual keys canopy
    """
    from parasim.manual import SCHEMA, contents, page
    from parasim.manual.html import manual_html

    output = Output(command="manual", design="", directory=out)
    output.print((page(topic, part) if topic else contents()).rstrip())
    if output.wants_files:
        output.add_text("manual.html", manual_html())
        output.add_text("design.schema.json", page(SCHEMA))
    output.finish({})
