"""Names of the state vector's slots.

Position of the confluence north, east and down from the point on the ground under the release; attitude
quaternion body to earth; velocity of the confluence over the ground in body axes; body rates. A payload that
swings at the confluence adds its own attitude quaternion and rates.
"""

import numpy as np

from parasim.rotations import FloatArray

POSITION = slice(0, 3)
ATTITUDE = slice(3, 7)
VELOCITY = slice(7, 10)
RATES = slice(10, 13)
MOTION = slice(7, 13)
PAYLOAD_ATTITUDE = slice(13, 17)
PAYLOAD_RATES = slice(17, 20)

LATERAL = (1, 4, 6, 8, 10, 12, 14, 16, 17, 19)
"""Slots that stay zero in flight in the x-z plane."""


def state_vector(
    *, position: FloatArray, attitude: FloatArray, velocity: FloatArray, rates: FloatArray | None = None
) -> FloatArray:
    """State from its parts.

    Parameters
    ----------
    position : ndarray, shape (3,)
        North, east, down. [m]
    attitude : ndarray, shape (4,)
        Quaternion, body to earth.
    velocity : ndarray, shape (3,)
        Over the ground, body axes. [m/s]
    rates : ndarray, shape (3,), optional
        Roll, pitch, yaw; at rest if left out. [rad/s]

    Returns
    -------
    ndarray, shape (13,)
        In the slots of this module.
    """
    return np.concatenate([position, attitude, velocity, np.zeros(3) if rates is None else rates])
