"""Strips and lattice brought to agree: the compiled Newton's method and what it is made of."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from parasim.aerodynamics.coupling import section_at, settle, solve


def test_equations_are_solved_as_by_lapack() -> None:
    """Zeros on the diagonal want rows to change places."""
    rng = np.random.default_rng(3)
    left, right = rng.normal(size=(12, 12)), rng.normal(size=12)
    np.fill_diagonal(left, 0.0)
    rows = np.column_stack([left, right])
    solve(rows)
    np.testing.assert_allclose(rows[:, -1], np.linalg.solve(left, right), rtol=1e-10)


def test_a_section_is_bilinear() -> None:
    """f = 1 + 2 u + 3 v + 4 u v in the second row, by hand at u = 0.25, v = 0.5."""
    table = np.array([[9.0, 9.0], [1.0, 3.0], [4.0, 10.0]])
    assert section_at(table, 1, 0.5, 0, 0.25) == pytest.approx((1 + 0.5 + 1.5 + 0.5, 2 + 4 * 0.5))


def test_one_strip_by_hand() -> None:
    """A flat plate, cl = 2 pi alpha, whose lift takes away a tenth of it as angle: sin(a) = 0.1 - 0.1 a."""
    degrees = np.radians(np.arange(-180.0, 181.0))
    lift = np.tile(2 * pi * degrees, (2, 1))
    alpha, cl, cm = (np.full((1, 1, 1), 0.05) for _ in range(3))
    settled = np.zeros((1, 1))
    settle(
        lift, np.zeros_like(lift), 1.0, np.array([[0.1]]), np.array([[[0.1 / (2 * pi)]]]),
        np.zeros((1, 1, 1)), np.zeros((1, 1)), alpha, cl, cm, settled, np.empty((1, 2)),
    )  # fmt: skip
    assert settled[0, 0] == 1.0
    assert np.sin(alpha[0, 0, 0]) == pytest.approx(0.1 - 0.1 * alpha[0, 0, 0], abs=1e-8)
    assert cl[0, 0, 0] == pytest.approx(2 * pi * alpha[0, 0, 0])
    assert cm[0, 0, 0] == 0.0
