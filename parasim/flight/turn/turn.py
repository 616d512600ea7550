"""Turning: what one brake does, steadily and at first, and how sure that is.

A brake may drag its side back (skid steering) or lift it and turn the canopy away (roll steering); both are
described for small ram-air canopies. Source: [SlegersCostello2003]
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise, takewhile
from math import degrees

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.design import Design
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.errors import TrimError
from parasim.flight.drop import CAUTIONS
from parasim.flight.trim import Trim, find_trims
from parasim.flight.turn.steady import STEEP_BANK, SteadyTurn, steady_turns, turning_table
from parasim.flight.turn.step import StepResponse, step_response
from parasim.flight.uncertainty import Band, Bands, flying_bands

COARSE_BRAKES = np.linspace(0.0, 1.0, 9)
"""One-sided brakes by which the turns of a band are followed, fractions of full travel. [-]"""

BAND_BRAKES = (0.25, 0.5, 0.75, 1.0)
"""One-sided brakes at which the turn rate gets a band. [-]"""

STEP_BRAKES = (0.25, 0.5, 0.75)
"""One-sided brakes whose step response is simulated. [-]"""

TURN_FACTORS = (
    "lift_factor",
    "moment_shift",
    "brake_lift_factor",
    "brake_drag_factor",
    "side_force_slope",
    "yaw_damping",
    "roll_damping",
)
"""Factors that a turn answers to."""

UNCALIBRATED = ("brake_lift_factor", "brake_drag_factor", "side_force_slope", "yaw_damping", "roll_damping")
"""Those of them that nothing but a flight of the maker's own can settle."""

SAME_RATE = 1e-4
"""Differences under which turns to either side are the same. [rad/s], [rad] Our choice."""

SECOND_HAND = Caveat(
    "Brake lift, brake drag and yaw damping were set by one second-hand figure of a {mass} design ({radius} "
    "radius at {speed}): that is calibration, not validation. Fly your own and set them "
    "(parasim learn).",
    "lacks",
    mass=(2.0, "mass", 1),
    radius=(15.2, "length", 1),
    speed=(7.2, "speed", 1),
)
"""Said by `second_hand` wherever figures of a turn are shown."""

SPIRAL_CAUTION = (
    "A brake that is held, jammed or pulled too far spirals it down: it loses height and arrives faster than "
    "in its glide."
)
"""Said with every turn, besides the cautions on landings."""

TURN_CAUTIONS = (SPIRAL_CAUTION, *CAUTIONS)
"""Said wherever figures of a turn are shown."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Turn(Answer):
    """Answer to `parasim turn`.

    Attributes
    ----------
    vehicle : Vehicle
        What turns.
    straight : Trim
        Where it starts from.
    right, left : tuple of SteadyTurn
        By rising brake of that side; they end where steady turns do.
    steps : tuple of StepResponse
        Of the right brake.
    bands : Bands
        Turn rates by name "rate_25", ... at `BAND_BRAKES` of right brake [rad/s], and "reach", the brake up
        to which there are steady turns that are not steep. [-]
    """

    REPORT = "parasim.report.turn:TurnReport"

    vehicle: Vehicle
    straight: Trim
    right: tuple[SteadyTurn, ...]
    left: tuple[SteadyTurn, ...]
    steps: tuple[StepResponse, ...]
    bands: Bands

    @property
    def rate_bands(self) -> tuple[tuple[float, Band], ...]:
        """Brakes of `BAND_BRAKES` with the band of the turn rate there.

        Its upper end is infinite where some such canopy spirals; where the design's own does, it has none.
        """
        found = []
        reach = self.bands.figures["reach"]
        for brake in BAND_BRAKES:
            band = self.bands.figures[f"rate_{100 * brake:.0f}"]
            if brake > reach.value:
                band = replace(band, low=np.nan, high=np.nan)
            elif brake > reach.low:
                band = replace(band, high=np.inf)
            found.append((brake, band))
        return tuple(found)

    @property
    def reversal(self) -> float | None:
        """Right brake from which on the turn goes towards it, not away; None if it always does. [-]"""
        for before, after in reversed(tuple(pairwise(self.right[1:]))):
            if before.rate < 0 <= after.rate:
                part = -before.rate / (after.rate - before.rate)
                return before.right + part * (after.right - before.right)
        return 1.0 if self.right[1:] and self.right[-1].rate < 0 else None

    @property
    def wrong_way(self) -> float:
        """Fastest steady turn away from the right brake; zero if there is none. [rad/s]"""
        return max(0.0, *(-turn.rate for turn in self.right))

    @property
    def spiral(self) -> float | None:
        """Minimum right brake with a steep turn, or last one with a steady turn; None if neither. [-]"""
        for turn in self.right:
            if turn.steep:
                return turn.right
        last = self.right[-1].right
        return None if last >= 1.0 else last

    @property
    def mirrored(self) -> bool:
        """Whether the left brake does what the right one does, to the other side."""
        return len(self.left) == len(self.right) and all(
            abs(one.rate + other.rate) < SAME_RATE and abs(one.bank + other.bank) < SAME_RATE
            for one, other in zip(self.left, self.right, strict=True)
        )

    @property
    def growing(self) -> tuple[float, ...]:
        """Right brakes about whose steady turn a mode grows. [-]"""
        return tuple(turn.right for turn in self.right if not turn.stable)

    @property
    def uncalibrated(self) -> tuple[str, ...]:
        """As `uncalibrated`."""
        return uncalibrated(self.vehicle.design)

    @property
    def uncalibrated_share(self) -> Mapping[str, float]:
        """Part of each squared band that rests on factors without calibration. [-]"""
        open_ones = self.uncalibrated
        return {
            name: sum(share for cause, share in band.causes if cause in open_ones)
            for name, band in self.bands.figures.items()
        }

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self.vehicle.caveats, *second_hand(self.vehicle.design)]
        if self.reversal is not None:
            found.append(
                Caveat(
                    f"Below {100 * self.reversal:.0f} % of travel a brake turns it the wrong way, by up to "
                    f"{degrees(self.wrong_way):.1f} deg/s.",
                    "fails",
                )
            )
        if self.spiral is not None:
            found.append(
                Caveat(
                    f"From {100 * self.spiral:.0f} % of one brake on it spirals: it banks beyond "
                    f"{degrees(STEEP_BANK):.0f} deg or finds no steady turn, and sinks fast.",
                    "fails",
                )
            )
        if self.growing:
            found.append(
                Caveat(
                    f"At {100 * self.growing[0]:.0f} % to {100 * self.growing[-1]:.0f} % of one brake a "
                    "mode about the steady turn grows: it will not stay in it.",
                    "fails",
                )
            )
        found += self.bands.caveats("steady glide to turn out of")
        return tuple(found)


def uncalibrated(design: Design) -> tuple[str, ...]:
    """Those of `UNCALIBRATED` for which a design names no source."""
    return tuple(name for name in UNCALIBRATED if not getattr(design.calibration, name).source)


def second_hand(design: Design) -> tuple[Caveat, ...]:
    """`SECOND_HAND`, unless the design names a source for all three numbers."""
    set_so = {"brake_lift_factor", "brake_drag_factor", "yaw_damping"}
    return () if set_so.isdisjoint(uncalibrated(design)) else (SECOND_HAND,)


def turn(vehicle: Vehicle) -> Turn:
    """How a vehicle turns.

    Parameters
    ----------
    vehicle : Vehicle
        What turns.

    Raises
    ------
    TrimError
        If it has no stable steady glide with the brakes released.
    """
    still = in_wind(vehicle, Wind.calm())
    ranges = build_ranges(vehicle.design, TURN_FACTORS)
    beyond = band_figures(still)
    return Turn(
        vehicle=vehicle,
        straight=find_trims(still).chosen,
        right=steady_turns(still, left=0.0, right=1.0),
        left=steady_turns(still, left=1.0, right=0.0),
        steps=tuple(step_response(vehicle, left=0.0, right=brake) for brake in STEP_BRAKES),
        bands=flying_bands(still, ranges, partial(band_figures, beyond=beyond)),
    )


def band_figures(
    vehicle: Vehicle, beyond: Mapping[str, float] | None = None, at: Sequence[float] = BAND_BRAKES
) -> Mapping[str, float]:
    """Steady turn rates at some right brakes [rad/s], and the brake before it spirals. [-]

    Parameters
    ----------
    vehicle : Vehicle
        In a calm.
    beyond : Mapping of str to float, optional
        Rates to take where it spirals; else whatever is found there, that of the last steady turn if none. A
        spiral has no rate to widen a band with: `Turn.rate_bands` leaves that band open instead.
    at : sequence of float
        Those brakes, fractions of full travel. [-]
    """
    find_trims(vehicle, modes=False)  # where there is no glide, it says so before a table is made
    turns = steady_turns(
        vehicle,
        left=0.0,
        right=1.0,
        brakes=COARSE_BRAKES,
        growth=False,
        table=turning_table(vehicle.model),
    )
    if not turns:
        if beyond is None:
            raise TrimError("no steady turn found, not even with the minimum brake: change the rigging angle")
        return {**beyond, "reach": 0.0}
    brakes = [each.right for each in turns]
    rates = [each.rate for each in turns]
    reach = max((each.right for each in takewhile(lambda turn: not turn.steep, turns)), default=0.0)
    figures = {"reach": reach}
    for brake in at:
        name = f"rate_{100 * brake:.0f}"
        spirals = beyond is not None and brake > reach
        figures[name] = beyond[name] if spirals and beyond else float(np.interp(brake, brakes, rates))
    return figures
