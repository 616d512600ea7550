"""One side collapses: what takes the nose-tuck margin of one half, here always the left one.

The margin is known for the middle of the span (`parasim.flight.glide`); tips fly at less angle of attack and
live on the pressure of their neighbours. So a half is taken to fold when its outer part has lost as much angle
of attack as the middle has margin. Our choice, no source.
"""

from collections.abc import Callable, Mapping
from functools import partial
from math import atan2, cos, degrees, sin

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.aerodynamics.strips import Flow
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.glide import GLIDE_FACTORS, TUCK_RESERVE, headline_figures, tuck_margin
from parasim.flight.trim import Trim, find_trims
from parasim.flight.trouble import folding_words as words
from parasim.flight.trouble.check import Cause, Curve, Figure, Findings, ranked, sampled, settled
from parasim.flight.trouble.pitch import MOST_ROW, POSES, ROW, factor_causes, hook_causes, turned
from parasim.flight.trouble.symptom import Side
from parasim.flight.uncertainty import bands
from parasim.geometry.hang import pose_of_changed_lines, rigging_slopes, unevenness

OUTER = 0.5
"""Part of the arc from which on a half is its outer part. [-]"""

# Likely sizes, and up to which they are sought: our choice, no source.
GUST, MOST_GUST = 1.0, 6.0
"""Step of the wind near the ground. [m/s]"""


def folding(vehicle: Vehicle, side: Side, name: str) -> Findings:
    """What makes the nose of one half fold under.

    Parameters
    ----------
    vehicle : Vehicle
        As designed.
    side : {"left", "right"}
        Which half; they are alike.
    name : str
        What it is called: ``left``, ``right`` or ``one``.

    Raises
    ------
    TrimError
        If it has no stable steady glide as designed.
    """
    ranges = tuple(r for r in build_ranges(vehicle.design) if r.name in GLIDE_FACTORS)
    band = bands(vehicle, ranges, headline_figures).figures["tuck_margin"]
    figure = Figure(
        words="nose-tuck margin of that half", kind="angle", designed=band.value, level=0.0, low=band.low,
        high=band.high, rises=False,
    )  # fmt: skip
    trim = find_trims(vehicle, modes=False).chosen
    flown = _margin_of_half(vehicle, trim)
    moment = tuple(r for r in ranges if r.name == "moment_shift")

    def causes() -> list[Cause]:
        return [
            *_gust_causes(vehicle, trim, name, other="right" if side == "left" else "left"),
            *_row_causes(vehicle, flown, name),
            *hook_causes(vehicle, flown),
            *factor_causes(vehicle, moment, flown),
        ]

    return Findings(
        figure=figure,
        checks=ranked([*settled(figure, causes), *words.practices(name)]),
        facts=(
            words.margin(tuck_margin(vehicle, trim), trim.airspeed),
            words.CRITERION,
        ),
        failures=(
            (f"nose-tuck margin as designed may be {degrees(band.low):.1f} deg (wanted {degrees(TUCK_RESERVE):.0f})",)
            if band.low < TUCK_RESERVE
            else ()
        ),
    )


def outer_alpha(vehicle: Vehicle, alpha: float, beta: float) -> float:
    """Mean angle of attack of the outer strips of the left half, as their sections feel it. [rad]

    Parameters
    ----------
    vehicle : Vehicle
        Brakes released.
    alpha, beta : float
        Of the canopy. [rad]
    """
    none = np.zeros(1)
    loads = vehicle.model.loads(Flow.steady(np.array([alpha]), beta), none, none)
    strips = vehicle.model.lattice.strips
    outer = strips.spanwise[:, 2] < -sin(OUTER * vehicle.canopy.half_arc)
    return float(loads.effective_alpha[0, 0, outer].mean())


def _margin_of_half(vehicle: Vehicle, trim: Trim) -> Callable[..., float]:
    """Of another vehicle in its own glide, with a twist: margin in the middle as designed, less what is lost."""
    margin, own = tuck_margin(vehicle, trim), outer_alpha(vehicle, trim.alpha, 0.0)

    def flown(one: Vehicle, brake: float, twist: float = 0.0) -> float:
        # A twist turns the sections as a sideslip of as much would.
        return margin + outer_alpha(one, find_trims(one, modes=False).chosen.alpha, -twist) - own

    return flown


def _gust_causes(vehicle: Vehicle, trim: Trim, name: str, other: Side) -> list[Cause]:
    margin, own = tuck_margin(vehicle, trim), outer_alpha(vehicle, trim.alpha, 0.0)
    ahead, down = trim.airspeed * cos(trim.alpha), trim.airspeed * sin(trim.alpha)

    def pushed(size: float) -> float:
        return margin + outer_alpha(vehicle, atan2(down - size, ahead), 0.0) - own

    def from_left(size: float) -> float:
        return margin + outer_alpha(vehicle, trim.alpha, -atan2(size, trim.airspeed)) - own

    side = {"left": "right", "right": "left"}[other]
    return [
        Cause(
            name="gust down", words=words.gust_down(), kind="wind_speed", likely=GUST,
            curve=Curve(pushed, MOST_GUST),
        ),
        Cause(
            name="gust from the side", words=words.gust_aside(side if name != "one" else "that side"),
            kind="wind_speed", likely=GUST, curve=Curve(from_left, MOST_GUST),
        ),
    ]  # fmt: skip


def _row_causes(vehicle: Vehicle, flown: Callable[..., float], name: str) -> list[Cause]:
    """Front row short, or rear row long, on the left alone."""
    slopes, rows = rigging_slopes(vehicle.line_set, vehicle.canopy), list(vehicle.line_set.straight)
    causes = []
    for row in (rows[0], rows[-1]):
        ends = [
            line.label for hold in vehicle.line_set.holds for line in hold.uppers
            if line.rows == (row,) and line.side == "L"
        ]  # fmt: skip
        longer = sum(slopes[label] for label in ends) > 0
        sign = 1.0 if longer else -1.0
        change = partial(_changes, ends, sign)
        nose_down = sampled(partial(_nose_down, vehicle, change), MOST_ROW, POSES)
        twist = sampled(partial(_twist, vehicle, change), MOST_ROW, POSES)

        def figure(
            size: float,
            nose_down: Callable[[float], float] = nose_down,
            twist: Callable[[float], float] = twist,
        ) -> float:
            return flown(turned(vehicle, nose_down(size)), 0.0, twist=twist(size))

        causes.append(
            Cause(
                name=f"row {row}", words=words.row(row, name, longer=longer), kind="small_length",
                likely=ROW, curve=Curve(figure, MOST_ROW),
            )  # fmt: skip
        )
    return causes


def _changes(ends: list[str], sign: float, size: float) -> dict[str, float]:
    return dict.fromkeys(ends, sign * size)


def _nose_down(vehicle: Vehicle, change: Callable[[float], Mapping[str, float]], size: float) -> float:
    """Change of the rigging angle. [rad]"""
    pose = pose_of_changed_lines(vehicle.line_set, vehicle.canopy, change(size))
    return pose.rigging_angle - vehicle.rigging.rigging_angle


def _twist(vehicle: Vehicle, change: Callable[[float], Mapping[str, float]], size: float) -> float:
    """As in `parasim.geometry.hang.Unevenness`. [rad]"""
    return unevenness(vehicle.line_set, vehicle.canopy, change(size)).twist


