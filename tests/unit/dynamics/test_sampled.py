"""A flight through given moments is the flight that scipy's solver follows."""

from __future__ import annotations

import numpy as np

from parasim.config.design import Design
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.sampled import states_at
from parasim.dynamics.simulate import simulate
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import assemble, in_wind
from parasim.environment.wind import Wind
from parasim.flight.trim import find_trims
from parasim.mass.inventory import payload_bottom


def test_through_moments_is_as_by_scipy(heron: Design) -> None:
    """Two integrators, of which scipy's is the reference: a turn and back, within 2 cm after 30 s."""
    vehicle = in_wind(assemble(heron), Wind.calm())
    body = build_body(vehicle, vehicle.model.table)
    start = body.hanging(find_trims(vehicle, modes=False).chosen.state(height=200.0, heading=0.0))
    moves = np.array([[5.0, 1.0, 0.0, 0.5], [20.0, 1.0, 0.0, 0.0]])
    commands = (
        BrakeCommand(at_time=5.0, over=1.0, left=0.0, right=0.5),
        BrakeCommand(at_time=20.0, over=1.0, left=0.0, right=0.0),
    )
    time = np.arange(0.0, 30.0, 1.0)
    found = states_at(body.motion, moves, start, time)
    reference = simulate(body, start, commands, payload_bottom=payload_bottom(vehicle.design)).at(time)
    np.testing.assert_allclose(found[:3], reference[:3], atol=0.02)
    np.testing.assert_allclose(found[7:10], reference[7:10], atol=0.005)
    assert np.hypot(*found[:2, -1]) < np.hypot(*(7.8 * np.array([29.0, 0.0])))  # it has turned


def test_a_flight_that_is_not_followed_is_shorter(heron: Design) -> None:
    vehicle = in_wind(assemble(heron), Wind.calm())
    body = build_body(vehicle, vehicle.model.table)
    start = body.hanging(find_trims(vehicle, modes=False).chosen.state(height=200.0, heading=0.0))
    start[10] = np.nan
    assert states_at(body.motion, np.empty((0, 4)), start, np.arange(5.0)).shape[1] <= 1
