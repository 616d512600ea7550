"""Figures of variants of a design file, one after the other or on several workers, each worked out once."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from parasim.config.variant import DesignFile, Written
from parasim.config.variation import Variation
from parasim.dynamics.vehicle import assemble
from parasim.errors import DesignError, OutOfRangeError, SolverError
from parasim.study.outputs import OUTPUTS, Flown

Progress = Callable[[int, int], None]
"""Called with how many of how many are done."""

Settings = tuple[float, ...]
"""A value of each key that is varied, in the units they were written in."""


_Job = tuple[DesignFile, Mapping[str, Written], Settings, tuple[str, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """Figures of one variant.

    Attributes
    ----------
    settings : tuple of float
        Of each key that is varied, in its unit as written.
    values : mapping
        Name of an output to its SI value; those without figure are missing.
    reasons : mapping
        Name of an output without figure to why it has none.
    """

    settings: Settings
    values: Mapping[str, float]
    reasons: Mapping[str, str]

    def value(self, name: str) -> float:
        """An output; nan without figure. [SI]"""
        return self.values.get(name, float("nan"))


def variant_of(
    file: DesignFile, changes: Mapping[str, Written], settings: Settings, names: Sequence[str]
) -> Variant:
    """Work out outputs of a file with some keys changed; what has no figure is given its reason."""
    try:
        flown = Flown(vehicle=assemble(file.design(changes)))
    except (DesignError, OutOfRangeError, SolverError) as error:
        return Variant(settings=settings, values={}, reasons=dict.fromkeys(names, _one_line(error)))
    values: dict[str, float] = {}
    reasons: dict[str, str] = {}
    for name in names:
        try:
            values[name] = float(OUTPUTS[name].figure(flown))
        except (DesignError, OutOfRangeError, SolverError) as error:
            reasons[name] = _one_line(error)
    return Variant(settings=settings, values=values, reasons=reasons)


def _one_line(error: Exception) -> str:
    return str(error).splitlines()[0]


@dataclass(frozen=True, kw_only=True, eq=False)
class Evaluator:
    """Works out variants of one file, and keeps them.

    Attributes
    ----------
    file : DesignFile
        What is varied.
    variations : tuple of Variation
        The keys.
    names : tuple of str
        Outputs wanted.
    workers : int
        Processes; the figures do not depend on their number.
    """

    file: DesignFile
    variations: tuple[Variation, ...]
    names: tuple[str, ...]
    workers: int = 1
    kept: dict[Settings, Variant] = field(default_factory=dict)

    def changes(self, settings: Settings) -> dict[str, Written]:
        """Keys to values as they stand in a file."""
        return {v.key: v.write(x) for v, x in zip(self.variations, settings, strict=True)}

    def many(self, wanted: Sequence[Settings], progress: Progress | None = None) -> list[Variant]:
        """Variants in the order asked for; those worked out before are not worked out again."""
        new = [settings for settings in dict.fromkeys(wanted) if settings not in self.kept]
        jobs = [(self.file, self.changes(settings), settings, self.names) for settings in new]
        for done, variant in enumerate(self._worked_out(jobs), start=1):
            self.kept[variant.settings] = variant
            if progress:
                progress(done, len(new))
        return [self.kept[settings] for settings in wanted]

    def _worked_out(self, jobs: Sequence[_Job]) -> Iterable[Variant]:
        if self.workers <= 1 or len(jobs) < 2:
            return (variant_of(*job) for job in jobs)
        from joblib import Parallel, delayed

        from parasim.workers import deaf_to_interruptions

        pool = Parallel(n_jobs=self.workers, return_as="generator")
        with deaf_to_interruptions():
            return pool(delayed(variant_of)(*job) for job in jobs)
