"""What a servo has to do, as a document and as rows."""

from collections.abc import Sequence
from math import isfinite, isnan
from typing import Any

import numpy as np

from parasim.dynamics.brakes.actuators import KILOGRAM_FORCE_CM, OUNCE_FORCE_INCH, ArmDrive, WinchDrive
from parasim.flight.servo.servo import SERVO_CAUTIONS, STATED_ARM, Motor, Servo
from parasim.report.words import column, in_degrees
from parasim.units import DEGREE, System, convert, show

SERVO_HEADS = (
    "angle_deg",
    "pull_mm",
    "brake_percent",
    "lever_mm",
    "line_angle_deg",
    "force_n",
    "force_low_n",
    "force_high_n",
    "torque_n_m",
    "torque_low_n_m",
    "torque_high_n_m",
)
"""Of servo.csv: through the sweep of the servo."""

FORCE_HEADS = ("pull_mm", "brake_percent", "one_n", "both_n", "airspeed_both_m_s")
"""Of servo_force.csv: force in the line of one side against pull."""


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


def force_rows(servo: Servo, system: System) -> list[list[str]]:
    """Rows for people: pull, and force with one and with both brakes pulled; every fifth of the travel."""
    curve = servo.curve
    rows = []
    for i in range(0, len(curve.pull), (len(curve.pull) - 1) // 5):
        pull = float(curve.pull[i])
        rows.append(
            [
                show(pull, "small_length", system),
                f"{100 * pull / servo.travel:.0f} %",
                _shown(float(curve.one[i]), "force", system),
                "-" if isnan(curve.both[i]) else _shown(float(curve.both[i]), "force", system),
                f"{_shown(curve.low * curve.worst[i], 'force', system)} to "
                f"{_shown(curve.high * curve.worst[i], 'force', system)}",
            ]
        )
    return rows


def requirement_rows(servo: Servo, system: System) -> list[list[str]]:
    """Rows for people: what is asked of the servo."""
    curve, force = servo.curve, servo.steady_force
    low, high = curve.low, curve.high
    torque = servo.steady_torque
    rows = [
        ["force in one line", *show_band((force, low * force, high * force), "force", system)],
        ["travel, free play included", show(servo.travel, "small_length", system), ""],
        [
            "steady torque",
            show_torque(torque, system),
            f"{_torque(low * torque, system)} to {_torque(high * torque, system)}",
        ],
        [
            f"peak torque ({servo.dynamic_factor:g} x steady)",
            show_torque(servo.peak_torque, system),
            f"{_torque(low * servo.peak_torque, system)} to {_torque(high * servo.peak_torque, system)}",
        ],
        [
            "side load on the shaft",
            _shown(servo.side_load, "force", system),
            " to ".join(_shown(end * servo.side_load, "force", system) for end in (low, high)),
        ],
    ]
    return rows


def drive_rows(servo: Servo, system: System) -> list[list[str]]:
    """Rows for people: the arm or winch."""
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
    """Rows for people: what the servo makes of it, with the band."""
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
    peak = servo.dynamic_factor * steady
    return [
        "The design has no servo section: these are the requirements on each of two servos.",
        f"An arm of {show(servo.needed_arm, 'small_length', system)} swept 60 deg to either side makes the "
        "travel; the torques above are for it.",
        f"On an arm of {show(STATED_ARM, 'small_length', system)} the line would ask for at most "
        f"{show_torque(steady, system)}, peak {show_torque(peak, system)}, "
        f"up to {_torque(high * peak, system)} at the high end of the band.",
    ]


def resolution_sentence(servo: Servo, system: System) -> str:
    """Line for each degree a second of turn; empty where the turn is not known."""
    if isnan(servo.pull_per_turn_rate):
        return ""
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
        ``pull_mm``, ``brake_percent``, ``one_n``, ``both_n``, ``airspeed_both_m_s``. ``torque``:
        ``steady_n_m``, ``steady_low_n_m``, ``steady_high_n_m``; ``peak_n_m``, ``peak_low_n_m``,
        ``peak_high_n_m``; ``dynamic_factor``, and ``stated_arm_mm`` with ``stated_arm_steady_n_m``.
        ``side_load_n``. ``drive``: ``kind``; of an arm
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
        "free_play_mm": 1e3 * servo.vehicle.design.brakes.free_play,
        "reached_mm": 1e3 * servo.reached,
        "hinge_factor": {"low": curve.low, "high": curve.high, "scale": curve.scale},
        "force": {"value_n": force, "low_n": curve.low * force, "high_n": curve.high * force},
        "curve": [dict(zip(FORCE_HEADS, row, strict=True)) for row in force_csv(servo)],
        "torque": _torque_document(servo),
        "side_load_n": servo.side_load,
        "drive": _drive_document(servo),
        "pull_per_degree_mm": 1e3 * _lever(servo) * DEGREE,
        "pull_per_turn_rate_mm_per_deg_s": 1e3 * servo.pull_per_turn_rate * DEGREE,
        "servo": servo.motor and _motor_document(servo.motor, servo.travel),
        "caveats": list(servo.caveats),
        "cautions": list(SERVO_CAUTIONS),
    }


def servo_csv(servo: Servo) -> list[Sequence[object]]:
    """Rows under `SERVO_HEADS`."""
    curve = servo.curve
    columns = [
        column(np.degrees(servo.angle)),
        column(1e3 * servo.pull),
        column(100 * servo.pull / servo.travel),
        column(1e3 * servo.drive.lever(servo.angle)),
        column(np.degrees(servo.drive.line_angle(servo.angle))),
        *(column(factor * servo.force) for factor in (1.0, curve.low, curve.high)),
        *(column(factor * servo.torque, 5) for factor in (1.0, curve.low, curve.high)),
    ]
    return list(zip(*columns, strict=True))


def force_csv(servo: Servo) -> list[Sequence[object]]:
    """Rows under `FORCE_HEADS`."""
    curve = servo.curve
    columns = [
        column(1e3 * curve.pull),
        column(100 * curve.pull / servo.travel),
        column(curve.one),
        column(curve.both),
        column(curve.airspeed),
    ]
    return list(zip(*columns, strict=True))


def _torque_document(servo: Servo) -> dict[str, float]:
    low, high = servo.curve.low, servo.curve.high
    return {
        "steady_n_m": servo.steady_torque,
        "steady_low_n_m": low * servo.steady_torque,
        "steady_high_n_m": high * servo.steady_torque,
        "peak_n_m": servo.peak_torque,
        "peak_low_n_m": low * servo.peak_torque,
        "peak_high_n_m": high * servo.peak_torque,
        "dynamic_factor": servo.dynamic_factor,
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


def _motor_document(motor: Motor, travel: float) -> dict[str, Any]:
    def three(values: tuple[float, float, float], factor: float = 1.0) -> dict[str, float]:
        return dict(zip(("value", "low", "high"), (factor * value for value in values), strict=True))

    return {
        "torque_n_m": motor.spec.torque,
        "margin": three(motor.margin),
        "time_unloaded_s": motor.time_unloaded,
        "time_s": three(motor.time),
        "held_mm": three(motor.held, 1e3),
        "held_percent": three(motor.held, 100 / travel),
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
    digits = 3 if kind == "force" and system == "imperial" else None
    return (
        show(value, kind, system, digits=digits)
        if isfinite(value)
        else f"over {convert(1e3, kind, system):.0f}"
    )
