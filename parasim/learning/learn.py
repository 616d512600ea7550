"""Learning from flights: the calibration fitted to what was measured, and what to measure next."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import hypot, nan
from pathlib import Path

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.config.notes import HandErrors, Notes, load_notes
from parasim.dynamics.vehicle import Vehicle
from parasim.errors import DesignError, Mistake
from parasim.flight.trim import find_trims
from parasim.flight.uncertainty import axes, reach
from parasim.learning.as_built import AsBuilt, as_built
from parasim.learning.blend import NAMES
from parasim.learning.evidence import Datum, evidence
from parasim.learning.fit import DEVIATIONS, Posterior, Prior, build_prior, fit
from parasim.learning.insight import deviation, left_out, narrowing, with_datum
from parasim.learning.learned import WANTED, Compared, Expected, Learned, Next, Number, Paper, Wanted
from parasim.learning.logged import Along, alongs, fit_along, parted
from parasim.learning.predicted import made_ready
from parasim.learning.predictor import Condition, Predictor
from parasim.learning.trajectory import Others, Progress
from parasim.learning.trials import Trial, conditions, trials
from parasim.logs.track import Track
from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Knowledge:
    """What is known of the numbers, and what to expect by that.

    Attributes
    ----------
    predictor : Predictor
        About the likeliest numbers.
    numbers, low, high : ndarray, shape (n,)
        The likeliest, and the ends of their ranges.
    covariance : ndarray, shape (n, n)
        Of the deviations.
    """

    predictor: Predictor
    numbers: FloatArray
    low: FloatArray
    high: FloatArray
    covariance: FloatArray

    def expected(self, data: Sequence[Datum]) -> tuple[list[Expected], FloatArray]:
        """Figures with their bands, and what each deviation of a number makes of them.

        The numbers are moved along one axis at a time to the ends of their ranges, as `parasim glide` moves
        them. What a deviation makes is taken from end to end: a turn bends far within a range.

        Returns
        -------
        list of Expected
            Of every datum.
        ndarray, shape (n_data, n_numbers)
            [SI]
        """
        value = self.predictor.predict(data, self.numbers)
        spread = np.sqrt(np.diag(self.covariance))
        moves = axes(self.covariance / np.outer(spread, spread))
        changes = np.zeros((len(moves), 2, len(data)))
        for k, move in enumerate(moves):
            for side, parts in enumerate((-move, move)):
                ends = np.where(parts > 0, self.high - self.numbers, self.numbers - self.low)
                changes[k, side] = self.predictor.predict(data, self.numbers + parts * ends) - value
        reaches = [reach(np.nan_to_num(changes[:, :, j])) for j in range(len(data))]
        bands = [
            Expected(
                value=figure, low=figure - down, high=figure + up, lost=bool(np.isnan(changes[..., j]).any())
            )
            for j, (figure, (down, up, _)) in enumerate(zip(value.tolist(), reaches, strict=True))
        ]
        by_deviation = np.linalg.solve(DEVIATIONS * moves * spread, _chords(changes)).T
        return bands, np.asarray(by_deviation, dtype=np.float64)


def _chords(changes: FloatArray) -> FloatArray:
    """Half of what each move makes from end to end; all that it makes to one end where the other is lost.

    Parameters
    ----------
    changes : ndarray, shape (n_moves, 2, n_data)
        To either end; not a number where there is no such flight.

    Returns
    -------
    ndarray, shape (n_moves, n_data)
    """
    back, forth = changes[:, 0], changes[:, 1]
    found = np.where(np.isnan(back), forth, np.where(np.isnan(forth), -back, (forth - back) / 2))
    return np.nan_to_num(found)


def learn(
    vehicle: Vehicle,
    notes: Iterable[str | Path] = (),
    *,
    logs: Track | None = None,
    progress: Progress | None = None,
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
    logs : Track, optional
        Logged flights, fitted to second by second in place of what notes of the same name say.
    progress : callable, optional
        Called with the number of each round of that fit.
    design_file : str
        Where the design was read from: what is written keeps its comments.
    paper : {"a4", "letter"}, optional
        To print the sheet on.

    Raises
    ------
    DesignError
        When notes hold mistakes, or hold a flight that this design cannot have made.
    TrimError
        If the design has no stable steady glide to begin with.
    """
    noted = [(Path(path).name, load_notes(path)) for path in notes]
    built = as_built(vehicle, noted)
    vehicle = built.vehicle if built else vehicle
    masses = {flight.name: flight.mass for _, found in noted for flight in found.flights}
    ready, lacking = made_ready(logs, masses) if logs else ([], [])
    everything = evidence(noted)
    data, begin = parted(everything, ready)
    _check_masses(vehicle, noted)
    errors = noted[0][1].errors if noted else HandErrors()
    wanted = tuple(WANTED.values())
    asked = [*map(Condition.of, (*data, *begin, *wanted)), *conditions(vehicle)]
    asked += [each for path, _ in ready for each in path.conditions]
    first = Predictor(vehicle, asked)
    if Condition() in first.missing:
        find_trims(vehicle, modes=False)  # says why
    prior = build_prior(build_ranges(vehicle.design), first.at)
    before = _known_before(prior, first)
    used = [datum for datum in data if Condition.of(datum) not in first.missing]
    started = used + [datum for datum in begin if Condition.of(datum) not in first.missing]
    flown = first.flown(set(asked), first.at)
    whole = {id(datum): datum.whole_error(flown[Condition.of(datum)]) for datum in started}
    for datum, off in zip(started, _built_error(built, first, started).tolist(), strict=True):
        whole[id(datum)] = hypot(whole[id(datum)], off)
    error = np.array([whole[id(datum)] for datum in started])
    posterior, last = _fitted(prior, first, started, error)
    along: tuple[Along, ...] = ()
    if ready:
        found = fit_along(
            last, prior, ready, start=posterior.z, air=errors.air, progress=progress,
            others=_others(last, used, error[: len(used)]),
        )  # fmt: skip
        posterior, along = found.posterior, tuple(alongs((first, last), prior, ready, found))
    after = _known_after(posterior, last)
    figures = {key: datum for key, datum in WANTED.items() if Condition.of(datum) not in first.missing}
    listed = trials(vehicle, last.flown(set(conditions(vehicle)), posterior.values), errors)
    beside = _SideBySide(
        posterior=posterior, before=before, after=after, data=used, figures=figures, trials=listed
    )
    rows = {id(each.datum): each for each in beside.compared(whole)}
    return Learned(
        vehicle=vehicle,
        built=built,
        posterior=posterior,
        numbers=_numbers(posterior),
        compared=tuple(rows.get(id(datum)) or _unused(datum) for datum in data),
        wanted=beside.wanted(),
        nexts=beside.nexts(),
        errors=errors,
        along=along,
        lacking=tuple(lacking),
        design_file=design_file,
        paper=paper,
    )


def _others(predictor: Predictor, data: Sequence[Datum], error: FloatArray) -> Others:
    """Measurements beside logged flights, as `fit_trajectories` takes them."""
    value = np.array([datum.value for datum in data])
    return partial(predictor.predict, data), partial(predictor.slopes, data), value, error


def _built_error(built: AsBuilt | None, predictor: Predictor, data: Sequence[Datum]) -> FloatArray:
    """What errors of weights and lengths make of what is expected of every datum, shape (n_data,). [SI]"""
    if built is None or not data:
        return np.zeros(len(data))
    here = predictor.predict(data, predictor.at)
    beside = (Predictor(each, map(Condition.of, data), blend=predictor.blend) for each in built.beside)
    moved = [np.nan_to_num(each.predict(data, predictor.at) - here) for each in beside]
    return np.sqrt(np.sum(np.square([np.zeros(len(data)), *moved]), axis=0))


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
    last = Predictor(first.vehicle, first.conditions, at=posterior.values, blend=first.blend)
    if set(last.missing) - set(first.missing):
        return posterior, first
    return by(last, posterior.z), last


def _known_before(prior: Prior, predictor: Predictor) -> _Knowledge:
    return _Knowledge(
        predictor=predictor,
        numbers=prior.value,
        low=prior.value - DEVIATIONS * prior.below,
        high=prior.value + DEVIATIONS * prior.above,
        covariance=prior.hang,
    )


def _known_after(posterior: Posterior, predictor: Predictor) -> _Knowledge:
    low, high = posterior.ends()
    return _Knowledge(
        predictor=predictor,
        numbers=posterior.values,
        low=low,
        high=high,
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


class _SideBySide:
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
        self._data = data
        self._before, _ = before.expected(asked[: len(figures) + len(data)])
        self._after, slopes = after.expected(asked)
        self._slopes, self._of_trials = slopes[: len(figures)], slopes[len(figures) + len(data) :]
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
                datum=datum, error=whole[id(datum)],
                before=self._before[first + j], after=self._after[first + j],
                moved=(NAMES[most], float(without.moved[most])), narrowed=(keys[best], float(narrows[best])),
            )  # fmt: skip

    def nexts(self) -> tuple[Next, ...]:
        """What each trial would narrow, alone and after those before it."""
        covariance = together = self.posterior.covariance
        expected = self._after[len(self.figures) + len(self._data) :]
        found = []
        for trial, slope, band in zip(self.trials, self._of_trials, expected, strict=True):
            alone = with_datum(covariance, slope, trial.datum.error)
            together = with_datum(together, slope, trial.datum.error)
            found.append(
                Next(
                    trial=trial, expected=band, narrows=self._narrows(alone), together=self._narrows(together)
                )
            )
        return tuple(found)

    def _narrows(self, covariance: FloatArray) -> dict[str, float]:
        parts = narrowing(self._spread, deviation(self._slopes, covariance))
        return dict(zip(self.figures, parts.tolist(), strict=True))


def _unused(datum: Datum) -> Compared:
    nothing = Expected(value=nan, low=nan, high=nan)
    return Compared(datum=datum, error=datum.error, before=nothing, after=nothing, moved=None, narrowed=None)
