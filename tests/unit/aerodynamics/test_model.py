"""Coefficients and their tables."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parasim.aerodynamics.factors import Factors
from parasim.aerodynamics.model import (
    ALPHA_KNOTS,
    BETA_KNOTS,
    BRAKE_KNOTS,
    MIRROR,
    build_aero_table,
    calibrated_polar,
    rate_derivatives,
)
from parasim.aerodynamics.strips import Flow
from parasim.aerodynamics.table import AeroTable, cubic_weights
from parasim.dynamics.vehicle import Vehicle, assemble, with_factors


@pytest.fixture(scope="module")
def vehicle(reference) -> Vehicle:
    return assemble(reference)


@pytest.fixture(scope="module")
def table(vehicle: Vehicle) -> AeroTable:
    return vehicle.model.table


# --- the cubic ---------------------------------------------------------------------------------------------


def interpolated(knots, values, at, period=None):
    weights = cubic_weights(knots, period)
    ends = (values[-2:-1], values[1:2]) if period else (values[:1], values[-1:])
    padded = np.concatenate([ends[0], values, ends[1]])
    i = min(max(int(np.searchsorted(knots, at, side="right")) - 1, 0), len(knots) - 2)
    t = (at - knots[i]) / (knots[i + 1] - knots[i])
    return (t ** np.arange(4)) @ weights[i] @ padded[i : i + 4]


@settings(derandomize=True, max_examples=50, deadline=None)
@given(a=st.floats(-2, 2), b=st.floats(-2, 2), c=st.floats(-2, 2), at=st.floats(0.5, 4.0))
def test_cubic_is_exact_for_quadratics_inside(a, b, c, at):
    """Between the second and the last but one knot; the end intervals take a one-sided slope."""
    knots = np.array([0.0, 0.5, 1.5, 1.7, 3.0, 4.0, 6.0])

    def f(x):
        return a + b * x + c * x**2

    assert interpolated(knots, f(knots), at) == pytest.approx(f(at), abs=1e-9)


def test_cubic_is_exact_for_straight_lines_everywhere():
    knots = np.array([0.0, 0.5, 1.5, 1.7, 3.0])
    for at in np.linspace(0, 3, 31):
        assert interpolated(knots, 1 - 2 * knots, at) == pytest.approx(1 - 2 * at)


def test_periodic_cubic_is_smooth_at_its_seam():
    values = np.sin(ALPHA_KNOTS)
    values[-1] = values[0]
    h = 1e-6
    period = 2 * np.pi
    before = interpolated(ALPHA_KNOTS, values, np.pi - h, period) - interpolated(
        ALPHA_KNOTS, values, np.pi, period
    )
    after = interpolated(ALPHA_KNOTS, values, -np.pi, period) - interpolated(
        ALPHA_KNOTS, values, -np.pi + h, period
    )
    assert before / h == pytest.approx(after / h, abs=1e-4)


# --- the table ---------------------------------------------------------------------------------------------


def test_table_is_the_model_at_its_knots(vehicle: Vehicle, table: AeroTable) -> None:
    rng = np.random.default_rng(3)
    for _ in range(12):
        alpha, beta = rng.choice(ALPHA_KNOTS[:-1]), rng.choice(BETA_KNOTS)
        left, right = rng.choice(BRAKE_KNOTS, 2)
        steady, _ = table.look_up(alpha, beta, left, right)
        flow = Flow.steady(np.array([alpha]), beta)
        expected = vehicle.model.coefficients(flow, np.array([left]), np.array([right]))[0, 0]
        np.testing.assert_allclose(steady, expected, rtol=1e-9, atol=1e-9)


def test_between_knots_it_stays_near_the_model(vehicle: Vehicle, table: AeroTable) -> None:
    """Gliding flight, half way between knots: within 0.01 of force and moment coefficients."""
    for alpha, beta in ((1.25, 3.0), (6.25, 2.0), (8.75, 10.0)):
        steady, _ = table.look_up(np.radians(alpha), np.radians(beta), 0.0, 0.0)
        flow = Flow.steady(np.radians([alpha]), np.radians(beta))
        expected = vehicle.model.coefficients(flow, np.zeros(1), np.zeros(1))[0, 0]
        np.testing.assert_allclose(steady, expected, atol=0.01)


def test_mirror(table: AeroTable) -> None:
    rng = np.random.default_rng(4)
    for _ in range(20):
        alpha, beta = rng.uniform(-np.pi, np.pi), rng.uniform(-np.pi / 2, np.pi / 2)
        left, right = rng.uniform(0, 1, 2)
        one, _ = table.look_up(alpha, beta, left, right)
        other, _ = table.look_up(alpha, -beta, right, left)
        np.testing.assert_allclose(one, MIRROR * other, atol=1e-9)


def test_the_model_itself_mirrors(vehicle: Vehicle) -> None:
    """The table's left side is made from its right one; that must be true of the model."""
    brake = np.array([0.7]), np.array([0.2])
    one = vehicle.model.coefficients(Flow.steady(np.array([0.1]), 0.2), *brake)[0, 0]
    other = vehicle.model.coefficients(Flow.steady(np.array([0.1]), -0.2), *brake[::-1])[0, 0]
    np.testing.assert_allclose(one, MIRROR * other, atol=1e-6)


def test_full_circle_is_finite_and_closes(table: AeroTable) -> None:
    assert np.isfinite(table.steady).all()
    assert np.isfinite(table.rates).all()
    np.testing.assert_allclose(table.steady[0], table.steady[-1], atol=1e-9)
    assert table.unconverged <= 0.002 * table.steady[..., 0].size


def test_brakes_are_held_to_their_range(table: AeroTable) -> None:
    np.testing.assert_array_equal(table.look_up(0.1, 0.0, 1.7, -0.2)[0], table.look_up(0.1, 0.0, 1.0, 0.0)[0])


def test_quick_tables_agree_with_the_whole_one(vehicle: Vehicle, table: AeroTable) -> None:
    for alpha in (0.02, 0.1, 0.3):
        for quick in (vehicle.model.released_table, vehicle.model.trim_table):
            np.testing.assert_allclose(
                quick.look_up(alpha, 0.0, 0.0, 0.0)[0], table.look_up(alpha, 0.0, 0.0, 0.0)[0], atol=1e-9
            )


def test_rates_damp(vehicle: Vehicle) -> None:
    rates = rate_derivatives(vehicle.model, np.radians([2.0, 6.0]))
    assert np.all(rates[:, 3, 0] < 0)  # roll
    assert np.all(rates[:, 4, 1] < 0)  # pitch
    assert np.all(rates[:, 5, 2] < 0)  # yaw
    symmetric, lateral = [0, 2, 4], [1, 3, 5]
    np.testing.assert_allclose(rates[:, symmetric][:, :, [0, 2]], 0.0, atol=1e-6)
    np.testing.assert_allclose(rates[:, lateral][:, :, 1], 0.0, atol=1e-6)


def test_without_rates(vehicle: Vehicle) -> None:
    found = build_aero_table(vehicle.model, beta=BETA_KNOTS[:2], brake=np.zeros(1), rates=False)
    assert not found.rates.any()


# --- calibration -------------------------------------------------------------------------------------------


def test_neutral_factors_leave_the_polar(vehicle: Vehicle) -> None:
    polar = vehicle.model.polar
    same = calibrated_polar(polar, Factors(), 0.0)
    np.testing.assert_allclose(same.cl, polar.cl)
    np.testing.assert_allclose(same.cm, polar.cm)
    np.testing.assert_allclose(same.cd[0], polar.cd[0])


def test_skin_drag_adds_to_every_drag(vehicle: Vehicle) -> None:
    polar = vehicle.model.polar
    np.testing.assert_allclose(calibrated_polar(polar, Factors(), 0.01).cd[0], polar.cd[0] + 0.01)


@pytest.mark.parametrize("name", [field.name for field in fields(Factors)])
def test_every_factor_moves_something(vehicle: Vehicle, name: str) -> None:
    changed = with_factors(vehicle, replace(vehicle.model.factors, **{name: 0.123}))
    flow = Flow(alpha=np.array([0.1]), beta=np.array([0.1]), rotation=np.array([[0.1, 0.0, 0.1]]))
    brake = np.array([0.5]), np.array([0.0])

    def figures(of: Vehicle):
        return np.append(of.model.coefficients(flow, *brake).ravel(), of.bodies.drag_area)

    assert not np.allclose(figures(changed), figures(vehicle), rtol=1e-6)


def test_calibrated_side_force_and_damping_by_hand(vehicle: Vehicle) -> None:
    """CY = slope sin b cos b; Cn by yaw rate r b/2V = 0.1 and damping -0.05: -0.005."""
    plain = with_factors(
        vehicle, replace(vehicle.model.factors, side_force_slope=0.0, yaw_damping=0.0, roll_damping=0.0)
    )
    damped = with_factors(vehicle, replace(plain.model.factors, yaw_damping=-0.05))
    pushed = with_factors(vehicle, replace(plain.model.factors, side_force_slope=-0.05))
    turning = Flow(
        alpha=np.zeros(1), beta=np.zeros(1), rotation=np.array([[0.0, 0.0, 0.1 * 2 / vehicle.model.span]])
    )
    free = np.zeros(1)
    change = damped.model.coefficients(turning, free, free) - plain.model.coefficients(turning, free, free)
    np.testing.assert_allclose(change[0, 0], [0, 0, 0, 0, 0, -0.005], atol=1e-12)
    slipping = Flow.steady(np.zeros(1), 0.1)
    change = pushed.model.coefficients(slipping, free, free) - plain.model.coefficients(slipping, free, free)
    assert change[0, 0, 1] == pytest.approx(-0.05 * np.sin(0.1) * np.cos(0.1))
