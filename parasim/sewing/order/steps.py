"""What a checklist is made of: figures to measure, joins to sew, steps, and their order."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from graphlib import TopologicalSorter
from heapq import heapify, heappop, heappush
from math import inf

from parasim.drawing.drawing import Drawing
from parasim.units import System, show, show_range

COUNT = "count"
"""Kind of a figure that counts things; other kinds are those of `parasim.units.UNITS`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure to expect, and to measure or count.

    Attributes
    ----------
    name : str
        What it is.
    value : float
        Expected, SI.
    kind : str
        Of quantity: a key of `parasim.units.UNITS`, or `COUNT`.
    tolerance : float or None
        Allowed either way, SI; None where none is given.
    band : tuple of float or None
        Low and high end of what a model expects, SI; the high end infinite where it is open.
    both_sides : bool
        Whether it is measured left and right.
    given_only : bool
        Whether it is to be known, not measured.
    digits : int or None
        Decimals printed, in place of the usual ones.
    """

    name: str
    value: float
    kind: str
    tolerance: float | None = None
    band: tuple[float, float] | None = None
    both_sides: bool = False
    given_only: bool = False
    digits: int | None = None

    def shown(self, system: System) -> str:
        """Expected value with its unit."""
        return self._show(self.value, system)

    def shown_range(self, system: System) -> str:
        """Tolerance or band with its unit; empty without."""
        if self.tolerance is not None:
            return f"± {self._show(self.tolerance, system)}"
        if self.band is not None:
            low, high = self.band
            if high == inf:
                return f"{self._show(low, system)} or more"
            return show_range(low, high, self.kind, system, digits=self.digits)
        return ""

    def _show(self, value: float, system: System) -> str:
        return f"{value:.0f}" if self.kind == COUNT else show(value, self.kind, system, digits=self.digits)


@dataclass(frozen=True, slots=True, kw_only=True)
class Join:
    """A seam between parts.

    Attributes
    ----------
    name : str
        No two alike.
    parts : tuple of str
        What it joins.
    length : float or None
        Along the seam; None for a tab or patch. [m]
    by_hand : float
        Length at the rear that is sewn by hand. [m]
    """

    name: str
    parts: tuple[str, ...]
    length: float | None = None
    by_hand: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the build.

    Attributes
    ----------
    key : str
        No two alike.
    stage : str
        Part of the build it belongs to.
    title : str
        What to do.
    details : tuple of str
        How, in sentences.
    after : tuple of str
        Keys of steps that must be done before.
    joins : tuple of Join
        What is sewn, in this order.
    by_hand : tuple of str
        What is sewn by hand, and why.
    figures : tuple of Figure
        To measure or count: an inspection point when there are any.
    sketches : tuple of Drawing
        Small drawings that stand by it on paper.
    """

    key: str
    stage: str
    title: str
    details: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    joins: tuple[Join, ...] = ()
    by_hand: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    sketches: tuple[Drawing, ...] = ()


def in_order(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Steps so that each comes after all that it waits for; else in the order given.

    What a step waits for but the design does not need is left out of its `after`.

    Raises
    ------
    graphlib.CycleError
        When steps wait for each other.

    Examples
    --------
    >>> trim = Step(key="trim", stage="", title="", after=("sew", "dye"))
    >>> [step.key for step in in_order([trim, Step(key="sew", stage="", title="")])]
    ['sew', 'trim']
    """
    place = {step.key: i for i, step in enumerate(steps)}
    present = [replace(step, after=tuple(key for key in step.after if key in place)) for step in steps]
    sorter = TopologicalSorter({place[step.key]: [place[key] for key in step.after] for step in present})
    sorter.prepare()
    ready = list(sorter.get_ready())
    heapify(ready)
    found = []
    while ready:
        first = heappop(ready)
        found.append(present[first])
        sorter.done(first)
        for i in sorter.get_ready():
            heappush(ready, i)
    return tuple(found)
