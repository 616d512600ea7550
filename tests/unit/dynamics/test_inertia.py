"""Inertia at any density."""

from __future__ import annotations

import numpy as np

from parasim.dynamics.inertia import build_inertia


def test_it_is_the_plain_solution():
    rng = np.random.default_rng(0)
    a, b = rng.normal(size=(2, 6, 6))
    solid, air = a @ a.T + 6 * np.eye(6), b @ b.T
    inertia = build_inertia(solid, air)
    for density in (0.0, 0.5, 1.225):
        wrench = rng.normal(size=6)
        np.testing.assert_allclose(
            inertia.solve(wrench, density), np.linalg.solve(solid + density * air, wrench)
        )


def test_without_air_it_is_newton():
    inertia = build_inertia(np.diag([2.0, 2, 2, 1, 1, 1]), np.zeros((6, 6)))
    np.testing.assert_allclose(inertia.solve(np.ones(6), 1.2), [0.5, 0.5, 0.5, 1, 1, 1])
