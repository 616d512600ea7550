"""Following the motion to the ground."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.rigid_body import RigidBody, build_rigid_body
from parasim.dynamics.simulate import simulate
from parasim.dynamics.state import ATTITUDE
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.wind import Wind
from parasim.flight.trim import Trim, find_trims
from parasim.rotations import rotation_matrix

BOTTOM = np.array([0.0, 0.0, 0.27])


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    return in_wind(assemble(reference), Wind.calm())


@pytest.fixture(scope="module")
def trim(vehicle: Vehicle) -> Trim:
    return find_trims(vehicle, modes=False).chosen


@pytest.fixture(scope="module")
def body(vehicle: Vehicle) -> RigidBody:
    return build_rigid_body(vehicle)


def bottom_height(state: np.ndarray) -> float:
    """Of the payload's bottom over the ground. [m]"""
    return -float(state[2] + rotation_matrix(state[ATTITUDE])[2] @ BOTTOM)


def commands(*texts: str) -> tuple[BrakeCommand, ...]:
    return tuple(BrakeCommand.model_validate(text) for text in texts)


def fly(body, trim, *texts, height=30.0, **options):
    start = trim.state(height=height, heading=0.0)
    return simulate(body, start, commands(*texts), payload_bottom=BOTTOM, **options)


def test_it_ends_with_the_payload_on_the_ground(body: RigidBody, trim: Trim) -> None:
    flight = fly(body, trim)
    assert flight.landed
    assert bottom_height(flight.state[:, -1]) == pytest.approx(0.0, abs=1e-6)
    assert flight.duration == pytest.approx((30 - 0.27) / trim.sink, rel=0.02)


def test_the_steady_glide_stays_steady(body: RigidBody, trim: Trim) -> None:
    flight = fly(body, trim)
    assert np.ptp(flight.state[7]) < 0.02
    assert abs(flight.state[1, -1]) < 1e-6


@pytest.mark.parametrize("level", [20.0, 12.5])
def test_brakes_by_height(body: RigidBody, trim: Trim, level: float) -> None:
    """The command comes when the payload's bottom passes the height, within a millimetre."""
    flight = fly(body, trim, f"{level}m: L 0.3 R 0.3")
    (move,) = flight.schedule.moves
    state = flight.at(np.array([move.start]))[:, 0]
    assert bottom_height(state) == pytest.approx(level, abs=1e-3)
    assert (move.left, move.right) == (0.3, 0.3)


def test_a_height_above_the_release_counts_at_once(body: RigidBody, trim: Trim) -> None:
    flight = fly(body, trim, "500m: L 0.2 R 0.2")
    assert flight.schedule.moves[0].start == 0.0


def test_time_and_height_together(body: RigidBody, trim: Trim) -> None:
    flight = fly(body, trim, "1s: L 0.2 R 0", "3s: L 0 R 0", "10m: L 0.3 R 0.3 over 1s")
    starts = [move.start for move in flight.schedule.moves]
    assert starts[:2] == [1.0, 3.0]
    assert starts[2] > 3.0
    assert flight.schedule.position(flight.duration) == pytest.approx((0.3, 0.3))


def test_between_the_steps_it_is_continuous(body: RigidBody, trim: Trim) -> None:
    flight = fly(body, trim, "2s: L 0.3 R 0")
    np.testing.assert_allclose(flight.at(flight.time), flight.state, atol=1e-6)
    around = flight.at(np.array([2.0 - 1e-6, 2.0 + 1e-6]))
    np.testing.assert_allclose(around[:, 0], around[:, 1], atol=1e-4)


def test_attitude_stays_of_unit_length(body: RigidBody, trim: Trim) -> None:
    flight = fly(body, trim, "1s: L 0.5 R 0", "4s: L 0 R 0.5")
    np.testing.assert_allclose(np.linalg.norm(flight.state[ATTITUDE], axis=0), 1.0, atol=1e-6)


def test_it_stops_in_the_air_when_told_to(body: RigidBody, trim: Trim) -> None:
    flight = fly(body, trim, longest=1.5)
    assert not flight.landed
    assert flight.duration == pytest.approx(1.5)


def test_a_step_of_the_brake_costs_few_evaluations(body: RigidBody, trim: Trim) -> None:
    """The integration is cut at the step, and looks at neither side across it."""
    smooth = fly(body, trim, height=20.0)
    stepped = fly(body, trim, "2s: L 0.02 R 0.02", height=20.0)
    assert stepped.evaluations < smooth.evaluations + 400
