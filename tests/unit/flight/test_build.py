"""Figures of the test ladder are those of the commands they come from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from parasim.dynamics.vehicle import assemble, in_wind
from parasim.environment.wind import Wind
from parasim.errors import ConvergenceError
from parasim.flight import build
from parasim.flight.build import HEIGHTS, RECOVERED, BuildFlight, build_flight
from parasim.flight.glide import GLIDE_FACTORS, headline_figures
from parasim.flight.opening.opening import opening
from parasim.flight.trim import find_trims
from parasim.making.build import flight_numbers
from parasim.mass.inventory import payload_bottom


@pytest.fixture(scope="module")
def found(heron) -> BuildFlight:
    return build_flight(assemble(heron))


def test_the_glide_is_that_of_the_glide(found):
    trim = find_trims(found.vehicle, modes=False).chosen
    numbers = flight_numbers(found)
    for name in ("airspeed", "forward_speed", "sink", "glide_ratio", "glide_angle"):
        assert getattr(numbers, name) == getattr(trim, name)
    half = find_trims(found.vehicle, brake=0.5, modes=False).chosen
    assert numbers.half_brake == (half.airspeed, half.sink)
    assert numbers.energy == pytest.approx(0.5 * found.vehicle.mass * trim.airspeed**2)


def test_bands_hold_the_figures(found):
    numbers = flight_numbers(found)
    assert set(headline_figures(found.vehicle)) <= set(found.bands.figures)
    assert len(GLIDE_FACTORS) >= 5
    for value, (low, high) in (
        (numbers.airspeed, numbers.airspeed_band),
        (numbers.sink, numbers.sink_band),
        (numbers.glide_ratio, numbers.glide_ratio_band),
        (numbers.energy, numbers.energy_band),
    ):
        assert low < value < high


def test_drops_begin_with_the_payload_at_the_height(found):
    hang = float(payload_bottom(found.vehicle.design)[2])
    assert tuple(one.height for one in found.descents) == HEIGHTS
    for one in found.descents:
        assert one.still.track.height[0] == pytest.approx(one.height + hang, abs=1e-6)
        assert one.still.vehicle.wind.speed == 0
        # What follows slack lines is not quoted, in still air; facing the wind they stay taut.
        assert one.still.touchdown is None
        assert one.windy.touchdown is not None
        assert one.windy.vehicle.wind.speed == 3
        assert one.windy.release.heading == pytest.approx(np.radians(270))
        assert one.unopened.sink <= np.sqrt(2 * 9.80665 * one.height)
    times = [one.windy.time_aloft for one in found.descents]
    assert times == sorted(times)
    # Hardly slower than a stone at first: from rest it falls 5 m in a little over a second.
    assert np.sqrt(2 * 5 / 9.80665) < times[0] < 1.5 * np.sqrt(2 * 5 / 9.80665)
    assert all(drops.still is None for drops in flight_numbers(found).drops)


def test_the_opening_is_that_of_the_opening(found):
    theirs = opening(found.vehicle, speeds=np.zeros(0))
    ours = flight_numbers(found).opening
    assert ours.peak == theirs.now.designed.peak
    assert ours.minimum_release == theirs.minimum_release_height
    assert ours.release_height == found.vehicle.design.drop.height != HEIGHTS[-1]


def test_a_top_rung_below_the_minimum_release_height_is_told(found):
    higher = replace(found.opening, spec=found.opening.spec.model_copy(update={"height_factor": 5.0}))
    assert higher.minimum_release_height > HEIGHTS[-1]
    words = [str(caveat) for caveat in replace(found, opening=higher).caveats]
    assert any("release height of 100 m is less than the minimum" in one for one in words)
    assert not any("release height of 100 m" in str(caveat) for caveat in found.caveats)


def test_a_dive_that_does_not_end_has_no_height(found):
    """Heron tucks from rest and does not come back in 100 m, by this model."""
    track = found.descents[-1].still.track
    assert track.sink[-1] > RECOVERED * found.trim.sink
    assert found.dive is None


def test_the_dive_ends_where_the_sink_is_that_of_the_glide_again(configs):
    from parasim.config.loader import load_design

    pelican = assemble(load_design(configs / "pelican.yaml"))
    into = in_wind(pelican, Wind(speed=3.0, from_direction=0.0, exponent=0.0))
    found = build_flight(pelican)
    assert found.dive is None
    taut = replace(found.descents[-1], still=build._from_rest(into, 100.0, 0.0))
    found = replace(found, descents=(taut,))
    track = found.descents[-1].still.track
    lost = track.height[0] - track.height
    at = int(np.argmin(np.abs(lost - found.dive)))
    assert track.sink[at] <= RECOVERED * found.trim.sink
    assert track.sink[:at].max() > 1.5 * found.trim.sink


def test_without_wind_there_is_no_drop_in_wind(heron):
    calm = build_flight(in_wind(assemble(heron), Wind.calm()))
    assert calm.site_wind is None
    assert all(one.windy is None and one.wind == 0 for one in calm.descents)


def test_a_drop_that_cannot_be_followed_is_told(found, monkeypatch):
    def fails(*_: object) -> None:
        raise ConvergenceError("tumbling")

    monkeypatch.setattr(build, "drop", fails)
    broken = build_flight(found.vehicle)
    assert broken.dive is None
    assert any("from 20 m in still air could not be followed" in caveat for caveat in broken.caveats)
    assert flight_numbers(broken).drops[0].still is None
