"""Means and their errors against hand formulas, whatever the noise."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.logs.channel import Channel, quantum_of
from parasim.logs.noise import FEWEST_RATES, fit_mean, rates


def test_sink_by_hand():
    """62 m in 20.4 s are 3.04 m/s."""
    time = np.linspace(0.0, 20.4, 103)
    channel = Channel(time=time, value=(62.0 - 62.0 * time / 20.4)[None])
    found = fit_mean(rates(channel, 0.0, 20.4))
    assert -found.value[0] == pytest.approx(3.04, abs=0.005)


def test_white_noise_of_places_gives_the_error_of_a_line():
    """About that of a straight line, sigma √12/(T √n), by any book of statistics, or somewhat larger."""
    rng = np.random.default_rng(5)
    time = np.arange(0.0, 120.0)
    channel = Channel(time=time, value=(400.0 - 3.0 * time + 0.3 * rng.standard_normal(120))[None])
    error = fit_mean(rates(channel, 0.0, 119.0)).error[0]
    line = 0.3 * np.sqrt(12) / (119 * np.sqrt(120))
    assert 0.9 * line < error < 4 * line  # a tenth for the scatter of this sample


def test_white_noise_of_rates_gives_the_error_of_a_mean():
    rng = np.random.default_rng(6)
    channel = Channel(time=np.arange(100.0), value=5 + 0.2 * rng.standard_normal((1, 100)), is_rate=True)
    error = fit_mean(rates(channel, 0.0, 99.0)).error[0]
    assert 0.8 * 0.02 < error < 1.8 * 0.02


def test_lasting_noise_gives_a_larger_error():
    """Correlation 0.9 from one to the next: the mean's error grows by about √((1 + 0.9)/(1 - 0.9)) = 4.4."""
    rng = np.random.default_rng(7)
    white = rng.standard_normal(200)
    noise = np.zeros(200)
    for i in range(1, 200):
        noise[i] = 0.9 * noise[i - 1] + np.sqrt(1 - 0.81) * white[i]
    channel = Channel(time=np.arange(200.0), value=0.2 * noise[None], is_rate=True)
    error = fit_mean(rates(channel, 0.0, 199.0)).error[0]
    assert 2.5 < error / (0.2 / np.sqrt(200)) < 7.0


def test_whole_metres_are_not_taken_at_their_word():
    """3 m/s in whole metres has no residuals; rounding at both ends leaves 1/√6 m over the time."""
    time = np.arange(0.0, 20.0)
    channel = Channel(time=time, value=(400 - 3 * time)[None], quantum=1.0)
    found = fit_mean(rates(channel, 0.0, 19.0))
    assert found.value[0] == pytest.approx(-3.0)
    assert found.error[0] >= 0.999 / np.sqrt(6) / 19.0


def test_blocks_are_means():
    channel = Channel(time=np.arange(0.0, 10.0, 0.1), value=np.arange(100.0)[None], is_rate=True)
    of = rates(channel, 0.0, 9.95)
    assert of.samples == 10
    assert len(of.time) == 10
    assert of.value[0, 3] == pytest.approx(np.arange(30, 40).mean())


def test_long_stretches_take_longer_blocks():
    channel = Channel(time=np.arange(0.0, 3600.0, 0.1), value=np.zeros((2, 36000)))
    assert len(rates(channel, 0.0, 3600.0).time) <= 301


@pytest.mark.parametrize(("differenced", "expected"), [(False, 1.0), (True, np.sin(0.25) / 0.25)])
def test_averaging_takes_off_the_speed_of_a_turn(differenced, expected):
    """One sample takes nothing off; a chord over 1 s of 0.5 rad/s takes sin(1/4)/(1/4), by hand."""
    channel = Channel(time=np.arange(20.0), value=np.zeros((2, 20)), is_rate=not differenced)
    assert rates(channel, 0.0, 19.0).attenuation(0.5) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("values", "step"),
    [([1.0, 2.0, 5.0], 1.0), ([0.1, 0.3, 0.2], 0.1), ([0.1, np.pi, 0.7], 0.0), ([2.0, 2.0], 0.0), ([], 0.0)],
)
def test_last_digits(values, step):
    assert quantum_of(np.array(values)) == pytest.approx(step)


def test_nothing_in_a_stretch():
    channel = Channel(time=np.arange(20.0), value=np.zeros((2, 20)))
    assert len(rates(channel, 50.0, 60.0).time) == 0
    assert FEWEST_RATES > 1
