"""Where the parts of a vehicle are at a moment of a flight: points of its design moved by a state."""

from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hung:
    """Where both bodies are.

    Attributes
    ----------
    confluence, foot : ndarray, shape (3,)
        Where body axes and payload axes begin: north, east, down. [m]
    attitude, payload_attitude : ndarray, shape (4,)
        Quaternions, body and payload to earth.
    """

    confluence: FloatArray
    foot: FloatArray
    attitude: FloatArray
    payload_attitude: FloatArray


def hung(state: FloatArray, swing: Swing) -> Hung:
    """Where canopy and payload are in a state.

    Parameters
    ----------
    state : ndarray, shape (n_states,)
        In the slots of `parasim.dynamics.state`; where a payload is held stiffly, the canopy's alone.
    swing : Swing
        Where the payload hangs.
    """
    still = np.zeros(3)
    stiff = len(state) <= PAYLOAD_ATTITUDE.start
    attitude = state[ATTITUDE if stiff else PAYLOAD_ATTITUDE]
    foot, _ = (
        point_of_body(state, still, attitude, state[RATES])
        if stiff
        else point_of_payload(state, still, swing)
    )
    return Hung(confluence=state[POSITION], foot=foot, attitude=state[ATTITUDE], payload_attitude=attitude)


def payload_points(state: FloatArray, points: FloatArray, swing: Swing) -> FloatArray:
    """Points of the payload, shape (..., 3), from payload axes to north, east, down. [m]

    Parameters
    ----------
    state, swing
        As for `hung`.
    points : ndarray, shape (..., 3)
        From the point that it hangs by, payload axes. [m]
    """
    found = hung(state, swing)
    return found.foot + points @ rotation_matrix(found.payload_attitude).T
