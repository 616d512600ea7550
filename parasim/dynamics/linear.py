"""Small disturbances about a steady flight: the motion made linear."""

import numpy as np

from parasim.dynamics.simulate import Body
from parasim.dynamics.state import ATTITUDE, MOTION, PAYLOAD_ATTITUDE, PAYLOAD_RATES, RATES
from parasim.rotations import FloatArray, euler_from_quaternion, euler_rates, quaternion_from_euler

LINEAR_STEP = 1e-5
"""Disturbance by which the motion is linearised. [m/s, rad/s, rad]"""

LATERAL = np.array([0, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 1, 0, 1], dtype=bool)
"""Which disturbances are lateral: velocity, rates, roll and pitch; payload's rates, roll, pitch and twist."""


def linearised(body: Body, steady: FloatArray, left: float, right: float) -> FloatArray:
    """How fast small disturbances change, by the disturbances.

    Parameters
    ----------
    body : Body
        What flies.
    steady : ndarray, shape (n_states,)
        State about which, heading north, in the slots of `parasim.dynamics.state`.
    left, right : float
        Brakes, fractions of full travel. [-]

    Returns
    -------
    ndarray, shape (8, 8), or (14, 14) where the payload swings
        Velocity, rates, roll and pitch; then the payload's rates, roll, pitch and heading over the canopy's.
        Position and heading are left out: they do not matter but for the slow change of density. [1/s]
    """
    base = _disturbance_of(steady)

    def rates(disturbance: FloatArray) -> FloatArray:
        state = _disturbed(steady, base + disturbance)
        return _rates_of(state, body.derivative(state, left, right))

    step = LINEAR_STEP * np.eye(len(base))
    return np.array([(rates(h) - rates(-h)) / (2 * LINEAR_STEP) for h in step]).T


def _disturbance_of(state: FloatArray) -> FloatArray:
    """Velocity, rates, roll, pitch; and the payload's rates, roll, pitch and heading against the canopy's."""
    roll, pitch, yaw = euler_from_quaternion(state[ATTITUDE])
    found = [*state[MOTION], roll, pitch]
    if len(state[PAYLOAD_ATTITUDE]):
        payload_roll, payload_pitch, payload_yaw = euler_from_quaternion(state[PAYLOAD_ATTITUDE])
        found += [*state[PAYLOAD_RATES], payload_roll, payload_pitch, payload_yaw - yaw]
    return np.array(found)


def _disturbed(start: FloatArray, disturbance: FloatArray) -> FloatArray:
    state = start.copy()
    state[MOTION] = disturbance[:6]
    state[ATTITUDE] = quaternion_from_euler(disturbance[6], disturbance[7], 0.0)
    if len(disturbance) > 8:
        state[PAYLOAD_RATES] = disturbance[8:11]
        state[PAYLOAD_ATTITUDE] = quaternion_from_euler(*disturbance[11:14])
    return state


def _rates_of(state: FloatArray, derivative: FloatArray) -> FloatArray:
    roll_rate, pitch_rate, yaw_rate = euler_rates(state[ATTITUDE], state[RATES])
    found = [*derivative[MOTION], roll_rate, pitch_rate]
    if len(state[PAYLOAD_ATTITUDE]):
        p, q, r = euler_rates(state[PAYLOAD_ATTITUDE], state[PAYLOAD_RATES])
        found += [*derivative[PAYLOAD_RATES], p, q, r - yaw_rate]
    return np.array(found)
