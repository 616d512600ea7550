"""Inertia that changes with air density, quick to invert."""

import numpy as np

from parasim.rotations import FloatArray


def inertia_modes(solid: FloatArray, per_density: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Make two matrices diagonal together, so that any mix of them is quick to invert.

    Parameters
    ----------
    solid, per_density : ndarray, shape (..., 6, 6)
        A, positive definite, and B, symmetric.

    Returns
    -------
    modes : ndarray, shape (..., 6, 6)
        Columns X with X' A X = 1 and X' B X = diag(ratio): (A + density B) x = wrench is solved by
        x = X ((X' wrench) / (1 + density ratio)).
    ratio : ndarray, shape (..., 6)
        Of B to A in each mode.
    """
    half = np.linalg.inv(np.linalg.cholesky(solid))
    half_transposed = np.swapaxes(half, -1, -2)
    ratio, vectors = np.linalg.eigh(half @ per_density @ half_transposed)
    return half_transposed @ vectors, ratio
