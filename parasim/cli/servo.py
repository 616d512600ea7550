"""``parasim servo``: force in the brake lines, and the servo that pulls them."""

from typing import TYPE_CHECKING

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.units import show

if TYPE_CHECKING:
    from parasim.flight.servo.servo import Servo


def servo(
    design: DesignArgument,
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Brake-line force and travel, torque through the servo's sweep, its margin, time and what it can hold.

    Without a servo section in the design: what a servo has to do. Example: parasim servo configs/heron.yaml
    --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.servo.servo import servo as servo_of
    from parasim.report.servo import servo_document

    loaded, output = begin("servo", design, out=out, as_json=as_json, units=units)
    with working("pulling", quiet=as_json):
        result = servo_of(assemble(loaded))
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = servo_document(result)
    if output.wants_files:
        with working("drawing", quiet=as_json):
            _gather_files(result, output)
        output.add_json("servo.json", document)
    output.finish(document)


def _print(result: "Servo", output: Output) -> None:
    from parasim.flight.servo.servo import SERVO_CAUTIONS
    from parasim.report import servo as report

    units, curve = output.units, result.curve
    force, _ = report.show_band((result.steady_force,) * 3, "force", units)
    output.print(
        f"{result.vehicle.design.name}: each brake line pulls with up to {force} over "
        f"{show(result.travel, 'small_length', units)}; the servo needs "
        f"{report.show_torque(result.peak_torque, units)} at the peak"
    )
    output.print()
    output.table(
        report.force_rows(result, units),
        heads=["pull", "of travel", "this brake alone", "each of both", "band of the larger"],
        title="Force in the main brake line of one side (free play included in the pull)",
    )
    output.print(
        f"Alone: at the airspeed with the brakes released, {show(result.trim.airspeed, 'speed', units)}, "
        "as when the pull is quick. Both: settled to the slower glide."
    )
    output.print(f"The band is {curve.low:g} to {curve.high:g} times the figure: judged, not measured.")
    output.print()
    output.table(report.requirement_rows(result, units), heads=["each servo", "", "band"])
    output.print()
    if result.motor is None:
        for sentence in report.bare_sentences(result, units):
            output.print(sentence)
    else:
        for words, value in report.drive_rows(result, units):
            output.print(f"{words:<31}  {value}")
        output.print()
        output.table(report.motor_rows(result.motor, result.travel, units), heads=["the servo", "", "band"])
        output.print("Under load it slows along a straight line from no-load speed to its stalled torque.")
    if sentence := report.resolution_sentence(result, units):
        output.print(sentence)
    output.print()
    for caution in SERVO_CAUTIONS:
        output.print(f"caution: {caution}")


def _gather_files(result: "Servo", output: Output) -> None:
    from parasim.plotting.servo import servo_figure
    from parasim.report.servo import FORCE_HEADS, SERVO_HEADS, force_csv, servo_csv

    output.add_csv("servo.csv", SERVO_HEADS, servo_csv(result))
    output.add_csv("servo_force.csv", FORCE_HEADS, force_csv(result))
    output.add_figure("servo.png", servo_figure(result, output.units))
