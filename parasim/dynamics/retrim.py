"""The steady glide of a vehicle that differs a little from a known one, as a compiled function."""

from math import cos, sin, sqrt

import numpy as np

from parasim.compiled import compiled, inlined
from parasim.dynamics.flight_rates import Flight, flight_rates
from parasim.rotations import FloatArray

ACCELERATIONS = np.array([7, 9, 11, 18])
"""Slots of the state whose rates vanish in a steady glide: forward, down, pitch; the payload's pitch."""

SETTLED, MOST_STEPS, DIVERGED = 1e-8, 200, 1e3
"""Acceleration that counts as none; steps to get there; acceleration to give up at. [m/s², rad/s²]"""


@inlined
def write_glide(glide: FloatArray, height: float, y: FloatArray) -> None:
    """Write the state of a straight glide northwards in still air.

    Parameters
    ----------
    glide : ndarray, shape (3,) or (4,)
        Forward and downward velocity in body axes, pitch, and pitch of a payload that swings. [m/s], [rad]
    height : float
        Of the confluence above ground. [m]
    y : ndarray, shape (n_states + 2,)
        Where to.
    """
    for i in range(len(y)):
        y[i] = 0.0
    y[2] = -height
    y[3], y[5] = cos(glide[2] / 2), sin(glide[2] / 2)
    y[7], y[9] = glide[0], glide[1]
    if len(glide) == 4:
        y[13], y[15] = cos(glide[3] / 2), sin(glide[3] / 2)


@compiled
def retrim(
    calm: Flight,
    height: float,
    inverse: FloatArray,
    glide: FloatArray,
    y: FloatArray,
    out: FloatArray,
) -> bool:
    """Find a steady glide near a known one, by Newton's method with the known one's slopes.

    Parameters
    ----------
    calm : Flight
        Without wind and gusts.
    height : float
        Of the confluence above ground. [m]
    inverse : ndarray, shape (k, k)
        Of the slopes of the accelerations, as `settling_slopes` has them.
    glide : ndarray, shape (k,)
        The known glide, as for `write_glide`; holds the one found afterwards.
    y, out : ndarray, shape (n_states + 2,)
        Workspace for a state and its rate.

    Returns
    -------
    bool
        Whether it was found.
    """
    no_moves = inverse[:0]
    for _ in range(MOST_STEPS):
        write_glide(glide, height, y)
        flight_rates(calm, no_moves, 0, 0.0, y, out)
        total = 0.0
        for i in range(len(glide)):
            total += out[ACCELERATIONS[i]] ** 2
        if sqrt(total) < SETTLED:
            return True
        if not sqrt(total) < DIVERGED:
            return False
        for i in range(len(glide)):
            for j in range(len(glide)):
                glide[i] -= inverse[i, j] * out[ACCELERATIONS[j]]
    return False


def settling_slopes(calm: Flight, height: float, glide: FloatArray, n_states: int) -> FloatArray:
    """Slopes of the accelerations by the unknowns of a glide, shape (k, k), by central differences."""
    y, out = np.empty(n_states + 2), np.empty(n_states + 2)

    def accelerations(at: FloatArray) -> FloatArray:
        write_glide(at, height, y)
        flight_rates(calm, np.empty((0, 4)), 0, 0.0, y, out)
        return out[ACCELERATIONS[: len(glide)]].copy()

    steps = 1e-5 * np.eye(len(glide))
    return np.array([(accelerations(glide + h) - accelerations(glide - h)) / 2e-5 for h in steps]).T
