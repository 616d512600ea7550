"""``parasim cut``: pieces, cloth, line, tape and thread to buy; what they weigh, and how small they pack."""

from typing import TYPE_CHECKING

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.units import show

if TYPE_CHECKING:
    from parasim.config.design import Design
    from parasim.plotting.cut import Shape
    from parasim.sewing.cut_list import CutList
    from parasim.sewing.nesting import Placement


def cut(
    design: DesignArgument, out: OutOption = None, as_json: JsonOption = False, units: UnitsOption = "metric"
) -> None:
    """Cut and shopping list: parts, nested cloth, line, tape, thread; mass of each part; packed volume.

    Example: parasim cut configs/heron.yaml --out out
    """
    from parasim.report.cut import cut_document

    loaded, output = begin("cut", design, out=out, as_json=as_json, units=units)
    with working("laying the pieces on the cloth", quiet=as_json):
        result = _cut_list(loaded)
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = cut_document(result)
    if output.wants_files:
        with working("drawing", quiet=as_json):
            _gather_files(result, output)
        output.add_json("cut.json", document)
    output.finish(document)


def _cut_list(design: "Design") -> "CutList":
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.line_loads import line_loads
    from parasim.flight.trim import find_trims
    from parasim.sewing.cut_list import cut_list
    from parasim.sewing.line_sheet import build_line_sheet
    from parasim.sewing.templates import templates

    pieces = templates(design)
    vehicle = assemble(design)
    tension = line_loads(vehicle, find_trims(vehicle, modes=False).chosen).tension
    sheet = build_line_sheet(design, vehicle.canopy, vehicle.line_set, tension=tension)
    simulated = {item.name: item.properties.mass for item in vehicle.items}
    return cut_list(pieces, sheet, simulated=simulated)


def _print(result: "CutList", output: Output) -> None:
    from parasim.report import cut as report
    from parasim.sewing.cut_list import CAUTIONS, SPARE, TAPE_RULE, THREAD_RULE

    units = output.units
    output.print(f"{result.design.name}: {_finding(result, output)}")
    rows = show(result.templates.cloth_length, "length", units)
    output.print(f"Laid in rows, as the templates are, they would take {rows}. Colours are yours to choose.")
    output.print()
    output.table(report.part_rows(result, units), heads=report.PART_TABLE, title="Parts, allowances included")
    output.print()
    output.table(
        report.shopping_rows(result, units),
        heads=report.SHOPPING_TABLE,
        title=f"To buy, with {100 * SPARE:.0f} % to spare",
    )
    output.print(f"Assumed: {TAPE_RULE}.")
    output.print(f"Assumed: {THREAD_RULE}.")
    output.print()
    output.table(report.length_rows(result, units), heads=["line and tape", "pieces", "length"])
    output.print()
    output.table(report.mass_rows(result, units), heads=report.MASS_TABLE)
    output.print("Without the payload. By outlines of the pieces and by the geometry that flies, apart.")
    output.print()
    for sentence in report.packed_sentences(result.packed, units):
        output.print(sentence)
    output.print()
    for caution in CAUTIONS:
        output.print(f"caution: {caution}")


def _finding(result: "CutList", output: Output) -> str:
    nest = result.nest
    length, width = (show(1e-3 * side, "length", output.units) for side in (nest.length, nest.width))
    pieces = result.templates.n_pieces
    return f"{pieces} pieces nest on {length} of cloth {width} wide, {100 * nest.efficiency:.0f} % of it used"


def _gather_files(result: "CutList", output: Output) -> None:
    from parasim.drawing.svg import svg_text
    from parasim.plotting.cut import nest_figure
    from parasim.report import cut as report

    nest, name = result.nest, result.design.name
    output.add_csv("cut_parts.csv", report.PART_HEADS, report.part_csv(result))
    output.add_csv("cut_shopping.csv", report.SHOPPING_HEADS, report.shopping_csv(result))
    output.add_csv("cut_lengths.csv", report.LENGTH_HEADS, report.length_csv(result))
    output.add_csv("cut_mass.csv", report.MASS_HEADS, report.mass_csv(result))
    figure = nest_figure(
        [_shape(result, placement) for placement in nest.placements],
        width=1e-3 * nest.width,
        length=1e-3 * nest.length,
        title=f"{name}: {_finding(result, output)}",
        note="Numbers as in the list of parts; m: mirrored. Patches may be too small for theirs.",
        system=output.units,
    )
    output.add_figure("cut_nest.png", figure)
    output.add_text("cut_nest.svg", svg_text(nest.drawings(name), title=f"{name}: nest, true size"))


def _shape(result: "CutList", placement: "Placement") -> "Shape":
    from parasim.plotting.cut import Shape

    piece = placement.piece
    number = result.templates.pieces.index(piece) + 1
    skin = piece.name.split("_")[1] if piece.kind == "panel" else ""
    (x, y), room = placement.heart
    return Shape(
        outline=1e-3 * placement.outline,
        holes=tuple(1e-3 * hole for hole in placement.holes),
        kind=f"{skin} {piece.kind}".strip(),
        text=f"{number}{'m' if placement.mirrored else ''}",
        middle=(1e-3 * x, 1e-3 * y),
        room=1e-3 * room,
    )
