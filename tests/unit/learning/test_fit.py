"""The fit against closed forms, against weighted draws, and where it must not move."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.learning.fit import CORE, Posterior, Prior, fit, huber
from parasim.learning.insight import deviation, left_out, narrowing, with_datum
from parasim.rotations import FloatArray


def prior(n: int = 2, *, below: float = 1.0, above: float = 1.0, hang: FloatArray | None = None) -> Prior:
    return Prior(
        names=tuple(f"n{i}" for i in range(n)), value=np.zeros(n), below=np.full(n, below),
        above=np.full(n, above), least=np.full(n, -100.0), most=np.full(n, 100.0),
        hang=np.eye(n) if hang is None else hang,
    )  # fmt: skip


def linear(matrix: FloatArray, measured: FloatArray, error: FloatArray, **options: object) -> Posterior:
    before = prior(matrix.shape[1], **options)  # type: ignore[arg-type]
    return fit(before, lambda x: matrix @ x, lambda x: matrix, measured, error)


def test_one_number_one_measurement() -> None:
    """Prior 0 ± 1, measured 1.0 ± 0.5: mean 1/(1 + 0.25) = 0.8, variance 0.25/1.25 = 0.2. Textbook."""
    found = linear(np.eye(1), np.array([1.0]), np.array([0.5]))
    assert found.values == pytest.approx([0.8], abs=1e-4)
    assert found.spread**2 == pytest.approx([0.2], rel=1e-4)
    low, high = found.ends()
    assert (low[0], high[0]) == pytest.approx((0.8 - 2 * 0.2**0.5, 0.8 + 2 * 0.2**0.5), abs=1e-3)


def test_a_correlated_prior_is_the_normal_equations() -> None:
    """Linear and normal: covariance (A^T A / s² + P^-1)^-1, mean by it. Source: [Tarantola2005]"""
    hang = np.array([[1.0, 0.6], [0.6, 1.0]])
    matrix, measured, error = np.array([[1.0, 2.0], [1.0, -1.0]]), np.array([0.5, 0.2]), np.array([0.7, 0.9])
    found = linear(matrix, measured, error, hang=hang)
    scaled = matrix / error[:, None]
    covariance = np.linalg.inv(scaled.T @ scaled + np.linalg.inv(hang))
    np.testing.assert_allclose(found.covariance, covariance, rtol=1e-6)
    np.testing.assert_allclose(found.values, covariance @ scaled.T @ (measured / error), atol=1e-4)


def test_what_is_not_measured_does_not_narrow() -> None:
    found = linear(np.array([[1.0, 0.0]]), np.array([0.7]), np.array([0.3]))
    assert found.spread[1] == pytest.approx(1.0)
    assert found.values[1] == pytest.approx(0.0, abs=1e-6)


def test_only_a_sum_is_known() -> None:
    """Two numbers of which only the sum is measured, well: each keeps 1/sqrt 2, correlation -1."""
    found = linear(np.array([[1.0, 1.0]]), np.array([0.0]), np.array([1e-3]))
    assert found.spread == pytest.approx([0.5**0.5] * 2, rel=1e-3)
    assert found.hang[0, 1] == pytest.approx(-1.0, abs=1e-3)


def test_a_lopsided_prior_keeps_its_sides() -> None:
    before = prior(1, below=1.0, above=3.0)
    assert before.numbers(np.array([2.0])) == pytest.approx([6.0])
    assert before.numbers(np.array([-2.0])) == pytest.approx([-2.0])
    assert before.deviations(before.numbers(np.array([1.3]))) == pytest.approx([1.3])
    found = linear(np.eye(1), np.array([3.0]), np.array([1.0]), below=1.0, above=3.0)
    assert found.values == pytest.approx([2.7], abs=1e-3)  # 9/(9 + 1) of the way, by the wide side


def test_a_number_without_range_stays() -> None:
    found = linear(np.eye(1), np.array([3.0]), np.array([1.0]), below=0.0, above=0.0)
    assert found.values == pytest.approx([0.0])


def test_hard_limits_are_kept() -> None:
    before = prior(1)
    tight = Prior(
        names=before.names, value=before.value, below=before.below, above=before.above,
        least=np.array([-0.5]), most=np.array([0.5]), hang=before.hang,
    )  # fmt: skip
    found = fit(tight, lambda x: x, lambda x: np.eye(1), np.array([5.0]), np.array([0.1]))
    assert found.values[0] <= 0.5


def test_enough_data_overrule_a_wrong_prior() -> None:
    """Truth five deviations off: one measurement cannot say so, twenty can, though each pulls little."""
    truth, error = 5.0, 1.0
    one, twenty = (linear(np.ones((n, 1)), np.full(n, truth), np.full(n, error)) for n in (1, 20))
    assert one.values[0] < 0.5 * truth
    assert abs(twenty.values[0] - truth) < 2 * twenty.spread[0]


def test_a_slip_moves_the_fit_by_less_than_its_share() -> None:
    """Four readings of 1 and one of 10: the mean with squares is 2.8, here it stays near 1."""
    error = np.full(5, 0.2)
    good = linear(np.ones((4, 1)), np.ones(4), error[:4])
    slipped = linear(np.ones((5, 1)), np.array([1.0, 1.0, 1.0, 1.0, 10.0]), error)
    squares = (4 * 1.0 + 10.0) / (5 + 0.04)
    assert abs(slipped.values[0] - good.values[0]) < 0.1 * (squares - good.values[0])
    assert abs(slipped.residuals[4]) > 40
    assert slipped.spread[0] == pytest.approx(good.spread[0])  # and says nothing of how sure it is


def test_loss_is_square_inside_and_straight_outside() -> None:
    """Source: [Huber1964]. Value and slope meet at the core."""
    loss, slope, _ = huber(np.array([0.25, CORE**2, 36.0]))
    assert loss == pytest.approx([0.25, CORE**2, 2 * CORE * 6 - CORE**2])
    assert slope == pytest.approx([1.0, 1.0, CORE / 6])


def curved(x: FloatArray) -> FloatArray:
    return np.array([np.exp(0.4 * x[0]) + x[1], x[0] * (1 + 0.2 * x[1])])


def curved_slopes(x: FloatArray) -> FloatArray:
    return np.array([[0.4 * np.exp(0.4 * x[0]), 1.0], [1 + 0.2 * x[1], 0.2 * x[0]]])


def test_spread_is_that_of_weighted_draws() -> None:
    """Laplace's approximation against draws from a wider t distribution, weighted by the true density."""
    measured, error = np.array([1.6, 0.5]), np.array([0.3, 0.4])
    found = fit(prior(), curved, curved_slopes, measured, error)
    rng = np.random.default_rng(5)
    count, freedom = 20_000, 5
    root = np.linalg.cholesky(found.covariance)
    chi = rng.chisquare(freedom, count) / freedom
    z = found.z + (rng.standard_normal((count, 2)) @ root.T) / np.sqrt(chi)[:, None]
    squares = np.einsum("ij,jk,ik->i", z - found.z, np.linalg.inv(found.covariance), z - found.z)
    proposal = -(freedom + 2) / 2 * np.log1p(squares / freedom)
    data = np.array([(((curved(one) - measured) / error) ** 2) for one in z])
    target = -0.5 * (huber(data.ravel())[0].reshape(data.shape).sum(axis=1) + (z**2).sum(axis=1))
    weight = np.exp(target - proposal - (target - proposal).max())
    weight /= weight.sum()
    assert 1 / (weight**2).sum() > 0.3 * count  # the draws are worth that many
    mean = weight @ z
    spread = np.sqrt(weight @ (z - mean) ** 2)
    assert mean == pytest.approx(found.z, abs=0.1)
    assert spread == pytest.approx(found.spread, rel=0.06)


def test_leaving_one_out_is_fitting_without_it() -> None:
    rng = np.random.default_rng(2)
    matrix, error = rng.normal(size=(5, 3)), np.full(5, 0.5)
    measured = matrix @ rng.normal(size=3) + 0.3 * rng.normal(size=5)
    found = linear(matrix, measured, error)
    assert np.abs(found.residuals).max() < CORE
    for j in range(5):
        rest = np.arange(5) != j
        without = linear(matrix[rest], measured[rest], error[rest])
        said = left_out(found, j)
        np.testing.assert_allclose(said.covariance, without.covariance, atol=1e-6)
        np.testing.assert_allclose(said.moved, found.z - without.z, atol=2e-3)


def test_what_a_measurement_would_tell_is_what_it_tells() -> None:
    matrix, error = np.array([[1.0, 0.4], [0.2, 1.0]]), np.array([0.5, 0.3])
    one = linear(matrix[:1], np.zeros(1), error[:1])
    both = linear(matrix, np.zeros(2), error)
    foretold = with_datum(one.covariance, matrix[1], float(error[1]))
    np.testing.assert_allclose(foretold, both.covariance, atol=1e-6)
    figure = np.array([[1.0, 1.0]])
    part = narrowing(deviation(figure, one.covariance), deviation(figure, foretold))
    assert 0 < part[0] < 1
    assert narrowing(np.zeros(1), np.zeros(1)) == pytest.approx([0.0])
