"""What `parasim servo` answers."""

from collections.abc import Iterator
from math import isfinite, isnan
from typing import TYPE_CHECKING, Any

import numpy as np

from parasim.dynamics.brakes.actuators import KILOGRAM_FORCE_CM, OUNCE_FORCE_INCH, ArmDrive, WinchDrive
from parasim.flight.servo.ring import RingFriction
from parasim.flight.servo.servo import CLASSES, SERVO_CAUTIONS, STATED_ARM, Motor, Servo
from parasim.report.column import Column, Grid, Table, of_array
from parasim.report.report import IN_FLIGHT, Block, Report
from parasim.units import DEGREE, System, convert, in_degrees, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PRINTED_PULLS = 5
"""Steps of the full travel at which forces are printed."""


RING_NOTE = (
    "Forces are those at the servo, as it pulls in. Friction of a limp line by the capstan formula of Euler "
    "and Eytelwein; the bend is that at the zero mark."
)


class ServoReport(Report[Servo]):
    """Force in the brake lines, and what the servo makes of it."""

    COMMAND = "servo"
    CAUTIONS = SERVO_CAUTIONS
    TOUCHED = IN_FLIGHT - {"flight"}

    def failures(self, units: System) -> list[str]:
        """A servo too weak at the worse end of the band, or an arm that does not make the travel."""
        servo, found = self.result, []
        if servo.motor is not None and servo.motor.margin[2] < 1:
            found.append(f"torque may be only {servo.motor.margin[2]:.2g} times the peak")
        if servo.short:
            reached, travel = (show(one, "small_length", units) for one in (servo.reached, servo.travel))
            found.append(f"pulls {reached} of {travel}")
        return found

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        servo = self.result
        yield headline(servo, units)
        points = len(servo.curve.pull)
        yield Table(
            columns=force_columns(servo), rows=range(0, points, (points - 1) // PRINTED_PULLS),
            title="Force in the main brake line of one side (free play included in the pull)",
            note=force_sentences(servo, units),
        )  # fmt: skip
        yield Grid(
            rows=requirement_rows(servo, units), heads=["each servo", "", "band"],
            note=dynamic_sentence(servo),
        )  # fmt: skip
        if servo.curve.ring is not None:
            yield Grid(
                rows=ring_rows(servo, servo.curve.ring, units), heads=["ring", "", "band"], note=RING_NOTE
            )
        if servo.motor is None:
            yield "\n".join(bare_sentences(servo, units))
        else:
            yield Grid(rows=drive_rows(servo, units))
            yield Grid(
                rows=motor_rows(servo.motor, servo.travel, units), heads=["the servo", "", "band"],
                note="Under load it slows along a straight line from no-load speed to its stalled torque.",
            )  # fmt: skip
        if not isnan(servo.pull_per_turn_rate):
            yield resolution_sentence(servo, units)
        yield class_sentence(servo, units)

    def document(self) -> dict[str, Any]:
        """As `servo_document`."""
        return servo_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        servo = self.result
        yield "servo.csv", Table(columns=sweep_columns(servo), rows=range(len(servo.angle))).csv()
        yield "servo_force.csv", force_table(servo).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.servo import servo_figure

        yield "servo.png", servo_figure(self.result, units)


def force_columns(servo: Servo) -> tuple[Column[int], ...]:
    """Force in the line of one side against pull, and the band of the larger."""
    curve = servo.curve
    return (
        of_array("pull_mm", "small_length", curve.pull, words="pull"),
        of_array("brake_percent", "percent", curve.pull / servo.travel, words="of travel"),
        of_array("one_n", "small_force", curve.one, words="this brake alone"),
        of_array("both_n", "small_force", curve.both, words="each of both"),
        of_array("low_n", "small_force", curve.low * curve.worst, words="larger, at least"),
        of_array("high_n", "small_force", curve.high * curve.worst, words="at most"),
        of_array("airspeed_both_m_s", "speed", curve.airspeed),
    )


def force_table(servo: Servo) -> Table[int]:
    """Every pull under `force_columns`."""
    return Table(columns=force_columns(servo), rows=range(len(servo.curve.pull)))


def sweep_columns(servo: Servo) -> tuple[Column[int], ...]:
    """Pull, force and torque through the sweep of the servo."""
    low, high = servo.curve.low, servo.curve.high
    return (
        of_array("angle_deg", "angle", servo.angle),
        of_array("pull_mm", "small_length", servo.pull),
        of_array("brake_percent", "percent", servo.pull / servo.travel),
        of_array("lever_mm", "small_length", np.asarray(servo.drive.lever(servo.angle))),
        of_array("line_angle_deg", "angle", np.asarray(servo.drive.line_angle(servo.angle))),
        of_array("force_n", "small_force", servo.force),
        of_array("force_low_n", "small_force", low * servo.force),
        of_array("force_high_n", "small_force", high * servo.force),
        of_array("torque_n_m", "moment", servo.torque),
        of_array("torque_low_n_m", "moment", low * servo.torque),
        of_array("torque_high_n_m", "moment", high * servo.torque),
    )


def headline(servo: Servo, system: System) -> str:
    """What each servo has to do, in a sentence."""
    low, high, force, peak = servo.curve.low, servo.curve.high, servo.steady_force, servo.peak_torque
    least_peak, most_peak = servo.peak_band
    margin = ""
    if servo.motor is not None:
        least, most = sorted(servo.motor.margin[1:])
        margin = f" and has {servo.motor.margin[0]:.2g} times that ({least:.2g} to {most:.2g})"
    return (
        f"{servo.vehicle.design.name}: each brake line pulls with up to {show(force, 'small_force', system)} "
        f"({show_range(low * force, high * force, 'small_force', system)}) over "
        f"{show(servo.travel, 'small_length', system)}; each servo needs {_torque(peak, system)} "
        f"({_torque(least_peak, system)} to {_torque(most_peak, system)}) at the peak{margin}"
        f"{_bought(servo, system)}"
    )


def _bought(servo: Servo, system: System) -> str:
    """The class that holds the peak at the high end of its band, in short."""
    most = servo.classes[1]
    if most is None:
        return "; no class of servo holds that: see below"
    return f"; buy the {class_words(most, system)} class{_far(servo)}"


def force_sentences(servo: Servo, system: System) -> str:
    """At which airspeeds the forces are, and how sure they are."""
    return (
        "Alone: at the airspeed with the brakes released, "
        f"{show(servo.trim.airspeed, 'speed', system)}, as when the pull is quick. "
        "Both: settled to the slower glide.\n"
        f"The band is {servo.curve.low:.3g} to {servo.curve.high:.3g} times the figure: judged, not measured."
    )


def show_torque(torque: float, system: System) -> str:
    """Torque in SI and in the trade's unit.

    Examples
    --------
    >>> show_torque(0.485, "metric")
    '0.485 N m (4.95 kg cm)'
    >>> show_torque(0.485, "imperial")
    '68.7 oz in'
    """
    if system == "imperial":
        return f"{torque / OUNCE_FORCE_INCH:.1f} oz in"
    return f"{torque:.3f} N m ({torque / KILOGRAM_FORCE_CM:.2f} kg cm)"


def show_band(values: tuple[float, float, float], kind: str, system: System) -> list[str]:
    """Cells of a figure and its band, whichever end is lower first; "stalls" for what takes for ever."""
    value, *ends = (_shown(value, kind, system) for value in (values[0], *sorted(values[1:])))
    return [value, f"{ends[0]} to {ends[1]}"]


def requirement_rows(servo: Servo, system: System) -> list[list[str]]:
    """What is asked of the servo."""
    low, high = servo.curve.low, servo.curve.high

    def force(value: float) -> list[str]:
        return show_band((value, low * value, high * value), "small_force", system)

    def torque(value: float) -> list[str]:
        return [
            show_torque(value, system), f"{_torque(low * value, system)} to {_torque(high * value, system)}"
        ]  # fmt: skip

    return [
        ["force in one line", *force(servo.steady_force)],
        ["travel, free play included", show(servo.travel, "small_length", system), ""],
        ["steady torque", *torque(servo.steady_torque)],
        [
            f"peak torque ({servo.dynamic_factor.value:g} x steady)",
            show_torque(servo.peak_torque, system),
            " to ".join(_torque(end, system) for end in servo.peak_band),
        ],
        ["side load on the shaft", *force(servo.side_load)],
    ]


def dynamic_sentence(servo: Servo) -> str:
    """What the peak has over the steady torque, and whose figure that is."""
    factor = servo.dynamic_factor
    return (
        f"Peak: {factor.value:g} times the steady torque, {factor.low:g} to {factor.high:g} times in its "
        "band, for gusts and quick pulls: our choice, no source (servo.dynamic_factor)."
    )


def class_sentence(servo: Servo, system: System) -> str:
    """What to buy: the class of servo that holds the peak at the high end of the band."""
    usual, most = servo.classes
    steps = _class_list(system)
    if most is None:
        bought = (
            f"beyond the largest class of {class_words(CLASSES[-1] * KILOGRAM_FORCE_CM, system)}: use a "
            "winch, or a shorter arm swept more"
        )
    else:
        bought = f"the {class_words(most, system)} class{_turning(servo)}"
    likely = (
        ""
        if usual is None or usual == most
        else f"; the {class_words(usual, system)} class holds the figure itself"
    )
    return (
        f"Servo to buy, for the peak at the high end of its band: {bought}{likely}. Classes by stalled "
        f"torque: {steps} (common practice, no source)."
    )


def _turning(servo: Servo) -> str:
    """How far it must turn, and how fast as the file has it."""
    motor = servo.motor
    quick = "" if motor is None else f", in {motor.time_unloaded:.2f} s without load as the file has it"
    return f"{_far(servo)}{quick}"


def _far(servo: Servo) -> str:
    drive = servo.drive
    if isinstance(drive, WinchDrive):
        return f", a winch of {drive.turns:.2f} turns or more"
    return f", turning {in_degrees(drive.end - drive.start):.0f} deg or more"


def class_words(torque: float, system: System) -> str:
    """A class of servo by the trade's unit.

    Examples
    --------
    >>> class_words(5 * KILOGRAM_FORCE_CM, "metric"), class_words(5 * KILOGRAM_FORCE_CM, "imperial")
    ('5 kg cm (0.49 N m)', '69 oz in')
    """
    if system == "imperial":
        return f"{torque / OUNCE_FORCE_INCH:.0f} oz in"
    return f"{torque / KILOGRAM_FORCE_CM:g} kg cm ({torque:.2f} N m)"


def _class_list(system: System) -> str:
    if system == "metric":
        return f"{', '.join(f'{step:g}' for step in CLASSES)} kg cm"
    return f"{', '.join(f'{step * KILOGRAM_FORCE_CM / OUNCE_FORCE_INCH:.0f}' for step in CLASSES)} oz in"


def ring_rows(servo: Servo, ring: RingFriction, system: System) -> list[list[str]]:
    """What the ring on the riser does to the force."""
    low, high = ring.friction
    return [
        ["bend of the line", show(ring.bend, "angle", system), ""],
        ["friction of line on ring", f"{ring.middle:.2g}", f"{low:g} to {high:g}"],
        ["pulling in, over the canopy's force", *show_band(ring.pulling_in, "ratio", system)],
        ["letting out, over the same", *show_band(ring.letting_out, "ratio", system)],
        ["comes back to a pull of, at worst", show(servo.curve.left_in, "small_length", system), ""],
    ]


def drive_rows(servo: Servo, system: System) -> list[list[str]]:
    """The arm or winch."""
    drive = servo.drive
    if isinstance(drive, WinchDrive):
        return [
            ["drum", show(drive.drum, "small_length", system)],
            ["turns for the travel", f"{drive.turns:.2f}"],
        ]
    assert isinstance(drive, ArmDrive)
    needed = show(servo.needed_arm, "small_length", system) if isfinite(servo.needed_arm) else "none will do"
    swept = f"{in_degrees(drive.start):.1f} to {in_degrees(drive.end):.1f} deg"
    return [
        ["arm", show(drive.arm, "small_length", system)],
        ["guide, from the shaft", show(drive.distance, "small_length", system)],
        ["sweep (0 is square to the line)", swept],
        ["pull over the sweep", show(drive.reach, "small_length", system)],
        ["arm that makes the travel", needed],
        ["pull for each degree, at most", _per_degree(servo, system)],
    ]


def motor_rows(motor: Motor, travel: float, system: System) -> list[list[str]]:
    """What the servo makes of it, with the band."""
    rows = [
        ["torque it has, stalled", show_torque(motor.spec.torque, system), ""],
        ["margin over peak torque", *show_band(motor.margin, "ratio", system)],
        ["time for the travel, no load", f"{motor.time_unloaded:.2f} s", ""],
        ["time for the travel, loaded", *show_band(motor.time, "duration", system)],
        ["longest pull it holds", *show_band(motor.held, "small_length", system)],
        ["of the whole travel", *show_band(_of(motor.held, travel), "percent", system)],
    ]
    if not isnan(motor.stall_current):
        words = f"{motor.steady_current:.2f} / {motor.peak_current:.2f} / {motor.stall_current:.2f} A"
        rows.append(["current: steady / peak / stalled", words, ""])
    return rows


def bare_sentences(servo: Servo, system: System) -> list[str]:
    """What to look for where the design has no servo yet."""
    steady, high = servo.steady_force * STATED_ARM, servo.curve.high
    peak = servo.dynamic_factor.value * steady
    most = high * servo.dynamic_factor.high * steady
    return [
        "The design has no servo section: these are the requirements on each of two servos.",
        f"An arm of {show(servo.needed_arm, 'small_length', system)} swept 60 deg to either side makes the "
        "travel; the torques above are for it.",
        f"On an arm of {show(STATED_ARM, 'small_length', system)} the line would ask for at most "
        f"{show_torque(steady, system)}, peak {show_torque(peak, system)}, "
        f"up to {_torque(most, system)} at the high end of the band.",
    ]


def resolution_sentence(servo: Servo, system: System) -> str:
    """Line for each degree a second of turn."""
    fine = show(servo.pull_per_turn_rate * DEGREE, "small_length", system, digits=2)
    return f"One deg/s of turn is {fine} of line; the servo's step must be finer."


def servo_document(servo: Servo) -> dict[str, Any]:
    """Answer as plain data.

    Returns
    -------
    dict
        ``travel_mm``, ``free_play_mm``, ``reached_mm``: asked for, slack in it, made by the drive.
        ``hinge_factor``: ``low``, ``high`` of the band and ``scale`` taken (1 unless measured).
        ``force``: greatest steady force in one line, ``value_n``, ``low_n``, ``high_n``. ``curve``: list of
        ``pull_mm``, ``brake_percent``, ``one_n``, ``both_n``, ``low_n`` and ``high_n`` of the larger,
        ``airspeed_both_m_s``. ``torque``:
        ``steady_n_m``, ``steady_low_n_m``, ``steady_high_n_m``; ``peak_n_m``, ``peak_low_n_m``,
        ``peak_high_n_m``; ``dynamic_factor`` (``value``, ``low``, ``high``); ``class_n_m`` to buy, for the
        high end of the peak, and ``class_of_figure_n_m`` (null: beyond all classes); and ``stated_arm_mm``
        with ``stated_arm_steady_n_m``. ``side_load_n``. ``ring`` (null without): ``bend_deg``;
        ``friction_fraction``, ``pulling_in_fraction`` and ``letting_out_fraction`` of the force in the
        canopy's line, each with ``value``, ``low`` and ``high``;
        ``left_in_mm``, the pull that a let-out line may keep. ``drive``: ``kind``; of an arm
        ``arm_mm``, ``needed_arm_mm``, ``line_distance_mm``, ``start_deg``, ``end_deg``; of a winch
        ``drum_mm``, ``turns``. ``pull_per_degree_mm``; ``pull_per_turn_rate_mm_per_deg_s`` or null.
        ``servo``: null without one, else ``torque_n_m``; ``margin``, ``time_s``, ``held_mm``,
        ``held_percent``, each with ``value``, ``low`` and ``high`` (of the force; time null where it
        stalls); ``time_unloaded_s``, ``steady_current_a``, ``peak_current_a``, ``stall_current_a``.
        ``caveats``, ``cautions``.
    """
    curve, force = servo.curve, servo.steady_force
    return {
        "name": servo.vehicle.design.name,
        "travel_mm": 1e3 * servo.travel,
        "free_play_mm": 1e3 * servo.vehicle.design.free_play,
        "reached_mm": 1e3 * servo.reached,
        "hinge_factor": {"low": curve.low, "high": curve.high, "scale": curve.scale},
        "force": {"value_n": force, "low_n": curve.low * force, "high_n": curve.high * force},
        "curve": force_table(servo).document(),
        "torque": _torque_document(servo),
        "ring": servo.curve.ring and _ring_document(servo.curve.ring, servo.curve.left_in),
        "side_load_n": servo.side_load,
        "drive": _drive_document(servo),
        "pull_per_degree_mm": 1e3 * _lever(servo) * DEGREE,
        "pull_per_turn_rate_mm_per_deg_s": 1e3 * servo.pull_per_turn_rate * DEGREE,
        "servo": servo.motor and _motor_document(servo.motor, servo.travel),
        "caveats": list(servo.caveats),
        "cautions": list(SERVO_CAUTIONS),
    }


def _torque_document(servo: Servo) -> dict[str, Any]:
    low, high = servo.curve.low, servo.curve.high
    return {
        "steady_n_m": servo.steady_torque,
        "steady_low_n_m": low * servo.steady_torque,
        "steady_high_n_m": high * servo.steady_torque,
        "peak_n_m": servo.peak_torque,
        "peak_low_n_m": servo.peak_band[0],
        "peak_high_n_m": servo.peak_band[1],
        "dynamic_factor": servo.dynamic_factor.model_dump(exclude={"source"}),
        "class_n_m": servo.classes[1],
        "class_of_figure_n_m": servo.classes[0],
        "stated_arm_mm": 1e3 * STATED_ARM,
        "stated_arm_steady_n_m": STATED_ARM * servo.steady_force,
    }


def _drive_document(servo: Servo) -> dict[str, Any]:
    drive = servo.drive
    if isinstance(drive, WinchDrive):
        return {"kind": "winch", "drum_mm": 1e3 * drive.drum, "turns": drive.turns}
    assert isinstance(drive, ArmDrive)
    return {
        "kind": "arm",
        "arm_mm": 1e3 * drive.arm,
        "needed_arm_mm": 1e3 * servo.needed_arm,
        "line_distance_mm": 1e3 * drive.distance,
        "start_deg": in_degrees(drive.start),
        "end_deg": in_degrees(drive.end),
    }


def _ring_document(ring: RingFriction, left_in: float) -> dict[str, Any]:
    return {
        "bend_deg": in_degrees(ring.bend),
        "friction_fraction": _three((ring.middle, *ring.friction)),
        "pulling_in_fraction": _three(ring.pulling_in),
        "letting_out_fraction": _three(ring.letting_out),
        "left_in_mm": 1e3 * left_in,
    }


def _three(values: tuple[float, float, float], factor: float = 1.0) -> dict[str, float]:
    return dict(zip(("value", "low", "high"), (factor * value for value in values), strict=True))


def _motor_document(motor: Motor, travel: float) -> dict[str, Any]:
    return {
        "torque_n_m": motor.spec.torque,
        "margin": _three(motor.margin),
        "time_unloaded_s": motor.time_unloaded,
        "time_s": _three(motor.time),
        "held_mm": _three(motor.held, 1e3),
        "held_percent": _three(motor.held, 100 / travel),
        "steady_current_a": motor.steady_current,
        "peak_current_a": motor.peak_current,
        "stall_current_a": motor.stall_current,
    }


def _lever(servo: Servo) -> float:
    """Greatest through the sweep. [m]"""
    return float(np.max(servo.drive.lever(servo.angle)))


def _of(values: tuple[float, float, float], whole: float) -> tuple[float, float, float]:
    value, low, high = values
    return value / whole, low / whole, high / whole


def _per_degree(servo: Servo, system: System) -> str:
    return show(_lever(servo) * DEGREE, "small_length", system, digits=2)


def _torque(torque: float, system: System) -> str:
    return show_torque(torque, system).partition(" (")[0]


def _shown(value: float, kind: str, system: System) -> str:
    if kind == "duration":
        return f"{value:.2f} s" if isfinite(value) else "stalls"
    return show(value, kind, system) if isfinite(value) else f"over {convert(1e3, kind, system):.0f}"
