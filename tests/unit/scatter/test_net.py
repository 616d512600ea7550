"""Flights that tumble or get stuck, and the energy balance that tells of energy from nothing."""

from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.scenario import LandingSpec
from parasim.dynamics import reach
from parasim.dynamics.flight_rates import Flight
from parasim.dynamics.rigid_body import build_rigid_body
from parasim.dynamics.runge_kutta import TUMBLED, fly, workspace_for
from parasim.dynamics.simulate import simulate
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.gust import Gusts
from parasim.environment.wind import Wind
from parasim.errors import FlightError
from parasim.flight.drop import drop, initial_state, payload_bottom, release_of
from parasim.flight.energy_balance import balance, energy_balance
from parasim.flight.trim import find_trims
from parasim.scatter.statistics import over_limits, share


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    return in_wind(assemble(reference), Wind.calm())


@pytest.fixture(scope="module")
def start(vehicle: Vehicle) -> np.ndarray:
    release = replace(release_of(vehicle), height=30.0, start="steady")
    return initial_state(vehicle, release, find_trims(vehicle, height=30.0).chosen)


def test_flight_that_begins_with_a_spin_out_of_reach_tumbles(vehicle: Vehicle, start: np.ndarray) -> None:
    spinning = start.copy()
    spinning[12] = 1e4
    with pytest.raises(FlightError, match="tumbled, not computed") as told:
        simulate(build_rigid_body(vehicle), spinning, payload_bottom=payload_bottom(vehicle.design))
    assert told.value.spin > 1e3
    assert 0 < told.value.height < 31


def test_ensemble_core_tells_of_the_same_tumble(vehicle: Vehicle, start: np.ndarray) -> None:
    y = np.append(start, (0.0, 0.0))
    y[12] = 1e4
    flight = Flight(motion=build_rigid_body(vehicle).motion, gusts=Gusts.none())
    place = tuple(payload_bottom(vehicle.design).tolist())
    timed = np.array([[-np.inf, 0.0, 0.0, 0.0]])
    none, atol = np.empty((0, 4)), np.full(15, 1e-4)
    ending, *_ = fly(flight, place, timed, none, y, 1e-5, atol, 60.0, workspace_for(15, 1))
    assert ending == TUMBLED


def test_flight_that_takes_too_much_work_is_stuck(
    vehicle: Vehicle, start: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("parasim.dynamics.simulate.is_stuck", lambda count, _: count > 20)
    with pytest.raises(FlightError, match="stuck, not computed"):
        simulate(build_rigid_body(vehicle), start, payload_bottom=payload_bottom(vehicle.design))


def test_work_allowed_grows_with_the_time_flown() -> None:
    assert reach.is_stuck(reach.EVALUATIONS_A_SECOND + 1, 0.0)
    assert not reach.is_stuck(reach.EVALUATIONS_A_SECOND + 1, 1.0)
    most = reach.MOST_EVALUATIONS + reach.MORE_A_SECOND * 1000
    assert reach.is_stuck(most + 1, 1000.0)
    assert not reach.is_stuck(most - 1, 1000.0)


def test_drop_gains_no_energy(vehicle: Vehicle) -> None:
    found = drop(vehicle, replace(release_of(vehicle), height=30.0, start="steady"))
    assert not found.balance.broken
    assert found.balance.caveats == ()


def test_energy_from_nothing_is_told(vehicle: Vehicle, start: np.ndarray) -> None:
    body = build_body(vehicle)
    flown = simulate(body, start, payload_bottom=payload_bottom(vehicle.design))
    assert not energy_balance(body, flown).broken
    time = np.linspace(0.0, 5.0, 51)
    state = flown.at(time)
    state[7:10] *= 1.0 + 0.2 * time  # faster and faster on the same path
    found = balance(body, time, state, np.zeros((3, 51)))
    assert found.broken
    assert "Energy from nothing" in found.caveats[0]


def test_still_air_and_steady_wind_balance_alike(vehicle: Vehicle, start: np.ndarray) -> None:
    body = build_body(vehicle)
    flown = simulate(body, start, payload_bottom=payload_bottom(vehicle.design))
    time = np.linspace(0.0, 3.0, 61)
    still = balance(body, time, flown.at(time), np.zeros((3, 61)))
    moved, wind = flown.at(time), np.zeros((3, 61))
    wind[0] = 6.0
    from parasim.rotations import rotation_matrix

    moved[7:10] += np.einsum("jin,jn->in", rotation_matrix(moved[3:7]), wind)
    carried = balance(body, time, moved, wind)
    assert carried.kinetic == pytest.approx(still.kinetic)
    assert carried.gain == pytest.approx(still.gain, abs=1e-9)


def test_members_not_computed_count_as_over_every_limit() -> None:
    class Landed:
        sink, ground_speed, energy = np.array([1.0, 5.0]), np.ones(2), np.ones(2)

    one, any_of_them = over_limits(Landed(), LandingSpec(max_sink=3.0), uncomputed=3)  # type: ignore[arg-type]
    assert (one.count, one.of) == (any_of_them.count, any_of_them.of) == (4, 5)


def test_members_not_computed_are_no_hits() -> None:
    found = share("now", np.array([True, False]), more=2)
    assert (found.count, found.of) == (1, 4)
