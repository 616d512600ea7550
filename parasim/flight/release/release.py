"""Where to let go for a target in a wind, what to fly from there, and how far it can land otherwise."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from math import atan2, hypot
from typing import NamedTuple

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.scatter import TargetSpec
from parasim.dynamics.brakes.actuators import servo_limits
from parasim.dynamics.flight_rates import Flight
from parasim.dynamics.steered import SteeredFlight, fly_steered
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.thin_air import table_up_to
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.gust import build_gusts, turbulence_scales
from parasim.environment.wind import Wind, check_wind_reaches
from parasim.errors import DesignError, Mistake, OptionError, ParasimError
from parasim.flight.arrival import Touchdown, Verdict, limits_lacking, verdicts
from parasim.flight.drop import Release, initial_state, require_airborne
from parasim.flight.opening.opening import Opening, opening
from parasim.flight.release.descent import Descent, descent
from parasim.flight.release.plan import Leg, Plan, build_plan, choose_circle, limit_factor
from parasim.flight.release.reach import MeasuredAt, Reach, measured_at, reach_figures, reach_of
from parasim.flight.release.steering import EVERY, Pilot, brake_curve
from parasim.flight.trim import Trim, find_trims
from parasim.flight.turn.steady import BRAKES, SteadyTurn, steady_turns, turning_table
from parasim.flight.turn.turn import TURN_FACTORS, band_figures, second_hand
from parasim.flight.uncertainty import Bands, flying_bands
from parasim.mass.inventory import payload_bottom
from parasim.rotations import FloatArray

LEAST_BRAKE = 0.5
"""From which on a pull for the circle is looked for. [-] Our choice."""

GUST_DEVIATIONS = 2.0
"""Standard deviations of the site's turbulence along the wind that count as a gust. [-] Our choice."""

GUST_HEIGHT = 10.0
"""Height of that turbulence. [m]"""

HIGHEST_LAW = 200.0
"""Height above which a law of the wind is called a guess. [m] Our choice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InWind:
    """What to look up for one wind.

    Attributes
    ----------
    wind : float
        At its measuring height. [m/s]
    upwind : float
        Of the target, to let go; below zero downwind. [m]
    box : float
        How far off that it may be; none below zero. [m]
    up, down, across : float
        Reach, as in `Reach`. [m]
    time : float
        Aloft, gliding straight. [s]
    drift_per_circle : float
        [m]
    """

    wind: float
    upwind: float
    box: float
    up: float
    down: float
    across: float
    time: float
    drift_per_circle: float


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ReleasePoint(Answer):
    """Answer to `parasim release`.

    Attributes
    ----------
    vehicle : Vehicle
        What is let go, in its wind.
    height : float
        Of the confluence above ground, gliding steadily. [m]
    reach : Reach
        How far it can land.
    plan : Plan
        What is flown for a target.
    rate_bands : Bands
        Turn rate in the circle, "rate" [rad/s], and "reach", the brake up to which it does not spiral. [-]
    gust : float
        Kept in hand against the wind. [m/s]
    limit : float
        Wind up to which a release point is advised, at the measuring height. [m/s]
    target : ndarray, shape (2,), or None
        North and east of the point under the release that is planned, if there is one. [m]
    radius : float
        How near to the target is near. [m]
    opened : Opening or None
        From packed, let go at that height; None where the model does not say.
    flown : SteeredFlight or None
        The plan flown once, places from the target; None where none is advised.
    """

    REPORT = "parasim.report.release:ReleaseReport"

    vehicle: Vehicle
    height: float
    reach: Reach
    plan: Plan
    rate_bands: Bands
    gust: float
    limit: float
    target: FloatArray | None
    radius: float
    opened: Opening | None
    flown: SteeredFlight | None

    @property
    def wind(self) -> MeasuredAt:
        """It is let go in, at its measuring height."""
        return measured_at(self.vehicle)

    @property
    def advised(self) -> bool:
        """Whether there is a release point: the wind, gusts included, keeps within its limit."""
        return self.wind.speed <= self.limit

    @property
    def circle(self) -> SteadyTurn:
        """Of the hold."""
        return self.plan.circle

    @property
    def may_spiral(self) -> bool:
        """Whether, by the band, such a canopy may spiral under the brake of the circle."""
        return self.rate_bands.figures["reach"].low < self.circle.brake

    @property
    def off_plan(self) -> float | None:
        """Distance of the planned release from the advised one; None without a target. [m]"""
        return None if self.target is None else hypot(*(self.target + self.plan.release))

    @property
    def opening_loss(self) -> float | None:
        """Height that a packed release loses before that glide; None where the model does not say. [m]"""
        return None if self.opened is None else self.opened.height_to_glide

    @property
    def packed_height(self) -> float | None:
        """As `packed_height`. [m]"""
        limits = PlanLimits(self.plan.lowest_release, self.limit, self.wind.height)
        return None if self.opened is None else packed_height(self.opened, limits)

    @property
    def flare_height(self) -> float:
        """Of the payload's lower face, where the flare of the file begins; zero without one. [m]"""
        moves = flare_moves(self.vehicle, self.plan.final_height)
        return float(moves[0, 0]) if len(moves) else 0.0

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Parts of the plan from the top."""
        return self.plan.legs(self.flare_height)

    @property
    def miss(self) -> float | None:
        """How far from the target the flown plan lands; None where it does not. [m]"""
        if self.flown is None or not self.flown.landed:
            return None
        return hypot(self.flown.end.north, self.flown.end.east)

    @property
    def touchdown(self) -> Touchdown | None:
        """Of the flown plan; None where it does not land."""
        if self.flown is None or not self.flown.landed:
            return None
        north, east, down = self.flown.end.velocity
        return Touchdown(ground_speed=hypot(north, east), sink=down, mass=self.vehicle.mass)

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """That touchdown against what the payload can take."""
        landing = self.touchdown
        return () if landing is None else verdicts(landing, self.vehicle.design.landing)

    def in_wind(self, speed: float) -> InWind:
        """What to look up for another wind of the same law, at its measuring height. [m/s]"""
        glide = self.plan.descent.in_wind(self.wind.law.scaled(speed / self.wind.law_speed))
        plan = build_plan(
            glide,
            self.circle,
            low_glide=self.plan.low_glide,
            time_share=self.plan.time_share,
            gust=self.gust,
            calm_heading=self.wind.comes_from,
        )
        found = reach_figures(glide, self.wind.upwind)
        return InWind(
            wind=speed,
            upwind=float(plan.release @ self.wind.upwind),
            box=plan.box,
            drift_per_circle=plan.drift_per_circle,
            **{name: found[name] for name in ("up", "down", "across", "time")},
        )

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        design, wind = self.vehicle.design, self.vehicle.wind
        found = [*self.vehicle.caveats, *wind.caveats(self.height), *second_hand(design)]
        found += self.reach.bands.caveats("steady glide")
        if not self.wind.speed:
            found.append(
                Caveat("No wind is given: the plan is for a calm. Add --wind, or site.wind.", "lacks")
            )
        found += planning_caveats(self.wind.law, self.height, gust=self.gust > 0, flare=self.flare_height > 0)
        if self.flown is not None:
            found.append(
                "The plan is flown here by a hand that knows place, height and heading without error."
            )
        return (*found, *limits_lacking(design))


def release(
    vehicle: Vehicle,
    *,
    height: float | None = None,
    gust: float | None = None,
    brake: float | None = None,
    target: tuple[float, float] | None = None,
) -> ReleasePoint:
    """Where to let a vehicle go for a target.

    Parameters
    ----------
    vehicle : Vehicle
        What is let go, in its own wind.
    height : float, optional
        Of the confluence above ground; else the design's. [m]
    gust : float, optional
        Kept in hand against the wind; else that of the site. [m/s]
    brake : float, optional
        One-sided, for the circle, fraction of full travel; else half, or as much more as two quick
        circles above the final take. [-]
    target : tuple of float, optional
        North and east of the point under a release that is planned. [m]

    Raises
    ------
    DesignError
        If it is too low for one circle and the final.
    OptionError
        If it does not turn under that brake, or the target is out of reach.
    TrimError
        If there is no steady glide.
    """
    height = vehicle.design.drop.height if height is None else height
    gust = site_gust(vehicle) if gust is None else gust
    check_wind_reaches(vehicle.wind, height, site=vehicle.design.site)
    glide = descent(vehicle, touch=touch_height(vehicle, height), height=height)
    reach = reach_of(vehicle, glide)
    turns = left_turns(vehicle, brake)
    plan, limit = _planned(vehicle, glide, reach, turns, brake=brake, gust=gust)
    _require_height(plan, height)
    place = None if target is None else np.array(target)
    _require_reach(reach, place)
    found = ReleasePoint(
        vehicle=vehicle,
        height=height,
        reach=reach,
        plan=plan,
        rate_bands=rate_bands(vehicle, plan.circle.brake),
        gust=gust,
        limit=limit,
        target=place,
        radius=(vehicle.design.scatter.target or TargetSpec()).radius,
        opened=_opening_or_none(vehicle, height),
        flown=None,
    )
    return replace(found, flown=fly_plan(found, turns)) if found.advised else found


def _planned(
    vehicle: Vehicle,
    glide: Descent,
    reach: Reach,
    turns: tuple[SteadyTurn, ...],
    *,
    brake: float | None = None,
    gust: float,
) -> tuple[Plan, float]:
    """Plan with the circle that fits, and the wind where it is measured up to which it is advised. [m/s]"""
    time, wind = reach.band("time"), measured_at(vehicle)

    def planned(glide: Descent, circle: SteadyTurn) -> Plan:
        return build_plan(
            glide, circle, low_glide=reach.band("glide_ratio").low,
            time_share=(time.high - time.low) / (2 * time.value), gust=gust,
            calm_heading=wind.comes_from,
        )  # fmt: skip

    circle = choose_or_refuse(vehicle, turns, brake, planned(glide, turns[0]))
    limit = wind.law_speed * limit_factor(planned(glide.in_wind(wind.law), circle))
    return planned(glide, circle), limit


def planning_caveats(law: Wind, height: float, *, gust: bool, flare: bool) -> Iterator[Caveat]:
    """What a plan from a height [m] leaves out: opening, gust and flare where there is none, wind high up."""
    if height > HIGHEST_LAW and not law.table:
        yield Caveat(
            "The law of the wind is a rule for the lowest {lowest} or so: for a release so high write "
            "measured or forecast winds into site.wind.table.",
            lowest=(100.0, "length", 0),
        )
    yield Caveat(
        "Heights are those of a steady glide: what the opening takes comes on top, as `parasim opening` "
        "has it."
    )
    if not gust:
        yield Caveat("No gust is given, and none kept in hand: --gust, or site.gust or turbulence.", "lacks")
    if not flare:
        yield Caveat("No flare by height in drop.brakes, so it lands with its brakes released.", "lacks")


class PlanLimits(NamedTuple):
    """What a plan from some height asks for.

    Attributes
    ----------
    lowest : float
        Height of the confluence above ground, gliding, from which it can be flown. [m]
    wind, wind_height : float
        Wind up to which a release point is advised [m/s], and the height at which that is measured. [m]
    """

    lowest: float
    wind: float
    wind_height: float


def plan_limits(vehicle: Vehicle, height: float) -> PlanLimits:
    """Limits of the plan that `release` makes from a height, in the vehicle's wind, without flying it. [m]

    Raises
    ------
    DesignError
        If no brake turns it steadily.
    TrimError
        If there is no steady glide.
    """
    glide = descent(vehicle, touch=touch_height(vehicle, height), height=height)
    reach, turns = reach_of(vehicle, glide), left_turns(vehicle)
    plan, limit = _planned(vehicle, glide, reach, turns, gust=site_gust(vehicle))
    return PlanLimits(plan.lowest_release, limit, measured_at(vehicle).height)


def plan_limits_or_none(vehicle: Vehicle) -> PlanLimits | None:
    """The same from the height in the design; None where no plan is made."""
    try:
        return plan_limits(vehicle, vehicle.design.drop.height)
    except ParasimError:
        return None


def packed_height(opened: Opening, plan: PlanLimits | None) -> float | None:
    """Least height of a packed release, to open and fly the plan; None where either is not known. [m]"""
    lost, least = opened.height_to_glide, opened.minimum_release_height
    return None if lost is None or least is None or plan is None else max(least, lost + plan.lowest)


def _opening_or_none(vehicle: Vehicle, height: float) -> Opening | None:
    try:
        return opening(vehicle, release_height=height, speeds=np.zeros(0))
    except ParasimError:
        return None


def left_turns(vehicle: Vehicle, brake: float | None = None) -> tuple[SteadyTurn, ...]:
    """Steady turns by rising left brake, that one among them; what mode grows about them is left out.

    Raises
    ------
    DesignError
        If there is none at all.
    """
    brakes = BRAKES if brake is None else np.unique(np.append(BRAKES, brake))
    table = turning_table(vehicle.model)
    turns = steady_turns(vehicle, left=1.0, right=0.0, brakes=brakes, growth=False, table=table)
    if not turns:
        raise _no_turn()
    return turns


def touch_height(vehicle: Vehicle, height: float) -> float:
    """Height of the confluence at which the payload touches the ground, as it hangs in its glide. [m]

    Raises
    ------
    DesignError
        If it already does at the release height. [m]
    """
    body, bottom = build_body(vehicle), payload_bottom(vehicle.design)
    trim = find_trims(vehicle, height=height, modes=False).chosen
    start = body.hanging(_start(vehicle, trim, height))
    require_airborne(body, start, bottom, height)
    return height + float(body.payload(start, bottom)[0][2])


def _start(vehicle: Vehicle, trim: Trim, height: float, heading: float = 0.0) -> FloatArray:
    """State at release in the steady glide, shape (13,)."""
    start = Release(height=height, start="steady", heading=heading, velocity=np.zeros(3), brakes=())
    return initial_state(vehicle, start, trim)


def site_gust(vehicle: Vehicle) -> float:
    """Gust that the site has, or two standard deviations of its turbulence along the wind. [m/s]"""
    gusts = build_gusts(vehicle.design.site, 1.0, wind=vehicle.wind)
    return abs(gusts.speed) + GUST_DEVIATIONS * gusts.deviation * turbulence_scales(GUST_HEIGHT)[2]


def rate_bands(vehicle: Vehicle, brake: float) -> Bands:
    """Turn rate under a brake, "rate", and the brake up to which it does not spiral, "reach"."""
    still = in_wind(vehicle, Wind.calm())
    ranges = build_ranges(vehicle.design, TURN_FACTORS)
    beyond = band_figures(still, at=(brake,))
    found = flying_bands(still, ranges, partial(band_figures, beyond=beyond, at=(brake,)))
    named = {name if name == "reach" else "rate": band for name, band in found.figures.items()}
    return replace(found, figures=named)


def _no_turn() -> DesignError:
    return DesignError(
        Mistake(
            key="brakes",
            problem=f"no brake from {100 * LEAST_BRAKE:.0f} % on turns it steadily towards itself",
            hint="see parasim turn, or choose one with --brake",
        )
    )


def choose_or_refuse(
    vehicle: Vehicle, turns: tuple[SteadyTurn, ...], brake: float | None, plan: Plan
) -> SteadyTurn:
    """Turn of the hold: under the brake asked for, or one that fits.

    Raises
    ------
    DesignError
        If none turns steadily.
    OptionError
        If that brake does not.
    """
    if brake is None:
        found = choose_circle(turns, height=plan.descent.height - plan.final_height, least=LEAST_BRAKE)
        if found is None:
            raise _no_turn()
        return found
    found = next((turn for turn in turns if abs(turn.brake - brake) < 1e-9 and turn.rate < 0), None)
    if found is None or found.steep:
        raise OptionError(
            f"--brake: given {100 * brake:g} %, at which {vehicle.design.name} does not turn steadily to "
            "that side; see parasim turn"
        )
    return found


def _require_height(plan: Plan, height: float) -> None:
    least = plan.lowest_release
    if height < least:
        circle = plan.circle
        more = ", or pull more (--brake)" if circle.brake < 1 else ""
        raise DesignError(
            Mistake(
                key="drop.height",
                given=f"{height:g} m",
                problem=f"too low for one circle at {100 * circle.brake:.0f} % of one brake "
                f"({plan.circle_height:.0f} m) and the final ({plan.final_height:.0f} m)",
                hint=f"release from {least + 0.5:.0f} m or higher" + more,
            )
        )


def _require_reach(reach: Reach, target: FloatArray | None) -> None:
    if target is not None and (beyond := reach.beyond(target, "high")) > 0:
        north, east = target.tolist()
        raise OptionError(
            f'--target: given "{north:g} m, {east:g} m", {beyond:.0f} m out of reach even at the high end '
            f"of the band; choose one within {reach.high.min():.0f} m of {reach.center[0]:.0f} m, "
            f"{reach.center[1]:.0f} m"
        )


def flare_moves(vehicle: Vehicle, highest: float) -> FloatArray:
    """Moves of both brakes by height in the design's drop, on the final, shape (n, 4), highest first."""
    moves = [
        (command.at_height, command.over, command.left, command.right)
        for command in vehicle.design.drop.brakes
        if command.at_height is not None and command.left == command.right and command.at_height < highest
    ]
    return np.array(sorted(moves, reverse=True), dtype=np.float64).reshape(-1, 4)


def fly_plan(point: ReleasePoint, turns: tuple[SteadyTurn, ...]) -> SteeredFlight:
    """Fly the plan once, in the site's air: from the planned release if there is one, else as advised."""
    vehicle, plan = point.vehicle, point.plan
    start = plan.release if point.target is None else -point.target
    pilot = Pilot(plan=plan, curve=brake_curve(turns))
    heading = atan2(plan.into[1], plan.into[0])
    trim = find_trims(vehicle, height=point.height, modes=False).chosen
    body = build_body(vehicle, table_up_to(vehicle, point.height))
    begin = _start(vehicle, trim, point.height, heading)
    begin[:2] = start
    flight = Flight(
        motion=body.motion,
        gusts=build_gusts(vehicle.design.site, trim.airspeed, wind=vehicle.wind),
        servo=servo_limits(vehicle.design),
    )
    return fly_steered(
        flight,
        np.append(body.hanging(begin), (0.0, 0.0)),
        tuple(payload_bottom(vehicle.design).tolist()),
        pilot,
        every=EVERY,
        last=flare_moves(vehicle, plan.final_height),
    )
