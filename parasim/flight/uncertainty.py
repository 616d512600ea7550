"""Bands on headline figures, from what geometry cannot fix.

Each calibratable factor is moved to either end of its plausible range, one at a time; the largest change that
each makes upwards adds up with those of the others as the root of their squares, and so downwards. Ranges
stand for two standard deviations each way, so a band holds about 95 of 100 such canopies, if the ranges are
right and nothing else is wrong.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import hypot

from parasim.aerodynamics.factors import FactorRange
from parasim.dynamics.vehicle import Vehicle, with_factors
from parasim.errors import TrimError


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
        Factors at one end of whose range there is no steady flight at all: the bands leave that end out.
    """

    figures: Mapping[str, Band]
    lost: tuple[str, ...]


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
    moved: list[tuple[str, Mapping[str, float]]] = []
    lost = []
    for factor in ranges:
        for end in (factor.low, factor.high):
            if end == getattr(vehicle.model.factors, factor.name):
                continue
            try:
                found = figures(with_factors(vehicle, replace(vehicle.model.factors, **{factor.name: end})))
            except TrimError:
                lost.append(factor.name)
                continue
            moved.append((factor.name, found))
    return Bands(
        figures={name: _band(name, value, moved) for name, value in base.items()},
        lost=tuple(dict.fromkeys(lost)),
    )


def _band(name: str, value: float, moved: list[tuple[str, Mapping[str, float]]]) -> Band:
    up: dict[str, float] = {}
    down: dict[str, float] = {}
    for factor, found in moved:
        change = found[name] - value
        up[factor] = max(up.get(factor, 0.0), change)
        down[factor] = min(down.get(factor, 0.0), change)
    squares = {factor: up[factor] ** 2 + down[factor] ** 2 for factor in up}
    whole = sum(squares.values())
    shares = ((factor, square / whole if whole else 0.0) for factor, square in squares.items())
    return Band(
        value=value,
        low=value - hypot(0.0, *down.values()),
        high=value + hypot(0.0, *up.values()),
        causes=tuple(sorted(shares, key=lambda cause: -cause[1])),
    )
