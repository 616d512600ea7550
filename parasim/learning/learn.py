"""Learning from flights: the calibration fitted to what was measured, what that did, and what to measure next."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import nan
from pathlib import Path
from typing import Literal

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.notes import HandErrors, Notes, load_notes
from parasim.dynamics.vehicle import Vehicle
from parasim.errors import DesignError, Mistake
from parasim.flight.trim import find_trims
from parasim.flight.uncertainty import axes, reach
from parasim.learning.blend import NAMES
from parasim.learning.evidence import Datum, evidence, flights_of
from parasim.learning.fit import DEVIATIONS, Posterior, Prior, build_prior, fit
from parasim.learning.insight import deviation, left_out, narrowing, with_datum
from parasim.learning.predictor import Condition, Predictor
from parasim.learning.trials import Trial, conditions, trials
from parasim.rotations import FloatArray

Paper = Literal["a4", "letter"]

KEPT = 0.9
"""Part of its range from which on a number counts as not told by the flights. [-]"""

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
"""Figures whose bands are to narrow: brakes released in still air, and the turn rate at half the right brake."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A figure and its band of two deviations; not a number where the model has no such flight. [SI]"""

    value: float
    low: float
    high: float

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
    def told(self) -> bool:
        """Whether the flights told anything of it."""
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
        return self.used and not (expected.low <= self.datum.value + reach and self.datum.value - reach <= expected.high)


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
        The design as it was.
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
    errors : HandErrors
        Of stopwatch and tape.
    design_file : str
        As it was given; empty for a design without one.
    paper : {"a4", "letter"} or None
        To print the sheet on; by the units if None.
    """

    REPORT = "parasim.report.learn:LearnReport"

    vehicle: Vehicle
    posterior: Posterior
    numbers: tuple[Number, ...]
    compared: tuple[Compared, ...]
    wanted: tuple[Wanted, ...]
    nexts: tuple[Next, ...]
    errors: HandErrors
    design_file: str
    paper: Paper | None

    @property
    def flights(self) -> tuple[str, ...]:
        """Names of those that were used."""
        return flights_of([each.datum for each in self.compared if each.used])

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
        """First trial from the ground upwards that narrows any of the bands nearly as far as the best does."""
        most = max((each.best[1] for each in self.nexts), default=0.0)
        return next((each for each in self.nexts if each.best[1] >= NEARLY * most), None)

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = list(self.vehicle.caveats)
        for each in self.compared:
            if not each.used:
                found.append(
                    Caveat(
                        f"{each.datum.flight}: the model has no steady flight to compare its "
                        f"{each.datum.measurable.words} with; it was left out.",
                    )
                )
        if self.compared:
            found.append(
                Caveat(
                    "The ranges are those of the numbers in this model: what the model lacks they do not hold, and "
                    "errors are taken as independent of each other."
                )
            )
        already = [words for words in self.vehicle.design.calibration.origins() if words.startswith("fitted")]
        if already and self.compared:
            found.append(
                Caveat(
                    f"The design's calibration is {already[0]} already: notes that went into it must not be given again, "
                    "they would count twice.",
                    "lacks",
                )
            )
        return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Knowledge:
    """What is known of the numbers, and what to expect by that.

    Attributes
    ----------
    predictor : Predictor
        About the likeliest numbers.
    numbers, low, high : ndarray, shape (n,)
        The likeliest, and the ends of their ranges.
    stretch : ndarray, shape (n,)
        Change of each by deviation.
    covariance : ndarray, shape (n, n)
        Of the deviations.
    """

    predictor: Predictor
    numbers: FloatArray
    low: FloatArray
    high: FloatArray
    stretch: FloatArray
    covariance: FloatArray

    def slopes(self, data: Sequence[Datum]) -> FloatArray:
        """Change of what is expected by deviation of each number, shape (n_data, n). [SI]"""
        return self.predictor.slopes(data, self.numbers) * self.stretch

    def expected(self, data: Sequence[Datum]) -> list[Expected]:
        """Figures with their bands, moved along one axis at a time, as `parasim glide` has them."""
        value = self.predictor.predict(data, self.numbers)
        spread = np.sqrt(np.diag(self.covariance))
        moves = axes(self.covariance / np.outer(spread, spread))
        changes = np.zeros((len(moves), 2, len(data)))
        for k, move in enumerate(moves):
            for side, parts in enumerate((-move, move)):
                ends = np.where(parts > 0, self.high - self.numbers, self.numbers - self.low)
                there = self.predictor.predict(data, self.numbers + parts * ends)
                changes[k, side] = np.nan_to_num(there - value)
        reaches = [reach(changes[:, :, j]) for j in range(len(data))]
        return [
            Expected(value=figure, low=figure - down, high=figure + up)
            for figure, (down, up, _) in zip(value.tolist(), reaches, strict=True)
        ]


def learn(
    vehicle: Vehicle,
    notes: Iterable[str | Path] = (),
    *,
    design_file: str = "",
    paper: Paper | None = None,
) -> Learned:
    """Fit a design's calibration to what was measured in flight; without notes, what to measure first.

    Parameters
    ----------
    vehicle : Vehicle
        The design.
    notes : iterable of str or Path
        Notes files.
    design_file : str
        Where the design was read from: what is written keeps its comments.
    paper : {"a4", "letter"}, optional
        To print the sheet on.

    Raises
    ------
    DesignError
        When notes hold mistakes, or tell of a flight that this design cannot have made.
    TrimError
        If the design has no stable steady glide to begin with.
    """
    noted = [(Path(path).name, load_notes(path)) for path in notes]
    data = evidence(noted)
    _check_masses(vehicle, noted)
    errors = noted[0][1].errors if noted else HandErrors()
    wanted = tuple(WANTED.values())
    asked = [*map(Condition.of, (*data, *wanted)), *conditions(vehicle)]
    first = Predictor(vehicle, asked)
    if Condition() in first.missing:
        find_trims(vehicle, modes=False)  # says why
    prior = build_prior(build_ranges(vehicle.design), first.at)
    before = _known_before(prior, first)
    used = [datum for datum in data if Condition.of(datum) not in first.missing]
    flown = first.flown(set(asked), first.at)
    whole = {id(datum): datum.whole_error(flown[Condition.of(datum)]) for datum in used}
    posterior, last = _fitted(prior, first, used, np.array([whole[id(datum)] for datum in used]))
    after = _known_after(posterior, last)
    figures = {key: datum for key, datum in WANTED.items() if Condition.of(datum) not in first.missing}
    listed = trials(vehicle, last.flown(set(conditions(vehicle)), posterior.values), errors)
    told = _Told(posterior=posterior, before=before, after=after, data=used, figures=figures, trials=listed)
    rows = {id(each.datum): each for each in told.compared(whole)}
    return Learned(
        vehicle=vehicle,
        posterior=posterior,
        numbers=_numbers(posterior),
        compared=tuple(rows.get(id(datum)) or _unused(datum) for datum in data),
        wanted=told.wanted(),
        nexts=told.nexts(),
        errors=errors,
        design_file=design_file,
        paper=paper,
    )


def _check_masses(vehicle: Vehicle, noted: Sequence[tuple[str, Notes]]) -> None:
    """Refuse flights that leave no mass for a payload."""
    least = vehicle.mass - vehicle.design.payload.mass
    for file, notes in noted:
        for place, flight in enumerate(notes.flights):
            if flight.mass is not None and flight.mass <= least:
                raise DesignError(
                    Mistake(
                        file=file, key=f"flights.{place}.mass", given=f"{flight.mass:g} kg",
                        problem=f"all-up mass, but canopy and lines alone weigh {least:.3g} kg",
                        hint="give the mass of all that flew",
                    )
                )  # fmt: skip


def _fitted(
    prior: Prior, first: Predictor, data: Sequence[Datum], error: FloatArray
) -> tuple[Posterior, Predictor]:
    """Fit, and once more with the coefficients worked out anew where it ended."""
    measured = np.array([datum.value for datum in data])

    def by(predictor: Predictor, start: FloatArray | None) -> Posterior:
        expect, slope = partial(predictor.predict, data), partial(predictor.slopes, data)
        return fit(prior, expect, slope, measured, error, start=start)

    posterior = by(first, None)
    if not data:
        return posterior, first
    last = Predictor(
        first.vehicle, first.conditions, at=posterior.values, blend=first.blend
    )
    if set(last.missing) - set(first.missing):
        return posterior, first
    return by(last, posterior.z), last


def _known_before(prior: Prior, predictor: Predictor) -> _Knowledge:
    nothing, one = np.zeros(len(prior.value)), np.ones(len(prior.value))
    return _Knowledge(
        predictor=predictor,
        numbers=prior.value,
        low=prior.value - DEVIATIONS * prior.below,
        high=prior.value + DEVIATIONS * prior.above,
        stretch=prior.stretch(nothing, one),
        covariance=prior.hang,
    )


def _known_after(posterior: Posterior, predictor: Predictor) -> _Knowledge:
    low, high = posterior.ends()
    return _Knowledge(
        predictor=predictor,
        numbers=posterior.values,
        low=low,
        high=high,
        stretch=posterior.prior.stretch(posterior.z, posterior.spread),
        covariance=posterior.covariance,
    )


def _numbers(posterior: Posterior) -> tuple[Number, ...]:
    prior, (low, high) = posterior.prior, posterior.ends()
    columns = zip(prior.names, posterior.values.tolist(), low.tolist(), high.tolist(), strict=True)
    before = zip(prior.value.tolist(), prior.below.tolist(), prior.above.tolist(), strict=True)
    return tuple(
        Number(
            name=name,
            before=Expected(value=was, low=was - DEVIATIONS * below, high=was + DEVIATIONS * above),
            after=Expected(value=value, low=least, high=most),
            kept=kept,
        )
        for (name, value, least, most), (was, below, above), kept in zip(
            columns, before, posterior.spread.tolist(), strict=True
        )
    )


class _Told:
    """Puts before and after side by side.

    Parameters
    ----------
    posterior : Posterior
        The fit.
    before, after : _Knowledge
        By the design as it was, and fitted.
    data : sequence of Datum
        Measurements that were used.
    figures : Mapping of str to Datum
        Of `WANTED`, those that the design has.
    trials : sequence of Trial
        What could be measured.
    """

    def __init__(
        self,
        *,
        posterior: Posterior,
        before: _Knowledge,
        after: _Knowledge,
        data: Sequence[Datum],
        figures: Mapping[str, Datum],
        trials: Sequence[Trial],
    ) -> None:
        self.posterior, self.figures, self.trials = posterior, figures, trials
        asked = [*figures.values(), *data, *(trial.datum for trial in trials)]
        self._data, self._after = data, after.expected(asked)
        self._before = before.expected(asked[: len(figures) + len(data)])
        slopes = after.slopes([*figures.values(), *(trial.datum for trial in trials)])
        self._slopes, self._of_trials = slopes[: len(figures)], slopes[len(figures) :]
        self._spread = deviation(self._slopes, posterior.covariance)

    def wanted(self) -> tuple[Wanted, ...]:
        """Figures whose bands are to narrow."""
        both = zip(self.figures, self._before, self._after, strict=False)
        return tuple(Wanted(key=key, before=was, after=now) for key, was, now in both)

    def compared(self, whole: Mapping[int, float]) -> Iterator[Compared]:
        """Measurements beside what is expected, each error by the datum's identity."""
        first, keys = len(self.figures), list(self.figures)
        for j, datum in enumerate(self._data):
            without = left_out(self.posterior, j)
            most = int(np.argmax(np.abs(without.moved)))
            narrows = narrowing(deviation(self._slopes, without.covariance), self._spread)
            best = int(np.argmax(narrows))
            yield Compared(
                datum=datum, error=whole[id(datum)], before=self._before[first + j], after=self._after[first + j],
                moved=(NAMES[most], float(without.moved[most])), narrowed=(keys[best], float(narrows[best])),
            )  # fmt: skip

    def nexts(self) -> tuple[Next, ...]:
        """What each trial would tell, alone and after those before it."""
        covariance = together = self.posterior.covariance
        expected = self._after[len(self.figures) + len(self._data) :]
        found = []
        for trial, slope, band in zip(self.trials, self._of_trials, expected, strict=True):
            alone = with_datum(covariance, slope, trial.datum.error)
            together = with_datum(together, slope, trial.datum.error)
            found.append(
                Next(trial=trial, expected=band, narrows=self._narrows(alone), together=self._narrows(together))
            )
        return tuple(found)

    def _narrows(self, covariance: FloatArray) -> dict[str, float]:
        parts = narrowing(self._spread, deviation(self._slopes, covariance))
        return dict(zip(self.figures, parts.tolist(), strict=True))


def _unused(datum: Datum) -> Compared:
    nothing = Expected(value=nan, low=nan, high=nan)
    return Compared(
        datum=datum, error=datum.error, before=nothing, after=nothing, moved=None, narrowed=None
    )

