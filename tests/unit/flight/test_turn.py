"""Steady turns and step responses on the demo designs."""

from dataclasses import replace
from math import degrees, radians

import numpy as np
import pytest

from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import assemble, with_factors
from parasim.flight.steady_turn import steady_turns
from parasim.flight.step_response import step_response
from parasim.flight.turn import rigid_in_still_air

BRAKES = np.linspace(0, 1, 11)
WORKING = 0.3
"""Part of the travel from which on the defaults must turn towards the brake. [-]"""


@pytest.fixture(scope="module", params=["heron", "wren", "pelican"])
def vehicle(request, configs):
    return rigid_in_still_air(assemble(load_design(configs / f"{request.param}.yaml")))


@pytest.fixture(scope="module")
def heron_still(configs):
    return rigid_in_still_air(assemble(load_design(configs / "heron.yaml")))


@pytest.fixture(scope="module")
def right(vehicle):
    return steady_turns(vehicle, left=0.0, right=1.0, brakes=BRAKES, growth=False)


def test_defaults_turn_towards_the_brake_and_more_with_more_of_it(right):
    rates = [turn.rate for turn in right if turn.brake >= WORKING]
    assert rates[0] > 0
    assert np.all(np.diff(rates) > 0)


def test_what_reversal_there_is_stays_under_a_degree_a_second(right):
    assert degrees(min(turn.rate for turn in right)) > -1


def test_left_mirrors_right(vehicle, right):
    for one, other in zip(
        right, steady_turns(vehicle, left=1.0, right=0.0, brakes=BRAKES, growth=False), strict=True
    ):
        assert other.rate == pytest.approx(-one.rate, abs=1e-9)
        assert other.bank == pytest.approx(-one.bank, abs=1e-9)
        assert other.sink == pytest.approx(one.sink, rel=1e-9)


def test_pelican_turns_as_the_figure_that_set_the_factors(configs):
    """A record of the calibration, not a validation: 15.2 m of radius and 27 deg/s of a like design."""
    pelican = rigid_in_still_air(assemble(load_design(configs / "pelican.yaml")))
    full = steady_turns(pelican, left=0.0, right=1.0, brakes=BRAKES, growth=False)[-1]
    assert degrees(full.rate) == pytest.approx(27, rel=0.1)
    assert full.radius == pytest.approx(15.2, rel=0.1)


def test_a_step_settles_to_the_steady_turn(heron_still):
    steady = steady_turns(heron_still, left=0.0, right=1.0, brakes=np.array([0, 0.25, 0.5]), growth=False)[-1]
    step = step_response(heron_still, left=0.0, right=0.5)
    # The step is watched some 350 m up, where the air is 3 % thinner and turns are a little slower.
    assert step.settled_rate == pytest.approx(steady.rate, rel=0.04)


def test_mirrored_steps_mirror(heron_still):
    right, left = (step_response(heron_still, left=pull[0], right=pull[1]) for pull in ((0, 0.6), (0.6, 0)))
    assert left.settled_rate == pytest.approx(-right.settled_rate, rel=1e-6)
    assert left.rise_time == pytest.approx(right.rise_time, abs=1e-9)


def test_more_yaw_damping_turns_slower(heron_still):
    damped = with_factors(heron_still, replace(heron_still.model.factors, yaw_damping=-0.8))
    rates = [
        steady_turns(each, left=0.0, right=1.0, brakes=np.array([0, 0.3, 0.6]), growth=False)[-1].rate
        for each in (heron_still, damped)
    ]
    assert rates[1] < rates[0]


def test_equal_shares_are_none_given(heron_still):
    same = assemble(override(heron_still.design, {"brakes.shares": ["100 %", "100 %", "100 %"]}))
    assert np.array_equal(same.model.brakes.right, heron_still.model.brakes.right)


def test_a_branch_without_share_leaves_its_strips_alone(heron_still):
    inner = assemble(override(heron_still.design, {"brakes.shares": ["100 %", "50 %", "0 %"]}))
    slopes = inner.model.brakes.strip_slopes(np.array([0.0]), np.array([1.0]))[0]
    assert slopes[-1] == 0
    assert slopes.max() > radians(45)
