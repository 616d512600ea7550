"""Figures of a scatter: shares with their intervals, distributions, limits, where to release."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np

from parasim.config.scatter import TargetSpec
from parasim.config.scenario import LandingSpec
from parasim.flight.arrival import peak_load
from parasim.rotations import FloatArray
from parasim.scatter.members import LATE, OPENED, OUTCOMES, STATUSES, Members

CONFIDENCE = 0.95
"""Of the interval of a share."""

FEW_UNKNOWN = 0.01
"""Share of members ended in the air up to which a mean of the others is reported. Our choice. [-]"""

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95, 0.99)
"""Of each distribution."""

RADIUS_LEVELS = (0.5, 0.9, 0.99)
"""Parts of the landings that circles hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How many of how many, and the interval in which the true share lies.

    Attributes
    ----------
    name : str
        Of what.
    count, of : int
        How many.
    low, high : float
        Exact binomial interval (after Clopper and Pearson) at `CONFIDENCE`. [-]
    limit : float or None
        SI value that was passed, where there is one.
    """

    name: str
    count: int
    of: int
    low: float
    high: float
    limit: float | None = None

    @property
    def value(self) -> float:
        """Not a number where there are none. [-]"""
        return self.count / self.of if self.of else float("nan")


def share(
    name: str, which: np.ndarray, *, limit: float | None = None, more: int = 0, holds: bool = False
) -> Share:
    """Share of those for which something holds, shape (n,); it holds for all or none of `more` others."""
    which = np.append(which, np.full(more, holds))
    # By Clopper and Pearson, as scipy.stats has it; that package takes 0.3 s to load for this alone.
    from scipy.special import betaincinv

    count, of = int(np.count_nonzero(which)), len(which)
    if of == 0:
        return Share(name=name, count=0, of=0, low=0.0, high=1.0, limit=limit)
    tail = (1 - CONFIDENCE) / 2
    low = float(betaincinv(count, of - count + 1, tail)) if count > 0 else 0.0
    high = float(betaincinv(count + 1, of - count, 1 - tail)) if count < of else 1.0
    return Share(name=name, count=count, of=of, low=low, high=high, limit=limit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Distribution:
    """Of one figure over the members.

    Attributes
    ----------
    name : str
        Of the figure.
    kind : str
        Kind of quantity, a key of `parasim.units.UNITS`.
    mean, deviation : float or None
        Of those that are known; None where more than `FEW_UNKNOWN` are not. [SI]
    minimum : float
        [SI]
    largest : float or None
        None where some are not known, which count as larger than all others. [SI]
    quantiles : tuple of float or None
        At `QUANTILES`; None where they fall among those that are not known. [SI]
    """

    name: str
    kind: str
    mean: float | None
    deviation: float | None
    minimum: float
    largest: float | None
    quantiles: tuple[float | None, ...]


def distribution(name: str, kind: str, values: FloatArray, *, unknown: int = 0) -> Distribution:
    """Distribution of values, at least one, and of so many that are larger than all of them.

    Examples
    --------
    >>> distribution("sink", "speed", np.arange(8.0), unknown=2).quantiles[2:4]
    (4.5, 6.75)
    >>> distribution("sink", "speed", np.arange(8.0), unknown=2).quantiles[4:]
    (None, None)
    """
    lost = unknown > FEW_UNKNOWN * (len(values) + unknown)
    return Distribution(
        name=name,
        kind=kind,
        mean=None if lost else float(values.mean()),
        deviation=None if lost else float(values.std(ddof=1)) if len(values) > 1 else 0.0,
        minimum=float(values.min()),
        largest=None if unknown else float(values.max()),
        quantiles=_quantiles(values, QUANTILES, unknown),
    )


def _quantiles(values: FloatArray, levels: tuple[float, ...], unknown: int) -> tuple[float | None, ...]:
    """Quantiles of values and of so many that are larger than all of them; None where these are reached."""
    places = np.array(levels) * (len(values) + unknown - 1)
    found = np.interp(places, np.arange(len(values)), np.sort(values))
    return tuple(float(x) if at <= len(values) - 1 else None for x, at in zip(found, places, strict=True))


FIGURES: dict[str, str] = {
    "ground_speed": "speed",
    "sink": "speed",
    "speed": "speed",
    "energy": "energy",
    "time_aloft": "time",
    "distance": "length",
}
"""Figures of a landing by the kind of quantity."""


def distributions(landed: Members, *, uncomputed: int = 0) -> tuple[Distribution, ...]:
    """Distributions of `FIGURES`; none if nothing landed.

    Members that ended in the air count as faster than all others; of time and distance nothing is said for
    them.
    """
    if len(landed) == 0:
        return ()
    return tuple(
        distribution(
            name, kind, figure(landed, name), unknown=uncomputed if kind in ("speed", "energy") else 0
        )
        for name, kind in FIGURES.items()
    )


def figure(members: Members, name: str) -> FloatArray:
    """A figure of members by its name, shape (n,); the distance from the point below the nominal release."""
    if name == "distance":
        return np.hypot(members.north, members.east)
    return np.asarray(getattr(members, name))


def outcome_shares(members: Members) -> tuple[Share, ...]:
    """Share of each outcome among all members."""
    return tuple(share(words, members.outcome == i) for i, words in enumerate(OUTCOMES))


def failure_shares(members: Members) -> tuple[Share, ...]:
    """Share of each reason for which members did not land, of those that there are."""
    return tuple(share(words, members.status == STATUSES.index(words)) for words in failures(members))


def failures(members: Members) -> Mapping[str, int]:
    """How many members did not land, by the reason."""
    counts = {words: int(np.count_nonzero(members.status == i)) for i, words in enumerate(STATUSES)}
    return {words: count for words, count in counts.items() if count and words != STATUSES[0]}


def over_limits(landed: Members, spec: LandingSpec, *, uncomputed: int = 0) -> tuple[Share, ...]:
    """Share over each of the payload's limits, and over any of them; empty if it has none.

    Members that ended in the air, their landing unknown, count as over every limit: whatever a design does
    that the model cannot follow is not for the good.
    """
    figures = {
        "sink": (landed.sink, spec.max_sink),
        "ground_speed": (landed.ground_speed, spec.max_ground_speed),
        "energy": (landed.energy, spec.max_energy),
        "load": (np.array([peak_load(sink, spec.stop_distance) for sink in landed.sink]), spec.max_load),
    }
    over = {name: (x > limit, limit) for name, (x, limit) in figures.items() if limit is not None}
    if not over:
        return ()
    each = [
        share(name, which, limit=limit, more=uncomputed, holds=True) for name, (which, limit) in over.items()
    ]
    any_of_them = np.any([which for which, _ in over.values()], axis=0)
    return (*each, share("any", any_of_them, more=uncomputed, holds=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Where to release, so that it comes down at the target on average.

    Attributes
    ----------
    target : TargetSpec
        From the point below the nominal release.
    release : tuple of float
        North and east of where to release, from the nominal release. [m]
    now, moved : Share
        Landings within the target's radius: released as it is, and as advised.
    """

    target: TargetSpec
    release: tuple[float, float]
    now: Share
    moved: Share

    @property
    def distance(self) -> float:
        """By which to move the release. [m]"""
        return hypot(*self.release)


def mean_drift(members: Members) -> FloatArray:
    """Mean north and east from the nominal release to the touchdown, of those that opened. [m]

    Of all that landed, if none opened as designed.
    """
    landed = members.select(members.landed)
    opened = landed.select(landed.outcome == OPENED)
    chosen = opened if len(opened) else landed
    return np.array([chosen.north.mean(), chosen.east.mean()])


def advise(landed: Members, target: TargetSpec, drift: FloatArray, *, uncomputed: int = 0) -> Advice:
    """Where to release: the target less the mean drift, which does not hang on the place of release.

    Members that ended in the air count as no hits.
    """
    north, east = target.north - float(drift[0]), target.east - float(drift[1])

    def within(moved_north: float, moved_east: float) -> np.ndarray:
        off = (landed.north + moved_north - target.north, landed.east + moved_east - target.east)
        return np.hypot(*off) <= target.radius

    return Advice(
        target=target,
        release=(north, east),
        now=share("now", within(0.0, 0.0), more=uncomputed),
        moved=share("moved", within(north, east), more=uncomputed),
    )


def radii(landed: Members, center: FloatArray, *, uncomputed: int = 0) -> tuple[float | None, ...]:
    """Radii of circles about a point (north, east) that hold `RADIUS_LEVELS` of all members. [m]

    Members that ended in the air count as outside; None where they are too many.
    """
    off = np.hypot(landed.north - center[0], landed.east - center[1])
    return _quantiles(off, RADIUS_LEVELS, uncomputed)


def opened_in_time(members: Members) -> Members:
    """Those that opened as designed and landed."""
    return members.select(members.landed & (members.outcome == OPENED))


def glided(members: Members) -> np.ndarray:
    """Which came down under a canopy, shape (n,)."""
    return members.outcome <= LATE
