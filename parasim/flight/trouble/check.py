"""Errors of sewing and rigging: what each does to a figure of the flight, how much of it does what was seen.

A cause is one kind of error and a figure of the flight over its size. Its size is sought by Brent's method on
that curve, from nothing up to a bound; where the flight ceases on the way, the size at which it does counts.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import hypot, inf, isfinite, nan
from typing import Literal

import numpy as np

from parasim.errors import ConvergenceError, DesignError, OutOfRangeError, TrimError

Basis = Literal["COMPUTED", "COMMON PRACTICE"]

PLAUSIBLE = 4.0
"""Times its likely size up to which an error passes unnoticed on the bench. Our choice, no source. [-]"""

STEPS = 6
"""Sizes up to the bound at which a curve is looked at before it is searched."""

HALVINGS = 7
"""Of an interval at whose end the flight has ceased."""

NEAR = 0.5
"""Part of the way to a level from which a flight that ceases counts as having come to it. Our choice. [-]"""

NO_FLIGHT = (TrimError, ConvergenceError, DesignError, OutOfRangeError, ArithmeticError)
"""Raised where an error of some size leaves no flight, or no design that a file may hold."""

FINE = 1e-4
"""To which a size is found, over its bound. [-]"""


class Curve:
    """A figure of the flight over the size of one error, each size worked out once.

    Parameters
    ----------
    figure : callable
        From a size to the figure [SI]; where there is no such flight it is nan, or raises one of
        `NO_FLIGHT`.
    bound : float
        Largest size that is looked at. [SI]
    """

    def __init__(self, figure: Callable[[float], float], bound: float) -> None:
        self.bound = bound
        self._figure = figure
        self._known: dict[float, float] = {}

    def __call__(self, size: float) -> float:
        """Figure at a size; nan where there is no such flight."""
        if size not in self._known:
            try:
                self._known[size] = self._figure(size)
            except NO_FLIGHT:
                self._known[size] = nan
        return self._known[size]

    def reaches(self, level: float) -> float | None:
        """Smallest size at which the figure comes to a level, or ceases near it; None if it does not."""
        from scipy.optimize import brentq

        start = self(0.0)
        if start == level or not isfinite(start):
            return 0.0 if start == level else None
        low = 0.0
        for high in (self.bound * np.linspace(0.0, 1.0, STEPS + 1)[1:] ** 1.5).tolist():
            ceased = not isfinite(self(high))
            if ceased:
                high = self.edge(low, high)
            if self._passed(high, level):
                found = float(brentq(self._away, low, high, args=(level,), xtol=FINE * self.bound))
                return found if self._is_there(found, level) else None
            if ceased:
                return high if self._part(high, level) > NEAR else None
            low = high
        return None

    def _part(self, size: float, level: float) -> float:
        """Part of the way to the level. [-]"""
        return (self(size) - self(0.0)) / (level - self(0.0))

    def _is_there(self, found: float, level: float) -> bool:
        """Whether the curve comes to the level by itself, not by a leap to another flight."""
        return self._part(max(found - 2 * FINE * self.bound, 0.0), level) > NEAR

    def _away(self, size: float, level: float) -> float:
        """Figure less level; where there is no flight, as if beyond it."""
        found = self(size) - level
        return found if isfinite(found) else level - self(0.0)

    def _passed(self, size: float, level: float) -> bool:
        return (self(size) - level) * (self(0.0) - level) <= 0

    def edge(self, low: float, high: float) -> float:
        """Largest size with a flight, from between one that has it and one that has not."""
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if isfinite(self(middle)) else (low, middle)
        return low

    def both_ways(self) -> bool:
        """Whether of the sizes known some move the figure up and others down, by more than a twentieth."""
        moved = [value - self(0.0) for value in self._known.values() if isfinite(value)]
        most = max(map(abs, moved), default=0.0)
        return bool(most) and min(moved) < -most / 20 and max(moved) > most / 20


def sampled(figure: Callable[[float], float], bound: float, count: int) -> Callable[[float], float]:
    """A figure that takes long, as a smooth curve through samples (pchip): for what asks for it often.

    Parameters
    ----------
    figure : callable
        As for `Curve`.
    bound : float
        Samples reach from nothing to there, or to where the flight ceases; beyond it is nan. [SI]
    count : int
        How many.
    """
    from scipy.interpolate import PchipInterpolator

    curve = Curve(figure, bound)
    sizes, edge = [0.0], bound
    for size in np.linspace(0.0, bound, count)[1:].tolist():
        if not isfinite(curve(size)):
            edge = curve.edge(sizes[-1], size)
            break
        sizes.append(size)
    sizes = sorted({*sizes, edge})
    values = [curve(size) for size in sizes]
    smooth = PchipInterpolator(sizes, values)
    return lambda size: float(smooth(size)) if 0.0 <= size <= edge else nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What an error is, how it is measured and what to do about it; each a phrase with its figures.

    Attributes
    ----------
    error, measure, remedy : str or Caveat
        ``left brake line short``; what to measure; what to do.
    """

    error: str
    measure: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """The figure of the flight that a symptom is.

    Attributes
    ----------
    words : str
        Its name.
    kind : str
        A key of `parasim.units.UNITS`.
    designed : float
        As designed. [SI]
    level : float
        At which it is what was seen. [SI]
    low, high : float
        Band of `designed`. [SI]
    rises : bool
        Whether the trouble is at the level and above, or at it and below.
    """

    words: str
    kind: str
    designed: float
    level: float
    low: float
    high: float
    rises: bool = True

    @property
    def already(self) -> bool:
        """Whether the design is so without any error."""
        return (self.designed >= self.level) if self.rises else (self.designed <= self.level)

    @property
    def levels(self) -> tuple[float, float]:
        """What the curve of the design reaches where that of either end of the band is at the level."""
        return self.level + self.designed - self.low, self.level + self.designed - self.high


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One kind of error.

    Attributes
    ----------
    name : str
        Two of one name are the two ways an error can go: the smaller one counts.
    words : Words
        For people.
    kind : str
        Of its size, a key of `parasim.units.UNITS`.
    likely : float
        Size that sewing and rigging make likely. Our choice, common practice without source. [SI]
    curve : Curve
        The figure over its size; it holds the bound.
    alone : bool
        Whether it is no part of another one that is counted too.
    """

    name: str
    words: Words
    kind: str
    likely: float
    curve: Curve
    alone: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing to check.

    Attributes
    ----------
    name : str
        Short, the same whatever the side.
    words : Words
        For people.
    basis : {"COMPUTED", "COMMON PRACTICE"}
        Whether the model says so, or the trade.
    kind : str
        Of its sizes; empty where it has none.
    needed : float or None
        Size that does what was seen; None where none up to the bound does. [SI]
    low, high : float
        Band of that: infinite where some such canopy would take more than the bound. [SI]
    likely, bound : float
        Size that sewing and rigging make likely, and up to which it was sought. [SI]
    share : float
        Part of what was seen that the likely size does. [-]
    alone : bool
        As in `Cause`.
    doubt : str
        Why it is more doubtful than the rest; empty where it is not.
    """

    name: str
    words: Words
    basis: Basis
    kind: str = ""
    needed: float | None = None
    low: float = nan
    high: float = nan
    likely: float = nan
    bound: float = nan
    share: float = nan
    alone: bool = True
    doubt: str = ""

    @property
    def times(self) -> float:
        """Size needed over the likely one; infinite where none does it. [-]"""
        return inf if self.needed is None else self.needed / self.likely if self.likely else 0.0

    @property
    def computed(self) -> bool:
        """Whether the model says so."""
        return self.basis == "COMPUTED"

    @property
    def plausible(self) -> bool:
        """Whether the size needed could pass unnoticed."""
        return self.computed and self.times <= PLAUSIBLE

    @property
    def rank(self) -> tuple[int, bool, float]:
        """For sorting: what is plausible, what the trade knows, what would take a blunder, what cannot.

        Of each kind what is in doubt comes last.
        """
        kind = (0 if self.plausible else 2 if self.needed is not None else 3) if self.computed else 1
        return kind, bool(self.doubt), self.times if self.computed else 0.0


def practice(name: str, error: str, measure: str, remedy: str) -> Check:
    """A check that the model knows nothing of."""
    return Check(name=name, words=Words(error=error, measure=measure, remedy=remedy), basis="COMMON PRACTICE")


DESIGN = Check(
    name="design",
    words=Words(
        error="the design itself: it is so without any error",
        measure="nothing on the bench: `parasim glide` and `parasim sweep` show it",
        remedy="change the design before you look for errors: rigging angle first",
    ),
    basis="COMPUTED",
    needed=0.0,
    low=0.0,
    high=0.0,
    likely=0.0,
    bound=0.0,
)


def sized(cause: Cause, figure: Figure, levels: tuple[float, float] | None = None) -> Check:
    """Size of an error that does what was seen.

    Parameters
    ----------
    cause : Cause
        The error.
    figure : Figure
        What was seen.
    levels : (float, float), optional
        Of the curve at which the ends of the band are so; those of the figure if left out. [SI]
    """
    curve = cause.curve
    needed = curve.reaches(figure.level)
    ends = [
        inf if size is None else size
        for level in levels or figure.levels
        for size in [_reached(curve, level, figure)]
    ]
    moved = curve(min(cause.likely, curve.bound)) - figure.designed
    return Check(
        name=cause.name,
        words=cause.words,
        basis="COMPUTED",
        kind=cause.kind,
        needed=needed,
        low=min(ends),
        high=max(ends),
        likely=cause.likely,
        bound=curve.bound,
        share=moved / (figure.level - figure.designed),
        alone=cause.alone,
    )


def _reached(curve: Curve, level: float, figure: Figure) -> float | None:
    """As `Curve.reaches`; nothing is needed where that end of the band is in trouble by itself."""
    toward = figure.level - figure.designed
    return curve.reaches(level) if (level - figure.designed) * toward > 0 else 0.0


def settled(figure: Figure, causes: Callable[[], Iterable[Cause]]) -> list[Check]:
    """Sizes of all causes; the design itself where it is in trouble without any."""
    if figure.already:
        return [DESIGN]
    return [sized(cause, figure) for cause in causes()]


def ranked(checks: Iterable[Check]) -> tuple[Check, ...]:
    """One check a name, the likeliest first."""
    best: dict[str, Check] = {}
    for check in checks:
        other = best.get(check.name)
        if other is None or (check.times, -_known(check.share)) < (other.times, -_known(other.share)):
            best[check.name] = check
    return tuple(sorted(best.values(), key=lambda check: check.rank))


def _known(share: float) -> float:
    return share if isfinite(share) else 0.0


def together(checks: Iterable[Check]) -> tuple[float, float]:
    """Part of what was seen that all errors of likely size do: all the same way, and by chance. [-]

    By chance: the root of their squares, for errors that know nothing of each other.
    """
    shares = [max(0.0, _known(check.share)) for check in checks if check.computed and check.alone]
    return sum(shares), hypot(*shares)


@dataclass(frozen=True, kw_only=True)
class Findings:
    """What is found out about one symptom.

    Attributes
    ----------
    figure : Figure
        What was seen, as a figure of the flight.
    checks : tuple of Check
        The likeliest first.
    facts : tuple of str
        How the design flies, and what else bears on it, in sentences.
    failures : tuple of str
        What the design fails at by itself, in short.
    caveats : tuple of str
        What is doubtful.
    """

    figure: Figure
    checks: tuple[Check, ...]
    facts: tuple[str, ...] = ()
    failures: tuple[str, ...] = ()
    caveats: tuple[str, ...] = ()
