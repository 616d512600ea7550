"""What a maker can expect on every rung of the test ladder, from a kite on the ground to a drop."""

from dataclasses import dataclass
from math import hypot

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.caveats import Caveat
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.errors import ConvergenceError
from parasim.flight.arrival import Touchdown
from parasim.flight.drop import Drop, Release, drop, unopened
from parasim.flight.glide import GLIDE_FACTORS, brake_polar
from parasim.flight.landing import flying_figures, wind_limit
from parasim.flight.opening.opening import Opening, opening
from parasim.flight.release.release import PlanLimits, plan_limits_or_none
from parasim.flight.trim import Trim, find_trims
from parasim.flight.uncertainty import Bands, flying_bands
from parasim.mass.inventory import payload_bottom

HEIGHTS = (5.0, 20.0, 100.0)
"""Of the payload's lower face above ground, on the rungs that drop it. [m] Our choice, no source."""

RECOVERED = 1.1
"""Sink over that of the steady glide at which a dive counts as ended. [-] Our choice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Descents:
    """Drops from one height, the canopy full but hanging still, brakes released.

    Attributes
    ----------
    height : float
        Of the payload's lower face above ground. [m]
    still, windy : Drop or None
        In still air, and facing the site's wind; None without a wind, or where the motion could not be
        followed.
    wind : float
        Site's wind, mean over the height. [m/s]
    unopened : Touchdown
        The same with the canopy trailing unopened, from rest.
    """

    height: float
    still: Drop | None
    windy: Drop | None
    wind: float
    unopened: Touchdown


@dataclass(frozen=True, kw_only=True, eq=False)
class BuildFlight:
    """What the build sheet needs from flight.

    Attributes
    ----------
    vehicle : Vehicle
        What flies.
    trim : Trim
        Brakes released glide at the ground.
    bands : Bands
        Of the figures of `parasim glide` and `parasim landing` that carry one, brakes released in still air.
    half_brake : Trim or None
        With both brakes at half their travel; None where there is no steady glide.
    descents : tuple of Descents
        From each of `HEIGHTS`.
    opening : Opening
        Packed, from the height of the design's drop: that of `parasim opening`.
    plan : PlanLimits or None
        Of the release from the height in the design; None where no plan is made.
    """

    vehicle: Vehicle
    trim: Trim
    bands: Bands
    half_brake: Trim | None
    descents: tuple[Descents, ...]
    opening: Opening
    plan: PlanLimits | None

    @property
    def wind_limit(self) -> float:
        """Wind up to which a release point is advised, or what `parasim.flight.landing` has. [m/s]"""
        return wind_limit(self.trim.forward_speed) if self.plan is None else self.plan.wind

    @property
    def wind_height(self) -> float | None:
        """Where that is measured; None for the height it flies in. [m]"""
        return None if self.plan is None else self.plan.wind_height

    @property
    def site_wind(self) -> float | None:
        """At the wind's reference height; None without a wind. [m/s]"""
        return self.vehicle.wind.speed or None

    @property
    def dive(self) -> float | None:
        """Height lost from rest in still air until the dive ends; None if that is not known. [m]"""
        found = self.descents[-1].still
        if found is None or found.touchdown is None:
            return None
        sink, height = found.track.sink, found.track.height
        steepest = int(np.argmax(sink))
        over = np.flatnonzero(sink[steepest:] <= RECOVERED * self.trim.sink)
        return float(height[0] - height[steepest + over[0]]) if len(over) else None

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self.vehicle.caveats, *self.bands.caveats("steady glide"), *self.opening.caveats]
        found += self.opening.shortfall(HEIGHTS[-1])
        for i, descents in enumerate(self.descents):
            # Lines that go slack on the lowest rung do so on all of them.
            if descents.still and (i == 0 or descents.still.touchdown):
                found += descents.still.caveats
            if descents.still is None:
                found.append(
                    Caveat(
                        "The drop from {height} in still air could not be followed; no figures.",
                        height=(descents.height, "length", 0),
                    )
                )
        words = "Released from rest a canopy begins stalled: time, place and speed of those drops are rough."
        found.append(Caveat(words))
        return tuple(dict.fromkeys(found))


def build_flight(vehicle: Vehicle) -> BuildFlight:
    """Figures of the test ladder.

    Raises
    ------
    TrimError
        If there is no stable steady glide with the brakes released.
    DesignError
        If the pack does not fall behind the payload.
    """
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    return BuildFlight(
        vehicle=vehicle,
        trim=find_trims(vehicle, modes=False).chosen,
        bands=flying_bands(vehicle, ranges, flying_figures),
        half_brake=brake_polar(vehicle, np.array([0.5]))[0].trim,
        descents=tuple(_descents(vehicle, height) for height in HEIGHTS),
        opening=opening(vehicle, speeds=np.zeros(0)),
        plan=plan_limits_or_none(vehicle),
    )


def _descents(vehicle: Vehicle, height: float) -> Descents:
    wind = vehicle.wind
    calm = in_wind(vehicle, Wind.calm())
    heights = np.linspace(0.0, height, 41)
    north, east = np.asarray(wind.profile(heights)).mean(axis=1)
    return Descents(
        height=height,
        still=_from_rest(calm, height, 0.0),
        windy=_from_rest(vehicle, height, wind.from_direction) if wind.speed else None,
        wind=hypot(north, east),
        unopened=unopened(calm, height),
    )


def _from_rest(vehicle: Vehicle, height: float, heading: float) -> Drop | None:
    release = Release(
        height=height + float(payload_bottom(vehicle.design)[2]),
        start="rest",
        heading=heading,
        velocity=np.zeros(3),
        brakes=(),
    )
    try:
        return drop(vehicle, release)
    except ConvergenceError:
        return None
