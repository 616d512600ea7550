"""What line errors do to the glide, and lines measured after a season."""

from __future__ import annotations

from math import degrees

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.lines import BRAKE_ROW, STRAIGHT, Remeasured, remeasured, row_effects
from parasim.flight.trim import find_trims
from parasim.flight.turn.steady import steady_turns


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


def no_change(vehicle: Vehicle) -> dict[str, float]:
    return {line.label: 0.0 for line in vehicle.line_set.lines}


def measured(vehicle: Vehicle, **rows: float) -> Remeasured:
    """Upper lines of some rows longer by so much."""
    change = no_change(vehicle)
    for end in vehicle.line_set.tab_lines:
        change[end.label] += rows.get(end.rows[0], 0.0)
    return remeasured(vehicle, change)


def test_lines_as_designed_change_nothing(vehicle):
    same = remeasured(vehicle, no_change(vehicle))
    assert same.trim is not None
    assert same.trim.glide_ratio == pytest.approx(same.designed.glide_ratio, rel=1e-9)
    assert same.rigging.misfit < 1e-9
    assert (same.turn, same.turn_row, same.mean_change) == (None, None, 0.0)
    assert max(abs(adjustment.change) for adjustment in same.adjustments) == 0.0


def test_a_short_rear_row_glides_flatter_and_slower(vehicle):
    """Less rigging angle, more angle of attack."""
    short = measured(vehicle, D=-0.008)
    assert short.rigging.rigging_angle < short.designed_rigging.rigging_angle
    assert short.trim is not None
    assert short.trim.alpha > short.designed.alpha
    assert short.trim.airspeed < short.designed.airspeed
    assert short.row_change == pytest.approx({"A": 0, "B": 0, "C": 0, "D": -0.008, BRAKE_ROW: 0})


def test_measured_rigging_is_that_of_a_canopy_rigged_so(vehicle, heron):
    """Lines of a 1 deg canopy, measured on a -1 deg design: its rigging and its glide."""
    other = assemble(override(heron, {"lines.rigging_angle": "1 deg"}))
    length = {line.label: line.length for line in other.line_set.lines}
    change = {line.label: length[line.label] - line.length for line in vehicle.line_set.lines}
    found = remeasured(vehicle, change)
    assert degrees(found.rigging.rigging_angle) == pytest.approx(1.0, abs=0.05)
    assert found.trim is not None
    expected = find_trims(other, modes=False).chosen
    assert found.trim.glide_ratio == pytest.approx(expected.glide_ratio, rel=0.005)


def test_largest_first(vehicle):
    change = no_change(vehicle) | {"05L-D": -0.009, "11R-A": 0.004, "03L-A+B": 0.006}
    adjustments = remeasured(vehicle, change).adjustments
    assert [a.label for a in adjustments[:3]] == ["05L-D", "03L-A+B", "11R-A"]
    assert [round(a.change, 3) for a in adjustments[:3]] == [-0.009, 0.006, 0.004]
    summed = sum(a.rigging_change for a in adjustments)
    found = remeasured(vehicle, change)
    assert summed == pytest.approx(
        found.rigging.rigging_angle - found.designed_rigging.rigging_angle, rel=0.02
    )


def longer_on(vehicle, side, row, size):
    change = no_change(vehicle)
    ends = [end for end in vehicle.line_set.tab_lines if end.side == side and end.rows[0] == row]
    return change | {end.label: size for end in ends}


@pytest.mark.parametrize(("side", "turn"), [("L", "right"), ("R", "left")])
def test_it_turns_to_the_shorter_side(vehicle, side, turn):
    """Common practice, no source; that of a front row, which moves the payload aside most."""
    change = longer_on(vehicle, side, "A", 0.006)
    found = remeasured(vehicle, change)
    assert (found.turn, found.turn_row) == (turn, "A")
    assert found.left_less_right["A"] == pytest.approx(0.006 if side == "L" else -0.006)


@pytest.mark.parametrize("size", [-0.012, -0.045, 0.006])
def test_short_brake_lines_are_brakes_and_long_ones_slack(vehicle, size):
    """As `parasim turn` has it for the same pull on the right."""
    found = remeasured(vehicle, longer_on(vehicle, "R", BRAKE_ROW, size))
    assert found.turn_row == BRAKE_ROW
    pull = max(-size, 0.0) / vehicle.design.brakes.travel
    turns = steady_turns(vehicle, left=0.0, right=1.0, brakes=np.linspace(0.0, pull, 9), growth=False)
    assert found.turning.rate == pytest.approx(turns[-1].rate, rel=1e-3, abs=1e-6)
    told = {True: "right", False: "left"}[turns[-1].rate > 0]
    assert found.turn == (told if abs(turns[-1].rate) > STRAIGHT else None)


def test_lines_far_off_have_no_glide(vehicle):
    found = measured(vehicle, A=-0.06, B=-0.05, D=0.06)
    assert found.trim is None
    assert np.isnan([found.tuck_margin, found.stall_margin]).all()


def test_row_errors(vehicle):
    """Rows ahead of the middle turn it nose-down when short, rows behind nose-up."""
    effects = row_effects(vehicle)
    assert [(e.row, round(e.error, 3)) for e in effects] == [
        (row, sign * 0.005) for row in "ABCD" for sign in (-1, 1)
    ] + [(BRAKE_ROW, -0.005)]
    trim = find_trims(vehicle, modes=False).chosen
    for effect in effects[:-1]:
        shorter_ahead = (effect.row in "AB") == (effect.error < 0)
        assert (effect.rigging_change > 0) == shorter_ahead
        assert effect.trim is not None
        assert (effect.trim.alpha < trim.alpha) == shorter_ahead
        assert 0.3 < abs(degrees(effect.rigging_change)) < 1.0
    assert effects[-1].trim is not None
    # 10 mm of free play take it up, but for what a table that is linear between brakes lets through.
    assert effects[-1].trim.airspeed == pytest.approx(trim.airspeed, rel=3e-3)


def test_brake_lines_shorter_than_the_free_play_are_brakes(heron):
    """5 mm short of 4 mm free play: 1 mm of brake."""
    tight = assemble(override(heron, {"brakes.free_play": "4 mm"}))
    pulled = row_effects(tight)[-1].trim
    assert pulled.airspeed < find_trims(tight, modes=False).chosen.airspeed


def test_tab_lines_end_at_tabs(vehicle):
    assert len(vehicle.line_set.tab_lines) == 8 * 4 + 2 * 3
