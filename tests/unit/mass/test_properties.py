"""Masses, centres and inertias by hand."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.mass.properties import of_box, of_points, total


def about_center(properties):
    """Inertia about the centre of mass, by the parallel-axes theorem in its textbook form."""
    x, y, z = properties.center
    shift = properties.mass * np.array(
        [[y * y + z * z, -x * y, -x * z], [-x * y, x * x + z * z, -y * z], [-x * z, -y * z, x * x + y * y]]
    )
    return properties.inertia - shift


def test_dumb_bell():
    """1 kg at 2 m on either side along y: 8 kg m2 about x and z, none about y."""
    found = of_points(np.array([1.0, 1.0]), np.array([[0.0, 2, 0], [0, -2, 0]]))
    np.testing.assert_allclose(found.inertia, np.diag([8.0, 0, 8.0]))
    np.testing.assert_allclose(found.center, 0.0)


def test_product_of_inertia_has_its_sign():
    """Mass at (1, 1, 0): Ixy = -sum m x y."""
    assert of_points(np.array([1.0]), np.array([[1.0, 1, 0]])).inertia[0, 1] == -1.0


def test_box_about_its_own_centre():
    """m/12 (b2 + c2): 12 kg of 1 x 2 x 3 m."""
    found = about_center(of_box(12.0, np.array([0.3, -0.2, 0.7]), (1.0, 2.0, 3.0)))
    np.testing.assert_allclose(found, np.diag([13.0, 10.0, 5.0]), atol=1e-12)


def test_box_is_what_its_grains_are():
    """8000 grains in place of the solid; midpoint grid, error 1/n2."""
    size, center = np.array([0.22, 0.12, 0.10]), np.array([0.05, 0.0, 0.2])
    grid = (np.stack(np.meshgrid(*[np.arange(20)] * 3, indexing="ij"), -1).reshape(-1, 3) + 0.5) / 20 - 0.5
    grains = of_points(np.full(8000, 1.2 / 8000), center + grid * size)
    box = of_box(1.2, center, tuple(size))
    np.testing.assert_allclose(box.inertia, grains.inertia, rtol=3e-3, atol=1e-12)
    np.testing.assert_allclose(box.first_moment, grains.first_moment)


def test_parts_add_by_parallel_axes():
    rng = np.random.default_rng(0)
    mass, place = rng.uniform(0.1, 1, 12), rng.normal(size=(12, 3))
    whole = of_points(mass, place)
    parts = total([of_points(mass[:5], place[:5]), of_points(mass[5:], place[5:])])
    assert parts.mass == pytest.approx(whole.mass)
    np.testing.assert_allclose(parts.inertia, whole.inertia)
    np.testing.assert_allclose(about_center(parts), about_center(whole))


def test_matrix_gives_momentum_and_energy():
    """Of point masses moving as one: sum m v, sum r x m v, half sum m v2."""
    rng = np.random.default_rng(1)
    mass, place = rng.uniform(0.1, 1, 6), rng.normal(size=(6, 3))
    v, omega = rng.normal(size=3), rng.normal(size=3)
    each = v + np.cross(omega, place)
    momentum = np.concatenate([mass @ each, np.sum(np.cross(place, mass[:, None] * each), axis=0)])
    motion = np.concatenate([v, omega])
    matrix = of_points(mass, place).matrix
    np.testing.assert_allclose(matrix @ motion, momentum)
    assert motion @ matrix @ motion == pytest.approx(float(mass @ (each**2).sum(axis=1)))
