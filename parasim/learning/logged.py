"""Logged flights in a fit: which notes they stand for, where the fit begins, what it made of them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from parasim.errors import ConvergenceError
from parasim.flight.uncertainty import axes
from parasim.learning.evidence import Datum
from parasim.learning.fit import DEVIATIONS, Posterior, Prior
from parasim.learning.path import DRIFTS, Path
from parasim.learning.predicted import Prediction, Ready, Spread, drift_of, predict, spread_before
from parasim.learning.predictor import Predictor
from parasim.learning.trajectory import Channel, Others, Progress, Trajectories, fit_trajectories
from parasim.logs.track import LoggedFlight
from parasim.rotations import FloatArray

STEADY = ("sink", "forward_speed", "airspeed", "turn_rate")
"""Figures of a log that its fit begins with."""

UNLIKE = (0.4, 0.8)
"""Noise, and what is left of it a second later, over which a fit does not follow a log. In
`scripts/studies/trajectory_recovery.py` it is 0.2 m/s and at most 0.4. Our choice. [m/s] or [m], [-]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class Along:
    """A logged flight that was fitted to second by second.

    Attributes
    ----------
    name : str
        Of the flight.
    before, after : Prediction or None
        By the design as it was, and fitted; None where it does not fly so far.
    channels : tuple of Channel
        North, east and height: noise that was found, and what it is worth.
    drift, drift_spread : Mapping of str to float
        Of `DRIFTS`: the likeliest, and one deviation. [SI]
    """

    name: str
    before: Prediction | None
    after: Prediction | None
    channels: tuple[Channel, ...]
    drift: Mapping[str, float]
    drift_spread: Mapping[str, float]

    @property
    def follows(self) -> bool:
        """Whether what the fit leaves over looks like a receiver's noise, not like a flight of its own."""
        return not any(
            channel.kind != "height" and channel.noise > UNLIKE[0] and channel.factor > UNLIKE[1]
            for channel in self.channels
        )

    @property
    def seconds(self) -> float:
        """Fitted to. [s]"""
        return float(self.channels[0].gaps.sum())


def parted(data: Sequence[Datum], ready: Ready) -> tuple[list[Datum], list[Datum]]:
    """Measurements beside logged flights, and what the fit begins with: figures of these."""
    names = {path.name for path, _ in ready}
    beside = [datum for datum in data if datum.flight not in names]
    begin = [datum for datum in data if datum.flight in names]
    known = {datum.flight for datum in begin}
    begin += [
        datum for path, flight in ready if path.name not in known for datum in _figures_of(path, flight)
    ]
    return beside, begin


def _figures_of(path: Path, flight: LoggedFlight) -> Iterator[Datum]:
    for flown in flight.alike:
        for figure in flown.figures:
            if figure.name in STEADY:
                yield Datum(
                    flight=path.name, quantity=figure.name, value=figure.value, error=figure.error,
                    left=flown.first.left or 0.0, right=flown.first.right or 0.0, mass=path.condition.mass,
                    air_density=path.condition.air_density,
                )  # fmt: skip


def fit_along(
    predictor: Predictor,
    prior: Prior,
    ready: Ready,
    *,
    start: FloatArray,
    air: float,
    others: Others,
    progress: Progress | None,
) -> Trajectories:
    """Fit to whole flights; arguments as for `fit_trajectories`."""
    drifts = np.array([drift_of(path, flight)[0] for path, flight in ready])
    paths = [path for path, _ in ready]
    return fit_trajectories(
        predictor, prior, paths, drifts, start=start, air=air, others=others, progress=progress
    )


def alongs(
    predictors: tuple[Predictor, Predictor], prior: Prior, ready: Ready, found: Trajectories
) -> Iterator[Along]:
    """Every logged flight beside the design as it was and fitted."""
    for i, (path, flight) in enumerate(ready):
        fitted = found.drifts[i].copy()
        fitted[8:10] = path.place[:, 0] if path.velocity is not None else fitted[8:10]
        yield Along(
            name=path.name,
            before=_predicted(predictors[0], path, flight, spread_before(prior, path, flight)),
            after=_predicted(
                predictors[1], path, flight, _after(found.posterior, fitted, found.drift_spread[i])
            ),
            channels=found.channels[3 * i : 3 * i + 3],
            drift=dict(zip(DRIFTS, found.drifts[i].tolist(), strict=False)),
            drift_spread=dict(zip(DRIFTS, found.drift_spread[i].tolist(), strict=False)),
        )


def _after(posterior: Posterior, drift: FloatArray, spread: FloatArray) -> Spread:
    """Fitted numbers and drifts; taken as independent, which makes the band a little wide."""
    along = [DRIFTS.index(name) for name in ("heading", "turning", "wind_north", "wind_east", "air")]
    low, high = posterior.ends()
    return Spread(
        numbers=posterior.values, low=low, high=high, moves=axes(posterior.hang), drift=drift,
        drift_moves=np.diag(DEVIATIONS * spread)[along],
    )  # fmt: skip


def _predicted(predictor: Predictor, path: Path, flight: LoggedFlight, spread: Spread) -> Prediction | None:
    try:
        return predict(predictor, path, flight, spread)
    except ConvergenceError:
        return None
