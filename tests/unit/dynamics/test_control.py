"""Brake schedules and their corners."""

from __future__ import annotations

import pytest

from parasim.config.scenario import BrakeCommand
from parasim.dynamics.brakes.control import BrakeMove, BrakeSchedule, by_height, timed_moves


def move(start, over, left, right=0.0):
    return BrakeMove(start=start, over=over, left=left, right=right)


def test_nothing_commanded():
    assert BrakeSchedule().position(3.0) == (0.0, 0.0)
    assert BrakeSchedule().corners == ()


def test_a_ramp():
    schedule = BrakeSchedule(moves=(move(2.0, 1.0, 0.4, 0.2),))
    assert schedule.position(1.999) == (0.0, 0.0)
    assert schedule.position(2.5) == pytest.approx((0.2, 0.1))
    assert schedule.position(3.0) == pytest.approx((0.4, 0.2))
    assert schedule.position(99.0) == pytest.approx((0.4, 0.2))
    assert schedule.corners == (2.0, 3.0)


def test_a_step_counts_from_its_very_moment():
    schedule = BrakeSchedule(moves=(move(2.0, 0.0, 0.4),))
    assert schedule.position(2.0 - 1e-9)[0] == 0.0
    assert schedule.position(2.0)[0] == 0.4
    assert schedule.corners == (2.0,)


def test_a_move_that_breaks_into_another_begins_where_the_brake_is():
    """Half way to 0.8 after 1 of 2 s; then down to 0 in 1 s."""
    schedule = BrakeSchedule(moves=(move(0.0, 2.0, 0.8), move(1.0, 1.0, 0.0)))
    assert schedule.position(1.0)[0] == pytest.approx(0.4)
    assert schedule.position(1.5)[0] == pytest.approx(0.2)
    assert schedule.position(2.5)[0] == pytest.approx(0.0)


def test_adding_keeps_the_order():
    schedule = BrakeSchedule(moves=(move(5.0, 0.0, 1.0),)).adding(move(2.0, 0.0, 0.5))
    assert [m.start for m in schedule.moves] == [2.0, 5.0]
    assert schedule.position(3.0)[0] == 0.5
    assert schedule.position(5.0)[0] == 1.0


def test_commands_by_time_and_by_height_are_told_apart():
    texts = ["10s: L 0 R 0", "20m: L 0.8 R 0.8", "2s: L 0.3 R 0 over 1s", "30m: L 0.1 R 0.1"]
    commands = [BrakeCommand.model_validate(text) for text in texts]
    assert [m.start for m in timed_moves(commands).moves] == [2.0, 10.0]
    assert [c.at_height for c in by_height(commands)] == [30.0, 20.0]
