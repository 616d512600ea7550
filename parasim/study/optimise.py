"""How a search goes about: what is better; first over the whole ranges, then near the best."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

import numpy as np

from parasim.rotations import FloatArray
from parasim.study.evaluate import Evaluator, Progress, Settings, Variant
from parasim.study.limits import Limit

SEED = 1
"""The same question is searched in the same way every time."""

_FAILED = 1e6
_PART_OF_GLOBAL = 0.75
_POPULATION = 8
MINIMUM_POPULATION = 12
"""Designs of a generation, at least."""


def violation(variant: Variant, limits: Sequence[Limit]) -> float:
    """Sum of what a variant misses its limits by, each over the limit itself. [-]"""
    return float(sum(max(0.0, limit.shortfall(variant.value(limit.name))) for limit in limits))


def allowed(variant: Variant, goal: str, limits: Sequence[Limit]) -> bool:
    """Whether it has its figures and keeps all limits."""
    return complete(variant, goal, limits) and violation(variant, limits) == 0


def complete(variant: Variant, goal: str, limits: Sequence[Limit]) -> bool:
    """Whether it has the goal and all limited outputs."""
    return all(isfinite(variant.value(name)) for name in (goal, *(limit.name for limit in limits)))


@dataclass(frozen=True, kw_only=True, eq=False)
class Optimiser:
    """The search while it runs: unknowns are parts of the ranges, shape (n_keys,) or (n_keys, n).

    Attributes
    ----------
    evaluator : Evaluator
        Works out the designs and keeps them.
    goal, sign
        Output made best; 1 where small is best, else -1.
    limits : tuple of Limit
        To be kept.
    scale : float
        Usual size of the goal. [SI]
    most : int
        Designs to look at, at most.
    progress : callable or None
        Called with how many of how many were looked at.
    """

    evaluator: Evaluator
    goal: str
    sign: float
    limits: tuple[Limit, ...]
    scale: float
    most: int
    progress: Progress | None

    @property
    def count(self) -> int:
        """Designs looked at so far."""
        return len(self.evaluator.kept)

    def globally(self) -> None:
        """Look over the whole of the ranges, with a part of the designs allowed."""
        from scipy.optimize import Bounds, differential_evolution

        keys = len(self.evaluator.variations)
        size = max(_POPULATION * keys, MINIMUM_POPULATION)
        generations = max(int(_PART_OF_GLOBAL * self.most / size) - 1, 1)
        differential_evolution(
            self.scores, Bounds(np.zeros(keys), np.ones(keys)), init=self._first(size), maxiter=generations,
            rng=SEED, vectorized=True, updating="deferred", polish=False, tol=2e-3,
        )  # fmt: skip

    def locally(self) -> None:
        """Go on from the best so far, limits as constraints; counts stay as they are."""
        from scipy.optimize import minimize

        variations, start = self.evaluator.variations, self._parts(self.top().settings)
        free = [i for i, variation in enumerate(variations) if not variation.whole]
        left = self.most - self.count
        if not free or left < 2 * len(free) + 2 or not complete(self.top(), self.goal, self.limits):
            return

        def at(x: FloatArray) -> Variant:
            whole = start.copy()
            whole[free] = np.clip(x, 0.0, 1.0)
            return self._variants(whole[:, None])[0]

        def objective(x: FloatArray) -> float:
            variant = at(x)
            value = variant.value(self.goal)
            return self.sign * value / self.scale if isfinite(value) else _FAILED

        def margins(x: FloatArray) -> FloatArray:
            variant = at(x)
            return np.array([_margin(limit, variant) for limit in self.limits] + [0.0])

        def inside(x: FloatArray) -> FloatArray:
            return np.concatenate([x, 1.0 - x])

        constraints: Any = [{"type": "ineq", "fun": kept} for kept in (margins, inside)]
        minimize(
            objective, start[free], method="COBYLA", options={"rhobeg": 0.05, "tol": 5e-4, "maxiter": left},
            constraints=constraints,
        )  # fmt: skip

    def scores(self, x: Any, /) -> Any:
        """Of designs, the lower the better, shape (n,): see `search` for how they are compared."""
        return np.array([self.score(variant) for variant in self._variants(x)])

    def score(self, variant: Variant) -> float:
        """Within -1 to 1 where it keeps its limits, over 1 where it does not."""
        if not complete(variant, self.goal, self.limits):
            return _FAILED
        missed = violation(variant, self.limits)
        if missed > 0:
            return 1.0 + missed
        value = self.sign * variant.value(self.goal)
        return value / (self.scale + abs(value))

    def top(self) -> Variant:
        """Best design so far; of two alike the one with lower settings."""
        return min(self.evaluator.kept.values(), key=lambda v: (self.score(v), v.settings))

    def _first(self, size: int) -> FloatArray:
        """First designs, spread evenly by a Latin hypercube; one is the design as it is, if in range."""
        from scipy.stats import qmc

        variations = self.evaluator.variations
        first = np.asarray(qmc.LatinHypercube(len(variations), rng=SEED).random(size))
        own = [variation.own(self.evaluator.file) for variation in variations]
        inside = [x is not None and v.low <= x <= v.high for v, x in zip(variations, own, strict=True)]
        if all(inside):
            first[0] = self._parts(tuple(x for x in own if x is not None))
        return first

    def _parts(self, settings: Settings) -> FloatArray:
        """Settings as parts of their ranges, shape (n_keys,)."""
        pairs = zip(self.evaluator.variations, settings, strict=True)
        return np.array([(x - v.low) / (v.high - v.low) for v, x in pairs])

    def _variants(self, x: FloatArray) -> list[Variant]:
        wanted = [self._settings(column) for column in x.T.tolist()]
        before = self.count

        def given(done: int, _: int) -> None:
            if self.progress:
                self.progress(min(before + done, self.most), self.most)

        return self.evaluator.many(wanted, given)

    def _settings(self, parts: Sequence[float]) -> Settings:
        pairs = zip(self.evaluator.variations, parts, strict=True)
        return tuple(v.rounded(v.low + part * (v.high - v.low)) for v, part in pairs)


def _margin(limit: Limit, variant: Variant) -> float:
    value = variant.value(limit.name)
    return -limit.shortfall(value) if isfinite(value) else -1.0
