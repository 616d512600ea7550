"""``parasim templates``: what to cut, at full size."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.drawing.style import Paper
from parasim.errors import OptionError, plain
from parasim.units import show

if TYPE_CHECKING:
    from parasim.sewing.templates import Templates

FORMATS = ("svg", "dxf", "pdf")


def templates(
    design: DesignArgument,
    paper: Annotated[Paper, typer.Option("--paper", help="Of the PDF; sheet is one large page.")] = "a4",
    formats: Annotated[
        str, typer.Option("--format", metavar="LIST", help="Any of svg, dxf, pdf, with commas between.")
    ] = "svg,dxf,pdf",
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Full-size templates of ribs, skin panels, stabilisers and patches, with seam allowance and notches.

    Example: parasim templates configs/heron.yaml --out out --paper letter --format pdf,dxf
    """
    from parasim.report.templates import CSV_HEADS, template_csv, template_document
    from parasim.sewing.templates import templates as templates_of

    wanted = _formats(formats)
    loaded, output = begin("templates", design, out=out, as_json=as_json, units=units)
    with working("laying the skin flat", quiet=as_json):
        result = templates_of(loaded)
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = template_document(result)
    if output.wants_files:
        with working("drawing the templates", quiet=as_json):
            _gather_drawings(result, output, wanted, paper)
        output.add_csv("templates.csv", CSV_HEADS, template_csv(result))
        output.add_json("templates.json", document)
    output.finish(document)


def _formats(text: str) -> tuple[str, ...]:
    """Formats asked for, in the order of `FORMATS`.

    Raises
    ------
    OptionError
        When one is not known, or there is none.
    """
    names = [name.strip().lower() for name in text.split(",") if name.strip()]
    unknown = [name for name in names if name not in FORMATS]
    if unknown or not names:
        shown = plain(text)[:60]
        raise OptionError(f'--format: given "{shown}", not a list of formats; use {", ".join(FORMATS)}')
    return tuple(name for name in FORMATS if name in names)


def _print(result: "Templates", output: Output) -> None:
    from parasim.drawing.style import CAUTIONS
    from parasim.report.templates import TABLE_HEADS, template_rows

    units, sewing = output.units, result.design.sewing
    length, width = (show(side, "length", units) for side in (result.cloth_length, sewing.cloth_width))
    output.print(
        f"{result.design.name}: {len(result.pieces)} templates, {result.n_pieces} pieces to cut from "
        f"{length} of cloth {width} wide"
    )
    output.print(
        f"seam allowance {show(sewing.seam_allowance, 'small_length', units)}, hems "
        f"{show(sewing.hem, 'small_length', units)}, panels by the {sewing.panel}, "
        f"{100 * result.billow:.2f} % wider at mid-chord for the bulge"
    )
    output.print()
    title = "Sizes and cloth of one, allowances included"
    output.table(template_rows(result, units), heads=TABLE_HEADS, title=title)
    output.print()
    for caution in CAUTIONS:
        output.print(f"caution: {caution}")


def _gather_drawings(result: "Templates", output: Output, wanted: tuple[str, ...], paper: Paper) -> None:
    from parasim.drawing.dxf import dxf_text
    from parasim.drawing.pdf import pdf_bytes
    from parasim.drawing.svg import svg_text
    from parasim.sewing.templates import page_drawings, sheet_drawings, sheet_key

    name = result.design.name
    placed = sheet_drawings(result)
    with_key = (*placed, sheet_key(result, placed))
    if "svg" in wanted:
        output.add_text("templates.svg", svg_text(with_key, title=f"{name}: templates, true size"))
    if "dxf" in wanted:
        output.add_text("templates.dxf", dxf_text(with_key))
    if "pdf" in wanted:
        pages = placed if paper == "sheet" else page_drawings(result, paper)
        output.add_bytes(f"templates_{paper}.pdf", pdf_bytes(pages, title=name, paper=paper))
