"""Stabilisers and tip ribs."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.aerodynamics.fins import build_fins, fin_forces, helmbold_slope
from parasim.aerodynamics.strips import Flow
from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.airfoil import section_area
from parasim.geometry.canopy import build_canopy


def test_helmbold_by_hand_and_its_limits():
    """A = 2: 2 pi/(1 + sqrt 2) = 2.603; tends to 2 pi and to pi A/2 (Jones)."""
    assert helmbold_slope(np.array(2.0)) == pytest.approx(2 * np.pi / (1 + np.sqrt(2)))
    assert helmbold_slope(np.array(1e6)) == pytest.approx(2 * np.pi, rel=1e-5)
    assert helmbold_slope(np.array(1e-3)) == pytest.approx(np.pi * 1e-3 / 2, rel=1e-3)


@pytest.fixture(scope="module")
def with_stabilisers(reference: Design) -> Design:
    return override(reference, {"canopy.stabilisers": {"height": 0.06, "chord": 0.6}})


def test_what_there_is(reference: Design, with_stabilisers: Design) -> None:
    plain, more = build_fins(build_canopy(reference)), build_fins(build_canopy(with_stabilisers))
    assert plain.name == ("tip ribs",) * 2
    assert more.name == ("tip ribs",) * 2 + ("stabilisers",) * 2
    np.testing.assert_allclose(more.area[2:], 0.06 * 0.3)
    np.testing.assert_allclose(more.aspect_ratio[2:], 0.2)
    canopy = build_canopy(reference)
    np.testing.assert_allclose(plain.area, section_area(canopy.outline) * 0.25)


def test_stabilisers_hang_below_the_tips(with_stabilisers: Design) -> None:
    canopy = build_canopy(with_stabilisers)
    fins = build_fins(canopy)
    tip = canopy.point(np.array(canopy.half_arc), np.array(0.25), np.array(0.0))
    assert fins.center[3, 2] > tip[2]
    assert fins.center[2, 1] == pytest.approx(-fins.center[3, 1])


def test_sideslip_is_resisted(with_stabilisers: Design) -> None:
    fins = build_fins(build_canopy(with_stabilisers))
    force = fin_forces(fins, Flow.steady(np.zeros(2), np.radians([5.0, -5.0])))
    assert force[0, :, 1].sum() < 0
    np.testing.assert_allclose(force[0, :, 1].sum(), -force[1, :, 1].sum())


def test_straight_ahead_only_friction_along_the_flow(reference: Design) -> None:
    """0.012 for both sides; a tip rib shows one: 0.006 of its area, backwards."""
    fins = build_fins(build_canopy(reference))
    force = fin_forces(fins, Flow.steady(np.zeros(1)))[0]
    np.testing.assert_allclose(force, -0.006 * fins.area[:, None] * [1, 0, 0], atol=1e-12)


def test_yaw_is_damped(with_stabilisers: Design) -> None:
    fins = build_fins(build_canopy(with_stabilisers))
    flow = Flow(alpha=np.zeros(2), beta=np.zeros(2), rotation=np.array([[0, 0, 0.1], [0, 0, -0.1]]))
    force = fin_forces(fins, flow)
    yaw = np.cross(fins.center, force)[:, :, 2].sum(axis=1)
    assert yaw[0] < 0 < yaw[1]
