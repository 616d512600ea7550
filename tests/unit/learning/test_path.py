"""What is put to a flight in still air, and the noise of a log, against closed forms and hand arithmetic."""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from scipy.signal import lfilter

from parasim.errors import ConvergenceError
from parasim.learning.path import DRIFTS, Aloft, Path, over_ground, path_of, wander_count
from parasim.learning.predictor import Condition
from parasim.learning.trajectory import Channel, channels_of
from parasim.logs.track import flown, track
from tests.conftest import CONFIGS


def straight(seconds: int = 21) -> tuple[Path, Aloft]:
    """7.4 m/s ahead and 3.04 m/s down: 62 m in 20.4 s."""
    time = np.arange(0.0, float(seconds))
    path = Path(
        name="a", start=0.0, time=time, moves=np.array([[-np.inf, 0.0, 0.0, 0.0]]), condition=Condition(),
        place=np.zeros((2, seconds)), height=62.0 - 62.0 / 20.4 * time, velocity=None, middle=31.0,
        steady=seconds,
    )  # fmt: skip
    velocity = np.array([np.full(seconds, 7.4), np.zeros(seconds), np.full(seconds, 62.0 / 20.4)])
    return path, Aloft(place=velocity * time, velocity=velocity)


def drift(**named: float) -> np.ndarray:
    return np.array([named.get(name, 0.0) for name in DRIFTS])


def test_wind_carries_and_air_lifts() -> None:
    """East at 7.4 m/s for 20 s against 2 m/s: 108 m; 62 m less 20 s x 3.04 m/s, lifted by 2 m."""
    path, aloft = straight()
    place, velocity = over_ground(path, aloft, drift(heading=pi / 2, wind_east=-2.0, air=0.1, height=62.0))
    assert place[:, -1] == pytest.approx([0.0, 108.0, 62.0 - 20 * 62 / 20.4 + 2.0], abs=1e-6)
    assert velocity[:, 3] == pytest.approx([0.0, 5.4, 0.1 - 62 / 20.4])


def test_a_built_in_turn_flies_a_circle() -> None:
    """At 18 deg/s for 20 s all round: back where it began, 7.4 m/s / (pi/10 1/s) = 23.6 m of radius."""
    path, aloft = straight()
    place, _ = over_ground(path, aloft, drift(turning=radians(18.0)))
    assert np.hypot(*place[:2, -1]) < 0.05
    assert place[1].max() == pytest.approx(2 * 7.4 / radians(18.0), rel=2e-3)


def test_gusts_turn_it_off_its_way() -> None:
    """By 0.2 rad evenly in the first 10 s, by -0.1 in the next: 0.1 at 5 s, 0.2 at 10, 0.1 from 20 on."""
    path, aloft = straight(31)
    assert wander_count(path) == 3
    turned = np.append(drift(heading=0.5), [0.2, -0.1])
    _, velocity = over_ground(path, aloft, turned)
    way = np.arctan2(velocity[1], velocity[0]) - 0.5
    assert way[[0, 5, 10, 20, 30]] == pytest.approx([0.0, 0.1, 0.2, 0.1, 0.1])
    assert np.hypot(*velocity[:2]) == pytest.approx(np.full(31, 7.4))


def test_wind_that_changes_with_height() -> None:
    """0.05 m/s more a metre up: 31 m over the middle 1.55 m/s; over the whole way nearly none."""
    path, aloft = straight()
    place, velocity = over_ground(path, aloft, drift(rise_north=0.05))
    assert velocity[0, 0] == pytest.approx(7.4 + 1.55)
    way = 7.4 * 20 + 0.05 * float(np.mean([path.height[0], path.height[-1]]) - 31.0) * 20
    assert place[0, -1] == pytest.approx(way, abs=1e-6)


def test_brakes_of_the_invented_log() -> None:
    """Its rows say 0 % at 36 s, 85 % at 37 s; 85 % at 96 s, 0 % at 97 s; it begins at 14 s."""
    (flight,) = track(CONFIGS / "heron_log.csv").flights
    path = path_of(flight)
    assert path.start == 14.0
    assert path.moves[:3].tolist() == [[-np.inf, 0, 0, 0], [22, 1, 0, 0.85], [82, 1, 0, 0]]
    assert path.time[path.steady - 1] + path.start == pytest.approx(116.0, abs=1.0)


def test_a_log_without_brakes_is_not_flown_again() -> None:
    (flight,) = track(CONFIGS / "heron_log.csv").flights
    blind = flown(replace(flight.log, brakes=None))
    with pytest.raises(ConvergenceError, match="brakes are not known"):
        path_of(blind)


def test_noise_that_lasts_is_found_and_whitened() -> None:
    """Each value keeps 0.7 of the last: 2000 are worth 2000 x 0.3 / 1.7 = 353 (closed form)."""
    rng = np.random.default_rng(5)
    white = 0.2 * np.sqrt(1 - 0.7**2) * rng.standard_normal(2000)
    noise = lfilter([1.0], [1.0, -0.7], white)
    channel = Channel(
        flight="a", kind="speed", rows=slice(0, 2000), gaps=np.ones(1999), noise=1.0, factor=0.0
    )
    channel.learn(noise)
    assert channel.factor == pytest.approx(0.7, abs=0.051)
    assert channel.noise == pytest.approx(0.2, rel=0.1)
    channel.factor, channel.noise = 0.7, 0.2
    assert channel.effective == pytest.approx(2000 * 0.3 / 1.7)
    left = channel.whitened(noise)
    assert left.std() == pytest.approx(1.0, abs=0.05)
    assert abs(np.corrcoef(left[1:], left[:-1])[0, 1]) < 0.05


def test_a_slip_hardly_moves_the_noise() -> None:
    rng = np.random.default_rng(6)
    noise = 0.2 * rng.standard_normal(200)
    noise[50] = 40.0
    (channel, *_) = channels_of([straight(200)[0]])
    channel.learn(noise)
    assert channel.noise == pytest.approx(0.2, rel=0.2)


def test_a_mean_of_lasting_noise_is_known_as_well_as_it_says() -> None:
    """Least squares of whitened rows: the mean is known to the noise over the root of their worth."""
    channel = Channel(flight="", kind="speed", rows=slice(0, 400), gaps=np.ones(399), noise=0.2, factor=0.6)
    rows = channel.whitened(np.ones(400))
    assert 1 / np.sqrt(rows @ rows) == pytest.approx(0.2 / np.sqrt(channel.effective), rel=0.01)
