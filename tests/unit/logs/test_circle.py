"""Circles of ground velocity against known ones, and against the closed form through three points."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.environment.wind import from_direction
from parasim.errors import ConvergenceError
from parasim.logs.channel import Channel
from parasim.logs.circle import (
    algebraic_circle,
    circle_through,
    fit_circle,
    robust_circle,
    wind_errors,
)
from parasim.logs.noise import rates
from tests.flown import Flight

HAND = np.array([[9.4, 2.0, -5.4], [1.5, 8.9, 1.5]])
"""Ground velocities of a canopy at 7.4 m/s in a wind of 2 m/s to the north and 1.5 m/s to the east, heading
north, east and south: worked by hand."""


def test_circle_through_three_points_by_hand():
    center, radius = circle_through(HAND)
    assert center == pytest.approx([2.0, 1.5])
    assert radius == pytest.approx(7.4)


def test_points_on_a_line_have_no_circle():
    assert circle_through(np.array([[0.0, 1.0, 2.0], [1.0, 2.0, 3.0]]))[1] == np.inf


def test_fits_of_three_points_are_the_closed_form():
    for fitted in (algebraic_circle(HAND), robust_circle(HAND)[:2]):
        assert fitted[0] == pytest.approx([2.0, 1.5], abs=1e-6)
        assert fitted[1] == pytest.approx(7.4, abs=1e-6)


@pytest.mark.parametrize("step", [0.2, 0.5, 1.0])
@pytest.mark.parametrize("turn_rate", [-50.0, 15.0, 28.0])
def test_a_circle_without_noise_is_found(step, turn_rate):
    """Wind and speed to a hundredth, from speeds and from places; averaging takes off no radius."""
    flight = Flight(turn_rate=np.radians(turn_rate), turns=3.0, roll_in=0.1)
    at = flight.at(step)
    time = flight.time[at]
    start, end = flight.circling[0] + 0.5, flight.circling[1] - 0.5
    places = np.array([flight.north[at], flight.east[at]])
    channels = [Channel(time=time, value=places)]
    channels.append(Channel(time=time, value=flight.velocity[:, at], is_rate=True))
    for channel in channels:
        of = rates(channel, start, end, shortest=min(1.0, 30.0 / abs(turn_rate)))
        found = fit_circle(of, np.radians(turn_rate))
        assert found.wind == pytest.approx(flight.wind, abs=0.02)
        assert found.speed == pytest.approx(flight.speed, abs=0.03)


def test_gaps_and_blunders_are_borne():
    rng = np.random.default_rng(3)
    flight = Flight(turns=4.0)
    at = flight.at(1.0)
    value = flight.velocity[:, at] + 0.2 * rng.standard_normal((2, len(at)))
    value[:, ::17] += 9.0
    keep = np.ones(len(at), dtype=bool)
    keep[40:52] = False
    channel = Channel(time=flight.time[at][keep], value=value[:, keep], is_rate=True)
    found = fit_circle(rates(channel, flight.circling[0] + 1, flight.circling[1] - 1), flight.turn_rate)
    assert found.left_out >= 2
    errors = np.sqrt(np.diag(found.covariance))
    assert np.abs(found.wind - flight.wind).max() < 4 * errors[:2].max()
    assert abs(found.speed - flight.speed) < 4 * errors[2]
    assert errors.max() < 0.2


def test_straight_flight_is_no_circle():
    rng = np.random.default_rng(4)
    channel = Channel(
        time=np.arange(40.0),
        value=np.array([[7.0], [2.0]]) + 0.2 * rng.standard_normal((2, 40)),
        is_rate=True,
    )
    found = fit_circle(rates(channel, 0.0, 39.0), 0.5)
    assert found.speed < 1.0  # a cloud of noise, not a canopy's speed: circles are looked for where it turns
    with pytest.raises(ConvergenceError, match="too few"):
        fit_circle(rates(channel, 0.0, 4.0), 0.5)


@pytest.mark.parametrize(("wind", "degrees"), [((3.0, 0.0), 180), ((0.0, 3.0), 270), ((-3.0, 0.0), 0)])
def test_where_wind_blows_from(wind, degrees):
    assert np.degrees(from_direction(np.array(wind))) == pytest.approx(degrees)


def test_errors_of_a_wind_by_hand():
    """3 m/s with 0.3 m/s across: 0.1 rad; of no wind the deviation of an even spread, pi/√3."""
    along, across = wind_errors(np.array([3.0, 0.0]), np.diag([0.01, 0.09]))
    assert (along, across) == pytest.approx((0.1, 0.1))
    assert wind_errors(np.zeros(2), np.eye(2))[1] == pytest.approx(np.pi / np.sqrt(3))
