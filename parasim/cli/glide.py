"""``parasim glide``: how the design glides, and what changes it."""

from typing import TYPE_CHECKING

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.units import show

if TYPE_CHECKING:
    from parasim.flight.glide import Glide


def glide(
    design: DesignArgument,
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Glide ratio, sink, trim and their margins; what brakes, rigging, a row error and altitude do to them.

    Example: parasim glide configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.glide import glide as steady_glide
    from parasim.report.glide import glide_document

    loaded, output = begin("glide", design, out=out, as_json=as_json, units=units)
    with working("gliding", quiet=as_json):
        result = steady_glide(assemble(loaded))
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = glide_document(result)
    if output.wants_files:
        with working("drawing", quiet=as_json):
            _gather_files(result, output)
        output.add_json("glide.json", document)
    output.finish(document)


def _print(result: "Glide", output: Output) -> None:
    from parasim.report import glide as report

    units, trim = output.units, result.trim
    output.print(
        f"{result.vehicle.design.name} glides {trim.glide_ratio:.2f} to 1 with the brakes released: sinks "
        f"{show(trim.sink, 'speed', units)} at {show(trim.airspeed, 'speed', units)} airspeed, "
        f"in still air at {show(result.vehicle.ground_height, 'length', units, digits=0)} above sea level"
    )
    output.print()
    for words, value in report.size_rows(result, units):
        output.print(f"{words:<16}  {value}")
    output.print()
    output.table(
        report.headline_rows(result, units), heads=["brakes released", "", "band", "band mostly from"]
    )
    output.print(
        "A band holds about 95 of 100 such canopies, if the factors' ranges are right; they are judgements."
    )
    output.print(report.lost_sentence(result))
    output.print()
    for sentence in report.stability_sentences(result, units):
        output.print(sentence)
    _print_tables(result, output)


def _print_tables(result: "Glide", output: Output) -> None:
    from parasim.flight.glide import LINE_ERROR
    from parasim.report import glide as report

    units, words = output.units, report.POINT_WORDS
    output.print()
    output.table(
        report.point_rows(result.brakes, report.brake_settings(result, units), units),
        heads=["brake", "pull", *words],
        title="Both brakes together (line pulled, free play included)",
    )
    output.print()
    output.table(
        report.point_rows(result.rigging, [[show(p.setting, "angle", units)] for p in result.rigging], units),
        heads=["rigging", *words],
        title="Rigging angle (positive nose-down), line length kept",
    )
    output.print(report.window_sentence(result))
    output.print()
    error = show(LINE_ERROR, "small_length", units)
    settings = [[f"{error} too short"], ["as designed"], [f"{error} too long"]]
    output.table(
        report.point_rows(result.lines, settings, units),
        heads=["rear row", *words],
        title=f"An error of {error} in the rear row",
    )
    output.print()
    output.table(
        report.hanging_rows(result, units),
        heads=["how it hangs", *words],
        title="A change of how the payload hangs",
    )
    output.print()
    heights = [[show(p.setting, "length", units, digits=0)] for p in result.altitudes]
    rows = report.point_rows(result.altitudes, heights, units)
    output.table(rows, heads=["height", *words], title="Height above sea level")


def _gather_files(result: "Glide", output: Output) -> None:
    from parasim.plotting.drag import drag_figure
    from parasim.plotting.glide import polar_figure, rigging_figure
    from parasim.report.glide import POINT_HEADS, point_csv
    from parasim.report.words import in_degrees

    travel = 1e3 * result.vehicle.design.brakes.travel
    pulls = [[round(p.setting, 6), round(travel * p.setting, 2)] for p in result.brakes]
    output.add_csv(
        "glide_polar.csv", ["brake_fraction", "pull_mm", *POINT_HEADS], point_csv(result.brakes, pulls)
    )
    angles = [[in_degrees(p.setting)] for p in result.rigging]
    output.add_csv(
        "glide_rigging.csv", ["rigging_angle_deg", *POINT_HEADS], point_csv(result.rigging, angles)
    )
    heights = [[p.setting] for p in result.altitudes]
    output.add_csv("glide_altitude.csv", ["height_m", *POINT_HEADS], point_csv(result.altitudes, heights))
    output.add_figure("glide_polar.png", polar_figure(result, output.units))
    output.add_figure("glide_rigging.png", rigging_figure(result, output.units))
    output.add_figure("drag.png", drag_figure(result.drag, result.vehicle.design.name))
