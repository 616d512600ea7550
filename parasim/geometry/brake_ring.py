"""Rings that the brake lines run through on their way from the trailing edge to the servos.

A ring is sewn to a riser. The trunk comes down to it from the knot of its branches, bends there, and goes on
to where its servo's guide is. The knot draws straight away from the ring whatever the pull, so the bend is
taken as it is at the zero mark.
"""

from dataclasses import dataclass

import numpy as np

from parasim.config.design import Design
from parasim.geometry.canopy import Canopy
from parasim.geometry.risers import hook_middle, hooks, nominal_pitch, pitch_matrix
from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BrakeRings:
    """Both rings in the nominal pose, body axes.

    Attributes
    ----------
    place : ndarray, shape (2, 3)
        Left and right. [m]
    guide : ndarray, shape (2, 3)
        Where the lines go on to. [m]
    """

    place: FloatArray
    guide: FloatArray

    @property
    def onward(self) -> float:
        """Line from a ring to its guide. [m]"""
        return float(np.linalg.norm(self.guide[1] - self.place[1]))

    def bend(self, knot: FloatArray) -> float:
        """Angle by which the right line turns at its ring.

        Parameters
        ----------
        knot : ndarray, shape (3,)
            Upper end of the right trunk. [m]

        Returns
        -------
        float
            Zero for a line that runs on straight, pi for one that turns back. [rad]
        """
        into, out = self.place[1] - knot, self.guide[1] - self.place[1]
        return float(np.arctan2(np.linalg.norm(np.cross(into, out)), into @ out))


def build_brake_rings(design: Design, canopy: Canopy) -> BrakeRings | None:
    """Rings of a design; None where its brake lines run straight to the riser ends."""
    ring = design.brakes.ring
    if ring is None:
        return None
    riser = design.ring_riser
    hook = hooks(design)[2 * riser : 2 * riser + 2]
    below = np.array([0.0, 0.0, ring.below - design.riser_lengths[riser]])
    forward, outward, down = ring.guide
    led = np.array([[forward, side * outward, down] for side in (-1, 1)])
    middle, turn = hook_middle(design, canopy), pitch_matrix(nominal_pitch(design, canopy)).T
    return BrakeRings(place=middle + (hook + below) @ turn, guide=middle + (hook + led) @ turn)


def brake_onward(design: Design) -> float:
    """Brake line of a side from its zero mark to the servo: down the riser, or on from the ring. [m]"""
    ring, riser = design.brakes.ring, design.riser_lengths[design.ring_riser]
    return riser if ring is None else ring.onward(riser)
