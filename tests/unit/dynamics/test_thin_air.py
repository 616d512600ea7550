"""Coefficients of thinner air, one table above the other, and what a flight from high up may reach."""

from __future__ import annotations

from itertools import pairwise
from math import log, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from parasim.aerodynamics.look_up import air_at, look_up
from parasim.aerodynamics.model import build_aero_table
from parasim.aerodynamics.table import AeroTable
from parasim.config.design import Design
from parasim.dynamics.flight_rates import Flight
from parasim.dynamics.reach import LEEWAY, most_airspeed
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.thin_air import (
    FOLLOWED_FROM,
    MOST_RATIO,
    at_height,
    on_the_way,
    reynolds_at,
    table_up_to,
)
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.gust import Gusts
from parasim.environment.wind import Wind
from parasim.flight.trim import find_trims

NONE = np.zeros(1)
TOP = 20_000.0


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return in_wind(assemble(heron), Wind.calm())


@pytest.fixture(scope="module")
def table(vehicle: Vehicle) -> AeroTable:
    return table_up_to(vehicle, TOP, brake=NONE)


def height_of(vehicle: Vehicle, density: float) -> float:
    """Height above ground at which the air has a density. [m]"""
    air, ground = vehicle.atmosphere, vehicle.ground_height
    return float(brentq(lambda h: air.density(ground + h) - density, 0.0, TOP + 1.0, xtol=1e-9))


def coefficients(table: AeroTable, density: float) -> np.ndarray:
    return np.array(look_up(table.for_look_up, 0.15, 0.05, 0.0, 0.0, 1.0, (0.1, 0.2, 0.3), density))


def test_low_down_nothing_changes(vehicle: Vehicle) -> None:
    assert at_height(vehicle, FOLLOWED_FROM - 1.0) is vehicle
    assert table_up_to(vehicle, FOLLOWED_FROM - 1.0) is vehicle.model.table


def test_reynolds_number_at_ten_kilometres(vehicle: Vehicle) -> None:
    """At one dynamic pressure Re goes with sqrt(rho) / mu.

    By the table of ISO 2533 at 10 km (from memory): 0.41271 kg/m³ and 1.4577e-5 Pa s, over 1.2250 and
    1.7894e-5 at sea level: 0.7125. Heron's ground lies at 120 m, which is 0.4 % of it.
    """
    high = at_height(vehicle, 10_000.0 - vehicle.ground_height)
    assert high.reynolds / vehicle.reynolds == pytest.approx(0.7125, rel=0.006)
    assert high.reynolds == reynolds_at(vehicle, 10_000.0 - vehicle.ground_height, high.reference.airspeed)
    assert high.model.polar.reynolds == high.reynolds


def test_a_height_of_a_height_is_that_height(vehicle: Vehicle) -> None:
    twice = at_height(at_height(vehicle, 5000.0), 15_000.0)
    assert twice.reynolds == pytest.approx(at_height(vehicle, 15_000.0).reynolds, rel=1e-12)
    assert twice.reference.airspeed == pytest.approx(at_height(vehicle, 15_000.0).reference.airspeed)


def test_each_table_stands_at_its_density(vehicle: Vehicle, table: AeroTable) -> None:
    assert coefficients(table, table.air_density) == pytest.approx(
        coefficients(build_aero_table(vehicle.model, brake=NONE), 1.0), rel=1e-12
    )
    for level in table.thinner:
        there = at_height(vehicle, height_of(vehicle, level.air_density))
        alone = build_aero_table(there.model, brake=NONE)
        found = coefficients(table, level.air_density)
        assert found == pytest.approx(coefficients(alone, 1.0), rel=1e-9)
    densities = [table.air_density, *(level.air_density for level in table.thinner)]
    ratios = np.array(densities[1:]) / np.array(densities[:-1])
    assert ratios == pytest.approx(ratios[0], rel=0.01)


def test_between_and_beyond_the_tables(table: AeroTable) -> None:
    """Linear in the logarithm of the density, held beyond the first and last."""
    one, two = table.air_density, table.thinner[0].air_density
    middle = coefficients(table, sqrt(one * two))
    assert middle == pytest.approx((coefficients(table, one) + coefficients(table, two)) / 2, rel=1e-9)
    np.testing.assert_array_equal(coefficients(table, 2.0), coefficients(table, one))
    top = table.thinner[-1].air_density
    np.testing.assert_array_equal(coefficients(table, 1e-3), coefficients(table, top))


def test_tables_stand_close_enough(vehicle: Vehicle, table: AeroTable) -> None:
    """Reynolds numbers of neighbours differ by 1.5 at most in the mean; half-way the glide is met.

    Lift and drag between two tables are within 1 % of those of a table made for that height.
    """
    count = len(table.thinner)
    ratio = vehicle.reynolds / at_height(vehicle, TOP).reynolds
    assert ratio ** (1 / count) <= MOST_RATIO < ratio ** (1 / (count - 1))
    densities = [table.air_density, *(level.air_density for level in table.thinner)]
    for one, two in pairwise(densities):
        there = at_height(vehicle, height_of(vehicle, sqrt(one * two)))
        exact = coefficients(build_aero_table(there.model, brake=NONE), 1.0)
        found = coefficients(table, sqrt(one * two))
        assert np.linalg.norm(found[:3] - exact[:3]) < 0.01 * np.linalg.norm(exact[:3])


def test_one_table_serves_any_air() -> None:
    assert air_at(np.zeros(1), 0.02) == (0, 0.0, 1)
    thinness = np.array([0.0, 1.0, 3.0])
    assert air_at(thinness, float(np.exp(-2.0))) == (1, pytest.approx(0.5), 2)


def test_steady_glide_high_up_follows_its_reynolds_number(vehicle: Vehicle) -> None:
    """As one of the model for that height; drag grows as Reynolds number falls, so it glides less far."""
    high = find_trims(vehicle, height=TOP, modes=False).chosen
    there = at_height(vehicle, TOP)
    assert (
        high.alpha == find_trims(vehicle, height=TOP, modes=False, table=there.model.trim_table).chosen.alpha
    )
    assert high.glide_ratio < 0.98 * find_trims(vehicle, modes=False).chosen.glide_ratio


def test_same_glide_on_the_way_has_one_dynamic_pressure(vehicle: Vehicle) -> None:
    heights, airspeed = on_the_way(vehicle, TOP, 29.0)
    density = vehicle.atmosphere.density(vehicle.ground_height + heights)
    np.testing.assert_allclose(density * airspeed**2, density[-1] * 29.0**2)
    assert (heights[0], heights[-1], airspeed[-1]) == (0.0, TOP, 29.0)


def test_thin_air_lets_it_fly_faster(vehicle: Vehicle) -> None:
    """Terminal speed goes with the root of the density: at 30 km some 8 times that of the ground."""
    body = build_body(vehicle, vehicle.model.released_table)
    flight = Flight(motion=body.motion, gusts=Gusts.none())
    trim = find_trims(vehicle, height=30_000.0, modes=False).chosen
    state = np.append(body.hanging(trim.state(height=30_000.0, heading=0.0)), (0.0, 0.0))
    rho = [vehicle.atmosphere.density(vehicle.ground_height + h) for h in (0.0, 30_000.0)]
    terminal = float(body.motion.constants["terminal_speed"])
    assert terminal > 0
    assert most_airspeed(flight, state) == pytest.approx(LEEWAY * terminal * sqrt(rho[0] / rho[1]))
    assert log(rho[0] / rho[1]) / 2 == pytest.approx(log(8.1), abs=0.02)
