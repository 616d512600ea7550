"""Slots of the state vector."""

from __future__ import annotations

import numpy as np

from parasim.dynamics.state import ATTITUDE, MOTION, POSITION, RATES, VELOCITY, state_vector


def test_slots():
    state = state_vector(
        position=np.array([1.0, 2, 3]), attitude=np.array([1.0, 0, 0, 0]), velocity=np.array([4.0, 5, 6])
    )
    np.testing.assert_array_equal(state[POSITION], [1, 2, 3])
    np.testing.assert_array_equal(state[ATTITUDE], [1, 0, 0, 0])
    np.testing.assert_array_equal(state[VELOCITY], [4, 5, 6])
    np.testing.assert_array_equal(state[RATES], 0)
    np.testing.assert_array_equal(state[MOTION], [4, 5, 6, 0, 0, 0])
