"""Rotations, cross-checked against scipy.spatial.transform.Rotation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from parasim.rotations import (
    cross,
    dot,
    euler_from_quaternion,
    quaternion_from_euler,
    rotation_matrix,
    skew,
)

ATTITUDES = [
    (0.0, 0.0, 0.0),
    (0.3, -0.2, 1.0),
    (-2.9, 1.4, -3.0),
    (np.pi / 2, -np.pi / 2 + 1e-6, 0.1),
]


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(7)


@pytest.mark.parametrize("euler", ATTITUDES)
def test_rotation_matrix_is_scipys(euler):
    expected = Rotation.from_euler("ZYX", euler[::-1]).as_matrix()
    np.testing.assert_allclose(rotation_matrix(quaternion_from_euler(*euler)), expected, atol=1e-14)


@pytest.mark.parametrize("euler", ATTITUDES)
def test_euler_angles_come_back(euler):
    # Close to the vertical the arcsine loses half the digits: 1e-9 in its argument is 1e-3 of its distance.
    np.testing.assert_allclose(euler_from_quaternion(quaternion_from_euler(*euler)), euler, atol=1e-9)


@pytest.mark.parametrize("pitch", [np.pi / 2, -np.pi / 2])
def test_straight_up_and_down_keep_the_pitch(pitch):
    assert euler_from_quaternion(quaternion_from_euler(0.4, pitch, 1.1))[1] == pytest.approx(pitch, abs=1e-7)


def test_signs_right_wing_down_nose_up_nose_right():
    right, forward = np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])
    assert (rotation_matrix(quaternion_from_euler(0.1, 0.0, 0.0)) @ right)[2] > 0
    assert (rotation_matrix(quaternion_from_euler(0.0, 0.1, 0.0)) @ forward)[2] < 0
    assert (rotation_matrix(quaternion_from_euler(0.0, 0.0, 0.1)) @ forward)[1] > 0


def test_length_of_the_quaternion_does_not_matter():
    q = quaternion_from_euler(0.3, -0.2, 1.0)
    np.testing.assert_allclose(rotation_matrix(1.7 * q), rotation_matrix(q), atol=1e-15)
    np.testing.assert_allclose(euler_from_quaternion(1.7 * q), euler_from_quaternion(q), atol=1e-15)


def test_products_match_numpy(rng):
    a, b = rng.normal(size=(2, 3, 5, 4))
    np.testing.assert_allclose(cross(a, b), np.cross(a, b, axis=0), atol=1e-15)
    np.testing.assert_allclose(dot(a, b), (a * b).sum(axis=0), atol=1e-14)
    np.testing.assert_allclose(skew(a[:, 0, 0]) @ b[:, 0, 0], np.cross(a[:, 0, 0], b[:, 0, 0]), atol=1e-15)


def test_a_batch_gives_what_a_loop_gives(rng):
    euler = rng.uniform(-1.0, 1.0, size=(3, 6))
    q = quaternion_from_euler(*euler)
    for i in range(6):
        qi = quaternion_from_euler(*euler[:, i])
        np.testing.assert_array_equal(q[:, i], qi)
        np.testing.assert_array_equal(rotation_matrix(q)[..., i], rotation_matrix(qi))
        np.testing.assert_array_equal(euler_from_quaternion(q)[:, i], euler_from_quaternion(qi))
