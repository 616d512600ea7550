"""What was learnt: numbers, measurements and bands before and after, and what to measure next."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import nan
from typing import Literal

from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.notes import HandErrors
from parasim.dynamics.vehicle import Vehicle
from parasim.learning.as_built import AsBuilt
from parasim.learning.blend import NAMES
from parasim.learning.evidence import Datum, flights_of
from parasim.learning.fit import DEVIATIONS, Posterior
from parasim.learning.logged import Along
from parasim.learning.trials import Trial

Paper = Literal["a4", "letter"]

KEPT = 0.9
"""Part of its range from which on a number counts as not learnt by the flights. [-]"""

OUTLIER = 3.0
"""Residual from which a measurement is named an outlier. [deviations] Our choice, no source."""

HANGS = 0.3
"""Correlation from which on a pair of numbers is worth a word. [-] Our choice."""

NEARLY = 0.8
"""Part of the best narrowing with which a trial nearer to the ground comes first. [-] Our choice."""

WANTED: dict[str, Datum] = {
    "sink": Datum(flight="", quantity="sink", value=nan, error=nan),
    "glide_ratio": Datum(flight="", quantity="glide_ratio", value=nan, error=nan),
    "landing_speed": Datum(flight="", quantity="airspeed", value=nan, error=nan),
    "turn_rate": Datum(flight="", quantity="turn_rate", value=nan, error=nan, right=0.5),
}
"""Figures whose bands are to narrow: brakes released, and the turn rate at half the right brake."""

FIGURES = {
    "sink": "sink",
    "glide_ratio": "glide ratio",
    "landing_speed": "landing speed",
    "turn_rate": "turn rate at right 50 %",
}
"""The same in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A figure and its band of two deviations; not a number where the model has no such flight. [SI]

    Where an end of the ranges has no such flight, the band leaves that end out, and it is `lost`.
    """

    value: float
    low: float
    high: float
    lost: bool = False

    @property
    def width(self) -> float:
        """From end to end."""
        return self.high - self.low


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A calibration number before and after.

    Attributes
    ----------
    name : str
        Of it.
    before, after : Expected
        With their ranges.
    kept : float
        Deviation after over that before. [-]
    """

    name: str
    before: Expected
    after: Expected
    kept: float

    @property
    def known_better(self) -> bool:
        """Whether the flights narrowed it."""
        return self.kept <= KEPT


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A measurement beside what the model expects.

    Attributes
    ----------
    datum : Datum
        What was measured.
    error : float
        One standard deviation, wind included. [SI]
    before, after : Expected
        By the design as it was, and fitted.
    moved : (str, float) or None
        Number that it moves most, in deviations of the prior; None where it was not used.
    narrowed : (str, float) or None
        Key of `WANTED` whose band it narrows most, and by how much. [-]
    """

    datum: Datum
    error: float
    before: Expected
    after: Expected
    moved: tuple[str, float] | None
    narrowed: tuple[str, float] | None

    @property
    def used(self) -> bool:
        """Whether the model has such a flight."""
        return self.moved is not None

    @property
    def residual(self) -> float:
        """Measured less fitted. [SI]"""
        return self.datum.value - self.after.value

    @property
    def deviations(self) -> float:
        """The same over the error. [-]"""
        return self.residual / self.error

    @property
    def outlier(self) -> bool:
        """Whether it lies far from what the fit makes of all."""
        return self.used and abs(self.deviations) > OUTLIER

    def misses(self, expected: Expected) -> bool:
        """Whether the band expected and that of the measurement have nothing in common."""
        reach = DEVIATIONS * self.error
        return self.used and not (
            expected.low <= self.datum.value + reach and self.datum.value - reach <= expected.high
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A figure whose band is to narrow.

    Attributes
    ----------
    key : str
        Of `WANTED`.
    before, after : Expected
        By the design as it was, and fitted.
    """

    key: str
    before: Expected
    after: Expected

    @property
    def datum(self) -> Datum:
        """What it is."""
        return WANTED[self.key]

    @property
    def kept(self) -> float:
        """Width of the band after over that before. [-]"""
        return self.after.width / self.before.width if self.before.width else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """What could be measured next.

    Attributes
    ----------
    trial : Trial
        What, and with which tool.
    expected : Expected
        What it would give. [SI]
    narrows : Mapping of str to float
        Part by which it alone narrows each of `WANTED`. [-]
    together : Mapping of str to float
        The same of it and all trials before it. [-]
    """

    trial: Trial
    expected: Expected
    narrows: Mapping[str, float]
    together: Mapping[str, float]

    @property
    def best(self) -> tuple[str, float]:
        """Figure that it narrows most, and by how much."""
        return max(self.narrows.items(), key=lambda each: each[1])


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Learned(Answer):
    """Answer to `parasim learn`.

    Attributes
    ----------
    vehicle : Vehicle
        The design as it was; as built, where that was measured.
    built : AsBuilt or None
        What was measured on the ground.
    posterior : Posterior
        The fit; that of no measurements at all without notes.
    numbers : tuple of Number
        Before and after.
    compared : tuple of Compared
        Every measurement.
    wanted : tuple of Wanted
        Figures whose bands are to narrow.
    nexts : tuple of Next
        What to measure, from the ground upwards.
    along : tuple of Along
        Logged flights that were fitted to second by second.
    lacking : tuple of (str, str)
        Names of logged flights that were not, and why.
    errors : HandErrors
        Of stopwatch and tape.
    design_file : str
        As it was given; empty for a design without one.
    paper : {"a4", "letter"} or None
        To print the sheet on; by the units if None.
    """

    REPORT = "parasim.report.learn:LearnReport"

    vehicle: Vehicle
    built: AsBuilt | None
    posterior: Posterior
    numbers: tuple[Number, ...]
    compared: tuple[Compared, ...]
    wanted: tuple[Wanted, ...]
    nexts: tuple[Next, ...]
    along: tuple[Along, ...]
    lacking: tuple[tuple[str, str], ...]
    errors: HandErrors
    design_file: str
    paper: Paper | None

    @property
    def flights(self) -> tuple[str, ...]:
        """Names of those that were used."""
        steady = flights_of([each.datum for each in self.compared if each.used])
        return (*steady, *(each.name for each in self.along))

    @property
    def hanging(self) -> tuple[tuple[str, str, float], ...]:
        """Pairs of numbers that hang together, strongest first."""
        hang = self.posterior.hang
        pairs = [
            (one, other, float(hang[i, k]))
            for i, one in enumerate(NAMES)
            for k, other in enumerate(NAMES)
            if i < k and abs(hang[i, k]) >= HANGS
        ]
        return tuple(sorted(pairs, key=lambda pair: -abs(pair[2])))

    @property
    def best_next(self) -> Next | None:
        """First trial from the ground upwards that narrows a band nearly as far as the best does."""
        most = max((each.best[1] for each in self.nexts), default=0.0)
        return next((each for each in self.nexts if each.best[1] >= NEARLY * most), None)

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self.vehicle.caveats, *(self.built.caveats if self.built else ())]
        for each in self.compared:
            if not each.used:
                found.append(
                    Caveat(
                        f"{each.datum.flight}: the model has no steady flight to compare its "
                        f"{each.datum.measurable.words} with; it was left out.",
                    )
                )
        for name, why in self.lacking:
            found.append(Caveat(f"{name.replace('{', '(')}: not flown along: {why}.", "lacks"))
        if self.flights:
            found.append(
                Caveat(
                    "The ranges are those of the numbers in this model: what the model lacks they do not "
                    "hold, and errors are taken as independent of each other."
                )
            )
        if self.along:
            found.append(
                Caveat(
                    "Ranges from whole logs were checked on invented flights of this model alone. No canopy "
                    "follows it second by second: take them as too narrow."
                )
            )
        already = [words for words in self.vehicle.design.calibration.origins() if words.startswith("fitted")]
        if already and self.flights:
            found.append(
                Caveat(
                    f"The design's calibration is {already[0]} already: notes that went into it must not be "
                    "given again, they would count twice.",
                    "lacks",
                )
            )
        return tuple(found)
