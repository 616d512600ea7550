"""``parasim flare``: the pull of both brakes that lands softest."""

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin, quantity_option
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.config.base import length_between
from parasim.units import show

if TYPE_CHECKING:
    from parasim.flight.flare.flare import Flare

HEIGHT_ERROR_LIMITS = length_between(0.0, 2.0)

AimOption = Annotated[
    Literal["sink", "energy", "both"], typer.Option("--for", help="What to minimise at touchdown.")
]


def flare(
    design: DesignArgument,
    aim: AimOption = "both",
    stages: Annotated[
        int, typer.Option("--stages", min=1, max=2, help="Pull in one move or in two (slower).")
    ] = 1,
    height_error: Annotated[
        str, typer.Option("--height-error", help="The height may be off so much; the worst within it counts.")
    ] = "0.3 m",
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """When and how far to pull both brakes before touchdown, what it gains, what a miss or a gust does.

    Example: parasim flare configs/heron.yaml --for sink --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.flare.flare import flare as best_flare
    from parasim.report.flare import flare_document

    error = quantity_option("--height-error", height_error, HEIGHT_ERROR_LIMITS)
    loaded, output = begin("flare", design, out=out, as_json=as_json, units=units)
    with working("flaring", quiet=as_json):
        result = best_flare(assemble(loaded), aim=aim, stages=stages, height_error=error)
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = flare_document(result)
    if output.wants_files:
        from parasim.plotting.flare import flare_figure
        from parasim.report.flare import HEIGHT_HEADS, HISTORY_HEADS, height_csv, history_csv

        output.add_csv("flare.csv", HISTORY_HEADS, history_csv(result))
        output.add_csv("flare_heights.csv", HEIGHT_HEADS, height_csv(result))
        output.add_json("flare.json", document)
        output.add_figure("flare.png", flare_figure(result, units))
    output.finish(document)


def _print(result: "Flare", output: Output) -> None:
    from parasim.flight.drop import CAUTIONS
    from parasim.flight.flare.flare import AIM_WORDS
    from parasim.report.flare import band_sentence, case_rows, gain_rows, pull_in_words

    units = output.units
    output.print(f"{result.vehicle.design.name}: {pull_in_words(result, units)}")
    output.print(f"for {AIM_WORDS[result.aim]}, in still air, out of the glide with the brakes released")
    output.print(f"servo: {result.servo.words}")
    output.print()
    error = show(result.height_error, "length", units)
    output.table(
        gain_rows(result, units),
        heads=["touchdown", "brakes released", "flared", "change", f"worst, {error} off", "band"],
    )
    output.print(band_sentence(result))
    if result.cases:
        output.print()
        output.table(
            case_rows(result, units),
            heads=["when", "sink", "over ground", "energy", "highest alpha", "verdict"],
            title="The same flare, not as planned (a gust steps in as the pull begins, and stays)",
        )
    output.print()
    for caution in CAUTIONS:
        output.print(f"caution: {caution}")
