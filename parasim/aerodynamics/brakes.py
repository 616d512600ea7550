"""From brake pull to the shape of the trailing edge.

The brake line bends the rear of the section into a circular arc of fixed length; the trailing edge goes down
and forward until the line has given up the pull. The deflection of the trailing edge is the whole arc's
angle, twice that of the plain flap that turns the flow as much.
"""

from dataclasses import dataclass
from math import radians

import numpy as np

from parasim.geometry.airfoil import trailing_edge_advance, trailing_edge_drop
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import brake_tab_angles
from parasim.geometry.surface import Strips
from parasim.rotations import FloatArray

LARGEST_SLOPE = radians(110)
"""Trailing edges bent further fold instead. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BrakeShape:
    """Trailing-edge deflection against pull, and which strips a brake bends.

    Attributes
    ----------
    pull, deflection : ndarray, shape (n,)
        Rising from zero. [m], [rad]
    left, right : ndarray, shape (n_strips,)
        Part of the pull that reaches the trailing edge of each strip, from the brake of that side. [-]
    travel, free_play : float
        Full pull, and the part of it that only takes up slack, before the zero mark. [m]
    """

    pull: FloatArray
    deflection: FloatArray
    left: FloatArray
    right: FloatArray
    travel: float
    free_play: float

    @property
    def reachable(self) -> float:
        """Longest pull from the zero mark that the bend can take up. [m]"""
        return float(self.pull[-1])

    def slope_at(self, fraction: FloatArray | float, share: FloatArray | float = 1.0) -> FloatArray:
        """Trailing-edge deflection at a fraction of full travel, where a share of the pull arrives. [rad]"""
        from_zero_mark = np.maximum(np.asarray(fraction) * self.travel - self.free_play, 0.0)
        return np.interp(from_zero_mark * share, self.pull, self.deflection)

    def strip_deflections(self, left: FloatArray, right: FloatArray) -> FloatArray:
        """Slope of every strip.

        Parameters
        ----------
        left, right : ndarray, shape (n_brakes,)
            Fractions of full travel. [-]

        Returns
        -------
        ndarray, shape (n_brakes, n_strips)
            [rad]
        """
        left, right = np.asarray(left)[:, None], np.asarray(right)[:, None]
        return self.slope_at(left, self.left[None]) + self.slope_at(right, self.right[None])


def pull_of_slope(
    deflection: FloatArray, *, chord: float, trailing_edge: FloatArray, outward: FloatArray
) -> FloatArray:
    """Line that a bend gives up: how much nearer the trailing edge comes to the riser end.

    Parameters
    ----------
    deflection : ndarray, shape (n,)
        Of the trailing edge, down. [rad]
    chord : float
        At the brake tab. [m]
    trailing_edge : ndarray, shape (3,)
        Of the undeflected section, from the riser end. [m]
    outward : ndarray, shape (3,)
        Unit normal of the chord surface there, upwards.

    Returns
    -------
    ndarray, shape (n,)
        [m]
    """
    forward = np.array([1.0, 0.0, 0.0])
    moved = (
        trailing_edge
        + chord * np.asarray(trailing_edge_advance(deflection))[:, None] * forward
        - chord * np.asarray(trailing_edge_drop(deflection))[:, None] * outward
    )
    return float(np.linalg.norm(trailing_edge)) - np.linalg.norm(moved, axis=-1)


def pull_shares(
    canopy: Canopy, strips: Strips, *, span_fraction: float, shares: tuple[float, ...]
) -> FloatArray:
    """Part of the right brake's pull that reaches the trailing edge of each strip.

    Parameters
    ----------
    canopy, strips
        Whose trailing edge, and how it is cut up.
    span_fraction : float
        Outer part of each half span that is braked. [-]
    shares : tuple of float
        Of each branch of the fan, inner to outer; between branches the cloth shares linearly, and inside the
        braked span it keeps the share of the nearest branch. [-]

    Returns
    -------
    ndarray, shape (n_strips,)
        A strip that is braked in part gets that part. [-]
    """
    inner = canopy.half_arc * (1 - span_fraction)
    low, high = strips.edge_angle[:-1], strips.edge_angle[1:]
    braked = np.clip((high - np.maximum(low, inner)) / (high - low), 0, 1)
    return braked * np.interp(strips.arc_angle, brake_tab_angles(canopy, span_fraction, len(shares)), shares)


def build_brake_shape(
    canopy: Canopy,
    strips: Strips,
    *,
    span_fraction: float,
    shares: tuple[float, ...],
    travel: float,
    free_play: float,
    riser_end: FloatArray,
) -> BrakeShape:
    """Brake shape of a canopy, its kinematics taken at the middle of the braked span.

    Parameters
    ----------
    canopy, strips
        Whose trailing edge, and how it is cut up.
    span_fraction : float
        Outer part of each half span that is braked. [-]
    shares : tuple of float
        Of the pull, for each branch of the fan, inner to outer. [-]
    travel, free_play : float
        Full pull, and the part of it that only takes up slack. [m]
    riser_end : ndarray, shape (3,)
        Of the right side. [m]
    """
    middle = np.array(canopy.half_arc * (1 - span_fraction / 2))
    deflection = np.linspace(0, LARGEST_SLOPE, 111)
    pull = pull_of_slope(
        deflection,
        chord=float(canopy.chord_at(middle)),
        trailing_edge=canopy.point(middle, np.array(1.0), np.array(0.0)) - riser_end,
        outward=canopy.outward(middle),
    )
    rising = int(np.argmax(np.append(np.diff(pull) <= 0, True)))
    right = pull_shares(canopy, strips, span_fraction=span_fraction, shares=shares)
    return BrakeShape(
        pull=pull[: rising + 1],
        deflection=deflection[: rising + 1],
        left=right[::-1],
        right=right,
        travel=travel,
        free_play=free_play,
    )
