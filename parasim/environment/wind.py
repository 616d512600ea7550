"""Mean wind over height above the ground."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, sin
from typing import TYPE_CHECKING

import numpy as np

from parasim.rotations import FloatArray

if TYPE_CHECKING:
    from parasim.config.weather import SiteSpec

LOWEST_SHEAR_HEIGHT = 0.5
"""Height above the ground below which the wind no longer falls off. [m] Common practice, no source."""

TURN_DEPTH = 100.0
"""Height above the reference height over which the wind turns. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wind:
    """Steady horizontal wind: a power law in speed and a veer with height.

    Parameters
    ----------
    speed : float
        Wind speed at the reference height. [m/s]
    from_direction : float
        Compass direction the wind blows from at the reference height: 0 from north, pi/2 from east. [rad]
    reference_height : float
        Height above the ground at which speed and direction are given. [m]
    exponent : float
        Power of the height ratio; 1/7 over open flat ground, 0 for the same wind at every height. [-]
    turn : float
        Clockwise change of the direction the wind blows from, between the reference height and 100 m above
        it. [rad]

    Notes
    -----
    The speed is V_ref (h / h_ref)^p. A power law has an infinite slope at the ground, so below 0.5 m the
    wind stays what it is at 0.5 m: velocity is continuous, its gradient jumps there and is zero below. The
    direction turns in proportion to height between h_ref and h_ref + 100 m and is constant below and above.
    The 1/7 power law is an engineering rule for the lowest 100 m or so in neutral air over flat ground
    (common practice, no source); in a valley, by a wood or on a convective day the wind can be anything else.
    """

    speed: float
    from_direction: float
    reference_height: float = 10.0
    exponent: float = 1.0 / 7.0
    turn: float = 0.0

    @classmethod
    def calm(cls) -> Wind:
        """No wind at any height."""
        return cls(speed=0.0, from_direction=0.0)

    def velocity(self, height: float) -> tuple[float, float]:
        """Velocity of the air over the ground.

        Parameters
        ----------
        height : float
            Height above the ground. [m]

        Returns
        -------
        north, east : float
            A wind from the west (270°) has north 0 and east positive. [m/s]
        """
        V = self._speed(height)
        direction = self._direction(height)
        return -V * cos(direction), -V * sin(direction)

    def gradient(self, height: float) -> tuple[float, float]:
        """Change of the velocity with height.

        Parameters
        ----------
        height : float
            Height above the ground. [m]

        Returns
        -------
        north, east : float
            At a kink (0.5 m, start and end of the turn) the value just above it. [1/s]
        """
        h = height
        V = self._speed(h)
        direction = self._direction(h)
        V_h = self.exponent * V / h if h >= LOWEST_SHEAR_HEIGHT else 0.0
        turning = self.reference_height <= h < self.reference_height + TURN_DEPTH
        direction_h = self.turn / TURN_DEPTH if turning else 0.0
        c, s = cos(direction), sin(direction)
        return -V_h * c + V * direction_h * s, -V_h * s - V * direction_h * c

    def profile(self, heights: FloatArray) -> FloatArray:
        """Velocity of the air at many heights.

        Parameters
        ----------
        heights : ndarray, shape (n,)
            Heights above the ground. [m]

        Returns
        -------
        ndarray, shape (2, n)
            North and east component. [m/s]
        """
        return np.array([self.velocity(float(h)) for h in heights]).reshape(-1, 2).T

    def _speed(self, height: float) -> float:
        h = height if height > LOWEST_SHEAR_HEIGHT else LOWEST_SHEAR_HEIGHT
        return self.speed * float((h / self.reference_height) ** self.exponent)

    def _direction(self, height: float) -> float:
        share = (height - self.reference_height) / TURN_DEPTH
        return self.from_direction + self.turn * min(max(share, 0.0), 1.0)


def build_wind(site: SiteSpec) -> Wind:
    """Wind over a site.

    Parameters
    ----------
    site : SiteSpec
        Of it: ``wind``; without one the air is calm.

    Returns
    -------
    Wind
    """
    spec = site.wind
    if spec is None:
        return Wind.calm()
    return Wind(
        speed=spec.speed,
        from_direction=spec.from_direction,
        reference_height=spec.reference_height,
        exponent=spec.exponent,
        turn=spec.turn,
    )
