"""``parasim turn``: what one brake does."""

from typing import TYPE_CHECKING

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.cli.progress import working

if TYPE_CHECKING:
    from parasim.flight.turn.turn import Turn


def turn(
    design: DesignArgument,
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """What one brake does: turn rate, radius, bank and height lost, how it begins, where it spirals.

    Example: parasim turn configs/heron.yaml --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.turn.turn import turn as turn_of
    from parasim.report.turn import turn_document

    loaded, output = begin("turn", design, out=out, as_json=as_json, units=units)
    with working("turning", quiet=as_json):
        result = turn_of(assemble(loaded))
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = turn_document(result)
    if output.wants_files:
        with working("drawing", quiet=as_json):
            _gather_files(result, output)
        output.add_json("turn.json", document)
    output.finish(document)


def _print(result: "Turn", output: Output) -> None:
    from parasim.report import turn as report

    units, travel = output.units, result.vehicle.design.brakes.travel
    output.print(report.headline(result, units))
    output.print("in still air near the ground, the other brake at rest")
    for side, turns in (("Right", result.right), ("Left", result.left)):
        output.print()
        output.table(
            report.steady_rows(turns, travel, units),
            heads=report.STEADY_WORDS,
            title=f"{side} brake, steady (right and right wing down positive; payload rigid)",
        )
    output.print()
    output.table(
        report.band_rows(result, units),
        heads=["right brake", "turn rate", "band", "uncalibrated", "band mostly from"],
        title="How sure that is",
    )
    output.print(report.band_sentence(result))
    output.print()
    for sentence in report.finding_sentences(result, units):
        output.print(sentence)
    output.print()
    _print_steps(result, output)
    output.print()
    for caution in result.cautions:
        output.print(f"caution: {caution}")


def _print_steps(result: "Turn", output: Output) -> None:
    from parasim.flight.turn.step import STEP_TIME, step_in_words
    from parasim.report import turn as report

    how = step_in_words(result.vehicle.design)
    output.table(
        report.step_rows(result.steps, output.units),
        heads=report.STEP_WORDS,
        title=f"Pulled {how} out of the glide with the brakes released and held {STEP_TIME:g} s",
    )
    if sentence := report.swing_sentence(result, output.units):
        output.print(sentence)


def _gather_files(result: "Turn", output: Output) -> None:
    from parasim.plotting.turn import step_figure, turn_figure
    from parasim.report.turn import STEP_HEADS, TURN_HEADS, steady_csv, step_csv

    output.add_csv("turn.csv", TURN_HEADS, steady_csv(result))
    output.add_csv("turn_step.csv", STEP_HEADS, step_csv(result.steps))
    output.add_figure("turn.png", turn_figure(result, output.units))
    output.add_figure("turn_step.png", step_figure(result, output.units))
