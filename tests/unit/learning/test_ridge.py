"""How far a number may be along its ridge, against closed forms and scipy's quadrature."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from parasim.learning.fit import Posterior, Prior, fit, huber
from parasim.learning.ridge import walk
from parasim.rotations import FloatArray

Model = Callable[[FloatArray], FloatArray]


def fitted(model: Model, number: int, start: float = 0.0) -> Posterior:
    """Fit of numbers, each of value 0 and deviation 1, to residuals."""
    prior = Prior(
        names=tuple("abcd"[:number]), value=np.zeros(number), below=np.ones(number), above=np.ones(number),
        least=np.full(number, -50.0), most=np.full(number, 50.0), hang=np.eye(number),
    )  # fmt: skip

    def slopes(x: FloatArray) -> FloatArray:
        return np.array([(model(x + 1e-5 * e) - model(x - 1e-5 * e)) / 2e-5 for e in np.eye(number)]).T

    count = len(model(np.zeros(number)))
    return fit(prior, model, slopes, np.zeros(count), np.ones(count), start=np.full(number, start))


def test_where_all_is_straight_it_is_the_fit_that_counts() -> None:
    """a + b measured as 1 to half a deviation: the inverse of the normal equations."""
    found = fitted(lambda x: (x[:1] + x[1:] - 1.0) / 0.5, 2)
    ridges = walk(found, lambda x: (x[:1] + x[1:] - 1.0) / 0.5, 1, np.array([1]))
    exact = float(np.linalg.inv(np.eye(2) + np.full((2, 2), 4.0))[0, 0]) ** 0.5
    assert found.spread[0] == pytest.approx(exact)
    assert ridges.spread[0] == pytest.approx(exact, rel=0.02)
    assert ridges.gain == pytest.approx(0.0, abs=1e-6)


def test_one_side_that_tells_little_is_counted() -> None:
    """Measured is exp(3 a): 1 to a tenth. Below it soon tells nothing, and the prior alone holds it."""

    def model(x: FloatArray) -> FloatArray:
        return (np.exp(3 * x) - 1.0) / 0.9

    def square(a: float, power: int) -> float:
        cost = float(huber(model(np.array([a])) ** 2)[0].sum()) + a**2
        return (a - top) ** power * float(np.exp(-0.5 * cost))

    found = fitted(model, 1)
    top = float(found.z[0])
    exact = (quad(square, -5, 5, (2,))[0] / quad(square, -5, 5, (0,))[0]) ** 0.5
    ridges = walk(found, model, 1, np.array([], dtype=int))
    assert found.spread[0] < 0.6 * exact  # what curvature says
    assert ridges.spread[0] == pytest.approx(exact, rel=0.1)


def test_a_better_hill_beside_it_is_found() -> None:
    """8 (a² - 0.2025) is none at either 0.45; 1.5 (a - 0.45) makes it 1.8 squares worse at -0.45, by hand."""

    def model(x: FloatArray) -> FloatArray:
        return np.array([8.0 * (x[0] ** 2 - 0.2025), 1.5 * (x[0] - 0.45)])

    found = fitted(model, 1, start=-0.45)
    assert found.z[0] < -0.3
    ridges = walk(found, model, 1, np.array([], dtype=int))
    assert 0.2 < ridges.best[0] < 0.7
    assert 0.5 < ridges.gain < 1.8


def test_what_is_quick_follows() -> None:
    """b makes up for most of exp(2 a): then a is known less well, as the quadrature over both says."""

    def model(x: FloatArray) -> FloatArray:
        return np.array([(np.exp(2 * x[0]) - 1.0 - 1.5 * x[1]) / 0.3])

    found = fitted(model, 2)
    stiff = walk(found, model, 1, np.array([], dtype=int)).spread[0]
    free = walk(found, model, 1, np.array([1])).spread[0]

    def likely(b: float, a: float, power: int) -> float:
        cost = float(huber(model(np.array([a, b])) ** 2)[0].sum()) + a**2 + b**2
        return (a - float(found.z[0])) ** power * float(np.exp(-0.5 * cost))

    exact = (dblquad(likely, -4, 4, -4, 4, (2,))[0] / dblquad(likely, -4, 4, -4, 4, (0,))[0]) ** 0.5
    assert stiff < free
    assert free == pytest.approx(exact, rel=0.15)
