"""Inertia that changes with air density, quick to invert."""

from dataclasses import dataclass

import numpy as np

from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inertia:
    """Two symmetric matrices made diagonal together, so that any mix of them is quick to invert.

    Attributes
    ----------
    modes : ndarray, shape (6, 6)
        Columns X with X' A X = 1 and X' B X = diag(ratio).
    ratio : ndarray, shape (6,)
        Of B to A in each mode.
    """

    modes: FloatArray
    ratio: FloatArray

    def solve(self, wrench: FloatArray, density: float) -> FloatArray:
        """Acceleration x of (A + density B) x = wrench, shape (6,)."""
        acceleration: FloatArray = self.modes @ ((wrench @ self.modes) / (1 + density * self.ratio))
        return acceleration


def build_inertia(solid: FloatArray, per_density: FloatArray) -> Inertia:
    """Of a positive definite A and a symmetric B, shape (6, 6)."""
    half = np.linalg.inv(np.linalg.cholesky(solid))
    ratio, vectors = np.linalg.eigh(half @ per_density @ half.T)
    return Inertia(modes=half.T @ vectors, ratio=ratio)
