"""Opening from a packed state: snatch, opening load, height lost, and what lines and tabs make of it."""

from dataclasses import dataclass
from functools import cached_property
from math import degrees, hypot

import numpy as np

from parasim.aerodynamics.strips import Flow
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.opening import BAG_DRAG, OpeningSpec
from parasim.dynamics.inflation import (
    LineStretch,
    Motion,
    Opener,
    Reefing,
    fall,
    fill,
    joined,
    nominal_diameter,
    release_velocity,
    snatch_force,
    stretch,
)
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.errors import DesignError, Mistake
from parasim.flight.drop import CAUTIONS as DROP_CAUTIONS
from parasim.flight.drop import STREAMER_DRAG
from parasim.flight.opening.settling import Settling, height_shortfall, settle
from parasim.flight.opening.strength import Check, checks, doubts, line_stiffness, weak_parts, weakest
from parasim.flight.trim import Trim, find_trims
from parasim.rotations import FloatArray

RELEASE_SPEEDS = np.array([0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0])
"""Of the table. [m/s]"""

DELAYS = {"bag": 1.0, "loose": 0.5, "static line": 0.0}
"""Fall until the pack opens, by kind of pack. Common practice, no source. [s]"""

PACK_DRAG = {"bag": BAG_DRAG, "loose": STREAMER_DRAG, "static line": BAG_DRAG}
"""Drag area of the pack with its pilot chute, or of the loose canopy, over flat area. Our choice. [-]"""

SLIDER_FACTOR = 2.5
"""Filling distance with a slider over that without. Common practice, no source. [-]"""

BROADSIDE = np.radians([90.0])
"""A canopy fills square to the flow; its drag there is the model's flat-plate law. [rad]"""

CAUTIONS = (
    "Opening loads are estimates from canopies of other kinds and sizes.",
    "Prove this one with dead weight, from a height that forgives, away from people.",
    "A canopy can open late, in part or not at all: plan the area below for the unopened fall.",
    *DROP_CAUTIONS[1:],
)
"""Said wherever opening loads are shown."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """One opening, from release to the full canopy.

    Attributes
    ----------
    opener : Opener
        What opened.
    release_speed : float
        [m/s]
    falling : Motion
        Packed, from release until the pack opens.
    stretched : LineStretch
        Time counted from the opening of the pack.
    filling : Motion
        From line stretch to full; time counted from release.
    snatch : tuple of float
        Peak tension of all lines at line stretch: likely, with the softest and the stiffest line. [N]
    opening_factor : float
        Handbook's peak over steady drag at constant speed. [-]
    """

    opener: Opener
    release_speed: float
    falling: Motion
    stretched: LineStretch
    filling: Motion
    snatch: tuple[float, float, float]
    opening_factor: float

    @cached_property
    def peak(self) -> float:
        """Highest force between canopy and payload while it fills. [N]"""
        return float(self.filling.force.max())

    @property
    def peak_time(self) -> float:
        """After release. [s]"""
        return float(self.filling.time[int(self.filling.force.argmax())])

    @property
    def bound(self) -> float:
        """Upper bound, for a payload that does not slow down: F = q CDS C_X. [N]

        Taken at the highest speed while it fills. Source: [Knacke1992], from memory, unverified.
        """
        return self.steady_drag * self.opening_factor

    @property
    def model_bound(self) -> float:
        """The same with the factor that follows from the air set moving in this model. [N]"""
        return self.steady_drag * self.opener.constant_speed_factor

    @property
    def steady_drag(self) -> float:
        """Of the full canopy at the highest speed while it fills. [N]"""
        speed = float(self.filling.speed.max())
        return 0.5 * self.opener.air_density * speed**2 * self.opener.open_drag_area

    @property
    def load_factor(self) -> float:
        """Peak over the payload's weight. [-]"""
        return self.peak / (self.opener.payload_mass * GRAVITY)

    @property
    def stretch_speed(self) -> float:
        """Of both bodies, once the lines are straight. [m/s]"""
        return hypot(*self.stretched.pair)

    @property
    def filling_time(self) -> float:
        """Line stretch to full. [s]"""
        return float(self.filling.time[-1] - self.filling.time[0])

    @property
    def height_to_stretch(self) -> float:
        """Lost from release until the lines are straight. [m]"""
        return float(self.filling.down[0])

    @property
    def height_to_full(self) -> float:
        """Lost from release until the canopy is full. [m]"""
        return float(self.filling.down[-1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AtSpeed:
    """Openings at one release speed.

    Attributes
    ----------
    designed, quick, slow : Case
        As designed; with the filling constant at the low and the high end of its range.
    other : Case
        With a slider if the design has neither slider nor reefing, else without.
    """

    designed: Case
    quick: Case
    slow: Case
    other: Case

    @property
    def plain(self) -> Case:
        """Without slider or reefing."""
        return self.other if _is_held(self.designed, self.other) else self.designed

    @property
    def held(self) -> Case:
        """With them."""
        return self.designed if _is_held(self.designed, self.other) else self.other

    @property
    def peak_band(self) -> tuple[float, float]:
        """Lowest and highest peak over the range of the filling constant. [N]"""
        peaks = [case.peak for case in (self.designed, self.quick, self.slow)]
        return min(peaks), max(peaks)

    @property
    def worst_peak(self) -> float:
        """[N]"""
        return self.peak_band[1]

    @property
    def height_band(self) -> tuple[float, float]:
        """Smallest and largest height lost until full over that range. [m]"""
        heights = [case.height_to_full for case in (self.designed, self.quick, self.slow)]
        return min(heights), max(heights)


def _is_held(designed: Case, other: Case) -> bool:
    one, two = designed.opener, other.opener
    return one.reefing is not None or (two.reefing is None and one.filling_distance > two.filling_distance)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Opening(Answer):
    """Answer to `parasim opening`.

    Attributes
    ----------
    vehicle : Vehicle
        What opens, in still air.
    spec : OpeningSpec
        How.
    trim : Trim
        The steady glide it is to reach.
    release_height : float
        Of the payload above ground. [m]
    now : AtSpeed
        At the release speed asked for.
    speeds : tuple of AtSpeed
        At `RELEASE_SPEEDS`.
    settling : Settling
        From the full canopy to the steady glide.
    checks : tuple of Check
        Loads against strengths: the opening at the upper end of its band, the snatch with its band.
    stiffness_is_given : bool
        Whether the stretch of the line is known: by measurement or by fibre.
    """

    REPORT = "parasim.report.opening:OpeningReport"

    vehicle: Vehicle
    spec: OpeningSpec
    trim: Trim
    release_height: float
    now: AtSpeed
    speeds: tuple[AtSpeed, ...]
    settling: Settling
    checks: tuple[Check, ...]
    stiffness_is_given: bool

    @property
    def held_by(self) -> str:
        """What the design holds the filling with."""
        return "slider" if self.spec.slider else "reefing" if self.spec.reefing else "nothing"

    @property
    def compared_with(self) -> str:
        """What the other case of each speed holds it with."""
        return "slider" if self.held_by == "nothing" else "nothing"

    @property
    def height_to_glide(self) -> float | None:
        """Lost from release until the steady glide, likely; None where it was not reached. [m]"""
        lost = self.settling.height_lost
        return None if lost is None else self.now.designed.height_to_full + lost

    @property
    def minimum_release_height(self) -> float | None:
        """Height lost, filling as slowly as the range has it, times the design's height factor. [m]"""
        lost = self.settling.height_lost
        return None if lost is None else self.spec.height_factor * (self.now.height_band[1] + lost)

    @property
    def weakest(self) -> Check | None:
        """As `parasim.flight.opening.strength.weakest`."""
        return weakest(self.checks)

    @property
    def caveats(self) -> tuple[Caveat, ...]:
        """What to keep in mind, in sentences."""
        found = [
            Caveat(
                "Filling constants of small ram-air canopies are not published at this scale as far as we "
                "know: the band is that of the range given, not of measurements."
            )
        ]
        if self.settling.nosed_under:
            found.append(
                Caveat(
                    "Filled square to the flow, this canopy tucks until its lines go slack, where cloth "
                    "would tuck or surge. The height to the steady glide is from "
                    f"{degrees(self.settling.path):.0f} deg below the horizon, the steepest path at that "
                    "speed on which they stay taut; it may lose more."
                )
            )
        if self.settling.height_lost is None:
            words = "The model did not reach a steady glide after opening; no release height is given."
            found.append(Caveat(words))
        return (*found, *self.shortfall(self.release_height), *self._load_caveats())

    def shortfall(self, height: float) -> list[Caveat]:
        """What a release height lacks, in a sentence. [m]"""
        full = self.now.designed.height_to_full
        return height_shortfall(height, full=full, minimum=self.minimum_release_height)

    def _load_caveats(self) -> list[Caveat]:
        found = weak_parts(self.checks) + doubts(self.spec, stretch_is_known=self.stiffness_is_given)
        if self.now.held.peak > self.now.plain.peak:
            found.append(
                Caveat(
                    "Slider or reefing raises the peak here: the payload picks up speed while it is held.",
                    "fails",
                )
            )
        if self.now.worst_peak > self.now.designed.bound:
            found.append(
                Caveat(
                    "At the quick end the peak passes the handbook's bound for constant speed: the air set "
                    "moving counts for more at this size than opening_factor allows."
                )
            )
        return found


def opening(
    vehicle: Vehicle,
    *,
    release_speed: float | None = None,
    release_height: float | None = None,
    speeds: FloatArray = RELEASE_SPEEDS,
) -> Opening:
    """Opening of a vehicle in still air.

    Parameters
    ----------
    vehicle : Vehicle
        What opens; its own wind plays no part.
    release_speed : float, optional
        Through the air; else the design's. [m/s]
    release_height : float, optional
        Above ground; else that of the design's drop. [m]
    speeds : ndarray, shape (n,)
        Release speeds of the table. [m/s]

    Raises
    ------
    DesignError
        If the pack does not fall behind the payload, or has more drag than the open canopy.
    TrimError
        If there is no steady glide to come to.
    """
    vehicle = in_wind(vehicle, Wind.calm())
    spec = vehicle.design.opening
    speed = spec.release_speed if release_speed is None else release_speed
    height = vehicle.design.drop.height if release_height is None else release_height
    trim = find_trims(vehicle, height=height, modes=False).chosen
    now = at_speed(vehicle, speed, height)
    return Opening(
        vehicle=vehicle,
        spec=spec,
        trim=trim,
        release_height=height,
        now=now,
        speeds=tuple(at_speed(vehicle, float(one), height) for one in speeds),
        settling=settle(
            vehicle,
            trim,
            velocity=now.designed.filling.end[2:],
            height=height - now.designed.height_to_full,
        ),
        checks=checks(vehicle, trim, opening=now.worst_peak, snatch=now.designed.snatch),
        stiffness_is_given=line_stiffness(vehicle)[0],
    )


def opening_checks(vehicle: Vehicle) -> tuple[Check, ...]:
    """Checks of the opening of a design, without all else; raises as `opening` does."""
    vehicle = in_wind(vehicle, Wind.calm())
    height = vehicle.design.drop.height
    trim = find_trims(vehicle, height=height, modes=False).chosen
    now = at_speed(vehicle, vehicle.design.opening.release_speed, height)
    return checks(vehicle, trim, opening=now.worst_peak, snatch=now.designed.snatch)


def at_speed(vehicle: Vehicle, speed: float, height: float) -> AtSpeed:
    """Openings at a release speed [m/s] and height above ground [m], over the filling constant's range."""
    spec = vehicle.design.opening
    constant = spec.filling_constant
    designed = build_opener(vehicle, height=height)
    ends = [build_opener(vehicle, height=height, filling_constant=n) for n in (constant.low, constant.high)]
    holds = spec.slider or spec.reefing is not None
    other = build_opener(vehicle, height=height, slider=not holds, reefed=False)
    designed_case, quick, slow, other_case = (
        open_case(vehicle, opener, speed) for opener in (designed, *ends, other)
    )
    return AtSpeed(designed=designed_case, quick=quick, slow=slow, other=other_case)


def build_opener(
    vehicle: Vehicle,
    *,
    height: float,
    filling_constant: float | None = None,
    slider: bool | None = None,
    reefed: bool = True,
) -> Opener:
    """What opens, by the design or with another filling constant, slider or reefing.

    The drag area of the canopy just full is that of the model with the canopy square to the flow; the air it
    carries is that inside and the apparent mass square to it.
    """
    design, spec = vehicle.design, vehicle.design.opening
    density = vehicle.atmosphere.density(vehicle.ground_height + height)
    area = vehicle.canopy.flat_area
    n = spec.filling_constant.value if filling_constant is None else filling_constant
    n *= SLIDER_FACTOR if (spec.slider if slider is None else slider) else 1.0
    free = np.zeros(1)
    broadside = vehicle.model.coefficients(Flow.steady(BROADSIDE), free, free)
    reefing = spec.reefing if reefed else None
    opener = Opener(
        payload_mass=design.payload.mass,
        canopy_mass=vehicle.mass - design.payload.mass,
        payload_drag_area=design.payload.drag_area_or_default,
        pack_drag_area=PACK_DRAG[spec.pack] * area if spec.drag_area is None else spec.drag_area,
        open_drag_area=-float(np.ravel(broadside)[2]) * area,
        air_mass=density * float(vehicle.air_matrix[2, 2] + vehicle.canopy.volume),
        filling_distance=n * nominal_diameter(area),
        growth_exponent=spec.growth_exponent,
        air_density=density,
        stretch_distance=vehicle.rigging.line_length + design.lines.riser.length,
        reefing=None if reefing is None else Reefing(area=reefing.area, time=reefing.time),
    )
    if opener.pack_drag_area >= opener.open_drag_area:
        raise _refused(
            vehicle, opener, "more than the open canopy has", f"use less than {opener.open_drag_area:.3g} m^2"
        )
    return opener


def open_case(vehicle: Vehicle, opener: Opener, speed: float) -> Case:
    """One opening at a release speed. [m/s]"""
    spec = vehicle.design.opening
    delay = DELAYS[spec.pack] if spec.delay is None else spec.delay
    falling = fall(opener, velocity=release_velocity(speed, spec.release_angle), delay=delay)
    stretched = stretch(opener, falling.end, held=spec.pack == "static line")
    if stretched is None:
        raise _refused(
            vehicle, opener, "too little for the pack to fall behind the payload", "use a pilot chute's, say"
        )
    filling = fill(opener, np.array([*stretched.place, *stretched.pair]))
    _, stiffness = line_stiffness(vehicle)
    soft_to_stiff = [
        snatch_force(
            relative_speed=stretched.relative_speed,
            stiffness=each,
            mass=opener.payload_mass,
            other_mass=opener.canopy_mass,
        )
        for each in stiffness
    ]
    start = float(falling.time[-1]) + stretched.time
    return Case(
        opener=opener,
        release_speed=speed,
        falling=falling,
        stretched=stretched,
        filling=joined([filling], [start]),
        snatch=(soft_to_stiff[0], soft_to_stiff[1], soft_to_stiff[2]),
        opening_factor=spec.opening_factor,
    )


def _refused(vehicle: Vehicle, opener: Opener, problem: str, hint: str) -> DesignError:
    given = f"{opener.pack_drag_area:.3g} m^2"
    if vehicle.design.opening.drag_area is None:
        given = f"nothing, which counts as {given}"
    return DesignError(Mistake(key="opening.drag_area", given=given, problem=problem, hint=hint))
