"""Bands on headline figures, from what geometry cannot fix.

Each calibratable factor is moved to either end of its plausible range, one at a time; the largest change that
each makes upwards adds up with those of the others as the root of their squares, and so downwards. Ranges
stand for two standard deviations each way, so a band holds about 95 of 100 such canopies, if the ranges are
right and nothing else is wrong. Where a design says how its numbers hang together, they are moved along the
principal axes of their correlations in place of one at a time: no two of those hang together.

Where an end of a range has no steady flight, sums of changes say nothing: there all factors are drawn at
once, and the band holds 95 of 100 of those canopies that fly.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from parasim.aerodynamics.factors import FactorRange, Factors
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
        Factors by the share of the band's squared width that each makes, largest first. [-]
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
    from scipy.special import ndtri

    chances = latin_hypercube(number, len(ranges), np.random.default_rng(1).spawn(1)[0])
    found, lost = [], 0
    for row in ndtri(chances) @ np.linalg.cholesky(correlation(ranges)).T / 2:
        try:
            found.append(figures(with_factors(vehicle, moved(vehicle.model.factors, ranges, row))))
        except TrimError:
            lost += 1
    names = found[0] if found else ()
    return Draws(
        figures={name: np.array([each[name] for each in found]) for name in names}, number=number, lost=lost
    )


def latin_hypercube(number: int, count: int, rng: np.random.Generator) -> FloatArray:
    """Numbers between 0 and 1, shape (number, count): each column has one in every `number`-th part.

    Those of scipy.stats.qmc, a package that takes half a second to load for this alone.
    """
    within = rng.uniform(size=(number, count))
    parts = np.tile(np.arange(1, number + 1), (count, 1))
    for column in parts:
        rng.shuffle(column)
    return (parts.T - within) / number


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
    factors = vehicle.model.factors
    moves = axes(correlation(ranges))
    changes = {name: np.zeros((len(ranges), 2)) for name in base}
    lost = []
    for k, move in enumerate(moves):
        for side, sign in enumerate((-1.0, 1.0)):
            there = moved(factors, ranges, sign * move)
            if there == factors:
                continue
            try:
                found = figures(with_factors(vehicle, there))
            except TrimError:
                lost.append(ranges[int(np.argmax(np.abs(move)))].name)
                continue
            for name, value in base.items():
                changes[name][k, side] = found[name] - value
    names = [limits.name for limits in ranges]
    return Bands(
        figures={name: _band(value, names, moves, changes[name]) for name, value in base.items()},
        lost=tuple(dict.fromkeys(lost)),
    )


def axes(hang: FloatArray) -> FloatArray:
    """Moves of factors that do not hang together with each other.

    Parameters
    ----------
    hang : ndarray, shape (n, n)
        Correlations. [-]

    Returns
    -------
    ndarray, shape (n, n)
        A row a move, in parts of the way to the end of each factor's range: one factor at a time where none
        hang together, else the principal axes, as long as their deviations. [-]
    """
    if np.array_equal(hang, np.eye(len(hang))):
        return np.asarray(hang)
    squares, vectors = np.linalg.eigh(hang)
    return np.asarray(np.sqrt(np.maximum(squares, 0.0))[:, None] * vectors.T)


def moved(factors: Factors, ranges: tuple[FactorRange, ...], parts: FloatArray) -> Factors:
    """Factors by parts of the way from each value to the upper end of its range, or the lower if negative."""
    found = {}
    for limits, part in zip(ranges, parts.tolist(), strict=True):
        value = float(getattr(factors, limits.name))
        found[limits.name] = value + part * (limits.high - value if part > 0 else value - limits.low)
    return replace(factors, **found)


def reach(changes: FloatArray) -> tuple[float, float, FloatArray]:
    """How far a figure may fall and rise, and the square that each move makes of both, shape (n,).

    Parameters
    ----------
    changes : ndarray, shape (n, 2)
        Of the figure, with each move made backwards and forwards.
    """
    down, up = np.minimum(changes.min(axis=1), 0.0), np.maximum(changes.max(axis=1), 0.0)
    return float(np.linalg.norm(down)), float(np.linalg.norm(up)), down**2 + up**2


def _band(value: float, names: list[str], moves: FloatArray, changes: FloatArray) -> Band:
    down, up, squares = reach(changes)
    parts = squares @ (moves**2 / np.maximum((moves**2).sum(axis=1, keepdims=True), 1e-300))
    whole = float(parts.sum())
    shares = zip(names, (parts / whole if whole else parts).tolist(), strict=True)
    return Band(
        value=value,
        low=value - down,
        high=value + up,
        causes=tuple(sorted(shares, key=lambda cause: -cause[1])),
    )
