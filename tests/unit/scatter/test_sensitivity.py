"""What drives a scatter: known by construction, and Sobol indices of a sum against their closed form."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from parasim.config.design import Design
from parasim.config.scatter import Spread
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.drop import release_of
from parasim.scatter.inputs import COLUMNS, Input
from parasim.scatter.members import Chunk, Members, Plan, fly_members
from parasim.scatter.scatter import build_plan
from parasim.scatter.sensitivity import (
    FIGURES,
    axis_of,
    build_sobol_plan,
    figures_of,
    fly_sobol_chunk,
    sensitivity,
    sobol,
)
from parasim.workers import Workers
from tests import ensemble_stand_in as stand_in

HERE = Workers(count=1, pool="threads")
NORTH = np.array([1.0, 0.0])
INPUTS = tuple(
    Input(name=name, nominal=0.0, spread=Spread("normal", (0.0, deviation)))
    for name, deviation in (("release_north", 3.0), ("release_east", 2.0), ("left_trim", 1.0))
)


def straight(ensemble_model: Any, inputs: Any, *, number: Any, seed: int) -> Any:
    """Lands at north = a + gusts, east = b³; c does nothing. Gusts have the deviation `ensemble_model`."""
    gusts = np.array([np.random.default_rng([seed, int(k)]).normal(0, ensemble_model) for k in number])
    n = len(number)
    return stand_in.Landings(
        north=inputs["release_north"] + gusts, east=inputs["release_east"] ** 3, time_aloft=np.ones(n),
        ground_speed=5.0 + 0.1 * inputs["release_north"] * inputs["release_east"], sink=np.full(n, 2.0),
        airspeed=np.ones(n), heading=np.zeros(n), largest_alpha=np.zeros(n), largest_beta=np.zeros(n),
        status=np.where(inputs["release_north"] > 9.5, 2, 0), steps=np.ones(n), settled=np.ones(n),
    )  # fmt: skip


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def plan(vehicle: Vehicle) -> Plan:
    made = build_plan(vehicle, release_of(vehicle), seed=1, flies=False)
    return replace(made, inputs=INPUTS, fly=straight, ensemble_model=4.0, unopened=0.0, late=0.0)


def flown(plan: Plan, n: int = 3000) -> Members:
    from parasim.scatter.inputs import numbers_of

    members = fly_members(plan, numbers_of(1, 0, n), np.arange(n))
    return members.select(members.landed)


def test_rank_correlations_are_those_of_a_library(plan: Plan) -> None:
    members = flown(plan)
    found = sensitivity(members, NORTH)
    assert found is not None
    along, across = figures_of(members, NORTH)[:2]
    for j, name in enumerate(found.names):
        for i, figure in enumerate((along, across)):
            expected = stats.spearmanr(members.inputs[name], figure).statistic
            assert found.rank[i, j] == pytest.approx(expected, abs=1e-12)
    # east = b³ is monotone: ranks see it whole
    assert found.partial[1, 1] == pytest.approx(1.0, abs=1e-6)
    assert found.explained[1] == pytest.approx(1.0, abs=1e-6)
    # north = a + gusts with deviations 3 and 4
    assert found.explained[0] == pytest.approx(0.36, abs=0.05)
    assert abs(found.partial[0, 2]) < 3 * found.noise
    # sink never changes
    assert not found.rank[3].any()
    assert found.explained[3] == 0.0


def test_partial_correlation_is_that_of_residuals(plan: Plan) -> None:
    members = flown(plan)
    found = sensitivity(members, NORTH)
    assert found is not None
    ranks = {name: stats.rankdata(values) for name, values in members.inputs.items()}
    target = stats.rankdata(members.north)
    others = np.column_stack([np.ones(len(target)), ranks["release_east"], ranks["left_trim"]])

    def residual(y: np.ndarray) -> np.ndarray:
        return y - others @ np.linalg.lstsq(others, y, rcond=None)[0]

    expected = np.corrcoef(residual(ranks["release_north"]), residual(target))[0, 1]
    assert found.partial[0, 0] == pytest.approx(expected, abs=1e-9)


def test_too_few_members_have_no_sensitivity(plan: Plan) -> None:
    assert sensitivity(flown(plan, 15), NORTH) is None


def test_axis_is_the_longer_one(plan: Plan) -> None:
    members = flown(replace(plan, ensemble_model=200.0))
    assert abs(axis_of(members) @ NORTH) == pytest.approx(1.0, abs=0.05)


def test_sobol_flights_are_a_matrix_with_one_column_of_another(plan: Plan) -> None:
    job = build_sobol_plan(plan, base=8, turbulent=True)
    u, number = job.of(np.arange(8 * 6))
    columns = [COLUMNS[each.name] for each in INPUTS]
    blocks, numbers = u[:, columns].reshape(6, 8, 3), number.reshape(6, 8)
    a, b = blocks[:2]
    assert not (a == b).any()
    for j in range(3):
        expected = a.copy()
        expected[:, j] = b[:, j]
        np.testing.assert_array_equal(blocks[2 + j], expected)
    np.testing.assert_array_equal(blocks[5], a)
    np.testing.assert_array_equal(numbers, [range(8), range(8, 16), *[range(8)] * 3, range(8, 16)])


def test_sobol_indices_of_a_sum(plan: Plan) -> None:
    """north = a + gusts with deviations 3 and 4: 36 % and 64 % of the variance, alone and in all."""
    gentle = replace(plan, fly=never_fails)
    job = build_sobol_plan(gentle, base=1024, turbulent=True)
    told: list[int] = []
    found = sobol(job, NORTH, HERE, lambda more, of: told.append(more))
    assert found.names == ("release_north", "release_east", "left_trim", "turbulence")
    assert sum(told) == found.flights == 1024 * 6
    # a library of this many rows is good to some per cent
    np.testing.assert_allclose(found.first[0], [0.36, 0, 0, 0.64], atol=0.08)
    np.testing.assert_allclose(found.total[0], [0.36, 0, 0, 0.64], atol=0.08)
    np.testing.assert_allclose(found.total[1], [0, 1, 0, 0], atol=0.1)
    # the product of two centred inputs: nothing alone, all of it together
    speed = list(FIGURES).index("ground_speed")
    np.testing.assert_allclose(found.first[speed], 0.0, atol=0.15)
    np.testing.assert_allclose(found.total[speed], [1, 1, 0, 0], atol=0.15)
    assert not found.total[list(FIGURES).index("sink")].any()
    for value, ends in ((found.first, found.first_interval), (found.total, found.total_interval)):
        assert np.mean((ends[0] <= value + 1e-9) & (value <= ends[1] + 1e-9)) > 0.9
    assert found.failed == 0


def never_fails(ensemble_model: Any, inputs: Any, *, number: Any, seed: int) -> Any:
    found = straight(ensemble_model, inputs, number=number, seed=seed)
    return replace(found, status=np.zeros(len(number), np.int8))


def test_sobol_is_the_same_on_any_workers(plan: Plan) -> None:
    job = build_sobol_plan(plan, base=32, turbulent=True)
    one = sobol(job, NORTH, HERE)
    other = sobol(job, NORTH, Workers(count=3, pool="threads"))
    np.testing.assert_array_equal(one.total, other.total)
    np.testing.assert_array_equal(one.total_interval, other.total_interval)


def test_failed_flights_count_as_the_average(plan: Plan) -> None:
    low = replace(plan, fly=often_fails)
    job = build_sobol_plan(low, base=64, turbulent=False)
    members = fly_sobol_chunk(job, Chunk(0, 64 * 5))
    found = sobol(job, NORTH, HERE)
    assert found.failed == np.count_nonzero(~members.landed) > 3
    assert np.isfinite(found.total).all()


def often_fails(ensemble_model: Any, inputs: Any, *, number: Any, seed: int) -> Any:
    found = straight(ensemble_model, inputs, number=number, seed=seed)
    return replace(found, status=np.where(inputs["release_north"] > 4.0, 3, 0))
