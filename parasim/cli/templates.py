"""``parasim templates``: what to cut, at full size."""

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.run import command
from parasim.config.design import Design
from parasim.drawing.style import Paper
from parasim.errors import OptionError, plain

if TYPE_CHECKING:
    from parasim.sewing.templates import Templates


@command("laying the skin flat")
def templates(
    design: Design,
    paper: Annotated[
        Paper | None,
        typer.Option(
            "--paper",
            help="Of the PDF; sheet is one large page. Else letter with imperial units, a4 without.",
        ),
    ] = None,
    formats: Annotated[
        str, typer.Option("--format", metavar="LIST", help="Any of svg, dxf, pdf, with commas between.")
    ] = "svg,dxf,pdf",
) -> "Templates":
    """Full-size templates of ribs, skin panels, stabilisers and patches, with seam allowance and notches.

    Example: parasim templates configs/heron.yaml --out out --paper letter --format pdf,dxf
    """
    from parasim.sewing.templates import templates as templates_of

    return replace(templates_of(design), paper=paper, formats=_formats(formats))


def _formats(text: str) -> tuple[str, ...]:
    """Formats asked for, in the order of `FORMATS`.

    Raises
    ------
    OptionError
        When one is not known, or there is none.
    """
    from parasim.sewing.templates import FORMATS

    names = [name.strip().lower() for name in text.split(",") if name.strip()]
    unknown = [name for name in names if name not in FORMATS]
    if unknown or not names:
        shown = plain(text)[:60]
        raise OptionError(f'--format: given "{shown}", not a list of formats; use {", ".join(FORMATS)}')
    return tuple(name for name in FORMATS if name in names)
