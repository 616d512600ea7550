"""The picture says what the numbers say."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from parasim.dynamics.brakes.actuators import OUNCE_FORCE_INCH
from parasim.dynamics.vehicle import assemble
from parasim.flight.servo.servo import servo
from parasim.plotting.servo import servo_figure


@pytest.fixture(scope="module")
def answer(heron):
    return servo(assemble(heron))


def curve_of(ax, name):
    return next(line for line in ax.get_lines() if line.get_label() == name)


def test_curves_are_those_of_the_answer(answer):
    upper, lower = servo_figure(answer).axes
    assert_allclose(curve_of(upper, "line pulled in").get_ydata(), 1e3 * answer.pull)
    assert_allclose(curve_of(lower, "steady").get_ydata(), answer.torque)
    assert_allclose(curve_of(lower, "peak, 1.5 times").get_ydata(), 1.5 * answer.torque)
    assert "times the peak torque" in upper.get_title(loc="left")
    assert upper.get_ylabel() == "pull [mm]"


def test_imperial(answer):
    _, lower = servo_figure(answer, "imperial").axes
    assert lower.get_ylabel() == "torque [oz in]"
    assert_allclose(curve_of(lower, "steady").get_ydata(), answer.torque / OUNCE_FORCE_INCH)


def test_limit_is_drawn_or_named(answer):
    _, lower = servo_figure(answer).axes
    assert np.allclose(curve_of(lower, "servo, stalled").get_ydata(), answer.motor.spec.torque)
    strong = answer.motor.spec.model_copy(update={"torque": 50.0})
    _, lower = servo_figure(replace(answer, motor=replace(answer.motor, spec=strong))).axes
    assert any("far above" in line.get_label() for line in lower.get_lines())


def test_without_a_servo(answer):
    upper, _ = servo_figure(replace(answer, motor=None)).axes
    low, high = answer.peak_band
    assert upper.get_title(loc="left") == (
        f"heron: a servo needs {answer.peak_torque:.2g} N m ({low:.2g} to {high:.2g}) at the peak, arm 73 mm"
    )
