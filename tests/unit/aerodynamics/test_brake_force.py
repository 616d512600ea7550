"""Force in the brake lines: signs, mirror, work, and what it cannot be."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from parasim.aerodynamics.brake_force import brake_line_forces, zero_lift
from parasim.aerodynamics.strips import Flow
from parasim.dynamics.vehicle import assemble

FRACTIONS = np.linspace(0, 1, 21)
STILL = np.zeros(len(FRACTIONS))
STEADY = Flow.steady(np.radians([4.0]))


@pytest.fixture(scope="module")
def model(reference):
    return assemble(reference).model


def test_mirrored(model):
    right = brake_line_forces(model, STEADY, STILL, FRACTIONS)
    left = brake_line_forces(model, STEADY, FRACTIONS, STILL)
    assert_allclose(left[..., ::-1], right, atol=1e-12)


def test_free_brake_has_no_force_and_slack_takes_none(model):
    slack = model.brakes.free_play / model.brakes.travel
    forces = brake_line_forces(model, STEADY, np.array([0.6, slack / 2 - 0.02]), np.zeros(2))[0]
    assert forces[0, 0] > 0
    assert_allclose([forces[0, 1], forces[1, 0]], 0, atol=1e-12)


def test_sideslip_from_the_right_is_that_from_the_left_mirrored(model):
    one = Flow.steady(np.radians([4.0]), np.radians([8.0]))
    other = Flow.steady(np.radians([4.0]), np.radians([-8.0]))
    half = np.full(1, 0.5)
    assert_allclose(
        brake_line_forces(model, one, half, half)[0, 0],
        brake_line_forces(model, other, half, half)[0, 0, ::-1],
        rtol=1e-6,
    )


@pytest.mark.parametrize("alpha", [-20.0, -10.0, 0.0, 10.0, 25.0, 60.0])
def test_lines_never_push(model, alpha):
    forces = brake_line_forces(model, Flow.steady(np.radians([alpha])), FRACTIONS, FRACTIONS)
    assert np.isfinite(forces).all()
    assert (forces >= 0).all()


def test_pull_does_not_go_slack_again(model):
    """Once the slack is out, more pull always finds some force."""
    forces = brake_line_forces(model, STEADY, STILL, FRACTIONS)[0, 3:, 1]
    assert (forces > 0).all()


def test_work_is_less_than_a_plate_would_take(model):
    """Work over the travel, against that of 1.98 q on the whole tail moved by its drop (Hoerner's plate)."""
    pull = FRACTIONS * model.brakes.travel
    work = np.trapezoid(brake_line_forces(model, STEADY, STILL, FRACTIONS)[0, :, 1], pull)
    strips = model.lattice.strips
    deflection = model.brakes.deflection[-1]
    swept = (model.brakes.right * (0.3 * strips.chord) ** 2 * strips.width).sum() * deflection / 6
    assert 0 < work < 1.98 * swept


def test_small_share_moves_less_tail_with_less_force(model):
    """A branch that gets half the pull counts with half its own force: virtual work."""
    brakes = replace(model.brakes, left=model.brakes.left / 2, right=model.brakes.right / 2)
    halved = replace(model, brakes=brakes)
    # With the free play out, half the share at twice the pull bends alike; its force is then half.
    taut = replace(halved, brakes=replace(brakes, free_play=0.0))
    whole = replace(model, brakes=replace(model.brakes, free_play=0.0))
    force = brake_line_forces(whole, STEADY, np.zeros(1), np.array([0.4]))[0, 0, 1]
    assert brake_line_forces(taut, STEADY, np.zeros(1), np.array([0.8]))[0, 0, 1] == pytest.approx(
        force / 2, rel=0.02
    )


def test_force_holds_past_the_longest_pull(model):
    longer = replace(model, brakes=replace(model.brakes, travel=2 * model.brakes.reachable))
    forces = brake_line_forces(longer, STEADY, np.zeros(3), np.array([0.5, 0.7, 1.0]))[0, :, 1]
    assert forces[2] == pytest.approx(forces[1], rel=0.05)  # the strip braked in part bends on a little
    assert forces[1] >= forces[0] * 0.9


def test_zero_lift_angle_does_not_lift(model):
    assert model.polar.coefficients(zero_lift(model.polar))[0] == pytest.approx(0, abs=1e-9)
