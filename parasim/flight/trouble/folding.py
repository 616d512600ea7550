"""One side collapses: what takes the nose-tuck margin of one half, here always the left one.

The margin is known for the middle of the span (`parasim.flight.glide`); tips fly at less angle of attack and
live on the pressure of their neighbours. So a half is taken to fold when any part of it has lost as much of
its angle as the middle has margin. Our choice, no source.
"""

from collections.abc import Callable, Mapping
from functools import partial
from math import atan2, cos, sin

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.aerodynamics.strips import Flow
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.glide import GLIDE_FACTORS, TUCK_RESERVE, headline_figures, tuck_margin
from parasim.flight.trim import Trim, find_trims
from parasim.flight.trouble import folding_words as words
from parasim.flight.trouble.check import Cause, Curve, Figure, Findings, ranked, sampled, settled
from parasim.flight.trouble.pitch import (
    MOST_ROW,
    POSES,
    ROW,
    factor_causes,
    hook_causes,
    margin_failure,
    turned,
)
from parasim.flight.trouble.symptom import Side
from parasim.flight.uncertainty import bands
from parasim.geometry.hang import pose_of_changed_lines, rigging_slopes, unevenness
from parasim.rotations import FloatArray

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
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    band = bands(vehicle, ranges, headline_figures).figures["tuck_margin"]
    figure = Figure(
        words="nose-tuck margin of that half", kind="angle", designed=band.value, level=0.0, low=band.low,
        high=band.high, rises=False,
    )  # fmt: skip
    trim = find_trims(vehicle, modes=False).chosen
    half = _Half(vehicle, trim)
    moment = tuple(r for r in ranges if r.name == "moment_shift")

    def causes() -> list[Cause]:
        return [
            *_gust_causes(vehicle, half, name, other="right" if side == "left" else "left"),
            *_row_causes(vehicle, half, name),
            *hook_causes(vehicle, half.flown),
            *factor_causes(vehicle, moment, half.flown),
        ]

    return Findings(
        figure=figure,
        checks=ranked([*settled(figure, causes), *words.practices(name)]),
        facts=(
            words.margin(tuck_margin(vehicle, trim)),
            words.CRITERION,
        ),
        failures=margin_failure("nose-tuck", band.low, TUCK_RESERVE),
    )


def half_alpha(vehicle: Vehicle, alpha: float, beta: float) -> FloatArray:
    """Angle of attack of the left half as its sections feel it, shape (n_strips // 2,), tip first. [rad]

    Parameters
    ----------
    vehicle : Vehicle
        Brakes released.
    alpha, beta : float
        Of the canopy. [rad]
    """
    none = np.zeros(1)
    felt = vehicle.model.effective_alpha(Flow.steady(np.array([alpha]), beta), none, none)[0, 0]
    return felt[vehicle.model.lattice.strips.spanwise[:, 2] < 0]


class _Half:
    """Margin of the left half: in the middle as designed, less what the part of it loses that loses most."""

    def __init__(self, vehicle: Vehicle, trim: Trim) -> None:
        self.trim = trim
        self._margin, self._own = tuck_margin(vehicle, trim), half_alpha(vehicle, trim.alpha, 0.0)

    def left(self, vehicle: Vehicle, alpha: float, beta: float) -> float:
        """In a flow. [rad]"""
        return self._margin - float((self._own - half_alpha(vehicle, alpha, beta)).max())

    def flown(self, vehicle: Vehicle, brake: float = 0.0, twist: float = 0.0) -> float:
        """In another vehicle's own glide; a twist turns the sections as a sideslip of as much would. [rad]"""
        return self.left(vehicle, find_trims(vehicle, brake=brake, modes=False).chosen.alpha, -twist)


def _gust_causes(vehicle: Vehicle, half: _Half, name: str, other: Side) -> list[Cause]:
    trim = half.trim
    ahead, down = trim.airspeed * cos(trim.alpha), trim.airspeed * sin(trim.alpha)

    def pushed(size: float) -> float:
        return half.left(vehicle, atan2(down - size, ahead), 0.0)

    def from_left(size: float) -> float:
        return half.left(vehicle, trim.alpha, -atan2(size, trim.airspeed))

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


def _row_causes(vehicle: Vehicle, half: _Half, name: str) -> list[Cause]:
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
            return half.flown(turned(vehicle, nose_down(size)), twist=twist(size))

        causes.append(
            Cause(
                name=f"row {row}",
                words=words.row(row, name, longer=longer),
                kind="small_length",
                likely=ROW,
                curve=Curve(figure, MOST_ROW),
            )
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
