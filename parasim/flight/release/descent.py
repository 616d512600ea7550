"""A straight steady glide down through air whose density and wind change with height.

Air that moves otherwise at every height acts on what sinks through it as if gravity leaned: gliding against a
wind that falls off on the way down, the air under the canopy gains on it by sink times shear, and the glide
is steeper by that over gravity. The same holds for the airspeed that denser air takes away. So the glide on a
heading is

    angle = angle in still air + sink (wind's rise along the other way - airspeed's rise) / g,

rises by height, and the way over the ground is what it flies through the air and what the air moves in the
meantime. In the same wind at every height that is a circle of glide ratio times height, moved by the drift.
"""

from dataclasses import dataclass, replace

import numpy as np

from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.flight.trim import Trim, find_trims
from parasim.rotations import FloatArray

KNOTS = 5
"""Heights at which the steady glide is looked for; in between, its airspeed goes by the air's density."""

LAYERS = 120
"""Layers of even height, and as many that grow with height: most shear is near the ground."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Descent:
    """Steady glide and wind over height, from touchdown to release.

    Attributes
    ----------
    heights : ndarray, shape (n,)
        Of the confluence above ground, rising: the first as the payload touches down. [m]
    airspeed, angle : ndarray, shape (n,)
        Of the glide with the brakes released, and of its path below the horizon, in still air. [m/s], [rad]
    wind : ndarray, shape (2, n)
        Velocity of the air, north and east. [m/s]
    """

    heights: FloatArray
    airspeed: FloatArray
    angle: FloatArray
    wind: FloatArray

    @property
    def sink(self) -> FloatArray:
        """In still air, shape (n,). [m/s]"""
        return self.airspeed * np.sin(self.angle)

    @property
    def forward_speed(self) -> FloatArray:
        """In still air, shape (n,). [m/s]"""
        return self.airspeed * np.cos(self.angle)

    @property
    def above(self) -> FloatArray:
        """Heights above touchdown, shape (n,). [m]"""
        return self.heights - self.heights[0]

    @property
    def height(self) -> float:
        """Lost from release to touchdown. [m]"""
        return float(self.heights[-1] - self.heights[0])

    def in_wind(self, wind: Wind) -> "Descent":
        """The same glide in another wind."""
        return replace(self, wind=wind.profile(self.heights))

    def landings(self, headings: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where straight glides come down, and when.

        Parameters
        ----------
        headings : ndarray, shape (m,)
            Compass headings kept all the way. [rad]

        Returns
        -------
        place : ndarray, shape (2, m)
            North and east of the point under the release. [m]
        time : ndarray, shape (m,)
            Aloft. [s]

        Notes
        -----
        As the module has it, in layers, with the sink of still air. To first order in the change of angle:
        so what a thin layer of strong shear does is the same wherever the canopy has settled to it.
        """
        ahead = np.array([np.cos(headings), np.sin(headings)])
        thick = np.diff(self.heights)[:, None]
        rise = np.diff(self.wind.T @ ahead + self.airspeed[:, None], axis=0) / thick
        V, gamma, sink = (_middle(part)[:, None] for part in (self.airspeed, self.angle, self.sink))
        steeper = -sink * rise / GRAVITY
        time = thick / (V * np.sin(gamma)) * (1 - steeper / np.tan(gamma))
        through_air = thick * (1 / np.tan(gamma) - steeper / np.sin(gamma) ** 2)
        return ahead * through_air.sum(axis=0) + _middle(self.wind) @ time, time.sum(axis=0)

    def remaining(self, sink: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Drift and time left until touchdown, from every height.

        Parameters
        ----------
        sink : ndarray, shape (n,)
            At every height. [m/s]

        Returns
        -------
        drift : ndarray, shape (2, n)
            North and east. [m]
        time : ndarray, shape (n,)
            [s]
        """
        spent = np.diff(self.heights) * _middle(1 / sink)
        moved = _middle(self.wind) * spent
        drift = np.concatenate([np.zeros((2, 1)), np.cumsum(moved, axis=1)], axis=1)
        return drift, np.concatenate([[0.0], np.cumsum(spent)])


def _middle(values: FloatArray) -> FloatArray:
    """Means of neighbours along the last axis."""
    return 0.5 * (values[..., 1:] + values[..., :-1])


def layers(touch: float, height: float) -> FloatArray:
    """Heights from touchdown to release between which wind and density hardly change. [m]"""
    lowest = max(touch, 1e-3 * height)
    grown = np.geomspace(lowest, height, LAYERS)
    return np.unique(np.concatenate([[touch], grown[:-1], np.linspace(touch, height, LAYERS)]))


def descent(vehicle: Vehicle, *, touch: float, height: float) -> Descent:
    """Glide of a vehicle with the brakes released, in its own wind.

    Parameters
    ----------
    vehicle : Vehicle
        What glides.
    touch, height : float
        Of the confluence above ground, at touchdown and release. [m]

    Raises
    ------
    TrimError
        If it has no stable steady glide at one of the heights.
    """
    knots, heights = np.linspace(touch, height, KNOTS), layers(touch, height)
    trims = [find_trims(vehicle, height=float(knot), modes=False).chosen for knot in knots]

    def over_height(values: list[float]) -> FloatArray:
        return np.interp(heights, knots, values)

    density = vehicle.atmosphere.density(vehicle.ground_height + heights)
    return Descent(
        heights=heights,
        airspeed=over_height([_at_unit_density(trim) for trim in trims]) / np.sqrt(density),
        angle=over_height([trim.glide_angle for trim in trims]),
        wind=vehicle.wind.profile(heights),
    )


def _at_unit_density(trim: Trim) -> float:
    """Airspeed times the root of the density: what stays when the air thins. [m/s (kg/m³)^½]"""
    return float(trim.airspeed * np.sqrt(trim.air_density))
