"""Inertia at any density."""

from __future__ import annotations

import numpy as np

from parasim.dynamics.inertia import inertia_modes


def solved(modes, ratio, wrench, density):
    return modes @ ((wrench @ modes) / (1 + density * ratio))


def test_it_is_the_plain_solution():
    rng = np.random.default_rng(0)
    a, b = rng.normal(size=(2, 6, 6))
    solid, air = a @ a.T + 6 * np.eye(6), b @ b.T
    for density in (0.0, 0.5, 1.225):
        wrench = rng.normal(size=6)
        np.testing.assert_allclose(
            solved(*inertia_modes(solid, air), wrench, density),
            np.linalg.solve(solid + density * air, wrench),
        )


def test_without_air_it_is_newton():
    modes, ratio = inertia_modes(np.diag([2.0, 2, 2, 1, 1, 1]), np.zeros((6, 6)))
    np.testing.assert_allclose(solved(modes, ratio, np.ones(6), 1.2), [0.5, 0.5, 0.5, 1, 1, 1])


def test_many_at_once_are_each_alone():
    rng = np.random.default_rng(1)
    a = rng.normal(size=(5, 6, 6))
    solid, air = a @ a.transpose(0, 2, 1) + 6 * np.eye(6), np.broadcast_to(np.eye(6), (5, 6, 6))
    modes, ratio = inertia_modes(solid, air)
    wrench = rng.normal(size=6)
    for k in range(5):
        np.testing.assert_allclose(
            solved(modes[k], ratio[k], wrench, 1.2), np.linalg.solve(solid[k] + 1.2 * air[k], wrench)
        )
