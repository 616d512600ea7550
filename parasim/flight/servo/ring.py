"""Friction where a brake line runs through a ring: more to pull in, less to bring it back out."""

from dataclasses import dataclass
from math import exp

import numpy as np

from parasim.caveats import Caveat
from parasim.dynamics.vehicle import Vehicle
from parasim.rotations import FloatArray

STAYS_ON = 0.1
"""Part of the travel, beyond the free play, that a line may stay in without a word. Our choice. [-]"""


def capstan_ratio(friction: float, bend: float) -> float:
    """Tension that draws a line over a bend, over the tension that holds it back.

    Parameters
    ----------
    friction : float
        Coefficient of friction of line on ring. [-]
    bend : float
        Angle by which the line turns. [rad]

    Returns
    -------
    float
        exp(friction x bend), one or more; its inverse for a line that is let out. [-]

    Notes
    -----
    By Euler and Eytelwein: a limp line about to slip, dT = friction T d(angle), whatever the ring's radius.
    The line's stiffness is left out. Source: [DenHartog1948]

    Examples
    --------
    >>> round(capstan_ratio(0.3, 3.141592653589793), 3)
    2.566
    """
    return exp(friction * bend)


@dataclass(frozen=True, kw_only=True, eq=False)
class RingFriction:
    """What a ring does to the force in a brake line.

    Attributes
    ----------
    bend : float
        Angle by which the line turns. [rad]
    friction : tuple of float
        Low and high coefficient. [-]
    drag : float
        Force that it takes to draw the slack line back through ring and guides. [N]
    """

    bend: float
    friction: tuple[float, float]
    drag: float

    @property
    def middle(self) -> float:
        """Coefficient taken: the middle of its range. [-]"""
        return sum(self.friction) / 2

    @property
    def pulling_in(self) -> tuple[float, float, float]:
        """Force at the servo over that in the canopy's line, as it pulls: taken, low, high. [-]"""
        low, high = self.friction
        return tuple(capstan_ratio(each, self.bend) for each in (self.middle, low, high))  # type: ignore[return-value]

    @property
    def letting_out(self) -> tuple[float, float, float]:
        """The same as it lets line out: taken, low, high. [-]"""
        value, low, high = self.pulling_in
        return 1 / value, 1 / high, 1 / low


def ring_friction(vehicle: Vehicle) -> RingFriction | None:
    """Of a vehicle's brake lines, both alike; None without rings."""
    spec, bend = vehicle.design.brakes.ring, vehicle.line_set.brake_bend
    if spec is None or bend is None:
        return None
    return RingFriction(bend=bend, friction=spec.friction, drag=spec.drag)


def left_in(pull: FloatArray, returning: FloatArray, drag: float) -> float:
    """Pull at which a line that is let out from full travel stops coming back. [m]

    Parameters
    ----------
    pull : ndarray, shape (n,)
        Rising. [m]
    returning : ndarray, shape (n,)
        Force behind the ring with which the canopy draws the line out. [N]
    drag : float
        Force that it takes. [N]

    Returns
    -------
    float
        The largest pull at which the force falls short; the whole of it if it does at full travel.
    """
    fine = np.linspace(pull[0], pull[-1], 20 * len(pull))
    short = np.flatnonzero(np.interp(fine, pull, returning) < drag)
    return float(fine[short[-1]]) if len(short) else 0.0


def ring_caveats(stays: float, *, free_play: float, travel: float, drag: float) -> list[Caveat]:
    """A warning where the canopy may not bring the line back; lengths [m], drag [N]."""
    if stays >= travel * (1 - 1e-9):
        return [
            Caveat(
                "Past its ring the canopy may not draw the brake line back out at all, against {drag}: the "
                "brake stays on.",
                "fails",
                "brakes",
                drag=(drag, "small_force"),
            )
        ]
    if stays - free_play <= STAYS_ON * travel:
        return []
    return [
        Caveat(
            "Past its ring the canopy may draw the brake line back out only as far as {stays} of pull, "
            "against {drag}: some brake stays on. More free play, a smaller bend or a smoother ring helps.",
            "fails",
            "brakes",
            stays=(stays, "small_length"),
            drag=(drag, "small_force"),
        )
    ]
