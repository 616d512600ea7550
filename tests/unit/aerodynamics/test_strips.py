"""Strips coupled to their polars."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from parasim.aerodynamics.lattice import build_lattice
from parasim.aerodynamics.section import build_section_polar
from parasim.aerodynamics.strips import Flow, rising_polar, strip_loads
from parasim.geometry.surface import cosine_strips
from tests.validation.wings import ideal_polar, plain_canopy

STRIPS = cosine_strips(plain_canopy(span=1.1, chord=0.5, arc_radius=0.75), 12)
LATTICE = build_lattice(STRIPS)
POLAR = build_section_polar(family="flat-bottomed", thickness=0.15, reynolds=3e5)
FREE = np.zeros((1, 12))


def test_wind_of_a_flow():
    """Straight ahead the air comes from ahead; at 90 deg from below; in sideslip from the right."""
    flow = Flow.steady(np.radians([0.0, 90.0, 0.0]), np.radians([0.0, 0.0, 90.0]))
    np.testing.assert_allclose(flow.wind, [[-1, 0, 0], [0, 0, -1], [0, -1, 0]], atol=1e-15)


def test_rotation_adds_its_own_wind():
    """Yaw to the right at 1 rad/m: the right tip at y = 2 goes back, so sees two units less."""
    flow = Flow(alpha=np.zeros(1), beta=np.zeros(1), rotation=np.array([[0.0, 0, 1.0]]))
    np.testing.assert_allclose(flow.wind_at(np.array([[0.0, 2.0, 0.0]]))[0, 0], [1.0, 0.0, 0.0])


def test_every_state_settles():
    alpha = np.radians(np.arange(-20.0, 41.0, 2.5))
    flow = Flow.steady(alpha[:, None], np.radians([0.0, 10.0, 25.0])[None])
    slopes = np.zeros((3, 12))
    slopes[1, 8:] = np.radians(30)
    slopes[2] = np.radians(50)
    found = strip_loads(LATTICE, POLAR, flow, slopes)
    assert found.converged.all()
    assert np.isfinite(found.force).all()
    assert np.isfinite(found.moment).all()


def test_lift_is_that_of_the_polar():
    found = strip_loads(LATTICE, POLAR, Flow.steady(np.radians([2.0, 8.0])), FREE)
    expected, _, _ = POLAR.coefficients(found.effective_alpha)
    np.testing.assert_allclose(found.cl, expected)


def test_lift_acts_across_the_local_flow_and_profile_drag_along_it():
    flow = Flow(alpha=np.array([0.1]), beta=np.array([0.1]), rotation=np.array([[0.1, 0.0, 0.1]]))
    found = strip_loads(LATTICE, POLAR, flow, FREE)
    wind = flow.wind_at(STRIPS.quarter_chord)[0]
    np.testing.assert_allclose(np.sum(found.lift[0, 0] * wind, axis=-1), 0.0, atol=1e-12)
    np.testing.assert_allclose(np.cross(found.profile_drag[0, 0], wind), 0.0, atol=1e-12)
    assert np.all(np.sum(found.profile_drag[0, 0] * wind, axis=-1) > 0)


def test_sideways_air_drags_along_the_span_too():
    """Profile drag keeps its spanwise part: 90 deg of sideslip is all of it."""
    found = strip_loads(LATTICE, POLAR, Flow.steady(np.zeros(1), np.radians(80.0)), FREE)
    total = found.profile_drag[0, 0].sum(axis=0)
    assert total[1] < 0
    assert abs(total[1]) > 5 * abs(total[0])


def test_mirror():
    """Sideslip and brake from the other side: the strips change places, y turns round."""
    slopes = np.zeros((2, 12))
    slopes[0, 8:], slopes[1, :4] = 0.5, 0.5
    right = strip_loads(LATTICE, POLAR, Flow.steady(np.array([0.1]), 0.15), slopes[:1])
    left = strip_loads(LATTICE, POLAR, Flow.steady(np.array([0.1]), -0.15), slopes[1:])
    np.testing.assert_allclose(right.force, left.force[:, :, ::-1] * [1, -1, 1], rtol=1e-6, atol=1e-9)


def test_batch_is_a_loop():
    alpha = np.radians([-5.0, 3.0, 12.0, 30.0])
    together = strip_loads(LATTICE, POLAR, Flow.steady(alpha, 0.05), FREE)
    for i, one in enumerate(alpha):
        alone = strip_loads(LATTICE, POLAR, Flow.steady(np.array([one]), 0.05), FREE)
        np.testing.assert_allclose(together.force[i], alone.force[0], rtol=1e-9, atol=1e-12)


def test_brake_on_the_right_lifts_and_drags_there():
    slopes = np.zeros((2, 12))
    slopes[1, 8:] = np.radians(20)
    found = strip_loads(LATTICE, POLAR, Flow.steady(np.radians([4.0])), slopes)
    more = found.force[0, 1] - found.force[0, 0]
    assert more[8:, 2].sum() < 0  # up
    assert more[8:, 0].sum() < more[:4, 0].sum()  # backwards


def test_past_stall_strips_go_by_themselves():
    """From 40 deg on the effective angle is the geometric one: no lattice, no induced drag."""
    found = strip_loads(LATTICE, POLAR, Flow.steady(np.radians([60.0])), FREE)
    geometric = np.arctan2(np.sin(np.radians(60)) * np.cos(STRIPS.arc_angle), np.cos(np.radians(60)))
    np.testing.assert_allclose(found.effective_alpha[0, 0], geometric)
    np.testing.assert_allclose(found.induced_drag, 0.0)


def test_rising_polar_never_falls_and_keeps_the_attached_part():
    rising = rising_polar(POLAR)
    assert np.all(np.diff(rising.cl, axis=1) > 0)
    attached = np.abs(POLAR.alpha) < np.radians(6)
    np.testing.assert_allclose(rising.cl[0, attached], POLAR.cl[0, attached])


def test_ideal_section_has_no_profile_drag():
    found = strip_loads(LATTICE, ideal_polar(), Flow.steady(np.radians([5.0])), FREE)
    np.testing.assert_allclose(found.profile_drag, 0.0)
    assert np.all(found.converged)


def test_moment_of_the_section_comes_through():
    """A nose-up shift of every section's moment adds to the wing's by no more than itself."""
    shifted = replace(POLAR, cm=POLAR.cm + 0.02)
    flow = Flow.steady(np.radians([4.0]))
    plain, more = (strip_loads(LATTICE, polar, flow, FREE) for polar in (POLAR, shifted))
    about = [
        (np.cross(STRIPS.quarter_chord, found.force[0, 0]) + found.moment[0, 0]).sum(axis=0)[1] / (0.55 * 0.5)
        for found in (plain, more)
    ]
    assert 0.005 < about[1] - about[0] <= 0.0201


@pytest.mark.parametrize("speed", [0.0, 0.3])
def test_extreme_rotation_stays_finite(speed):
    flow = Flow(alpha=np.array([0.2]), beta=np.array([0.1]), rotation=speed * np.array([[5.0, 5.0, 5.0]]))
    found = strip_loads(LATTICE, POLAR, flow, FREE)
    assert np.isfinite(found.force).all()
