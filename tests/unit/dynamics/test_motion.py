"""Attitude in the compiled equations, against a general library of rotations."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from parasim.dynamics.motion import attitude_matrix, attitude_rate
from parasim.rotations import rotation_matrix


def test_matrix_is_that_of_the_library():
    q = np.array([0.7, -0.2, 0.4, 0.5])
    expected = Rotation.from_quat(q, scalar_first=True).as_matrix()
    np.testing.assert_allclose(attitude_matrix(*q), expected, atol=1e-15)
    np.testing.assert_allclose(attitude_matrix(*q), rotation_matrix(q), atol=1e-15)


def test_rate_follows_a_small_body_rotation():
    """Central difference of the library's own turning: error of order dt^2 = 1e-10."""
    omega, dt = np.array([0.7, -1.1, 0.4]), 1e-5
    start = Rotation.from_euler("ZYX", [1.0, -0.2, 0.3])

    def turned(t):
        q = (start * Rotation.from_rotvec(omega * t)).as_quat(scalar_first=True)
        return q * np.sign(q[0])

    rate = attitude_rate(*turned(0.0), tuple(omega))
    np.testing.assert_allclose(rate, (turned(dt) - turned(-dt)) / (2 * dt), atol=1e-9)


def test_compiled_is_what_is_written():
    """The whole derivative as plain Python, record and all, against the machine code."""
    from parasim.config.loader import load_design
    from parasim.dynamics import motion
    from parasim.dynamics.rigid_body import build_rigid_body
    from parasim.dynamics.vehicle import assemble
    from tests.conftest import REFERENCE

    body = build_rigid_body(assemble(load_design(REFERENCE)))
    state = np.array([0.0, 0, -30, 0.9, 0.1, -0.2, 0.3, 8.0, 0.5, 2.0, 0.2, -0.1, 0.3])
    written, compiled = np.zeros(13), body.derivative(state, 0.3, 0.1)
    motion.rigid_rates.py_func(body.motion, state, 0.3, 0.1, motion.STILL, written)
    np.testing.assert_allclose(written, compiled, rtol=1e-12, atol=1e-12)
