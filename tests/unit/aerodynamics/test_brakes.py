"""From brake pull to trailing-edge deflection."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.aerodynamics.brakes import BrakeShape, build_brake_shape, pull_of_slope, pull_shares
from parasim.config.design import Design
from parasim.geometry.airfoil import trailing_edge_drop
from parasim.geometry.canopy import build_canopy
from parasim.geometry.surface import cosine_strips


@pytest.fixture(scope="module")
def brakes(reference: Design) -> BrakeShape:
    canopy = build_canopy(reference)
    return build_brake_shape(
        canopy,
        cosine_strips(canopy, 12),
        span_fraction=0.4,
        shares=(1.0, 1.0, 1.0),
        travel=0.12,
        free_play=0.004,
        riser_end=np.array([0.0, 0.05, 0.0]),
    )


def test_slack_first(brakes: BrakeShape) -> None:
    """4 of 120 mm only take up slack."""
    np.testing.assert_allclose(brakes.slope_at(np.array([0.0, 0.02, 0.004 / 0.12])), 0.0)
    assert brakes.slope_at(0.05) > 0


def test_more_pull_more_slope(brakes: BrakeShape) -> None:
    deflection = brakes.slope_at(np.linspace(0.04, min(1.0, brakes.reachable / 0.12), 30))
    assert np.all(np.diff(deflection) > 0)


def test_slope_and_pull_are_inverse(reference: Design, brakes: BrakeShape) -> None:
    """Within 0.1 mm: pull, deflection of that pull, pull of that deflection."""
    canopy = build_canopy(reference)
    middle = np.array(0.8 * canopy.half_arc)
    fraction = np.linspace(0.1, 0.9, 9)
    pull = pull_of_slope(
        brakes.slope_at(fraction),
        chord=0.5,
        trailing_edge=canopy.point(middle, np.array(1.0), np.array(0.0)) - [0.0, 0.05, 0.0],
        outward=canopy.outward(middle),
    )
    within = fraction * 0.12 - 0.004 < brakes.reachable
    np.testing.assert_allclose(pull[within], (fraction * 0.12 - 0.004)[within], atol=1e-4)


def test_small_pull_straight_below_is_the_drop():
    """Brake line along the normal: pull is the trailing edge's drop to first order."""
    deflection = np.radians([1.0, 2.0])
    pull = pull_of_slope(
        deflection, chord=0.5, trailing_edge=np.array([0.0, 0.0, -100.0]), outward=np.array([0.0, 0.0, -1.0])
    )
    np.testing.assert_allclose(pull, 0.5 * trailing_edge_drop(deflection), rtol=1e-3)


def test_which_strips_bend(brakes: BrakeShape) -> None:
    """Outer 40 % of each half span, strips cut through counted in part; left mirrors right."""
    np.testing.assert_allclose(brakes.left, brakes.right[::-1])
    assert brakes.right[0] == 0.0
    assert brakes.right[-1] == 1.0
    width = np.diff(-np.cos(np.pi / 12 * np.arange(13)))
    assert (width * brakes.right).sum() == pytest.approx(0.4)


def test_strip_slopes_by_side(brakes: BrakeShape) -> None:
    slopes = brakes.strip_deflections(np.array([0.5, 0.0]), np.array([0.0, 0.5]))
    assert slopes.shape == (2, 12)
    np.testing.assert_allclose(slopes[0], slopes[1][::-1])
    assert slopes[0, 0] == pytest.approx(float(brakes.slope_at(0.5)))
    assert slopes[0, -1] == 0.0


def test_beyond_reach_it_bends_no_further(brakes: BrakeShape) -> None:
    assert brakes.slope_at(50.0) == brakes.deflection[-1]
    assert brakes.reachable == brakes.pull[-1]


def test_shares_by_branch(reference: Design) -> None:
    """An outer branch that gives way keeps the tip straight; half way to the inner one the pull is halved."""
    canopy = build_canopy(reference)
    strips = cosine_strips(canopy, 48)
    found = pull_shares(canopy, strips, span_fraction=0.4, shares=(1.0, 0.0))
    inner, outer = 0.7 * canopy.half_arc, 0.9 * canopy.half_arc
    assert np.all(found[strips.arc_angle > outer] == 0.0)
    whole = (strips.edge_angle[:-1] > 0.6 * canopy.half_arc) & (strips.arc_angle < inner)
    np.testing.assert_allclose(found[whole], 1.0)
    between = (strips.arc_angle > inner) & (strips.arc_angle < outer)
    expected = (outer - strips.arc_angle[between]) / (outer - inner)
    np.testing.assert_allclose(found[between], expected)
