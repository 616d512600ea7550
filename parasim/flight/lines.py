"""What line lengths do to the glide: an error in a row, and lines as measured after a season."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import radians

import numpy as np

from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import TrimError
from parasim.flight.glide import LINE_ERROR, stall_alpha, tuck_margin
from parasim.flight.trim import Trim, find_trims
from parasim.flight.turn.steady import SteadyTurn
from parasim.flight.uneven import uneven_turn
from parasim.geometry.hang import pose_of_changed_lines, rigging_slopes, unevenness
from parasim.geometry.lines import LineSet
from parasim.geometry.rigging import Rigging

BRAKE_ROW = "brake"
"""Name of the brake lines among the rows."""

ASYMMETRY = 0.003
"""Difference of left and right beyond which a turn is expected: a tying error. Our choice, no source. [m]"""

STRAIGHT = radians(0.1)
"""Turn rate below which nobody sees it turn: an hour a circle. Our choice, no source. [rad/s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowEffect:
    """What an error of a whole row does.

    Attributes
    ----------
    row : str
        A row, or `BRAKE_ROW`.
    error : float
        Added to every line of the row at its tabs. [m]
    rigging_change : float
        Positive nose-down. [rad]
    trim : Trim or None
        The glide with the brakes released then, at the site's ground: how it lands without flare. None where
        there is none.
    """

    row: str
    error: float
    rigging_change: float
    trim: Trim | None


def row_effects(vehicle: Vehicle, *, error: float = LINE_ERROR) -> tuple[RowEffect, ...]:
    """Each row too short (negative error) and too long, the others as designed; brake lines too short only.

    Brake lines that are too short pull for as much as the free play does not take up; longer ones hang slack.
    """
    effects = []
    for row in vehicle.line_set.straight:
        labels = [
            line.label for hold in vehicle.line_set.holds for line in hold.uppers if line.rows == (row,)
        ]
        for size in (-error, error):
            pose = pose_of_changed_lines(vehicle.line_set, vehicle.canopy, dict.fromkeys(labels, size))
            changed = assemble(vehicle.design, factors=vehicle.model.factors, rigging=pose)
            effects.append(
                RowEffect(
                    row=row,
                    error=size,
                    rigging_change=pose.rigging_angle - vehicle.rigging.rigging_angle,
                    trim=_trim(changed),
                )
            )
    pulled = _trim(vehicle, brake=min(error / vehicle.design.brakes.travel, 1.0))
    return (*effects, RowEffect(row=BRAKE_ROW, error=-error, rigging_change=0.0, trim=pulled))


def _trim(vehicle: Vehicle, brake: float = 0.0) -> Trim | None:
    try:
        return find_trims(vehicle, brake=brake, modes=False).chosen
    except TrimError:
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """One line that is not as designed.

    Attributes
    ----------
    label : str
        Of the line.
    change : float
        Measured less designed: shorten by as much when positive. [m]
    rigging_change : float
        What this line alone does to the rigging angle. [rad]
    """

    label: str
    change: float
    rigging_change: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Remeasured:
    """The canopy on lines as measured.

    Attributes
    ----------
    designed : Trim
        Glide with the brakes released, on lines as designed.
    trim : Trim or None
        On lines as measured; None where there is no stable glide.
    rigging, designed_rigging : Rigging
        Poses; the first one's misfit is what no pose of the canopy takes up.
    tuck_margin, stall_margin : float
        As in `parasim.flight.glide`, on lines as measured; nan without trim. [rad]
    designed_tuck_margin, designed_stall_margin : float
        The same on lines as designed. [rad]
    adjustments : tuple of Adjustment
        Every line, largest change first.
    mean_change : float
        Of all ways from riser to tab: what all share moves the trim little. [m]
    row_change : dict of str to float
        Each row's mean change of the way from riser to tab; brakes too. [m]
    left_less_right : dict of str to float
        The same, left side less right side. [m]
    turning : SteadyTurn or None
        What they make it do by themselves; None where no steady turn could be followed.
    """

    designed: Trim
    trim: Trim | None
    rigging: Rigging
    designed_rigging: Rigging
    tuck_margin: float
    stall_margin: float
    designed_tuck_margin: float
    designed_stall_margin: float
    adjustments: tuple[Adjustment, ...]
    mean_change: float
    row_change: dict[str, float]
    left_less_right: dict[str, float]
    turning: SteadyTurn | None

    @property
    def turn_row(self) -> str | None:
        """Row, brakes among them, that differs most between left and right, if by more than `ASYMMETRY`."""
        row = max(self.left_less_right, key=lambda name: abs(self.left_less_right[name]))
        return row if abs(self.left_less_right[row]) > ASYMMETRY else None

    @property
    def turn(self) -> str | None:
        """Side to which the model turns it; None if it flies straight, or no steady turn was found."""
        if self.turn_row is None or self.turning is None or abs(self.turning.rate) < STRAIGHT:
            return None
        return "right" if self.turning.rate > 0 else "left"


def remeasured(vehicle: Vehicle, change: Mapping[str, float]) -> Remeasured:
    """The glide on lines of changed length.

    Parameters
    ----------
    vehicle : Vehicle
        As designed.
    change : mapping
        Label to added length, for every line. [m]
    """
    line_set = vehicle.line_set
    pose = pose_of_changed_lines(line_set, vehicle.canopy, change)
    slopes = rigging_slopes(line_set, vehicle.canopy)
    flown = assemble(vehicle.design, factors=vehicle.model.factors, rigging=replace(pose, misfit=0.0))
    trim = _trim(flown)
    by_row = {side: changes_by_row(line_set, change, side) for side in ("L", "R")}
    both = {row: (by_row["L"][row] + by_row["R"][row]) / 2 for row in by_row["L"]}
    held = [both[row] for row in line_set.straight]
    pulls = {
        side: min(max(-by_row[side][BRAKE_ROW], 0.0) / vehicle.design.brakes.travel, 1.0) for side in by_row
    }
    uneven = unevenness(line_set, vehicle.canopy, change)
    designed = find_trims(vehicle, modes=False).chosen
    return Remeasured(
        designed=designed,
        trim=trim,
        rigging=pose,
        designed_rigging=vehicle.rigging,
        tuck_margin=np.nan if trim is None else tuck_margin(flown, trim),
        stall_margin=np.nan if trim is None else stall_alpha(flown) - trim.alpha,
        designed_tuck_margin=tuck_margin(vehicle, designed),
        designed_stall_margin=stall_alpha(vehicle) - designed.alpha,
        adjustments=tuple(
            sorted(
                (
                    Adjustment(label=label, change=size, rigging_change=slopes[label] * size)
                    for label, size in change.items()
                ),
                key=lambda adjustment: -abs(adjustment.change),
            )
        ),
        mean_change=float(np.mean(held)),
        row_change=both,
        left_less_right={row: by_row["L"][row] - by_row["R"][row] for row in both},
        turning=None if trim is None else uneven_turn(flown, trim, uneven, pulls),
    )


def changes_by_row(line_set: LineSet, change: Mapping[str, float], side: str) -> dict[str, float]:
    """Mean change of the way from the riser end to the tabs of each row of one side, brakes too. [m]"""
    rows: dict[str, list[float]] = {row: [] for row in (*line_set.straight, BRAKE_ROW)}
    for end in line_set.tab_lines:
        if end.side == side and end.kind != "fin":
            way = sum(change.get(line.label, 0.0) for line in line_set.path(end))
            rows[BRAKE_ROW if end.kind == "brake" else end.rows[0]].append(way)
    return {row: float(np.mean(ways)) for row, ways in rows.items()}
