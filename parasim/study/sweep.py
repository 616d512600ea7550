"""How outputs of a design change with one or two keys of its file."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import isfinite

import numpy as np

from parasim.answer import Answer
from parasim.caveats import CAUTION
from parasim.config.design import Design
from parasim.config.variant import DesignFile
from parasim.config.variation import Variation, check_together
from parasim.errors import OptionError, SolverError
from parasim.rotations import FloatArray
from parasim.study.evaluate import Evaluator, Progress, Settings, Variant
from parasim.study.limits import Limit
from parasim.study.outputs import OUTPUTS, Output

MOST_VARIANTS = 2500
"""In one sweep."""

_NUMBERS = re.compile(r"-?\d+(\.\d+)?( deg)?(, -?\d+ deg)*")

USUAL = ("sink", "glide")
"""Outputs shown when none are asked for."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Sweep(Answer):
    """Answer to `parasim sweep`.

    Attributes
    ----------
    file : DesignFile
        What was varied.
    variations : tuple of Variation
        One or two keys.
    names : tuple of str
        Outputs.
    limits : tuple of Limit
        Given with the question.
    variants : tuple of Variant
        By the first key, then by the second.
    own : tuple of float or None
        The file's own value of each key, in its unit; None where it has none.
    """

    REPORT = "parasim.report.sweep:SweepReport"

    file: DesignFile
    variations: tuple[Variation, ...]
    names: tuple[str, ...]
    limits: tuple[Limit, ...]
    variants: tuple[Variant, ...]
    own: tuple[float | None, ...]

    @cached_property
    def design(self) -> Design:
        """The file's design as it is."""
        return self.file.design()

    @property
    def outputs(self) -> tuple[Output, ...]:
        """What was asked for."""
        return tuple(OUTPUTS[name] for name in self.names)

    @property
    def cautions(self) -> tuple[str, ...]:
        """To be said with these outputs."""
        return cautions_of(self.names)

    def field(self, name: str) -> FloatArray:
        """Values of an output, shape (n,) or (n_first, n_second); nan at a gap. [SI]"""
        values = np.array([variant.value(name) for variant in self.variants])
        return values.reshape([len(v.numbers) for v in self.variations])

    def limits_on(self, name: str) -> tuple[tuple[str, Limit], ...]:
        """Limits on an output with a word on where each comes from: asked for, or the design's own."""
        asked = [("asked for", limit) for limit in self.limits if limit.name == name]
        own = own_limit(self.design, name)
        return (*asked, *([("the design's own", own)] if own and not asked else []))

    def gaps(self, name: str) -> tuple[tuple[str, tuple[Variant, ...]], ...]:
        """Reasons why an output has no figure, the commonest first, each with its variants.

        Reasons that differ in their numbers only are reported as one, by the words of the first.
        """
        found: dict[str, list[Variant]] = {}
        for variant in self.variants:
            if name in variant.reasons:
                found.setdefault(_NUMBERS.sub("#", variant.reasons[name]), []).append(variant)
        groups = sorted(found.values(), key=len, reverse=True)
        return tuple((group[0].reasons[name], tuple(group)) for group in groups)

    def largest(self, name: str) -> Variant | None:
        """Variant with the largest value of an output."""
        return max(self._with(name), key=lambda v: v.value(name), default=None)

    def smallest(self, name: str) -> Variant | None:
        """Variant with the smallest value of an output."""
        return min(self._with(name), key=lambda v: v.value(name), default=None)

    def _with(self, name: str) -> list[Variant]:
        return [variant for variant in self.variants if isfinite(variant.value(name))]


def own_limit(design: Design, name: str) -> Limit | None:
    """The design's own limit on an output."""
    output = OUTPUTS[name]
    value = output.own_limit(design)
    return None if value is None else Limit(name=name, at_least=output.at_least, value=value)


def cautions_of(names: Sequence[str]) -> tuple[str, ...]:
    """Cautions that outputs want, each once; the shared one where they want none."""
    return tuple(dict.fromkeys(caution for name in names for caution in OUTPUTS[name].cautions)) or (CAUTION,)


def sweep(
    file: DesignFile,
    variations: Sequence[Variation],
    *,
    names: Sequence[str] = USUAL,
    limits: Sequence[Limit] = (),
    workers: int = 1,
    progress: Progress | None = None,
) -> Sweep:
    """Outputs over one or two keys of a design file.

    Parameters
    ----------
    file : DesignFile
        What is varied; nothing is written to it.
    variations : sequence of Variation
        One or two.
    names : sequence of str
        Outputs wanted, keys of `OUTPUTS`.
    limits : sequence of Limit
        To be marked.
    workers : int
        Processes.
    progress : callable, optional
        Called with the designs done and their number.

    Raises
    ------
    OptionError
        When there are none or more than two keys, or they contradict the file.
    SolverError
        When no variant has any figure.
    """
    if not 1 <= len(variations) <= 2:
        raise OptionError(
            f"--vary: keys: {len(variations)}; give one or two, or --minimum or --maximum to search"
        )
    check_together(file, variations)
    wanted: list[Settings] = list(product(*(variation.numbers for variation in variations)))
    if len(wanted) > MOST_VARIANTS:
        raise OptionError(f"--points: {len(wanted)} designs; use fewer points, up to {MOST_VARIANTS} designs")
    evaluator = Evaluator(file=file, variations=tuple(variations), names=tuple(names), workers=workers)
    variants = tuple(evaluator.many(wanted, progress))
    if not any(variant.values for variant in variants):
        raise SolverError(f"none of {len(variants)} designs has a figure: {_first_reason(variants)}")
    return Sweep(
        file=file,
        variations=tuple(variations),
        names=tuple(names),
        limits=tuple(limits),
        variants=variants,
        own=tuple(variation.own(file) for variation in variations),
    )


def _first_reason(variants: Sequence[Variant]) -> str:
    return next(iter(variants[0].reasons.values()))
