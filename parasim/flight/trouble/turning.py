"""It turns with nobody steering: what differs between left and right.

Every error is put to the left side first, by the model of `parasim.flight.uneven`: lines that differ, by as
much either way so that the rigging stays; a payload that hangs aside; cloth that is twisted; drag at a tip.
The vehicle is its own mirror image, so that what turns it right is the same on the right.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from math import cos, inf, isfinite, radians, sin

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.aerodynamics.table import AeroTable
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.flight.trim import Trim, find_trims
from parasim.flight.trouble import turning_words as words
from parasim.flight.trouble.check import PLAUSIBLE, Cause, Check, Curve, Figure, Findings, ranked, sized
from parasim.flight.trouble.symptom import Side
from parasim.flight.turn.steady import turning_table
from parasim.flight.turn.turn import TURN_FACTORS, second_hand
from parasim.flight.uncertainty import Band, Bands, bands
from parasim.flight.uneven import uneven_turn
from parasim.geometry.hang import Unevenness, unevenness
from parasim.geometry.lines import Line
from parasim.rotations import FloatArray

BRAKE_LINE = "brake line"

EVEN = Unevenness(shift=0.0, roll=0.0, yaw=0.0, twist=0.0)

# Likely sizes: our choice by common practice, no source.
LINE, ROW, BRAKE, ASIDE = 0.005, 0.003, 0.010, 0.005
"""Difference of one pair of lines; of a row or of all lines, on the mean; of the brake lines and what their
servos leave pulled; of the payload's centre of mass from its middle. [m]"""

TWIST = radians(0.5)
"""Of the cloth from the middle to the tips, sewn in or stretched. [rad]"""

DRAG = 0.001
"""Drag area at one tip: a metre of loose line. [m²]"""

MOST_LINES = 0.060
"""Difference of lines up to which it is sought. [m]"""

MOST_TWIST, MOST_DRAG = radians(6.0), 0.03
"""[rad], [m²]"""

OTHER: Mapping[Side, Side] = {"left": "right", "right": "left"}

SPIRAL = radians(360)
"""Turn rate that counts where no steady turn is found. Our choice. [rad/s]"""

LEAST_SHARE = 0.02
"""Turn rate over that seen under which a canopy of the band counts as flying straight. [-]"""

Error = Callable[[Vehicle, Trim, float], tuple[Unevenness, float, FloatArray | float]]
"""From vehicle, glide and size to the unevenness, the left brake [-] and what the coefficients gain."""


def turning(vehicle: Vehicle, side: Side, rate: float) -> Findings:
    """What turns a vehicle to a side.

    Parameters
    ----------
    vehicle : Vehicle
        As designed.
    side : {"left", "right"}
        To which.
    rate : float
        Of the turn, positive. [rad/s]

    Raises
    ------
    TrimError
        If it has no stable steady glide.
    """
    still = in_wind(vehicle, Wind.calm())
    trim, table = find_trims(still, modes=False).chosen, turning_table(still.model)
    pair = _strongest_pair(still, trim, table)
    errors = _errors(still, pair)
    figure = Figure(words="turn rate", kind="angular_rate", designed=0.0, level=rate, low=0.0, high=0.0)
    ways = {}
    for name, (error, bound) in errors.items():
        left = Curve(partial(_left_rate, still, trim, table, error), bound)
        ways[name] = _better_way(still, name, side, left, pair, figure)
    spread = _rates(still, errors, ways)
    checks = [_banded(way, figure, spread.figures[name]) for name, way in ways.items()]
    return Findings(
        figure=figure,
        checks=ranked([*checks, *words.practices(side)]),
        facts=(STRAIGHT_FACT,),
        caveats=second_hand(vehicle.design),
    )


@dataclass(frozen=True, kw_only=True)
class _Way:
    """The side on which an error does what was seen with less.

    Attributes
    ----------
    toward : float
        1 where that is the side it turns to, else -1.
    cause, check
        The error there, and its size without a band.
    """

    toward: float
    cause: Cause
    check: Check

    @property
    def looked_at(self) -> float:
        """Size at which the canopies of the band are compared: small, but beyond the play of a brake. [SI]"""
        needed = self.cause.curve.bound if self.check.needed is None else self.check.needed
        return needed if self.check.name == BRAKE_LINE else min(needed, PLAUSIBLE * self.check.likely)


def _better_way(
    vehicle: Vehicle, name: str, side: Side, left: Curve, pair: tuple[Line, Line], figure: Figure
) -> _Way:
    found = []
    for at, toward in ((side, 1.0), (OTHER[side], -1.0)):
        curve = Curve(lambda size, toward=toward: toward * left(size), left.bound)  # type: ignore[misc]
        cause = _cause(vehicle, name, at, curve, pair)
        found.append(_Way(toward=toward, cause=cause, check=sized(cause, figure)))
    return min(found, key=lambda way: (way.check.times, -way.check.share))


def _left_rate(vehicle: Vehicle, trim: Trim, table: AeroTable, error: Error, size: float) -> float:
    """Turn rate to the left with an error on the left; nan where no steady turn is found. [rad/s]"""
    uneven, brake, more = error(vehicle, trim, size)
    turn = uneven_turn(vehicle, trim, uneven, {"L": brake, "R": 0.0}, more=more, table=table)
    return np.nan if turn is None else -turn.rate


def _errors(vehicle: Vehicle, pair: tuple[Line, Line]) -> dict[str, tuple[Error, float]]:
    """Every error by its name, on the left, and its bound."""
    line_set, design = vehicle.line_set, vehicle.design
    ends = [line for hold in line_set.holds for line in hold.uppers]
    rows = {row: {line.label: line for line in ends if line.rows == (row,)} for row in line_set.straight}
    found: dict[str, tuple[Error, float]] = {
        BRAKE_LINE: (_brake, design.brakes.travel),
        "payload aside": (_aside, design.payload.size[1] / 2),
        "all lines": (_lines(ends), MOST_LINES),
        **{f"row {row}": (_lines(list(lines.values())), MOST_LINES) for row, lines in rows.items()},
        "one pair": (_lines(list(pair)), MOST_LINES),
        "twist": (_twist, MOST_TWIST),
        "drag": (_tip_drag, MOST_DRAG),
    }
    return found


def _brake(vehicle: Vehicle, trim: Trim, size: float) -> tuple[Unevenness, float, float]:
    return EVEN, min(size / vehicle.design.brakes.travel, 1.0), 0.0


def _aside(vehicle: Vehicle, trim: Trim, size: float) -> tuple[Unevenness, float, float]:
    return replace(EVEN, shift=-size), 0.0, 0.0


def _twist(vehicle: Vehicle, trim: Trim, size: float) -> tuple[Unevenness, float, float]:
    """Nose-down at the left, so nose-up at the right, at the tips."""
    return replace(EVEN, twist=size / sin(vehicle.canopy.half_arc)), 0.0, 0.0


def _tip_drag(vehicle: Vehicle, trim: Trim, size: float) -> tuple[Unevenness, float, FloatArray]:
    """Force against the flow at the left tip's quarter chord, as coefficients of the canopy."""
    canopy, model = vehicle.canopy, vehicle.model
    place = canopy.point(np.array(-canopy.half_arc), np.array(0.25), np.array(0.0))
    force = -size * np.array([cos(trim.alpha), 0.0, sin(trim.alpha)]) / model.area
    return EVEN, 0.0, np.concatenate([force, np.cross(place, force) / model.lengths])


def _lines(lines: list[Line]) -> Error:
    """Those on the left shorter by half the size, those on the right longer."""

    def error(vehicle: Vehicle, trim: Trim, size: float) -> tuple[Unevenness, float, float]:
        change = {line.label: (-size if line.side == "L" else size) / 2 for line in lines}
        return unevenness(vehicle.line_set, vehicle.canopy, change), 0.0, 0.0

    return error


def _strongest_pair(vehicle: Vehicle, trim: Trim, table: AeroTable) -> tuple[Line, Line]:
    """Left line and its mirror image on the right that turn it most when they differ a little."""
    by_place = {(line.side, *np.round(np.abs(line.end), 9)): line for line in _held(vehicle)}
    pairs = [
        (line, by_place["R", *np.round(np.abs(line.end), 9)]) for line in _held(vehicle) if line.side == "L"
    ]

    def by(uneven: Unevenness) -> float:
        turn = uneven_turn(vehicle, trim, uneven, {"L": 0.0, "R": 0.0}, table=table)
        return 0.0 if turn is None else -turn.rate

    step, angle = 0.001, radians(0.1)
    by_aside, by_twist = by(replace(EVEN, shift=-step)) / -step, by(replace(EVEN, twist=angle)) / angle

    def turned(pair: tuple[Line, Line]) -> float:
        uneven, _, _ = _lines(list(pair))(vehicle, trim, step)
        return abs(by_aside * uneven.aside(vehicle.swing.center) + by_twist * uneven.twist)

    return max(pairs, key=turned)


def _held(vehicle: Vehicle) -> list[Line]:
    """Lines that hold the canopy, lower and upper ones."""
    return [line for hold in vehicle.line_set.holds for line in hold.lines]


def _rates(vehicle: Vehicle, errors: Mapping[str, tuple[Error, float]], ways: Mapping[str, _Way]) -> Bands:
    """Bands of the turn rate the way that was seen, by error, each at one size."""
    ranges = build_ranges(vehicle.design, TURN_FACTORS)

    def figures(one: Vehicle) -> Mapping[str, float]:
        trim, table = find_trims(one, modes=False).chosen, turning_table(one.model)
        rates = {}
        for name, way in ways.items():
            rate = way.toward * _left_rate(one, trim, table, errors[name][0], way.looked_at)
            rates[name] = rate if isfinite(rate) else SPIRAL
        return rates

    return bands(vehicle, ranges, figures)


def _banded(way: _Way, figure: Figure, band: Band) -> Check:
    """With its band: a canopy that turns twice as fast needs what turns this one half as fast."""
    check, curve = way.check, way.cause.curve
    doubt = _WAYS if curve.both_ways() else _YIELDS if check.name == "one pair" else ""
    own = curve(way.looked_at)
    least = LEAST_SHARE * own
    sizes = [
        curve.reaches(figure.level * own / rate) if rate > least else None for rate in (band.low, band.high)
    ]
    ends = [inf if size is None else size for size in sizes]
    return replace(
        check,
        low=min(*ends, check.needed or inf),
        high=max(*ends, check.needed or 0.0),
        doubt=_BANDS if band.low < -least else doubt,
    )


STRAIGHT_FACT = (
    "As designed it flies straight: every turn is a difference of left and right. Errors are sought one at a "
    "time, in still air near the ground, nobody steering."
)

_YIELDS = "cloth yields where one line is short, the model's arc does not: it may take more"
_WAYS = "ambiguous: by the model a smaller error turns it the other way"
_BANDS = "ambiguous: within the bands of its calibration such a canopy may turn the other way"


def _cause(vehicle: Vehicle, name: str, side: Side, curve: Curve, pair: tuple[Line, Line]) -> Cause:
    if name.startswith("row "):
        said, likely, kind = words.row(name.removeprefix("row "), side), ROW, "small_length"
    else:
        said, likely, kind = {
            BRAKE_LINE: (words.brake(vehicle.design.free_play, side), BRAKE, "small_length"),
            "payload aside": (words.aside(vehicle.design.payload, side), ASIDE, "small_length"),
            "all lines": (words.all_lines(side), ROW, "small_length"),
            "one pair": (words.pair(pair[0].label, pair[1].label, side), LINE, "small_length"),
            "twist": (words.twist(side), TWIST, "angle"),
            "drag": (words.drag(side), DRAG, "small_area"),
        }[name]
    return Cause(
        name=name,
        words=said,
        kind=kind,
        likely=likely,
        curve=curve,
        alone=name not in ("all lines", "one pair"),
    )
