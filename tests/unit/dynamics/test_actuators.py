"""Servo arms and winches by an independent construction; brakes that follow at a limited rate."""

from math import inf, pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from parasim.dynamics.brakes.actuators import (
    WinchDrive,
    arm_for_travel,
    build_arm,
    turning_speed,
    turning_time,
)
from parasim.dynamics.brakes.control import BrakeMove, BrakeSchedule
from parasim.dynamics.brakes.flown import INSTANT, ServoLimits, flown_schedule


def constructed(drive, angle):
    """Free line, lever and line angle from points in the plane: shaft at 0, guide at (D, 0)."""
    tip = drive.arm * np.array([-np.sin(angle), np.cos(angle)])
    line = np.array([drive.distance, 0.0]) - tip
    along = line / np.linalg.norm(line)
    return np.linalg.norm(line), abs(tip[0] * along[1] - tip[1] * along[0]), np.arctan2(-along[1], along[0])


@pytest.mark.parametrize(("sweep", "offset", "distance"), [(120, 0, 0.7), (90, 20, 0.15), (60, -35, 2.0)])
def test_arm_against_points_in_the_plane(sweep, offset, distance):
    drive = build_arm(arm=0.06, sweep=radians(sweep), offset=radians(offset), distance=distance)
    start, _, _ = constructed(drive, drive.start)
    for angle in np.linspace(drive.start, drive.end, 13):
        free, lever, line_angle = constructed(drive, angle)
        assert drive.pull(angle) == pytest.approx(free - start, abs=1e-12)
        assert drive.lever(angle) == pytest.approx(lever, abs=1e-12)
        assert drive.line_angle(angle) == pytest.approx(line_angle, abs=1e-12)
        assert drive.angle_of(float(drive.pull(angle))) == pytest.approx(angle, abs=1e-7)


def test_lever_is_the_rate_of_pull():
    drive = build_arm(arm=0.06, sweep=radians(150), offset=radians(10), distance=0.2)
    angle = np.linspace(drive.start, drive.end, 4001)
    assert_allclose(np.gradient(drive.pull(angle), angle)[1:-1], drive.lever(angle)[1:-1], atol=1e-7)


def test_bench_story_six():
    """120 mm on 60 degrees to either side: a 69 mm arm, 7 N on it 0.48 N m; by hand a = 120 / (2 sin 60)."""
    arm = arm_for_travel(0.120, sweep=radians(120))
    assert arm == pytest.approx(0.069, rel=0.01)
    drive = build_arm(arm=arm, sweep=radians(120))
    angle = np.linspace(drive.start, drive.end, 121)
    assert drive.reach == pytest.approx(0.120, rel=1e-12)
    assert 7 * drive.lever(angle).max() == pytest.approx(0.48, rel=0.015)
    far = arm_for_travel(0.120, sweep=radians(120), distance=1000.0)
    assert far == pytest.approx(0.120 / 3**0.5, rel=1e-6)


def test_arm_for_a_given_guide_makes_the_travel_or_there_is_none():
    arm = arm_for_travel(0.12, sweep=radians(100), offset=radians(10), distance=0.3)
    reach = build_arm(arm=arm, sweep=radians(100), offset=radians(10), distance=0.3).reach
    assert reach == pytest.approx(0.12, rel=1e-9)
    assert arm_for_travel(0.12, sweep=radians(100), distance=0.02) == inf


def test_sweep_stops_in_line_with_the_guide():
    drive = build_arm(arm=0.05, sweep=radians(180), offset=radians(30))
    assert (drive.start, drive.end) == pytest.approx((radians(-60), pi / 2))
    assert drive.lever(drive.end) == pytest.approx(0, abs=1e-12)


def test_winch():
    drive = WinchDrive(drum=0.04, reach=0.2)
    assert drive.turns == pytest.approx(0.2 / (pi * 0.04))
    assert drive.pull(drive.end) == pytest.approx(0.2)
    assert drive.angle_of(0.1) == pytest.approx(drive.end / 2)
    assert_allclose(drive.lever(np.zeros(2)), 0.02)


def test_speed_falls_on_a_straight_line():
    speed = turning_speed(np.array([0.0, 0.25, 0.5, 1.0, 2.0]), stall_torque=1.0, no_load_speed=8.0)
    assert_allclose(speed, [8, 6, 4, 0, 0])


def test_time_under_even_load_and_stall():
    angle = np.linspace(0, 2, 11)
    half = turning_time(angle, np.full(11, 0.5), stall_torque=1.0, no_load_speed=4.0)
    assert half == pytest.approx(1.0)
    assert turning_time(angle, np.linspace(0, 1, 11), stall_torque=1.0, no_load_speed=4.0) == inf


def schedule(*moves):
    return BrakeSchedule(
        moves=tuple(BrakeMove(start=a, over=o, left=left, right=right) for a, o, left, right in moves)
    )


def servo_limited(command, seconds, reach=1.0):
    return flown_schedule(command, ServoLimits(rate=1 / seconds, reach=reach))


def followed(command, seconds, time, step=5e-4):
    """Brute force: small steps towards the command, side by side."""
    place = np.zeros(2)
    for t in np.arange(0, time, step):
        gap = np.array(command.position(t + step)) - place
        place = place + np.clip(gap, -step / seconds, step / seconds)
    return place


STAGED = schedule((0.2, 0.0, 1.0, 0.0), (0.5, 0.1, 0.3, 0.8), (0.55, 0.6, 0.9, 0.1), (2.0, 3.0, 0.0, 0.6))


@pytest.mark.parametrize("seconds", [0.05, 0.4, 1.5, 6.0])
def test_limited_against_small_steps(seconds):
    limited = servo_limited(STAGED, seconds)
    for time in (0.1, 0.3, 0.5, 0.7, 1.1, 1.9, 2.6, 5.5):
        assert_allclose(limited.position(time), followed(STAGED, seconds, time), atol=4e-3 / min(seconds, 1))


def test_a_jump_takes_the_servo_its_time():
    limited = servo_limited(schedule((1.0, 0.0, 0.5, 0.0)), 0.8)
    assert_allclose([limited.position(t)[0] for t in (1.0, 1.2, 1.4, 9.0)], [0, 0.25, 0.5, 0.5], atol=1e-12)


def test_a_short_reach_stops_the_pull_and_lets_it_go_when_the_command_comes_back():
    """Told 0.8 and back in 1 s each, quick servo of reach 0.5: as told to 0.625 s, again from 2.375 s."""
    limited = servo_limited(schedule((0.0, 1.0, 0.8, 0.2), (2.0, 1.0, 0.0, 0.0)), 0.1, 0.5)
    left = [limited.position(t)[0] for t in (0.5, 0.7, 1.5, 2.3, 2.5, 4.0)]
    assert_allclose(left, [0.4, 0.5, 0.5, 0.5, 0.4, 0.0], atol=1e-8)
    assert_allclose(limited.position(1.5)[1], 0.2, atol=1e-8)


def test_built_in_trim_needs_no_servo():
    """It is there at release; the servo moves from there, and reaches so much further."""
    told = BrakeSchedule(moves=schedule((1.0, 0.0, 0.3, 1.0)).moves, rest=(0.1, 0.0))
    flown = flown_schedule(told, ServoLimits(rate=0.5, reach=0.6))
    assert_allclose(
        [flown.position(t) for t in (0.0, 1.0, 1.2, 9.0)],
        [[0.1, 0], [0.1, 0], [0.2, 0.1], [0.3, 0.6]],
        atol=1e-9,
    )


def test_slow_commands_pass_unchanged_and_no_time_is_no_limit():
    slow = schedule((1.0, 2.0, 0.5, 0.2), (4.0, 2.0, 0.0, 0.4))
    assert flown_schedule(slow, INSTANT) is slow
    for time in np.linspace(0, 8, 33):
        assert_allclose(servo_limited(slow, 0.5).position(time), slow.position(time), atol=1e-9)
    assert servo_limited(BrakeSchedule(), 1.0) == BrakeSchedule()


times = st.floats(0, 5)
pulls = st.floats(0, 1)
commands = st.lists(st.tuples(times, st.floats(0, 2), pulls, pulls), min_size=1, max_size=5).map(
    lambda moves: schedule(*sorted(moves))
)


@settings(deadline=None, max_examples=60)
@given(command=commands, seconds=st.floats(0.05, 4.0))
def test_never_quicker_than_the_servo_never_beyond_and_it_arrives(command, seconds):
    limited = servo_limited(command, seconds)
    time = np.linspace(0, 14, 281)
    place = np.array([limited.position(t) for t in time])
    assert (np.abs(np.diff(place, axis=0)) <= np.diff(time)[:, None] / seconds + 1e-9).all()
    assert place.min() >= -1e-9
    assert place.max() <= 1 + 1e-9
    assert_allclose(place[-1], command.position(14.0), atol=1e-9)


@settings(deadline=None, max_examples=40)
@given(command=commands, seconds=st.floats(0.05, 4.0))
def test_mirrored(command, seconds):
    swapped = schedule(*((m.start, m.over, m.right, m.left) for m in command.moves))
    one, other = servo_limited(command, seconds), servo_limited(swapped, seconds)
    for time in np.linspace(0, 8, 17):
        assert_allclose(one.position(time), other.position(time)[::-1], atol=1e-12)


@settings(deadline=None, max_examples=40)
@given(command=commands, seconds=st.floats(0.05, 4.0), late=pulls)
def test_a_move_added_later_does_not_change_what_went_before(command, seconds, late):
    longer = command.adding(BrakeMove(start=6.0, over=0.0, left=late, right=1 - late))
    one, other = servo_limited(command, seconds), servo_limited(longer, seconds)
    for time in np.linspace(0, 6.0, 25):
        assert_allclose(one.position(time), other.position(time), atol=1e-9)


@pytest.mark.parametrize("goal", [0.2, 1.0])
def test_slower_servo_is_never_ahead(goal):
    command = schedule((0.5, 0.3, goal, 0.0))
    places = [
        [servo_limited(command, s).position(t)[0] for t in np.linspace(0, 6, 61)] for s in (0.1, 0.5, 2, 4)
    ]
    assert (np.diff(places, axis=0) <= 1e-12).all()
