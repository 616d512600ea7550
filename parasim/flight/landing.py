"""The landing: what arrives at the ground in every wind, flared or not, against limits and yardsticks."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Literal

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.scenario import LandingSpec
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.flight.arrival import Touchdown, Verdict, limits_lacking, mean_load, peak_load, verdicts
from parasim.flight.drop import unopened
from parasim.flight.flare.flare import Aim, Flare, flare
from parasim.flight.glide import GLIDE_FACTORS, headline_figures
from parasim.flight.release.reach import measured_at
from parasim.flight.trim import Trim, find_trims
from parasim.flight.uncertainty import Bands, flying_bands
from parasim.rotations import FloatArray
from parasim.units import FOOT, POUND, POUND_FORCE

Course = Literal["into", "across", "with"]

COURSES: tuple[Course, ...] = ("into", "across", "with")
"""How the canopy faces: into the wind, across it (and drifts), or with it behind."""

WINDS = np.arange(0.0, 8.5, 1.0)
"""Winds at `GROUND`. [m/s]"""

GROUND = 1.0
"""Height above ground of the wind in which it lands, that at the canopy then. [m] As of the unopened fall."""

FORWARD_RESERVE = 0.2
"""Part of the forward speed to keep in hand against the wind. [-] Our choice, no source."""

FOOT_POUND = FOOT * POUND_FORCE
"""[J]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Yardstick:
    """Something known to compare with; never a permission.

    Attributes
    ----------
    name : str
        In few words, for a label.
    quantity : {"energy", "sink"}
        What it measures.
    value : float
        [J] or [m/s]
    words : str
        What it is, and where it comes from.
    """

    name: str
    quantity: str
    value: float
    words: str


YARDSTICKS = (
    Yardstick(
        name="11 ft lbf",
        quantity="energy",
        value=11 * FOOT_POUND,
        words=Caveat(
            "lower impact energy in the FAA's rules for small drones over people, 14 CFR 107.110 and "
            "107.120; about {mass} at {speed} (from memory, unverified; not a rule for parafoils)",
            mass=(POUND, "mass", 2),
            speed=(26 * FOOT, "speed", 0),
        ),
    ),
    Yardstick(
        name="25 ft lbf",
        quantity="energy",
        value=25 * FOOT_POUND,
        words=Caveat(
            "higher impact energy of the same rules; about {mass} at {speed} (from memory, unverified; not a "
            "rule for parafoils)",
            mass=(POUND, "mass", 2),
            speed=(40 * FOOT, "speed", 0),
        ),
    ),
    Yardstick(
        name="parachutist",
        quantity="sink",
        value=5.5,
        words=Caveat(
            "a person under a round parachute lands at {low} to {high} down (common practice, no source)",
            low=(5.0, "speed", 0),
            high=(6.0, "speed", 0),
        ),
    ),
)
"""What an arrival is compared with."""


def glide_speed(*, weight: float, area: float, air_density: float, resultant_coefficient: float) -> float:
    """Airspeed of a steady glide along its path.

    Parameters
    ----------
    weight : float
        Of all that flies. [N]
    area : float
        Reference of the coefficient. [m²]
    air_density : float
        [kg/m³]
    resultant_coefficient : float
        Of lift and drag together. [-]

    Returns
    -------
    float
        [m/s]

    Notes
    -----
    Lift and drag together carry the weight: W = ½ ρ V² S C_R.

    Examples
    --------
    >>> round(glide_speed(weight=11.768, area=0.55, air_density=1.225, resultant_coefficient=0.5), 1)
    8.4
    """
    return sqrt(2 * weight / (air_density * area * resultant_coefficient))


def forward_and_sink(airspeed: float, glide_ratio: float) -> tuple[float, float]:
    """Horizontal and vertical part of an airspeed along a path of this glide ratio. [m/s]

    Examples
    --------
    >>> [round(part, 1) for part in forward_and_sink(8.36, 2.5)]
    [7.8, 3.1]
    """
    sink = airspeed / hypot(1.0, glide_ratio)
    return glide_ratio * sink, sink


def terminal_speed(*, weight: float, drag_area: float, air_density: float) -> float:
    """Speed of a straight fall in which drag carries the weight. [m/s]

    Examples
    --------
    >>> round(terminal_speed(weight=11.768, drag_area=0.05, air_density=1.225), 1)
    19.6
    """
    return sqrt(2 * weight / (air_density * drag_area))


def arrive(*, forward_speed: float, sink: float, mass: float, wind: float, course: Course) -> Touchdown:
    """Arrival of a canopy that flies through a steady wind, the same at every height it matters.

    Parameters
    ----------
    forward_speed, sink : float
        Through the air. [m/s]
    mass : float
        Of all that arrives. [kg]
    wind : float
        At the canopy. [m/s]
    course : {"into", "across", "with"}
        How the canopy faces; across the wind it drifts sideways.

    Examples
    --------
    >>> landing = arrive(forward_speed=7.8, sink=3.1, mass=1.2, wind=4.0, course="into")
    >>> round(landing.ground_speed, 1)
    3.8
    """
    over_ground = {
        "into": abs(forward_speed - wind),
        "across": hypot(forward_speed, wind),
        "with": forward_speed + wind,
    }[course]
    return Touchdown(ground_speed=over_ground, sink=sink, mass=mass)


def wind_limit(forward_speed: float, reserve: float = FORWARD_RESERVE) -> float:
    """Wind against which a canopy still makes headway, part of its forward speed kept in hand. [m/s]

    Examples
    --------
    >>> wind_limit(8.0)
    6.4
    """
    return (1 - reserve) * forward_speed


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One way to arrive.

    Attributes
    ----------
    way : {"brakes released", "flared", "unopened"}
        How it comes down.
    wind : float
        At the canopy. [m/s]
    course : {"into", "across", "with"}
        How the canopy faces; an unopened one goes with the wind.
    touchdown : Touchdown
        Over the ground.
    backwards : bool
        Whether the wind carries it tail first.
    mean_load, peak_load : float
        Over the stop distance, of the sink. [weights]
    obstacle_load : float
        Peak if an obstacle stops the whole speed over that distance. [weights]
    verdicts : tuple of Verdict
        Of sink, ground speed, energy and peak load.
    """

    way: str
    wind: float
    course: Course
    touchdown: Touchdown
    backwards: bool
    mean_load: float
    peak_load: float
    obstacle_load: float
    verdicts: tuple[Verdict, ...]

    def verdict(self, name: str) -> Verdict:
        """The one of that name."""
        return next(verdict for verdict in self.verdicts if verdict.name == name)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Landing(Answer):
    """Answer to `parasim landing`.

    Attributes
    ----------
    vehicle : Vehicle
        What lands.
    trim : Trim
        The glide with the brakes released at the ground.
    flare : Flare or None
        The best flare, unless it was left out.
    winds : ndarray, shape (n,)
        At `GROUND`. [m/s]
    arrivals : tuple of Arrival
        For each way, course and wind.
    unopened : tuple of Arrival
        For each wind, from the design's release height.
    bands : Bands
        Of sink, ground_speed [m/s] and energy [J], brakes released in still air.
    """

    REPORT = "parasim.report.landing:LandingReport"

    vehicle: Vehicle
    trim: Trim
    flare: Flare | None
    winds: FloatArray
    arrivals: tuple[Arrival, ...]
    unopened: tuple[Arrival, ...]
    bands: Bands

    @property
    def limits(self) -> LandingSpec:
        """What the payload can take."""
        return self.vehicle.design.landing

    @property
    def ways(self) -> tuple[str, ...]:
        """Ways under an open canopy."""
        return tuple(dict.fromkeys(arrival.way for arrival in self.arrivals))

    def series(self, way: str, course: Course) -> tuple[Arrival, ...]:
        """Arrivals over rising wind."""
        return tuple(a for a in self.arrivals if a.way == way and a.course == course)

    def still(self, way: str) -> Arrival:
        """Arrival in the minimum wind of all, still air if that was asked for."""
        return self.unopened[0] if way == "unopened" else self.series(way, "into")[0]

    def in_wind(self, way: str, wind: float) -> tuple[Arrival, ...]:
        """Arrivals of one of `ways` in any wind, one for each of `COURSES`. [m/s]"""
        sink, mass = self.still(way).touchdown.sink, self.vehicle.mass
        still = Touchdown(ground_speed=self.forward_speed(way), sink=sink, mass=mass)
        return tuple(judged(way, still, wind, course, self.limits) for course in COURSES)

    @property
    def share_of_measured(self) -> float:
        """Of the wind at the site's measuring height, how much there is at `GROUND`. [-]"""
        return measured_at(self.vehicle).share(GROUND)

    @property
    def still_wind(self) -> float:
        """Wind below which the canopy still makes headway, nothing kept in hand: its forward speed. [m/s]"""
        return self.trim.forward_speed

    @property
    def wind_limit(self) -> float:
        """The same with `FORWARD_RESERVE` in hand. [m/s]"""
        return wind_limit(self.trim.forward_speed)

    def way_limit(self, way: str) -> float:
        """The same for the forward speed in still air of one of `ways`: a flare leaves less. [m/s]"""
        return wind_limit(self.forward_speed(way))

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = list(self.flare.caveats if self.flare else self.vehicle.caveats)
        found.append(
            Caveat(
                "Loads rest on the stop distance alone: a triangular pulse, peak twice the mean; no source."
            )
        )
        found += self.bands.caveats("steady glide to land out of")
        found += limits_lacking(self.vehicle.design)
        found += [
            Caveat(
                f"Brakes released in still air the {limited.name.replace('_', ' ')} keeps within its limit, "
                "but the upper end of its band does not.",
                "fails",
            )
            for limited in self.still("brakes released").verdicts
            if self._band_crosses(limited)
        ]
        if float(self.winds[-1]) > self.wind_limit:
            found.append(
                Caveat(
                    "Winds over {wind} at the canopy leave too little way against the wind "
                    f"({100 * FORWARD_RESERVE:.0f} % of the forward speed kept in hand).",
                    "fails",
                    wind=(self.wind_limit, "wind_speed"),
                )
            )
        found += [
            Caveat(
                f"Facing a wind of more than {{wind}} at the canopy it lands going backwards, {way}.",
                "fails",
                wind=(self.forward_speed(way), "wind_speed"),
            )
            for way in self.ways
            if any(arrival.backwards for arrival in self.series(way, "into"))
        ]
        return tuple(found)

    def forward_speed(self, way: str) -> float:
        """Of an arrival through the air. [m/s]"""
        first = self.series(way, "into")[0]
        ahead = first.touchdown.ground_speed
        return first.wind + (-ahead if first.backwards else ahead)

    def _band_crosses(self, verdict: Verdict) -> bool:
        """Whether a figure in still air is within its limit, but its band is not."""
        band = self.bands.figures.get(verdict.name)
        return band is not None and verdict.limit is not None and band.value <= verdict.limit < band.high


def landing(
    vehicle: Vehicle, *, winds: FloatArray = WINDS, flared: bool = True, aim: Aim = "both"
) -> Landing:
    """Every landing of a vehicle out of its steady glide.

    Parameters
    ----------
    vehicle : Vehicle
        What lands; its own wind plays no part.
    winds : ndarray, shape (n,)
        Rising, at `GROUND`. [m/s]
    flared : bool
        Whether to look for the best flare as well.
    aim : {"sink", "energy", "both"}
        What that flare minimises.

    Raises
    ------
    TrimError
        If it has no stable steady glide with the brakes released.
    ConvergenceError
        If the flare could not be followed.
    """
    trim = find_trims(vehicle, modes=False).chosen
    best = flare(vehicle, aim=aim) if flared else None
    flown = {"brakes released": Touchdown(ground_speed=trim.forward_speed, sink=trim.sink, mass=vehicle.mass)}
    if best is not None:
        flown["flared"] = best.touchdown
    limits = vehicle.design.landing
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    fall = unopened(in_wind(vehicle, Wind.calm()), vehicle.design.drop.height)
    return Landing(
        vehicle=vehicle,
        trim=trim,
        flare=best,
        winds=winds,
        arrivals=tuple(
            judged(way, still, float(wind), course, limits)
            for way, still in flown.items()
            for course in COURSES
            for wind in winds
        ),
        unopened=tuple(judged("unopened", fall, float(wind), "with", limits) for wind in winds),
        bands=flying_bands(vehicle, ranges, landing_figures),
    )


def landing_figures(vehicle: Vehicle) -> Mapping[str, float]:
    """Figures of the landing with the brakes released in still air that carry a band, SI."""
    trim = find_trims(vehicle, modes=False).chosen
    return _landing_out_of(trim.sink, trim.forward_speed, trim.airspeed, mass=vehicle.mass)


def flying_figures(vehicle: Vehicle) -> Mapping[str, float]:
    """Those of `headline_figures` and of `landing_figures`, from one search for trims."""
    found = headline_figures(vehicle)
    speeds = (found[name] for name in ("sink", "forward_speed", "airspeed"))
    return {**found, **_landing_out_of(*speeds, mass=vehicle.mass)}


def _landing_out_of(
    sink: float, forward_speed: float, airspeed: float, *, mass: float
) -> Mapping[str, float]:
    return {"sink": sink, "ground_speed": forward_speed, "energy": 0.5 * mass * airspeed**2}


def judged(way: str, still: Touchdown, wind: float, course: Course, limits: LandingSpec) -> Arrival:
    """Arrival in a wind of what would arrive so in still air, against limits."""
    touchdown = arrive(
        forward_speed=still.ground_speed, sink=still.sink, mass=still.mass, wind=wind, course=course
    )
    stop = limits.stop_distance
    return Arrival(
        way=way,
        wind=wind,
        course=course,
        touchdown=touchdown,
        backwards=course == "into" and wind > still.ground_speed,
        mean_load=mean_load(touchdown.sink, stop),
        peak_load=peak_load(touchdown.sink, stop),
        obstacle_load=peak_load(touchdown.speed, stop),
        verdicts=verdicts(touchdown, limits),
    )
