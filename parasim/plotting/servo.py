"""Picture of a servo's work: pull and torque through its sweep."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from parasim.caveats import CAUTION
from parasim.dynamics.brakes.actuators import OUNCE_FORCE_INCH
from parasim.flight.servo.servo import Servo
from parasim.plotting.style import BAND, FAR_ABOVE, INK, LINES, axis_label, footnote, look, new_figure, shown
from parasim.units import DEGREE, System, show

TORQUE_LABELS: dict[System, str] = {"metric": "N m", "imperial": "oz in"}


def servo_figure(servo: Servo, system: System = "metric") -> Figure:
    """Figure of pull (above) and torque (below) against servo angle, titled with the margin."""
    with look():
        figure = new_figure(6.8, 6.4)
        upper, lower = figure.subplots(2, 1, sharex=True)
        plot_pull(servo, upper, system)
        plot_torque(servo, lower, system)
        upper.set_xlabel("")
        footnote(figure, CAUTION)
        upper.set_title(f"{servo.vehicle.design.name}: {_finding(servo, system)}")
    return figure


def _finding(servo: Servo, system: System) -> str:
    if servo.motor is None:
        need, low, high = (
            f"{torque / _torque_unit(system):.2g}" for torque in (servo.peak_torque, *servo.peak_band)
        )
        arm = show(servo.needed_arm, "small_length", system)
        return f"a servo needs {need} {TORQUE_LABELS[system]} ({low} to {high}) at the peak, arm {arm}"
    margin, _, minimum = servo.motor.margin
    if margin < 1:
        return f"the servo has only {margin:.2g} times the peak torque"
    return f"the servo has {margin:.2g} times the peak torque, {minimum:.2g} at worst"


def _torque_unit(system: System) -> float:
    return OUNCE_FORCE_INCH if system == "imperial" else 1.0


def plot_pull(servo: Servo, ax: Axes, system: System = "metric") -> None:
    """Line pulled in against servo angle, with the travel asked for and the free play."""
    angle = servo.angle / DEGREE
    ax.plot(angle, shown(servo.pull, "small_length", system), **LINES[0], label="line pulled in")
    level = float(shown(servo.travel, "small_length", system))
    ax.axhline(level, color=INK, linestyle=(0, (4, 3)), linewidth=1.0, label="travel asked for")
    slack = float(shown(servo.vehicle.design.free_play, "small_length", system))
    ax.axhspan(0, slack, **BAND, label="free play")
    ax.set_ylabel(axis_label("pull", "small_length", system))
    ax.legend(loc="lower right")


def plot_torque(servo: Servo, ax: Axes, system: System = "metric") -> None:
    """Steady and peak torque against servo angle, the steady one with its band, and what the servo holds."""
    angle = servo.angle / DEGREE
    curve = servo.curve
    torque = servo.torque / _torque_unit(system)
    band = f"band of the steady torque, {curve.low:.3g} to {curve.high:.3g} times"
    ax.fill_between(angle, curve.low * torque, curve.high * torque, **BAND, label=band)
    ax.plot(angle, torque, **LINES[0], label="steady")
    peak = servo.dynamic_factor.value
    ax.plot(angle, peak * torque, **LINES[1], label=f"peak, {peak:g} times")
    highest = max(curve.high, peak) * float(np.max(torque))
    if servo.motor is not None:
        highest = _plot_limit(servo.motor.spec.torque / _torque_unit(system), highest, ax, system)
    ax.set_ylim(0, 1.3 * highest)
    ax.set_ylabel(f"torque [{TORQUE_LABELS[system]}]")
    ax.set_xlabel(axis_label("servo angle", "angle", system) + _zero(servo))
    ax.legend(loc="upper left", ncols=2)


def _plot_limit(limit: float, highest: float, ax: Axes, system: System) -> float:
    """Line of what the servo holds, or a note where it lies far above; the highest value to show."""
    if limit > FAR_ABOVE * highest:
        words = f"the servo holds {limit:.3g} {TORQUE_LABELS[system]}, far above"
        ax.plot([], [], linestyle="none", label=words)
        return highest
    ax.axhline(limit, color=INK, linestyle=(0, (4, 3)), linewidth=1.2, label="servo, stalled")
    return max(highest, limit)


def _zero(servo: Servo) -> str:
    return ", 0 where the arm is square to the line" if servo.drive.start < 0 else ", 0 with the line let out"
