"""Search for the best design under limits, over ranges of a few keys of its file."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import isclose, isfinite

import numpy as np

from parasim.answer import Answer
from parasim.config.design import Design
from parasim.config.variant import DesignFile
from parasim.config.variation import Variation, check_together
from parasim.errors import OptionError, SolverError
from parasim.study.evaluate import Evaluator, Progress, Settings, Variant
from parasim.study.limits import Limit
from parasim.study.optimise import MINIMUM_POPULATION, Optimiser, allowed, complete, violation
from parasim.study.outputs import OUTPUTS, Output
from parasim.study.sweep import cautions_of, own_limit

MOST_KEYS = 4
EVALUATIONS = {"quick": 400, "slow": 160}
"""Designs looked at, at most, unless given; the lines through the best come on top."""

LINE_POINTS = 15
"""Of each line through the best design along one key."""

FLAT = 0.02
"""Part of the best by which a design may be worse and still count as good. [-]"""

FLAT_RANGE = 0.2
"""Part of a key's range that the good designs must span for the optimum to be called flat. [-]"""

BINDING = 0.01
"""Part of a limit by which it may be kept with room to spare and still bind. [-]"""

IDLE = 1e-3
"""Part of an output by which a key may change it all along its range and still make no difference. [-]"""

EDGE = 0.01
"""Part of a range from its end that counts as its edge. [-]"""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Search(Answer):
    """Answer to `parasim sweep` with something to make best.

    Attributes
    ----------
    file : DesignFile
        What was varied.
    variations : tuple of Variation
        One to four keys, by range.
    goal : str
        Output made best.
    minimum : bool
        Whether small is best.
    limits : tuple of Limit
        To be kept.
    shown : tuple of str
        Further outputs given of the best.
    as_designed : Variant
        The file as it is; its settings are empty.
    best : Variant or None
        The best that keeps all limits; None where none does.
    variants : tuple of Variant
        All that were looked at in the search.
    lines : tuple of tuple of Variant
        For each key: through the best, or what comes nearest to the limits, the others kept.
    """

    REPORT = "parasim.report.search:SearchReport"

    file: DesignFile
    variations: tuple[Variation, ...]
    goal: str
    minimum: bool
    limits: tuple[Limit, ...]
    shown: tuple[str, ...]
    as_designed: Variant
    best: Variant | None
    variants: tuple[Variant, ...]
    lines: tuple[tuple[Variant, ...], ...]

    @property
    def output(self) -> Output:
        """What is made best."""
        return OUTPUTS[self.goal]

    @cached_property
    def names(self) -> tuple[str, ...]:
        """All outputs given: the goal, those with a limit, and the further ones."""
        return tuple(dict.fromkeys([self.goal, *(limit.name for limit in self.limits), *self.shown]))

    @property
    def cautions(self) -> tuple[str, ...]:
        """To be said with these outputs."""
        return cautions_of(self.names)

    @property
    def everything(self) -> tuple[Variant, ...]:
        """Every variant, the lines included, each once."""
        return tuple({v.settings: v for v in (*self.variants, *sum(self.lines, ()))}.values())

    @property
    def failed(self) -> tuple[Variant, ...]:
        """Variants that lack the goal or a limited output, whose limits can so not be judged."""
        return tuple(v for v in self.everything if not complete(v, self.goal, self.limits))

    @property
    def nearest(self) -> Variant | None:
        """Of all, the one that misses its limits by the smallest amount; None without figures."""
        judged = [v for v in self.everything if complete(v, self.goal, self.limits)]
        return min(judged, key=lambda v: violation(v, self.limits), default=None)

    @property
    def furthest(self) -> Limit | None:
        """The limit that the nearest design misses most; None where it misses none."""
        nearest = self.nearest
        if nearest is None or not self.limits:
            return None
        worst = max(self.limits, key=lambda limit: limit.shortfall(nearest.value(limit.name)))
        return worst if worst.shortfall(nearest.value(worst.name)) > 0 else None

    def reached(self, limit: Limit) -> float:
        """The value nearest to keeping a limit, whatever the others say; nan if there is none. [SI]"""
        values = [v.value(limit.name) for v in self.everything if isfinite(v.value(limit.name))]
        return (max if limit.at_least else min)(values, default=float("nan"))

    @property
    def binding(self) -> tuple[Limit, ...]:
        """Limits that the best design just keeps."""
        best = self.best
        if best is None:
            return ()
        return tuple(x for x in self.limits if x.shortfall(best.value(x.name)) > -BINDING)

    @property
    def edges(self) -> Mapping[str, str]:
        """Keys at the edge of whose range the best lies: low or high."""
        found = {}
        for variation, x in zip(self.variations, self.best.settings if self.best else (), strict=False):
            if variation.key in self.idle_keys:
                continue
            part = (x - variation.low) / (variation.high - variation.low)
            if part <= EDGE or part >= 1 - EDGE:
                found[variation.key] = "low" if part <= EDGE else "high"
        return found

    @cached_property
    def idle_keys(self) -> tuple[str, ...]:
        """Keys that change neither the goal nor a limited output by more than `IDLE`, by the lines."""
        watched = (self.goal, *(limit.name for limit in self.limits))
        return tuple(
            variation.key
            for variation, line in zip(self.variations, self.lines, strict=True)
            if is_idle(line, watched)
        )

    @property
    def good(self) -> tuple[Variant, ...]:
        """Variants that keep all limits and are within `FLAT` of the best."""
        if self.best is None:
            return ()
        best = self.best.value(self.goal)
        return tuple(
            v
            for v in self.everything
            if allowed(v, self.goal, self.limits) and abs(v.value(self.goal) - best) <= FLAT * abs(best)
        )

    @property
    def good_ranges(self) -> tuple[tuple[float, float], ...]:
        """For each key, minimum and largest value among `good`, in its unit."""
        if not self.good:
            return ()
        settings = np.array([variant.settings for variant in self.good])
        return tuple(zip(settings.min(axis=0).tolist(), settings.max(axis=0).tolist(), strict=True))

    @property
    def flat_keys(self) -> tuple[str, ...]:
        """Keys along which `good` designs span much of the range, the other keys moving as they may."""
        return tuple(
            variation.key
            for variation, (low, high) in zip(self.variations, self.good_ranges, strict=False)
            if high - low > FLAT_RANGE * (variation.high - variation.low)
            and variation.key not in self.idle_keys
        )

    @cached_property
    def design(self) -> Design | None:
        """The best design."""
        return None if self.best is None else self.file.design(self._changes(self.best))

    def best_text(self) -> str:
        """Design file of the best, comments kept. Only where there is one."""
        assert self.best is not None
        return self.file.changed_text(self._changes(self.best))

    def _changes(self, variant: Variant) -> dict[str, str | int | float | bool]:
        return {v.key: v.write(x) for v, x in zip(self.variations, variant.settings, strict=True)}

    def passed_own_limits(self) -> tuple[tuple[Limit, float], ...]:
        """The design's own limits, not asked for, that the best passes, with its value. [SI]"""
        if self.best is None or self.design is None:
            return ()
        asked = {(limit.name, limit.at_least) for limit in self.limits}
        found = []
        for name in self.best.values:
            limit = own_limit(self.design, name)
            value = self.best.value(name)
            if limit and (limit.name, limit.at_least) not in asked and not limit.kept(value):
                found.append((limit, value))
        return tuple(found)


def search(
    file: DesignFile,
    variations: Sequence[Variation],
    *,
    goal: str,
    minimum: bool,
    limits: Sequence[Limit] = (),
    shown: Sequence[str] = (),
    evaluations: int | None = None,
    workers: int = 1,
    progress: Progress | None = None,
) -> Search:
    """Best design under limits, over ranges of one to four keys.

    Parameters
    ----------
    file : DesignFile
        What is varied; nothing is written to it.
    variations : sequence of Variation
        Ranges of numbers.
    goal, minimum
        Output to make best, and whether small is best.
    limits : sequence of Limit
        To be kept.
    shown : sequence of str
        Further outputs to give.
    evaluations : int, optional
        Most designs to look at, those on the lines through the best not counted; else `EVALUATIONS`.
    workers : int
        Processes; the answer does not depend on their number.
    progress : callable, optional
        Called with how many designs of how many were looked at.

    Raises
    ------
    OptionError
        When the keys cannot be searched over, or contradict the file.
    SolverError
        When no design looked at has the figures wanted.

    Notes
    -----
    Differential evolution (scipy) over the ranges scaled to one, seeded, the design as it is among the first;
    then COBYLA from the best of it, limits as constraints. Designs are compared by what they miss their
    limits by, and by the goal once they keep them all; one without figures is worse than any other. Values
    are rounded to a decimal step, so that none is worked out twice and the answer can be measured out.
    """
    wanted = (goal, *(limit.name for limit in limits), *shown)
    speed = "slow" if any(OUTPUTS[name].slow for name in wanted) else "quick"
    evaluations = EVALUATIONS[speed] if evaluations is None else evaluations
    _check(variations, evaluations)
    check_together(file, variations)
    names = tuple(dict.fromkeys([*wanted, *_guarded(wanted)]))
    evaluator = Evaluator(file=file, variations=tuple(variations), names=names, workers=workers)
    as_designed = Evaluator(file=file, variations=(), names=names).many([()])[0]
    optimiser = Optimiser(
        evaluator=evaluator,
        goal=goal,
        sign=1.0 if minimum else -1.0,
        limits=tuple(limits),
        scale=abs(as_designed.values.get(goal, 0.0)) or 1.0,
        most=evaluations,
        progress=progress,
    )
    optimiser.globally()
    optimiser.locally()
    looked_at = tuple(evaluator.kept.values())
    top = optimiser.top()
    if not complete(top, goal, limits):
        raise SolverError(
            f"none of {len(looked_at)} designs has its figures: {next(iter(top.reasons.values()))}"
        )
    lines = tuple(tuple(evaluator.many(line)) for line in _lines(variations, top.settings))
    kept = _with_idle_keys_left(optimiser, variations, lines)  # a point of a line may be better still
    return Search(
        file=file,
        variations=tuple(variations),
        goal=goal,
        minimum=minimum,
        limits=tuple(limits),
        shown=tuple(dict.fromkeys(shown)),
        as_designed=as_designed,
        best=kept if allowed(kept, goal, limits) else None,
        variants=looked_at,
        lines=lines,
    )


def _guarded(wanted: Sequence[str]) -> tuple[str, ...]:
    """Outputs that cost nothing more and carry a limit of the design's own."""
    quick = ("sink", "forward_speed", "landing_energy", "landing_load", "stall_margin", "tuck_margin")
    flared = any(name.startswith("flared") for name in wanted)
    return (*quick, *(("flared_sink", "flared_energy") if flared else ()))


def _check(variations: Sequence[Variation], evaluations: int) -> None:
    if not 1 <= len(variations) <= MOST_KEYS:
        raise OptionError(f"--vary: keys: {len(variations)}; give 1 to {MOST_KEYS} ranges to search over")
    for variation in variations:
        if not variation.is_range:
            raise OptionError(f"--vary {variation.key}: given a list; give a range LOW..HIGH to search over")
    if evaluations < MINIMUM_POPULATION:
        raise OptionError(f"--evaluations: given {evaluations}; use {MINIMUM_POPULATION} or more")


def is_idle(line: Sequence[Variant], watched: Sequence[str]) -> bool:
    """Whether outputs stay within `IDLE` all along a line."""
    return all(
        isclose(variant.value(name), line[0].value(name), rel_tol=IDLE)
        for variant in line
        for name in watched
    )


def _with_idle_keys_left(
    optimiser: Optimiser, variations: Sequence[Variation], lines: Sequence[Sequence[Variant]]
) -> Variant:
    """The best, but with keys that make no difference as the file has them, if limits are kept so."""
    watched = (optimiser.goal, *(limit.name for limit in optimiser.limits))
    top = optimiser.top()
    settings = list(top.settings)
    for i, (variation, line) in enumerate(zip(variations, lines, strict=True)):
        own = variation.own(optimiser.evaluator.file)
        if is_idle(line, watched) and own is not None and variation.low <= own <= variation.high:
            settings[i] = variation.rounded(own)
    (found,) = optimiser.evaluator.many([tuple(settings)])
    return found if allowed(found, optimiser.goal, optimiser.limits) else top


def _lines(variations: Sequence[Variation], through: Settings) -> list[list[Settings]]:
    lines = []
    for i, variation in enumerate(variations):
        values = {variation.rounded(x) for x in np.linspace(variation.low, variation.high, LINE_POINTS)}
        lines.append([(*through[:i], x, *through[i + 1 :]) for x in sorted({*values, through[i]})])
    return lines
