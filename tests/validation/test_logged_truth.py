"""Figures of logged flights against the truth of 200 invented ones: errors are what they claim to be.

Each flight has its own speed, sink, wind, turn rate and headings; a third each are logged with speeds, with
places alone, and in IGC's thousandths of a minute and whole metres, all once a second; every second one flies
through gusts that last for 3 s. A figure less its truth, over the error that is given with it, should be
spread like the standard normal distribution: 68 % within one, 95 % within two. The deviation of 200 normal
draws is 1 ± 0.05. Wind, speed and turn rate come out at 0.96 to 1.06; sinks at 0.9, since in still air their
errors are kept on the large side: a log of 20 s cannot show that the air is still. The bounds are 0.7 to
1.25.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest

from parasim.logs.log import ordered
from parasim.logs.track import flown
from parasim.units import GRAVITY
from tests.flown import any_flight, logged

FLIGHTS = 200
SENSORS = ("speeds", "places", "igc")


@pytest.fixture(scope="module")
def scores() -> dict[str, np.ndarray]:
    """By figure: differences from the truth over the errors given."""
    found: dict[str, list[float]] = defaultdict(list)
    for seed in range(FLIGHTS):
        gust = 0.0 if seed % 2 else float(np.random.default_rng(seed).uniform(0.0, 0.5))
        flight, rng = any_flight(seed, gust=gust)
        logged_flight = flown(ordered(logged(flight, SENSORS[seed % 3], rng), Path("invented.csv")))
        wind = logged_flight.winds.wind
        assert wind is not None
        for i in range(2):
            found["wind"].append((wind.velocity[i] - flight.wind[i]) / np.sqrt(wind.covariance[i, i]))
        truth = {
            "sink": flight.sink,
            "forward_speed": flight.speed,
            "glide_ratio": flight.speed / flight.sink,
            "turn_rate": flight.turn_rate,
            "radius": flight.speed / abs(flight.turn_rate),
            "bank": np.arctan(flight.speed * flight.turn_rate / GRAVITY),
        }
        for stretch in logged_flight.alike:
            for figure in stretch.figures:
                name = f"{stretch.first.kind} {figure.name}"
                found[name].append((figure.value - truth[figure.name]) / figure.error)
        release, touchdown = logged_flight.course.release, logged_flight.course.touchdown
        found["release"].append((release.time - flight.wait) / release.error)
        found["touchdown"].append((touchdown.time - (flight.time[-1] - flight.rest)) / touchdown.error)
    return {name: np.array(values) for name, values in found.items()}


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    [
        "wind", "straight sink", "straight forward_speed", "straight glide_ratio", "circles sink",
        "circles forward_speed", "circles glide_ratio", "circles turn_rate", "circles radius", "circles bank",
    ],
)  # fmt: skip
def test_errors_are_what_they_claim(scores, name):
    z = scores[name]
    assert len(z) > 0.9 * FLIGHTS
    assert abs(z.mean()) < 0.25
    assert 0.7 < z.std() < 1.25
    assert 0.6 < (np.abs(z) < 1).mean() < 0.9
    assert (np.abs(z) < 2).mean() > 0.91
    assert np.abs(z).max() < 8.0


@pytest.mark.slow
@pytest.mark.parametrize("name", ["release", "touchdown"])
def test_moments_are_within_their_errors(scores, name):
    """Errors of times are no less than a step over √12, so they lean to the large side."""
    assert (np.abs(scores[name]) < 2).mean() > 0.9
    assert np.abs(scores[name]).max() < 5.0
