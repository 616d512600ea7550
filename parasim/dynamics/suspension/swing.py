"""Where a payload hangs below the canopy, by its relative pitch and by the pull on it."""

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from parasim.rotations import FloatArray

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

PATH_PIECES = 128
"""Pieces of the cubic path that the compiled motion follows."""

HANGING_STEP = 0.01
"""Pitch between which the lowest place of a payload on hooks is looked for. [rad]"""

NEWTON_STEPS = 16


@dataclass(frozen=True, kw_only=True, eq=False)
class Swing:
    """How the payload's centre of mass moves as it pitches against the canopy.

    Attributes
    ----------
    center : ndarray, shape (3,)
        The payload's centre of mass from the point it hangs by, payload axes. [m]
    pitch : ndarray, shape (n,), or None
        Relative pitches for which the place of that point is known, evenly spaced, nose-up positive; None
        where it is the confluence whatever the pitch. [rad]
    place : ndarray, shape (n, 2), or None
        Its x and z in canopy axes. [m]
    """

    center: FloatArray
    pitch: FloatArray | None = None
    place: FloatArray | None = None

    @cached_property
    def _path(self) -> "CubicSpline":
        from scipy.interpolate import CubicSpline

        assert self.pitch is not None
        assert self.place is not None
        knots = np.linspace(self.pitch[0], self.pitch[-1], PATH_PIECES + 1)
        return CubicSpline(knots, CubicSpline(self.pitch, self.place)(knots))

    @cached_property
    def pieces(self) -> tuple[float, float, FloatArray]:
        """Start and step of the path and its cubics, shape (`PATH_PIECES`, 2, 4); step 0 for none. [rad]"""
        if self.pitch is None:
            return 0.0, 0.0, np.zeros((PATH_PIECES, 2, 4))
        start, step = float(self.pitch[0]), float(np.ptp(self.pitch)) / PATH_PIECES
        cubics = self._path.c[::-1]  # by rising power, piece, coordinate
        return start, step, (cubics * step ** np.arange(4.0)[:, None, None]).transpose(1, 2, 0)

    def hook(self, pitch: FloatArray, derivative: int = 0) -> FloatArray:
        """Place, or its derivative, of the point that the payload hangs by: x and z, shape (..., 2). [m]"""
        if self.pitch is None:
            return np.zeros((*np.shape(pitch), 2))
        held = np.clip(pitch, self.pitch[0], self.pitch[-1])
        beyond = (pitch - held)[..., None]
        if derivative:
            found = self._path(held, derivative)
            return found if derivative == 1 else np.where(beyond == 0.0, found, 0.0)
        return np.asarray(self._path(held) + beyond * self._path(held, 1))

    def arm(self, pitch: FloatArray, derivative: int = 0) -> FloatArray:
        """Place, or its derivative, of the centre of mass: x and z in canopy axes, shape (..., 2). [m]"""
        turn = pitch + derivative * np.pi / 2
        x, z = self.center[0], self.center[2]
        turned = np.stack([np.cos(turn) * x + np.sin(turn) * z, np.cos(turn) * z - np.sin(turn) * x], axis=-1)
        return self.hook(pitch, derivative) + turned

    def hanging(self, pull: FloatArray) -> FloatArray:
        """Relative pitch at which a pull on the centre of mass finds it at rest: as far along it as it gets.

        Parameters
        ----------
        pull : ndarray, shape (..., 2)
            Along x and z of the canopy. [N]

        Returns
        -------
        ndarray, shape (...)
            [rad]
        """
        pull = np.asarray(pull, dtype=np.float64)
        towards = np.arctan2(pull[..., 0], pull[..., 1])
        if self.pitch is None:
            return np.asarray(towards - np.arctan2(self.center[0], self.center[2]))
        tried = np.arange(self.pitch[0], self.pitch[-1], HANGING_STEP)
        best = tried[np.argmax(np.einsum("...i,ti->...t", pull, self.arm(tried)), axis=-1)]
        low, high = best - HANGING_STEP, best + HANGING_STEP
        for _ in range(NEWTON_STEPS):
            slope = (pull * self.arm(best, 1)).sum(axis=-1)
            bend = (pull * self.arm(best, 2)).sum(axis=-1)
            low, high = np.where(slope > 0, best, low), np.where(slope > 0, high, best)
            step = best - slope / np.where(bend < 0, bend, -np.inf)
            best = np.where((step > low) & (step < high) & (bend < 0), step, (low + high) / 2)
        return np.asarray(best)
