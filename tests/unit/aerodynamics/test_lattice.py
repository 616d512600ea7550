"""Vortex filaments and the lattice made of them."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.aerodynamics.lattice import (
    CHORDWISE_PANELS,
    build_lattice,
    influence,
    segment_velocity,
    trefftz_downwash,
    wake_normal_velocity,
)
from parasim.geometry.surface import cosine_strips
from tests.validation.wings import plain_canopy


def test_long_filament_is_a_line_vortex():
    """1/(2 pi h) beside its middle, round to the right of its direction."""
    point = np.array([0.0, 0.5, 0.0])
    velocity = segment_velocity(point, np.array([-50.0, 0.0, 0.0]), np.array([50.0, 0.0, 0.0]))
    np.testing.assert_allclose(velocity, [0.0, 0.0, 1 / (2 * np.pi * 0.5)], rtol=2e-4, atol=1e-12)


def test_short_filament_is_biot_savart():
    """dl x r/(4 pi r^3)."""
    start, end, point = np.array([0.0, 0, 0]), np.array([1e-4, 0, 0]), np.array([0.3, 0.4, 0.0])
    expected = np.cross(end - start, point) / (4 * np.pi * 0.5**3)
    np.testing.assert_allclose(segment_velocity(point, start, end), expected, rtol=1e-3)


def test_half_a_square_beside_a_filament():
    """Known angles: h = 1 beside a filament of length 2, cos 45 deg + cos 45 deg over 4 pi h."""
    velocity = segment_velocity(np.array([0.0, 1, 0]), np.array([-1.0, 0, 0]), np.array([1.0, 0, 0]))
    assert velocity[2] == pytest.approx(np.sqrt(2) / (4 * np.pi))


def test_on_the_filament_nothing_blows_up():
    assert np.isfinite(segment_velocity(np.array([0.5, 0, 0]), np.zeros(3), np.array([1.0, 0, 0]))).all()


def test_half_infinite_filament_is_a_very_long_segment():
    rng = np.random.default_rng(1)
    control, normal = rng.normal(size=(4, 3)), rng.normal(size=(4, 3))
    start = rng.normal(size=(3, 3))
    direction = np.array([[-0.96, 0.0, -0.28]])
    found = wake_normal_velocity(control, normal, start, direction)[0]
    long = segment_velocity(control[:, None], start[None], start[None] + 300.0 * direction)
    np.testing.assert_allclose(found, np.einsum("pfk,pk->pf", long, normal), rtol=5e-3, atol=1e-5)


@pytest.fixture(scope="module")
def lattice():
    return build_lattice(cosine_strips(plain_canopy(span=2.0, chord=1.0, arc_radius=1.5), 6))


def test_panels_and_their_places(lattice):
    """Control points at three quarters of every panel."""
    assert lattice.control.shape == (CHORDWISE_PANELS * 6, 3)
    behind_nose = 0.25 - np.unique(lattice.control[:, 0].round(9))[::-1]
    np.testing.assert_allclose(behind_nose, (np.arange(CHORDWISE_PANELS) + 0.75) / CHORDWISE_PANELS)
    np.testing.assert_allclose(np.linalg.norm(lattice.normal, axis=1), 1.0)


def test_lifting_circulation_makes_downwash(lattice):
    """Circulation positive towards the right tip: behind it the air goes down, against the outward normal."""
    straight_back = np.array([[-1.0, 0.0, 0.0]])
    assert np.all(np.diag(influence(lattice, straight_back)[0]) < 0)
    assert np.all(trefftz_downwash(lattice.strips, straight_back)[0].sum(axis=1) > 0)


def test_influence_mirrors(lattice):
    """Left and right change places."""
    matrix = influence(lattice, np.array([[-1.0, 0.0, -0.1]]))[0]
    back = np.arange(CHORDWISE_PANELS * 6).reshape(CHORDWISE_PANELS, 6)[:, ::-1].ravel()
    np.testing.assert_allclose(matrix, matrix[np.ix_(back, back)], rtol=1e-9, atol=1e-12)


def test_far_wash_of_elliptic_loading_is_even():
    """Prandtl: elliptic circulation on a flat wing makes the same far_downwash everywhere, Gamma0/b far
    behind."""
    strips = cosine_strips(plain_canopy(span=4.0, chord=1.0), 40)
    place = strips.quarter_chord[:, 1] / 2.0
    far_downwash = trefftz_downwash(strips, np.array([[-1.0, 0.0, 0.0]]))[0] @ np.sqrt(1 - place**2)
    np.testing.assert_allclose(far_downwash[3:-3], 1 / 4.0, rtol=0.005)
