"""Bands on headline figures, from what geometry cannot fix.

Each calibratable factor is moved to either end of its plausible range, one at a time; the largest change that
each makes upwards adds up with those of the others as the root of their squares, and so downwards. Ranges
stand for two standard deviations each way, so a band holds about 95 of 100 such canopies, if the ranges are
right and nothing else is wrong. Where a design says how its numbers hang together, the sum of squares is the
quadratic form of the changes by their correlations.

Where an end of a range has no steady flight, sums of changes say nothing: there all factors are drawn at
once, and the band holds 95 of 100 of those canopies that fly.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from parasim.aerodynamics.factors import FactorRange
from parasim.dynamics.vehicle import Vehicle, with_factors
from parasim.errors import TrimError
from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A figure, its band, and what makes the band wide.

    Attributes
    ----------
    value, low, high : float
        In the figure's own unit.
    causes : tuple of (str, float)
        Factors by the share of the band's squared width that each makes, largest first; with correlations,
        together with what hangs together with it. [-]
    """

    value: float
    low: float
    high: float
    causes: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bands:
    """Bands of several figures.

    Attributes
    ----------
    figures : Mapping of str to Band
        By name.
    lost : tuple of str
        Factors at one end of whose range there is no steady flight at all: there the bands are those of the
        canopies that fly.
    lost_share : float or None
        Of canopies drawn from all ranges at once, the part without steady flight; None where every end of a
        range has one, and none were drawn. [-]
    """

    figures: Mapping[str, Band]
    lost: tuple[str, ...]
    lost_share: float | None = None

    def caveats(self, flight: str) -> tuple[str, ...]:
        """Which ends of ranges have no such flight, and how many of 100 canopies; nothing if all have.

        Parameters
        ----------
        flight : str
            Whose figures have the bands, as in "no steady glide".
        """
        if self.lost_share is None:
            return ()
        names = ", ".join(name.replace("_", " ") for name in self.lost)
        return (
            f"At one end of the range of {names} there is no {flight}; of canopies drawn from all ranges "
            f"{100 * self.lost_share:.2g} of 100 have none, and the bands are those of the others.",
        )


DRAWS = 200
"""Canopies drawn from the ranges: enough for the share that does not fly, to about two in a hundred."""

MIDDLE = (0.025, 0.975)
"""Between these shares of the canopies lies a drawn band."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draws:
    """Canopies whose factors are all drawn at once.

    Attributes
    ----------
    figures : Mapping of str to ndarray, shape (n_flying,)
        Of those that fly, by name.
    number, lost : int
        How many were drawn, and how many of them have no steady flight.
    """

    figures: Mapping[str, FloatArray]
    number: int
    lost: int

    @property
    def lost_share(self) -> float:
        """Part of them without a steady flight. [-]"""
        return self.lost / self.number


def draw(
    vehicle: Vehicle,
    ranges: tuple[FactorRange, ...],
    figures: Callable[[Vehicle], Mapping[str, float]],
    *,
    number: int = DRAWS,
) -> Draws:
    """Figures of canopies drawn from all ranges at once, the same ones in every run.

    Each factor is normal on either side of its value, its range two deviations each way, and they hang
    together as the ranges say; drawn as a Latin hypercube.

    Parameters
    ----------
    vehicle, ranges, figures
        As for `bands`.
    number : int
        How many.
    """
    from scipy.stats import norm, qmc

    chances = qmc.LatinHypercube(len(ranges), rng=1).random(number)
    found, lost = [], 0
    for row in norm.ppf(chances) @ np.linalg.cholesky(correlation(ranges)).T / 2:
        factors = vehicle.model.factors
        moved = {}
        for limits, part in zip(ranges, row.tolist(), strict=True):
            value = float(getattr(factors, limits.name))
            moved[limits.name] = value + part * (limits.high - value if part > 0 else value - limits.low)
        try:
            found.append(figures(with_factors(vehicle, replace(factors, **moved))))
        except TrimError:
            lost += 1
    names = found[0] if found else ()
    return Draws(
        figures={name: np.array([each[name] for each in found]) for name in names}, number=number, lost=lost
    )


def correlation(ranges: tuple[FactorRange, ...]) -> FloatArray:
    """How factors hang together, shape (n, n). [-]"""
    found = np.eye(len(ranges))
    for row, limits in zip(found, ranges, strict=True):
        known = dict(limits.correlated)
        for k, other in enumerate(ranges):
            row[k] = known.get(other.name, row[k])
    return found


def open_bands(closed: Bands, drawing: Callable[[], Draws]) -> Bands:
    """Bands of the canopies drawn, where an end of a range has no flight; else as they are.

    Parameters
    ----------
    closed : Bands
        By sums of changes.
    drawing : callable
        Draws the canopies, if need be.
    """
    if not closed.lost:
        return closed
    draws = drawing()
    drawn = dict(closed.figures)
    for name, found in draws.figures.items():
        band = drawn[name]
        low, high = np.quantile(found, MIDDLE).tolist()
        drawn[name] = replace(band, low=min(low, band.value), high=max(high, band.value))
    return replace(closed, figures=drawn, lost_share=draws.lost_share)


def flying_bands(
    vehicle: Vehicle, ranges: tuple[FactorRange, ...], figures: Callable[[Vehicle], Mapping[str, float]]
) -> Bands:
    """Bands as of `bands`; of canopies drawn where an end of a range has no flight.

    Parameters
    ----------
    vehicle, ranges, figures
        As for `bands`.
    """
    return open_bands(bands(vehicle, ranges, figures), lambda: draw(vehicle, ranges, figures, number=DRAWS))


def bands(
    vehicle: Vehicle, ranges: tuple[FactorRange, ...], figures: Callable[[Vehicle], Mapping[str, float]]
) -> Bands:
    """Bands of all figures.

    Parameters
    ----------
    vehicle : Vehicle
        At its own calibration.
    ranges : tuple of FactorRange
        Factors to move.
    figures : callable
        Figures of a vehicle by name; may raise TrimError where there is no flight.
    """
    base = figures(vehicle)
    moved: dict[str, dict[str, Mapping[str, float]]] = {limits.name: {} for limits in ranges}
    lost = []
    for factor in ranges:
        for end in ("low", "high"):
            value = getattr(factor, end)
            if value == getattr(vehicle.model.factors, factor.name):
                continue
            try:
                found = figures(with_factors(vehicle, replace(vehicle.model.factors, **{factor.name: value})))
            except TrimError:
                lost.append(factor.name)
                continue
            moved[factor.name][end] = found
    hang = correlation(ranges)
    return Bands(
        figures={name: _band(name, value, moved, hang) for name, value in base.items()},
        lost=tuple(dict.fromkeys(lost)),
    )


def _band(
    name: str, value: float, moved: Mapping[str, Mapping[str, Mapping[str, float]]], hang: FloatArray
) -> Band:
    changes = np.array(
        [[ends[end][name] - value if end in ends else 0.0 for end in ("low", "high")] for ends in moved.values()]
    ).reshape(len(moved), 2)
    # Signed as a rise of the factor works, so that correlations weigh what adds up and what cancels.
    most, least = np.maximum(changes, 0.0), np.minimum(changes, 0.0)
    up = np.where(most[:, 1] >= most[:, 0], most[:, 1], -most[:, 0])
    down = np.where(least[:, 1] <= least[:, 0], least[:, 1], -least[:, 0])
    squares = np.maximum(up * (hang @ up) + down * (hang @ down), 0.0)
    whole = float(squares.sum())
    shares = zip(moved, (squares / whole if whole else squares).tolist(), strict=True)
    return Band(
        value=value,
        low=value - sqrt(max(float(down @ hang @ down), 0.0)),
        high=value + sqrt(max(float(up @ hang @ up), 0.0)),
        causes=tuple(sorted(shares, key=lambda cause: -cause[1])),
    )
