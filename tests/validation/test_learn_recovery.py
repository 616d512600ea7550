"""Intervals of fits hold the truth as often as they say: 200 canopies drawn from the ranges and flown.

The model is the predictor's flights of heron in a straight line with each number, so that 200 fits take
seconds; ranges keep their two sides. Of 200 intervals of 90 % between 85 and 95 % should hold: 2.4 standard
deviations of a binomial either way. With the predictor itself (`python -m scripts.studies.learn_recovery
configs/heron.yaml 200`) they held 87.5 to 93.0 %, 89.9 % in all, and a sink ten times too large was named in
200 of 200.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from parasim.aerodynamics.factors import build_ranges
from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from parasim.learning.fit import Prior, build_prior, fit
from parasim.learning.learned import KEPT, OUTLIER
from parasim.learning.predictor import Condition, Predictor
from parasim.rotations import FloatArray
from scripts.studies.learn_recovery import ERRORS, INTERVAL, data_of

CASES = 200
Model = tuple[Prior, Callable[[FloatArray], FloatArray], Callable[[FloatArray], FloatArray]]


@pytest.fixture(scope="module")
def model(heron: Design) -> Model:
    """Prior of heron, its flights as straight lines, and their slopes."""
    data = data_of()
    predictor = Predictor(assemble(heron), map(Condition.of, data))
    prior = build_prior(build_ranges(heron), predictor.at)
    here, slopes = predictor.predict(data, prior.value), predictor.slopes(data, prior.value)
    return prior, lambda numbers: here + slopes @ (numbers - prior.value), lambda _: slopes


@pytest.fixture(scope="module")
def recovered(model: Model) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Whether each interval held, what was left of each spread, and the residual of a slip."""
    prior, expect, slopes = model
    rng = np.random.default_rng(11)
    held, kept, slips = [], [], []
    for _ in range(CASES):
        z = rng.standard_normal(len(prior.value))
        measured = expect(prior.numbers(z)) + ERRORS * rng.standard_normal(len(ERRORS))
        found = fit(prior, expect, slopes, measured, ERRORS)
        held.append(np.abs(found.z - z) <= INTERVAL * found.spread)
        kept.append(found.spread)
        measured[0] *= 10
        slips.append(fit(prior, expect, slopes, measured, ERRORS).residuals[0])
    return np.mean(held, axis=0), np.mean(kept, axis=0), np.array(slips)


def test_ninety_of_a_hundred_hold(recovered: tuple[FloatArray, FloatArray, FloatArray], model: Model) -> None:
    held, kept, _ = recovered
    shares = dict(zip(model[0].names, held.tolist(), strict=True))
    told = {name: shares[name] for name, left in zip(shares, kept, strict=True) if left <= KEPT}
    assert {"moment_shift", "yaw_damping", "brake_drag_factor"} <= set(told)
    assert all(0.85 <= share <= 0.95 for share in told.values()), told
    assert held.mean() == pytest.approx(0.90, abs=0.02)


def test_what_cannot_be_told_is_left(
    recovered: tuple[FloatArray, FloatArray, FloatArray], model: Model
) -> None:
    kept = dict(zip(model[0].names, recovered[1].tolist(), strict=True))
    for name in ("side_force_slope", "roll_damping", "roughness_drag"):
        assert kept[name] > 0.95
    assert max(kept.values()) <= 1.0 + 1e-9


def test_a_slip_is_named(recovered: tuple[FloatArray, FloatArray, FloatArray]) -> None:
    assert (np.abs(recovered[2]) > OUTLIER).all()
