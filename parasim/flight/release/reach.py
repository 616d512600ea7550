"""How far it can land from the point under the release, and what is measured of the wind it does so in."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import atan2, hypot, pi

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.wind import Wind, from_direction
from parasim.flight.glide import GLIDE_FACTORS
from parasim.flight.release.descent import Descent, descent
from parasim.flight.uncertainty import Band, Bands, flying_bands
from parasim.rotations import FloatArray

BEARINGS = np.radians(np.arange(0.0, 360.0, 5.0))
"""Of the outline of the reach, from where the wind blows from. [rad]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reach:
    """How far it can land gliding straight, brakes released, from the point under the release.

    Attributes
    ----------
    center : ndarray, shape (2,)
        North and east of the outline's middle: where the wind alone carries it. [m]
    bearing : ndarray, shape (n,)
        Of the outline's points from there. [rad]
    low, middle, high : ndarray, shape (n,)
        Their distance from there, and its band. [m]
    bands : Bands
        Of glide_ratio [-], time [s], up, down and across: furthest into the wind, with it and to either side
        of where it drifts. [m]
    """

    center: FloatArray
    bearing: FloatArray
    low: FloatArray
    middle: FloatArray
    high: FloatArray
    bands: Bands

    def band(self, name: str) -> Band:
        """The one of that name."""
        return self.bands.figures[name]

    def outline(self, end: str) -> FloatArray:
        """North and east of "low", "middle" or "high", shape (2, n). [m]"""
        radius: FloatArray = getattr(self, end)
        return self.center[:, None] + radius * np.array([np.cos(self.bearing), np.sin(self.bearing)])

    def beyond(self, place: FloatArray, end: str) -> float:
        """How far a place, north and east, lies outside an outline; inside below zero. [m]"""
        north, east = place - self.center
        edge = np.interp(atan2(east, north), self.bearing, getattr(self, end), period=2 * pi)
        return hypot(north, east) - float(edge)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredAt:
    """A wind by what is measured of it at one height.

    Attributes
    ----------
    law : Wind
        How it goes by height; in a calm, how another one would.
    height : float
        Where it is measured: the law's reference height, 10 m of a table. [m]
    speed, law_speed : float
        There; of the law: the same but in a calm. [m/s]
    comes_from : float
        Direction there; in a calm the heading of the drop. [rad]
    """

    law: Wind
    height: float
    speed: float
    law_speed: float
    comes_from: float

    def share(self, height: float) -> float:
        """Wind at another height over that where it is measured. [m] to [-]"""
        return hypot(*self.law.velocity(height)) / self.law_speed

    @property
    def upwind(self) -> FloatArray:
        """Unit vector to where it comes from: north and east."""
        return np.array([np.cos(self.comes_from), np.sin(self.comes_from)])


def measured_at(vehicle: Vehicle) -> MeasuredAt:
    """Wind of a vehicle; a table that is calm where it is measured goes by its strongest height."""
    wind, height = vehicle.wind, vehicle.wind.reference_height
    if wind.table and not wind.speed:
        height = max(wind.table, key=lambda row: hypot(*row[1:]))[0]
    velocity = wind.velocity(height)
    speed = hypot(*velocity)
    if not speed:
        heading = vehicle.design.drop.heading
        law = Wind(speed=1.0, from_direction=heading)
        return MeasuredAt(
            law=law, height=law.reference_height, speed=0.0, law_speed=1.0, comes_from=heading % (2 * pi)
        )
    return MeasuredAt(
        law=wind, height=height, speed=speed, law_speed=speed, comes_from=from_direction(velocity)
    )


def reach_figures(glide: Descent, upwind: FloatArray) -> dict[str, float]:
    """Figures of the reach in SI, as in `Reach`."""
    place, time = glide.landings(atan2(upwind[1], upwind[0]) + BEARINGS)
    along, across = upwind @ place, np.array([-upwind[1], upwind[0]]) @ place
    return {
        "up": float(along.max()),
        "down": -float(along.min()),
        "across": float(np.ptp(across)) / 2,
        "time": float(time.mean()),
    }


def reach_of(vehicle: Vehicle, glide: Descent) -> Reach:
    """Reach of a vehicle with its band, from its own straight glides."""
    wind = measured_at(vehicle)
    upwind, bearings = wind.upwind, wind.comes_from + BEARINGS
    center = glide.landings(bearings)[0].mean(axis=1)
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    ends = {"touch": float(glide.heights[0]), "height": float(glide.heights[-1])}

    def figures(moved: Vehicle) -> Mapping[str, float]:
        own = descent(moved, **ends)
        north, east = own.landings(bearings)[0] - center[:, None]
        edge = np.interp(bearings, np.arctan2(east, north), np.hypot(north, east), period=2 * pi)
        edges = {f"edge_{i}": float(one) for i, one in enumerate(edge)}
        return {"glide_ratio": float(1 / np.tan(own.angle[0])), **reach_figures(own, upwind), **edges}

    found = flying_bands(vehicle, ranges, figures)
    edges = [found.figures[f"edge_{i}"] for i in range(len(bearings))]
    named = {name: band for name, band in found.figures.items() if not name.startswith("edge_")}
    return Reach(
        center=center,
        bearing=bearings,
        low=np.array([band.low for band in edges]),
        middle=np.array([band.value for band in edges]),
        high=np.array([band.high for band in edges]),
        bands=replace(found, figures=named),
    )


def farthest(place: FloatArray) -> float:
    """Distance of the farthest of some landings, north and east, from the point under the release. [m]"""
    return float(np.hypot(*place).max())


def clear_ground(
    vehicle: Vehicle, *, touch: float, height: float, winds: Sequence[float]
) -> tuple[Band, ...]:
    """Radius of the ground to keep clear: `farthest` of straight glides, brakes released, in each wind.

    Parameters
    ----------
    vehicle : Vehicle
        Of its own wind the law by height and the direction count.
    touch, height : float
        Of the confluence above ground, at touchdown and release. [m]
    winds : sequence of float
        Where the wind is measured. [m/s]
    """
    wind = measured_at(vehicle)
    headings = wind.comes_from + BEARINGS
    laws = [wind.law.scaled(speed / wind.law_speed) for speed in winds]

    def figures(moved: Vehicle) -> Mapping[str, float]:
        own = descent(moved, touch=touch, height=height)
        return {f"{i}": farthest(own.in_wind(law).landings(headings)[0]) for i, law in enumerate(laws)}

    found = flying_bands(vehicle, build_ranges(vehicle.design, GLIDE_FACTORS), figures)
    return tuple(found.figures[f"{i}"] for i in range(len(laws)))
