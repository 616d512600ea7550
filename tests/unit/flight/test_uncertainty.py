"""Bands by hand: a stand-in figure in place of a flight."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import numpy as np
import pytest
from scipy.stats import qmc

from parasim.aerodynamics.factors import FactorRange, build_ranges
from parasim.config.design import Design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import TrimError
from parasim.flight.uncertainty import bands, draw, flying_bands, latin_hypercube


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    vehicle = assemble(reference)
    factors = replace(vehicle.model.factors, extra_drag=0.0, roughness_drag=0.0, moment_shift=0.0)
    return replace(vehicle, model=replace(vehicle.model, factors=factors))


def around_zero(name: str, by: float) -> FactorRange:
    return FactorRange(name=name, low=-by, high=by)


RANGES = (around_zero("extra_drag", 0.3), around_zero("roughness_drag", 0.2))


def test_root_of_squares_each_way(vehicle: Vehicle) -> None:
    """3 x 0.3 and 2 x 0.2 each way: hypot(0.9, 0.4)."""
    found = bands(
        vehicle,
        RANGES,
        lambda v: {"x": 10 + 3 * v.model.factors.extra_drag - 2 * v.model.factors.roughness_drag},
    )
    band = found.figures["x"]
    assert band.value == 10
    assert band.high - 10 == pytest.approx(hypot(0.9, 0.4))
    assert 10 - band.low == pytest.approx(hypot(0.9, 0.4))
    assert band.causes[0] == ("extra_drag", pytest.approx(0.81 / 0.97))


def test_a_factor_cannot_be_at_both_ends_at_once(vehicle: Vehicle) -> None:
    """A figure at its best in the middle falls by 1 at either end: the band reaches down by 1, not by the
    root of 2.
    """
    found = bands(vehicle, RANGES[:1], lambda v: {"x": -abs(v.model.factors.extra_drag) / 0.3})
    assert found.figures["x"].low == pytest.approx(-1.0)
    assert found.figures["x"].high == 0.0


def test_an_end_without_flight_is_told(vehicle: Vehicle) -> None:
    def figures(v: Vehicle) -> dict[str, float]:
        if v.model.factors.extra_drag > 0:
            raise TrimError("no glide")
        return {"x": v.model.factors.extra_drag}

    found = bands(vehicle, RANGES, figures)
    assert found.lost == ("extra_drag",)
    assert found.figures["x"].low == pytest.approx(-0.3)
    assert found.figures["x"].high == 0.0


def test_a_lost_end_is_drawn_and_counted(vehicle: Vehicle) -> None:
    """A normal of deviation 0.15 cut off above zero: half are lost, and of the rest 1 in 40 lies below
    -0.15 times 2.24, the two-sided 97.5 % point (from memory, unverified).
    """

    def figures(v: Vehicle) -> dict[str, float]:
        if v.model.factors.extra_drag > 0:
            raise TrimError("no glide")
        return {"x": v.model.factors.extra_drag}

    found = flying_bands(vehicle, RANGES, figures)
    assert found.lost_share == 0.5
    assert found.figures["x"].low == pytest.approx(-0.15 * 2.24, abs=0.02)
    assert found.figures["x"].high == 0.0
    assert found.caveats("glide") == (
        "At one end of the range of extra drag there is no glide; of canopies drawn from all ranges "
        "50 of 100 have none, and the bands are those of the others.",
    )


def test_nothing_is_drawn_where_every_end_flies(vehicle: Vehicle) -> None:
    seen: list[float] = []

    def figures(v: Vehicle) -> dict[str, float]:
        seen.append(v.model.factors.extra_drag)
        return {"x": 1.0}

    found = flying_bands(vehicle, RANGES, figures)
    assert found.lost_share is None
    assert found.caveats("glide") == ()
    assert len(seen) == 1 + 2 * len(RANGES)


def test_an_end_where_it_already_stands_is_skipped(vehicle: Vehicle) -> None:
    seen: list[float] = []

    def figures(v: Vehicle) -> dict[str, float]:
        seen.append(v.model.factors.extra_drag)
        return {"x": 1.0}

    bands(vehicle, (FactorRange(name="extra_drag", low=0.0, high=0.1),), figures)
    assert seen == [0.0, 0.1]


def test_ranges_hold_the_designs_own_values(reference: Design) -> None:
    factors = assemble(reference).model.factors
    for factor in build_ranges(reference):
        assert factor.low <= getattr(factors, factor.name) <= factor.high


def hanging(r: float) -> tuple[FactorRange, ...]:
    """The same ranges, the two factors correlated."""
    first, second = RANGES
    return (
        replace(first, correlated=(("roughness_drag", r),)),
        replace(second, correlated=(("extra_drag", r),)),
    )


@pytest.mark.parametrize("r", [-0.8, 0.0, 0.5, 0.95])
def test_correlations_weigh_what_adds_up_and_what_cancels(vehicle: Vehicle, r: float) -> None:
    """Changes of 0.9 and -0.4 with correlation r: g^T C g = 0.9² + 0.4² - 2 r 0.9 0.4, by hand."""
    found = bands(
        vehicle,
        hanging(r),
        lambda v: {"x": 3 * v.model.factors.extra_drag - 2 * v.model.factors.roughness_drag},
    )
    band = found.figures["x"]
    wanted = (0.81 + 0.16 - 2 * r * 0.36) ** 0.5
    assert band.high == pytest.approx(wanted)
    assert band.low == pytest.approx(-wanted)
    assert sum(share for _, share in band.causes) == pytest.approx(1.0)
    assert all(share >= 0 for _, share in band.causes)


def test_canopies_are_drawn_as_they_hang_together(vehicle: Vehicle) -> None:
    drawn = draw(
        vehicle,
        hanging(-0.7),
        lambda v: {"a": v.model.factors.extra_drag, "b": v.model.factors.roughness_drag},
        number=400,
    )
    a, b = drawn.figures["a"], drawn.figures["b"]
    assert float(np.corrcoef(a, b)[0, 1]) == pytest.approx(-0.7, abs=0.05)
    assert (a.std(), b.std()) == pytest.approx((0.15, 0.1), rel=0.05)


@pytest.mark.parametrize(("number", "count"), [(200, 11), (7, 1), (1, 3)])
def test_latin_hypercube_of_a_library(number: int, count: int) -> None:
    """Against scipy.stats.qmc, to the last bit."""
    ours = latin_hypercube(number, count, np.random.default_rng(1).spawn(1)[0])
    assert np.array_equal(ours, qmc.LatinHypercube(count, rng=1).random(number))
