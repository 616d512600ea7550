"""Release point and reach in many winds and from many heights at once, to look up where nothing is computed.

What `parasim.flight.release.release` finds for one wind and one height, over a grid of both. Turns, ranges of
the calibration and the trims of every canopy in them are worked out once: none of them hangs on the wind.
Directions are by the wind's own: another wind turns all of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil, hypot

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import check_wind_reaches
from parasim.errors import DesignError, Mistake
from parasim.flight.drop import unopened, unopened_drift
from parasim.flight.glide import GLIDE_FACTORS
from parasim.flight.landing import wind_limit
from parasim.flight.release.descent import Descent, descent, layers
from parasim.flight.release.plan import LONGEST_CIRCLE, Plan, build_plan, limit_factor
from parasim.flight.release.reach import BEARINGS, MeasuredAt, farthest, measured_at
from parasim.flight.release.release import (
    choose_or_refuse,
    left_turns,
    rate_bands,
    site_gust,
    touch_height,
)
from parasim.flight.turn.steady import SteadyTurn
from parasim.flight.uncertainty import Band, Bands, flying_bands
from parasim.rotations import FloatArray

HEIGHT_STEP, MOST_STEPS = 10.0, 20
"""Between heights of the grid, or so many times as much as keeps their number. [m]"""

WIND_STEP = 1.0
"""Between its winds. [m/s]"""

BEYOND = 1.5
"""Strongest wind of the grid over the greatest limit. [-] Our choice."""

AT_A_CHANGE = 1e-3
"""How near to a height where the circle's brake changes there is a row on either side. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class InWindAtHeight:
    """What to look up for one wind and one height.

    Attributes
    ----------
    upwind, right : float
        Of the target, to let go: into the wind as it is measured, and to the right of that. [m]
    box : float
        How far off that it may be; below zero it may not come home at all. [m]
    limit : float
        Wind up to which that is advised, at its measuring height, the gust of this wind on top. [m/s]
    radius : Band
        Farthest that it can land from the point under the release, gliding straight. [m]
    time : Band
        Aloft, gliding straight. [s]
    plan_time : float
        Aloft, flying the plan. [s]
    drift_per_circle : float
        [m]
    unopened_energy, unopened_drift : float
        If it never opens. [J], [m]
    """

    upwind: float
    right: float
    box: float
    limit: float
    radius: Band
    time: Band
    plan_time: float
    drift_per_circle: float
    unopened_energy: float
    unopened_drift: float


@dataclass(frozen=True, kw_only=True, eq=False)
class LookUp:
    """A grid of release points.

    Attributes
    ----------
    vehicle : Vehicle
        What is let go; its own wind gives the law by height, not speed or direction.
    heights : ndarray, shape (n,)
        Of the release, gliding, rising. The circle's brake changes between two that lie `AT_A_CHANGE` about
        such a change. [m]
    winds : ndarray, shape (m,)
        At the measuring height, rising from a calm. [m/s]
    least_height : float
        Below it there is no plan. [m]
    gusts : ndarray, shape (m,)
        Kept in hand in each wind. [m/s]
    circles : tuple of SteadyTurn
        Of the hold, by height.
    leasts : tuple of float
        Heights that one such circle and the final take. [m]
    spiral : Band
        Brake before it spirals. [-]
    cells : tuple of tuple of InWindAtHeight
        By height, then by wind.
    bands : Bands
        All of them.
    """

    vehicle: Vehicle
    heights: FloatArray
    winds: FloatArray
    least_height: float
    gusts: FloatArray
    circles: tuple[SteadyTurn, ...]
    leasts: tuple[float, ...]
    spiral: Band
    cells: tuple[tuple[InWindAtHeight, ...], ...]
    bands: Bands

    @property
    def wind(self) -> MeasuredAt:
        """Law of the wind, and where it is measured."""
        return measured_at(self.vehicle)


def look_up(
    vehicle: Vehicle, *, highest: float, gust: float | None = None, brake: float | None = None
) -> LookUp:
    """Release points from the least height to the highest, from a calm to beyond the wind's limit.

    Parameters
    ----------
    vehicle : Vehicle
        What is let go.
    highest : float
        Height of the confluence above ground. [m]
    gust, brake : float, optional
        As for `release`. [m/s], [-]

    Raises
    ------
    DesignError
        If the highest is too low for one circle and the final.
    OptionError
        If it does not turn under that brake.
    TrimError
        If there is no steady glide.
    """
    check_wind_reaches(vehicle.wind, highest, site=vehicle.design.site)
    return _Grid(vehicle=vehicle, highest=highest, gust=gust, brake=brake).filled()


@dataclass(frozen=True, kw_only=True, eq=False)
class _Grid:
    vehicle: Vehicle
    highest: float
    gust: float | None
    brake: float | None

    @cached_property
    def wind(self) -> MeasuredAt:
        return measured_at(self.vehicle)

    @cached_property
    def touch(self) -> float:
        return touch_height(self.vehicle, self.highest)

    @cached_property
    def glide(self) -> Descent:
        return descent(self.vehicle, touch=self.touch, height=self.highest)

    @cached_property
    def turns(self) -> tuple[SteadyTurn, ...]:
        return left_turns(self.vehicle, self.brake)

    @cached_property
    def low_glide(self) -> float:
        ranges = build_ranges(self.vehicle.design, GLIDE_FACTORS)
        return flying_bands(self.vehicle, ranges, self._glide_ratio).figures["glide_ratio"].low

    def _glide_ratio(self, moved: Vehicle) -> Mapping[str, float]:
        own = descent(moved, touch=self.touch, height=self.highest)
        return {"glide_ratio": float(1 / np.tan(own.angle[0]))}

    def in_unit_wind(self, glide: Descent, height: float) -> Descent:
        """The lower part of a glide, in a wind of 1 m/s where it is measured."""
        heights = layers(self.touch, height)

        def there(values: FloatArray) -> FloatArray:
            return np.interp(heights, glide.heights, values)

        return Descent(
            heights=heights,
            airspeed=there(glide.airspeed),
            angle=there(glide.angle),
            wind=self.wind.law.profile(heights) / self.wind.law_speed,
        )

    def plan(self, glide: Descent, circle: SteadyTurn, *, time_share: float = 0.0, gust: float = 0.0) -> Plan:
        return build_plan(
            glide, circle, low_glide=self.low_glide, time_share=time_share, gust=gust,
            calm_heading=self.wind.comes_from,
        )  # fmt: skip

    def circle_at(self, height: float) -> SteadyTurn:
        glide = self.in_unit_wind(self.glide, height)
        return choose_or_refuse(self.vehicle, self.turns, self.brake, self.plan(glide, self.turns[0]))

    def least_of(self, circle: SteadyTurn) -> float:
        """Height of one circle and the final. [m]"""
        return self.plan(self.glide, circle).least_height + self.touch

    def least_height(self) -> float:
        """Of one circle and the final, by the circle that loses least. [m]"""
        least = self.least_of(self.circle_at(self.touch + 1e-3))
        if least > self.highest:
            raise DesignError(
                Mistake(
                    key="drop.height",
                    given=f"{self.highest:g} m at the highest",
                    problem="too low for one circle and the final",
                    hint=f"make the card for up to {least + 0.5:.0f} m or higher (--highest)",
                )
            )
        return least

    def heights(self, least: float) -> FloatArray:
        """Even steps, the ends, and rows on either side of each change of the circle's brake. [m]"""
        step = HEIGHT_STEP * ceil((self.highest - least) / (HEIGHT_STEP * MOST_STEPS))
        even = np.arange(step * ceil(least / step), self.highest, step)
        found = np.unique([least, *even.tolist(), self.highest])
        lowest = self.touch + self.plan(self.glide, self.turns[0]).final_height
        turning = (each for each in self.turns if each.rate < 0 and each.turn_time <= LONGEST_CIRCLE)
        for change in (lowest + 2 * each.height_per_turn for each in turning):
            beside = change - AT_A_CHANGE, change + AT_A_CHANGE
            if least < beside[0] and beside[1] < self.highest:
                one, other = map(self.circle_at, beside)
                found = np.append(found, beside if one.brake != other.brake else ())
        return np.unique(found)

    def filled(self) -> LookUp:
        least = self.least_height()
        heights = self.heights(least)
        circles = tuple(self.circle_at(float(height)) for height in heights)
        glides = [self.in_unit_wind(self.glide, float(height)) for height in heights]
        winds = self.winds(glides, circles)
        gusts = np.array([self.gust_in(float(wind)) for wind in winds])
        bands = self.bands(heights, winds)
        cells = tuple(
            tuple(
                self.cell(glide, circle, float(wind), float(gust), float(height), bands, f"{i}_{j}")
                for j, (wind, gust) in enumerate(zip(winds, gusts, strict=True))
            )
            for i, (glide, circle, height) in enumerate(zip(glides, circles, heights, strict=True))
        )
        return LookUp(
            vehicle=self.vehicle, heights=heights, winds=winds, least_height=least, gusts=gusts,
            circles=circles, leasts=tuple(map(self.least_of, circles)),
            spiral=rate_bands(self.vehicle, circles[0].brake).figures["reach"],
            cells=cells, bands=bands,
        )  # fmt: skip

    def winds(self, glides: list[Descent], circles: tuple[SteadyTurn, ...]) -> FloatArray:
        """From a calm to beyond the greatest limit. [m/s]"""
        greatest = max(limit_factor(self.plan(*pair)) for pair in zip(glides, circles, strict=True))
        most = min(greatest, 2 * wind_limit(float(self.glide.forward_speed[0])))
        return np.arange(0.0, BEYOND * most + WIND_STEP, WIND_STEP)

    def gust_in(self, speed: float) -> float:
        """Kept in hand in a wind, where it is measured. [m/s]"""
        if self.gust is not None:
            return self.gust
        law = self.wind.law.scaled(speed / self.wind.law_speed)
        return site_gust(in_wind(self.vehicle, law))

    def bands(self, heights: FloatArray, winds: FloatArray) -> Bands:
        """Of time and radius, in every wind and from every height."""
        parts = [self.in_unit_wind(self.glide, float(height)) for height in heights]
        headings = self.wind.comes_from + BEARINGS

        def figures(moved: Vehicle) -> Mapping[str, float]:
            own = descent(moved, touch=self.touch, height=self.highest)
            found = {}
            for i, part in enumerate(parts):
                lower = replace(
                    part,
                    airspeed=np.interp(part.heights, own.heights, own.airspeed),
                    angle=np.interp(part.heights, own.heights, own.angle),
                )
                for j, wind in enumerate(winds.tolist()):
                    place, time = replace(lower, wind=wind * part.wind).landings(headings)
                    found[f"time_{i}_{j}"] = float(time.mean())
                    found[f"radius_{i}_{j}"] = farthest(place)
            return found

        return flying_bands(self.vehicle, build_ranges(self.vehicle.design, GLIDE_FACTORS), figures)

    def cell(
        self,
        glide: Descent,
        circle: SteadyTurn,
        wind: float,
        gust: float,
        height: float,
        bands: Bands,
        place: str,
    ) -> InWindAtHeight:
        time, upwind = bands.figures[f"time_{place}"], self.wind.upwind
        blown = replace(glide, wind=wind * glide.wind)
        share = (time.high - time.low) / (2 * time.value)
        plan = self.plan(blown, circle, time_share=share, gust=gust)
        vehicle = in_wind(self.vehicle, self.wind.law.scaled(wind / self.wind.law_speed))
        return InWindAtHeight(
            upwind=float(plan.release @ upwind),
            right=float(plan.release @ np.array([-upwind[1], upwind[0]])),
            box=plan.box,
            limit=limit_factor(self.plan(glide, circle, gust=gust)),
            radius=bands.figures[f"radius_{place}"],
            time=time,
            plan_time=plan.time_at(plan.descent.height),
            drift_per_circle=plan.drift_per_circle,
            unopened_energy=unopened(vehicle, height).energy,
            unopened_drift=hypot(*unopened_drift(vehicle, height)),
        )
