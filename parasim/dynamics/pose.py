"""Where the parts of a vehicle are at a moment of a flight: points of its design moved by a state."""

import numpy as np

from parasim.dynamics.rigid_body import point_of_body
from parasim.dynamics.state import ATTITUDE, PAYLOAD_ATTITUDE, POSITION, RATES
from parasim.dynamics.suspension.payload_joint import point_of_payload
from parasim.dynamics.suspension.swing import Swing
from parasim.rotations import FloatArray, rotation_matrix


def canopy_points(state: FloatArray, points: FloatArray) -> FloatArray:
    """Points of canopy and lines, shape (..., 3), from body axes to north, east, down. [m]

    Parameters
    ----------
    state : ndarray, shape (n_states,)
        In the slots of `parasim.dynamics.state`.
    points : ndarray, shape (..., 3)
        From the confluence, body axes. [m]
    """
    return state[POSITION] + points @ rotation_matrix(state[ATTITUDE]).T


def payload_points(state: FloatArray, points: FloatArray, swing: Swing) -> FloatArray:
    """Points of the payload, shape (..., 3), from payload axes to north, east, down. [m]

    Parameters
    ----------
    state : ndarray, shape (n_states,)
        As for `canopy_points`; of a payload held stiffly it has the canopy's attitude alone.
    points : ndarray, shape (..., 3)
        From the point that it hangs by, payload axes. [m]
    swing : Swing
        Where it hangs.
    """
    still = np.zeros(3)
    if len(state) <= PAYLOAD_ATTITUDE.start:
        attitude = state[ATTITUDE]
        foot, _ = point_of_body(state, still, attitude, state[RATES])
    else:
        attitude = state[PAYLOAD_ATTITUDE]
        foot, _ = point_of_payload(state, still, swing)
    return foot + points @ rotation_matrix(attitude).T
