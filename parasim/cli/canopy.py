"""``parasim canopy``: the geometry of the canopy, its lines and what it weighs."""

from typing import TYPE_CHECKING

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.units import show

if TYPE_CHECKING:
    from parasim.dynamics.vehicle import Vehicle


def canopy(
    design: DesignArgument,
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Spans, areas, ribs, line lengths, masses and a picture.

    Example: parasim canopy configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.report.canopy import LINE_HEADS, RIB_HEADS, canopy_document, line_csv, rib_csv

    loaded, output = begin("canopy", design, out=out, as_json=as_json, units=units)
    vehicle = assemble(loaded)
    for caveat in vehicle.caveats:
        output.warn(caveat)
    _print(vehicle, output)
    document = canopy_document(vehicle)
    if output.wants_files:
        from parasim.plotting.canopy import canopy_figure

        output.add_csv("canopy_ribs.csv", RIB_HEADS, rib_csv(vehicle))
        output.add_csv("canopy_lines.csv", LINE_HEADS, line_csv(vehicle))
        output.add_json("canopy.json", document)
        output.add_figure("canopy.png", canopy_figure(vehicle, units))
    output.finish(document)


def _print(vehicle: "Vehicle", output: Output) -> None:
    from parasim.report import canopy as report

    units = output.units
    output.print(f"{vehicle.design.name}: canopy as sewn and inflated")
    output.print()
    for name, value in report.size_rows(vehicle, units):
        output.print(f"{name:<14}  {value}")
    output.print()
    output.table(report.cloth_rows(vehicle, units), title="Cloth, without seam allowance")
    output.print()
    output.table(
        report.row_table(vehicle, units),
        heads=["rib", *vehicle.line_set.straight],
        title="Straight length of each row, riser end to tab, under tension; ribs counted from the left tip",
    )
    pieces = ", ".join(
        f"{count} {report.KIND_WORDS[kind]}" for kind, count in report.line_pieces(vehicle).items()
    )
    total = show(vehicle.line_set.total_length, "length", units, digits=1)
    output.print(f"{pieces}; {total} of line in all, without knots and loops")
    output.print()
    title = "Masses (cloth with seams; air at the site's density)"
    output.table(report.mass_rows(vehicle, units), title=title)
