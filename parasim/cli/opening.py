"""``parasim opening``: from a packed canopy to the steady glide, its loads and the height it takes."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin, quantity_option
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.config.base import length_between, speed_between
from parasim.units import show

if TYPE_CHECKING:
    from parasim.flight.opening.opening import Opening

Text = str | None


def opening(
    design: DesignArgument,
    release_speed: Annotated[
        Text,
        typer.Option("--release-speed", help='Speed through the air as it is let go: "15 m/s", "30 kt".'),
    ] = None,
    height: Annotated[Text, typer.Option("--height", help='Release height above ground: "100 m".')] = None,
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Snatch, opening load, height lost from a packed canopy to the glide; what lines and tabs make of it.

    Example: parasim opening configs/heron.yaml --release-speed "15 m/s" --height "100 m" --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.opening.opening import opening as opening_of
    from parasim.report.opening import opening_document

    speed = (
        None
        if release_speed is None
        else quantity_option("--release-speed", release_speed, speed_between(0.0, 60.0))
    )
    above = None if height is None else quantity_option("--height", height, length_between(1.0, 5000.0))
    loaded, output = begin("opening", design, out=out, as_json=as_json, units=units)
    with working("opening", quiet=as_json):
        result = opening_of(assemble(loaded), release_speed=speed, release_height=above)
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = opening_document(result)
    if output.wants_files:
        with working("drawing", quiet=as_json):
            _gather_files(result, output)
        output.add_json("opening.json", document)
    output.finish(document)


def _print(result: "Opening", output: Output) -> None:
    from parasim.flight.opening.opening import CAUTIONS
    from parasim.report import opening as report

    units, case = output.units, result.now.designed
    height = show(result.release_height, "length", units, digits=0)
    output.print(
        f"{result.vehicle.design.name}, packed ({result.spec.pack}), released at "
        f"{show(case.release_speed, 'speed', units)}, {height} above ground: "
        f"opens with {show(case.peak, 'force', units)}, {case.load_factor:.1f} payload weights"
    )
    output.print()
    output.table(report.summary_rows(result, units), heads=["", "likely", "range"])
    constant = result.spec.filling_constant
    output.print(
        f"Range: filling constant {constant.low:g} to {constant.high:g}, likely {constant.value:g}; "
        "unverified at this size."
    )
    output.print()
    output.table(
        report.check_rows(result, units),
        heads=["most loaded", "load", "holds", "margin", "verdict", "needs"],
        title="Loads against strengths: opening at the upper end of its range, likely snatch",
    )
    output.print("A line's strength is taken at a knot; what it needs is before knotting.")
    output.print()
    output.table(
        report.speed_rows(result, units),
        heads=["released at", "stretch", "snatch", "peak", "range", _other(result), "bound", "down, full"],
        title="Over release speed",
    )
    output.print()
    for caution in CAUTIONS:
        output.print(f"caution: {caution}")


def _other(result: "Opening") -> str:
    return "with slider" if result.compared_with == "slider" else "unheld"


def _gather_files(result: "Opening", output: Output) -> None:
    from parasim.plotting.opening import opening_figure
    from parasim.report.opening import HEADS, opening_csv

    output.add_csv("opening.csv", HEADS, opening_csv(result))
    output.add_figure("opening.png", opening_figure(result, output.units))
