"""The turn on lines that differ between left and right: which way, and how much, against what is known."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.trim import Trim, find_trims
from parasim.flight.turn.steady import steady_turns
from parasim.flight.uneven import STEPS, twist_coefficients, uneven_turn
from parasim.geometry.hang import Unevenness, unevenness

FREE = {"L": 0.0, "R": 0.0}
EVEN = Unevenness(shift=0.0, roll=0.0, yaw=0.0, twist=0.0)


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def trim(vehicle: Vehicle) -> Trim:
    return find_trims(vehicle, modes=False).chosen


def longer(vehicle: Vehicle, side: str, size: float) -> dict[str, float]:
    ends = [line for hold in vehicle.line_set.holds for line in hold.uppers]
    return {line.label: size for line in ends if line.side == side}


def test_even_lines_fly_straight(vehicle: Vehicle, trim: Trim) -> None:
    both = longer(vehicle, "L", 0.005) | longer(vehicle, "R", 0.005)
    uneven = unevenness(vehicle.line_set, vehicle.canopy, both)
    assert uneven.aside(np.array([0.0, 0.0, 0.2])) == pytest.approx(0.0, abs=1e-9)
    turning = uneven_turn(vehicle, trim, uneven, FREE)
    assert turning is not None
    assert turning.rate == pytest.approx(0.0, abs=1e-6)


def test_it_turns_to_the_side_of_the_shorter_lines(vehicle: Vehicle, trim: Trim) -> None:
    """That side hangs lower and the canopy banks to it: common practice, no source."""
    found = {}
    for side in "LR":
        uneven = unevenness(vehicle.line_set, vehicle.canopy, longer(vehicle, side, 0.003))
        turning = uneven_turn(vehicle, trim, uneven, FREE)
        assert turning is not None
        found[side] = turning
    assert found["L"].rate > 0.001
    assert found["L"].bank > 0
    assert found["R"].rate == pytest.approx(-found["L"].rate, rel=1e-3)


def test_a_payload_moved_aside_is_the_shift_asked_for(vehicle: Vehicle) -> None:
    """Lines made for riser ends 2 mm further right are taken up by that shift and nothing else."""
    shift = np.array([0.0, 0.002, 0.0])
    change = {}
    for hold in vehicle.line_set.holds:
        lower = hold.lines[0]
        change[lower.label] = float(np.linalg.norm(lower.end - lower.start - shift)) - lower.length
    found = unevenness(vehicle.line_set, vehicle.canopy, change)
    assert found.shift == pytest.approx(0.002, rel=0.05)
    assert found.twist == pytest.approx(0.0, abs=2e-4)


@pytest.mark.parametrize("brake", [0.1, 0.3])
def test_uneven_brake_lines_turn_as_brakes_do(vehicle: Vehicle, trim: Trim, brake: float) -> None:
    (*_, wanted) = steady_turns(
        vehicle, left=0.0, right=1.0, brakes=np.linspace(0.0, brake, STEPS), growth=False
    )
    found = uneven_turn(vehicle, trim, EVEN, {"L": 0.0, "R": brake})
    assert found is not None
    assert (found.rate, found.bank) == pytest.approx((wanted.rate, wanted.bank), rel=1e-6)


def test_a_twist_lifts_the_side_with_more_incidence(vehicle: Vehicle, trim: Trim) -> None:
    """About the canopy's own centre it rolls to the other side, and pulls outwards, as the arc does there.

    (About the confluence, near the centre of heron's arc, the pull outwards makes up for the roll.)
    """
    right_up = twist_coefficients(vehicle, trim, np.radians(1.0))
    height = vehicle.rigging.line_length * np.cos(vehicle.rigging.rigging_angle)
    assert right_up[1] > 0
    assert right_up[3] - right_up[1] * height / vehicle.model.table.span < 0
    left_up = twist_coefficients(vehicle, trim, -np.radians(1.0))
    assert left_up[1] == pytest.approx(-right_up[1], rel=1e-3)
    twice = twist_coefficients(vehicle, trim, np.radians(2.0))
    assert twice[1] == pytest.approx(2 * right_up[1], rel=0.02)
