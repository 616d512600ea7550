"""Pulls by hand, and the descent after one against the simulation with a real ground."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.simulate import simulate
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.wind import Wind
from parasim.flight.arrival import Touchdown
from parasim.flight.flare.descent import (
    Descent,
    FlareDescent,
    Pull,
    Stage,
    brake_speed,
    build_flare_descent,
    servo_pull,
)
from parasim.flight.trim import find_trims
from parasim.mass.inventory import payload_bottom, payload_center


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def descending(vehicle: Vehicle) -> FlareDescent:
    return build_flare_descent(vehicle, find_trims(vehicle, modes=False).chosen)


PULL = servo_pull((0.0, 0.7, 0.3), full_travel=0.28)


def landed(vehicle: Vehicle, descending: FlareDescent, height: float, wind: Wind) -> Touchdown:
    """The same flare flown to a real ground, at the usual tolerance, the pull told by height."""
    still = in_wind(vehicle, wind)
    body = build_body(still, vehicle.model.table)
    start = descending.trim.state(height=height + descending.bottom_below, heading=0.0)
    command = BrakeCommand(at_time=0.0, left=0.7, right=0.7, over=0.3)
    flown = simulate(body, body.hanging(start), (command,), payload_bottom=payload_bottom(vehicle.design))
    assert flown.landed
    _, velocity = body.payload(flown.state[:, -1], payload_center(vehicle.design))
    return Touchdown(ground_speed=float(np.hypot(*velocity[:2])), sink=float(velocity[2]), mass=vehicle.mass)


def test_pull_is_no_quicker_than_the_servo():
    """0.8 of the travel at 0.5 s for all of it takes 0.4 s; then 0.1 s of rest; then 0.2 more in 0.1 s."""
    pull = servo_pull((0.0, 0.8, 0.1), (0.1, 1.0, 0.0), full_travel=0.5)
    assert [(s.start, s.over, s.fraction) for s in pull.stages] == [
        (0.0, 0.4, 0.8),
        pytest.approx((0.5, 0.1, 1.0)),
    ]
    assert pull.duration == pytest.approx(0.6)
    assert pull.fraction == 1.0
    assert pull.schedule.position(0.2) == pytest.approx((0.4, 0.4))
    assert pull.schedule.position(0.45) == pytest.approx((0.8, 0.8))


def test_slow_pull_stays_slow():
    assert servo_pull((0.0, 0.5, 2.0), full_travel=0.5).stages == (Stage(start=0.0, over=2.0, fraction=0.5),)


def test_hands_up_is_a_pull_without_stages():
    assert (Pull().duration, Pull().fraction, Pull().commands) == (0.0, 0.0, ())


def test_arm_takes_its_sweep(heron: Design):
    """120 deg at 0.14 s for 60 deg; a 73 mm arm makes 126 mm."""
    speed = brake_speed(heron)
    assert 2 * 73 * np.sin(pi / 3) / 126 > 1
    assert speed.reach == 1.0
    assert speed.full_travel == pytest.approx(0.28, rel=0.01)
    assert "arm" in speed.words


def test_short_arm_reaches_less(heron: Design):
    speed = brake_speed(override(heron, {"servo.arm": "35 mm"}))
    assert speed.reach == pytest.approx(2 * 35 * np.sin(pi / 3) / 126, rel=0.01)
    assert "only" in speed.words


def test_winch_turns_the_travel_off(configs):
    """6.75 in over a drum of 1.5 in: 1.432 turns, 0.6 s each."""
    speed = brake_speed(load_design(configs / "pelican.yaml"))
    assert speed.full_travel == pytest.approx(6.75 / (pi * 1.5) * 0.6, rel=1e-6)
    assert speed.reach == 1.0


def test_without_servo_says_so(heron: Design):
    speed = brake_speed(override(heron, {"servo": None}))
    assert speed.full_travel == 0.5
    assert speed.words.startswith("no servo is given")


def descent(lost: list[float]) -> Descent:
    n = len(lost)
    return Descent(
        time=np.arange(n, dtype=float),
        lost=np.array(lost),
        velocity=np.array([np.full(n, 3.0), np.zeros(n), np.arange(n, dtype=float)]),
        alpha=np.array([0.1, 0.5, 0.2, 0.2, 0.2][:n]),
        airspeed=np.full(n, 3.0),
        mass=2.0,
    )


def test_touchdown_lies_where_the_height_is_used_up():
    landing = descent([0.0, 1.0, 3.0]).touchdown(2.0)  # halfway through the second second
    assert (landing.ground_speed, landing.sink, landing.mass) == (3.0, 1.5, 2.0)


def test_it_touches_the_first_time_it_gets_so_low():
    """It climbs again after 1 m: a pull 0.9 m up lands before, one 1.1 m up long after."""
    found = descent([0.0, 1.0, 0.5, 0.9, 2.0])
    assert found.touchdown(0.9).sink == pytest.approx(0.9)
    assert found.touchdown(1.1).sink == pytest.approx(3.0 + 0.2 / 1.1)
    assert np.isnan(found.touchdown(2.1).sink)
    assert found.deepest == 2.0


def test_too_low_a_pull_lands_as_it_was():
    assert descent([0.0, 1.0, 2.0]).touchdown(-0.5).sink == 0.0


def test_highest_angle_counts_until_touchdown():
    found = descent([0.0, 1.0, 2.0, 3.0])
    assert found.highest_alpha(0.5) == pytest.approx(0.3)
    assert found.highest_alpha(2.5) == pytest.approx(0.5)


def test_hands_up_stays_in_the_glide(descending: FlareDescent):
    found = descending.descend(Pull(), 2.0)
    assert found.velocity[2] == pytest.approx(descending.trim.sink, rel=2e-3)
    assert found.velocity[0] == pytest.approx(descending.trim.forward_speed, rel=2e-3)
    assert found.lost[-1] == pytest.approx(2.0 * descending.trim.sink, rel=2e-3)


@pytest.mark.parametrize("height", [1.0, 2.0, 3.5])
def test_descent_tells_what_a_real_ground_would(vehicle: Vehicle, descending: FlareDescent, height: float):
    found = descending.descend(PULL, 4.0).touchdown(height)
    flown = landed(vehicle, descending, height, Wind.calm())
    assert found.sink == pytest.approx(flown.sink, abs=0.02)
    assert found.ground_speed == pytest.approx(flown.ground_speed, abs=0.02)


def test_head_gust_is_a_head_wind_that_steps_in(vehicle: Vehicle, descending: FlareDescent):
    """1 m/s from the north, evenly with height, met at the speed over the ground of still air."""
    found = descending.descend(PULL, 4.0, np.array([-1.0, 0.0, 0.0])).touchdown(2.0)
    wind = Wind(speed=1.0, from_direction=0.0, exponent=0.0)
    flown = landed(vehicle, descending, 2.0, wind)
    assert found.sink == pytest.approx(flown.sink, abs=0.02)
    assert found.ground_speed == pytest.approx(flown.ground_speed, abs=0.02)


def test_gust_steps_in_at_the_old_speed_over_the_ground(descending: FlareDescent):
    up = descending.descend(Pull(), 0.5, np.array([0.0, 0.0, -1.0]))
    assert up.velocity[:, 0] == pytest.approx(
        [descending.trim.forward_speed, 0.0, descending.trim.sink], rel=1e-6
    )
    assert up.alpha[0] > descending.trim.alpha + 0.08  # about 1 m/s over the airspeed
    assert up.velocity[2, -1] < descending.trim.sink
