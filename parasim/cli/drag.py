"""``parasim drag``: where the drag comes from."""

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.units import show


def drag(
    design: DesignArgument,
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Drag of the glide with the brakes released, item by item, on flat area.

    Example: parasim drag configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.drag import drag_build_up
    from parasim.flight.trim import find_trims
    from parasim.report.drag import DRAG_HEADS, bar, drag_csv, drag_document, drag_rows
    from parasim.report.words import FLAT_AREA

    loaded, output = begin("drag", design, out=out, as_json=as_json, units=units)
    vehicle = assemble(loaded)
    trims = find_trims(vehicle, modes=False)
    for caveat in (*vehicle.caveats, *trims.notes):
        output.warn(caveat)
    trim = trims.chosen
    build_up = drag_build_up(vehicle, trim)
    bars = [bar(item.share, build_up.items[0].share) for item in build_up.items]
    output.print(
        f"{loaded.name}: drag coefficient {build_up.CD:.4f} with the brakes released, "
        f"at {show(trim.airspeed, 'speed', units)} and {show(trim.alpha, 'angle', units)} angle of attack"
    )
    output.print(f"on a flat area of {show(trim.area, 'area', units)} ({FLAT_AREA}); a count is 0.0001")
    output.print()
    longest = max(len(line) for line in bars)
    rows = [[*row, line.ljust(longest)] for row, line in zip(drag_rows(build_up), [*bars, ""], strict=True)]
    output.table(rows, heads=["item", "CD", "counts", "share", ""])
    document = {"name": loaded.name, **drag_document(build_up, trim), "caveats": list(vehicle.caveats)}
    if output.wants_files:
        from parasim.plotting.drag import drag_figure

        output.add_csv("drag.csv", DRAG_HEADS, drag_csv(build_up))
        output.add_json("drag.json", document)
        output.add_figure("drag.png", drag_figure(build_up, loaded.name))
    output.finish(document)
