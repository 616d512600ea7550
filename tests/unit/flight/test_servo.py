"""What a servo has to do: force with airspeed, torque by hand, time, what it holds, measurement."""

from dataclasses import replace
from math import inf, isnan, pi, radians

import numpy as np
import pytest
from numpy.testing import assert_allclose

from parasim.config.loader import override
from parasim.config.servo import MeasuredBrakeForce, ServoSpec
from parasim.dynamics.brakes.actuators import USUAL_SWEEP, ArmDrive, WinchDrive, build_drive, needed_arm
from parasim.dynamics.vehicle import assemble, in_wind
from parasim.environment.wind import Wind
from parasim.errors import DesignError
from parasim.flight.servo.brake_force import MEASURED_RANGE, force_curve, scaled_through
from parasim.flight.servo.servo import build_motor, held_pull, servo, servo_class, torque_at
from parasim.flight.trim import find_trims
from parasim.flight.turn.steady import steady_turns

TRAVEL = 0.126


@pytest.fixture(scope="module")
def vehicle(heron):
    return assemble(heron)


@pytest.fixture(scope="module")
def answer(vehicle):
    return servo(vehicle)


@pytest.fixture(scope="module")
def curve(answer):
    return answer.curve


def spec(**changes):
    usual = {"torque": 0.49, "time_per_60_deg": 0.14, "arm": 0.073, "sweep": "120 deg"}
    return ServoSpec(**{key: value for key, value in {**usual, **changes}.items() if value is not None})


def motor(curve, **changes):
    drive = build_drive(spec(**changes), TRAVEL)
    angle = np.linspace(drive.start, drive.angle_of(TRAVEL), 61)
    return build_motor(spec(**changes), drive, curve, angle)


def test_force_grows_with_airspeed_squared(vehicle, curve):
    """A payload half as heavy again, at the same angle of attack: by dynamic pressure."""
    trim = find_trims(vehicle, modes=False).chosen
    quick = force_curve(vehicle, replace(trim, airspeed=1.5 * trim.airspeed))
    assert_allclose(quick.one, 2.25 * curve.one, rtol=1e-9)


def test_force_is_never_negative_and_slack_takes_none(vehicle, curve):
    assert (curve.worst >= 0).all()
    assert curve.at(0.0) == 0.0
    assert (curve.worst[3:] > 0).all()


def test_both_brakes_slow_the_vehicle_and_ease_the_lines(curve):
    """With both pulled far it flies slower: less force than at airspeed with the brakes released."""
    flown = np.isfinite(curve.both)
    assert curve.airspeed[flown][-1] < curve.airspeed[0]
    assert curve.both[flown][-1] < curve.one[flown][-1]


def test_torque_by_hand(answer):
    """Half-way through its sweep the arm is square to the line: torque is force times nearly the arm."""
    square, arm = np.zeros(1), answer.drive.arm
    by_hand = answer.curve.at(answer.drive.pull(square)) * arm / np.sqrt(1 + 0.1**2)
    assert torque_at(answer.drive, answer.curve, square) == pytest.approx(by_hand, rel=1e-4)
    assert answer.peak_torque == pytest.approx(1.5 * answer.torque.max())
    assert answer.steady_torque > max(answer.torque[0], answer.torque[-1])


def test_peak_has_the_range_of_the_dynamic_factor(answer):
    """Low force in still air, high force in a gust; ends by hand."""
    low, high = answer.peak_band
    assert low == pytest.approx(0.5 * 1.2 * answer.steady_torque)
    assert high == pytest.approx(2.0 * 2.5 * answer.steady_torque)


@pytest.mark.parametrize(
    ("trade", "bought"), [(0.3, 2), (2.0, 2), (2.01, 3), (9.4, 13), (35.0, 35), (35.1, None)]
)
def test_class_is_torque_rounded_up(trade, bought):
    kilogram_force_cm = 0.0980665
    found = servo_class(trade * kilogram_force_cm)
    assert (found and found / kilogram_force_cm) == (bought and pytest.approx(bought))


def test_class_to_buy_holds_the_high_end(answer):
    usual, most = answer.classes
    assert usual >= answer.peak_torque
    assert most >= answer.peak_band[1]


def test_no_ring_no_change_and_a_ring_by_the_capstan(vehicle, answer):
    """Forces at the servo are those in the line times exp(mu beta), the range of mu in the band."""
    ringed = assemble(override(vehicle.design, {"brakes.ring": {"below": "40 mm", "friction": [0.1, 0.3]}}))
    bend = ringed.line_set.brake_bend
    found = servo(ringed).curve
    plain = force_curve(replace(ringed, design=vehicle.design), find_trims(ringed, modes=False).chosen)
    assert answer.curve.ring is None
    assert isnan(answer.curve.left_in)
    assert_allclose(found.one, np.exp(0.2 * bend) * plain.one, rtol=1e-9)
    assert found.high == pytest.approx(plain.high * np.exp(0.1 * bend))
    assert found.low == pytest.approx(plain.low * np.exp(-0.1 * bend))
    assert found.ring.letting_out == pytest.approx(tuple(np.exp([-0.2 * bend, -0.3 * bend, -0.1 * bend])))
    returning = 0.5 * np.fmin(plain.one, plain.both) * np.exp(-0.3 * bend)
    assert np.interp(found.left_in, found.pull, returning) == pytest.approx(0.05, abs=2e-3)


def test_resolution(answer, vehicle):
    """About half travel the steady turns between 40 and 60 % of one brake give it."""
    still = in_wind(vehicle, Wind.calm())
    low, high = steady_turns(still, left=0.0, right=1.0, brakes=np.array([0.0, 0.2, 0.4, 0.6]))[2:]
    pull = 0.2 * vehicle.design.brakes.travel
    assert answer.pull_per_turn_rate == pytest.approx(pull / (high.rate - low.rate), rel=1e-6)


def test_without_a_servo_the_arm_makes_the_travel():
    drive = build_drive(None, TRAVEL)
    assert isinstance(drive, ArmDrive)
    assert drive.reach == pytest.approx(TRAVEL)
    assert drive.end - drive.start == pytest.approx(USUAL_SWEEP)
    assert needed_arm(None, TRAVEL) == pytest.approx(0.0729, abs=1e-4)


def test_winch():
    winch = ServoSpec(kind="winch", torque=0.5, time_per_60_deg=0.1, drum=0.03)
    drive = build_drive(winch, TRAVEL)
    assert isinstance(drive, WinchDrive)
    assert drive.turns == pytest.approx(TRAVEL / (pi * 0.03))
    assert isnan(needed_arm(winch, TRAVEL))


def test_guide_too_near_is_refused():
    with pytest.raises(DesignError, match=r"servo\.line_distance: given 20 mm, too near for any arm to pull"):
        build_drive(spec(arm=None, line_distance=0.02), TRAVEL)


def test_margin_falls_with_force_and_time_grows(curve):
    found = motor(curve)
    value, low, high = found.margin
    assert low == pytest.approx(value * 1.5 / (0.5 * 1.2))
    assert high == pytest.approx(value * 1.5 / (2.0 * 2.5))
    assert found.time_unloaded < found.time[1] < found.time[0] < found.time[2]
    assert found.time_unloaded == pytest.approx(0.14 * 2, rel=0.01)


@pytest.mark.parametrize("slower", [0.2, 0.5, 2.0])
def test_slower_servo_is_never_faster(curve, slower):
    assert all(
        a < b for a, b in zip(motor(curve).time, motor(curve, time_per_60_deg=slower).time, strict=True)
    )


def test_weak_servo_stalls_on_the_way_and_holds_less(curve):
    weak = motor(curve, torque=0.03)
    assert weak.time[0] == inf
    assert weak.margin[0] < 1
    assert 0 < weak.held[2] < weak.held[0] < weak.held[1] <= TRAVEL
    assert motor(curve, torque=0.03, time_per_60_deg=0.3).held == weak.held


def test_what_is_held_needs_no_more_than_the_torque(curve):
    drive = build_drive(spec(), TRAVEL)
    angle = np.linspace(drive.start, drive.end, 61)
    torque = 0.6 * float((curve.at(drive.pull(angle)) * drive.lever(angle)).max())
    pull = held_pull(drive, curve, torque, angle)
    before = np.linspace(drive.start, drive.angle_of(pull), 200)
    assert (curve.at(drive.pull(before)) * drive.lever(before) <= torque * (1 + 1e-9)).all()
    after = drive.angle_of(pull) + radians(0.3)
    assert curve.at(drive.pull(after)) * drive.lever(after) > torque


def test_current_is_torque_over_its_constant(curve):
    found = motor(curve, torque_per_current=0.4)
    assert found.stall_current == pytest.approx(0.49 / 0.4)
    assert found.peak_current == pytest.approx(1.5 * found.steady_current)
    assert isnan(motor(curve).stall_current)


def test_measurement_is_met_and_narrows_the_band(curve):
    measured = MeasuredBrakeForce(pull=0.06, force=0.9)
    scaled = scaled_through(curve, measured, 9.0)
    assert np.interp(0.06, scaled.pull, scaled.both) == pytest.approx(0.9)
    assert (scaled.low, scaled.high) == MEASURED_RANGE
    faster = float(2 * np.interp(0.06, curve.pull, curve.airspeed))
    quick = scaled_through(curve, replace_airspeed(measured, faster), 9.0)
    assert quick.scale == pytest.approx(scaled.scale / 4)


def replace_airspeed(measured, airspeed):
    return MeasuredBrakeForce(pull=measured.pull, force=measured.force, airspeed=airspeed)


@pytest.mark.parametrize(
    ("pull", "told"), [(0.002, "no force is computed there"), (0.2, "beyond the brake travel")]
)
def test_measurement_that_cannot_be_used(curve, pull, told):
    with pytest.raises(DesignError, match=f"servo.measured.pull: given .* mm, {told}"):
        scaled_through(curve, MeasuredBrakeForce(pull=pull, force=1.0), 9.0)


def test_caveats_name_what_is_wrong(vehicle, heron, answer):
    changes = {
        "servo.arm": "40 mm",
        "servo.offset": "50 deg",
        "servo.line_distance": "35 mm",
        "servo.torque": 0.004,
    }
    weak = override(heron, changes).servo
    drive = build_drive(weak, TRAVEL)
    angle = np.linspace(drive.start, drive.angle_of(TRAVEL), 61)
    bad = replace(
        answer,
        vehicle=replace(vehicle, design=override(heron, changes)),
        drive=drive,
        angle=angle,
        motor=build_motor(weak, drive, answer.curve, angle),
        needed_arm=inf,
    )
    told = " ".join(bad.caveats)
    for words in ("luggage scale", "not the whole travel", "in one line", "would strike it", "when stalled"):
        assert words in told
    assert "not the whole travel" not in " ".join(answer.caveats)
