"""Wind: cases worked by hand, direction signs, kinks."""

from __future__ import annotations

from math import hypot, pi, radians

import numpy as np
import pytest

from parasim.config.weather import SiteSpec
from parasim.environment.wind import Wind, build_wind

SEVENTH = Wind(speed=3.0, from_direction=radians(270.0), reference_height=10.0, exponent=1 / 7)
TURNING = Wind(
    speed=6.0, from_direction=radians(200.0), reference_height=8.0, exponent=0.2, turn=radians(30.0)
)


@pytest.mark.parametrize(
    ("from_deg", "north", "east"),
    [(0, -3, 0), (90, 0, -3), (180, 3, 0), (270, 0, 3), (225, 2.12132, 2.12132)],
)
def test_wind_moves_away_from_where_it_comes_from(from_deg, north, east):
    wind = Wind(speed=3.0, from_direction=radians(from_deg))
    assert wind.velocity(10.0) == pytest.approx((north, east), abs=1e-5)


@pytest.mark.parametrize("height", [0.5, 2.0, 10.0, 80.0])
def test_power_law_of_one_seventh(height):
    """V = 3 (h/10)^(1/7), worked by logarithms: 1/7 power law, common practice, no source."""
    expected = 3.0 * np.exp((np.log(height) - np.log(10.0)) / 7.0)
    assert hypot(*SEVENTH.velocity(height)) == pytest.approx(expected, rel=1e-12)


def test_doubling_the_height_adds_ten_per_cent():
    """2^(1/7) = 1.104."""
    assert hypot(*SEVENTH.velocity(20.0)) / hypot(*SEVENTH.velocity(10.0)) == pytest.approx(1.104, abs=5e-4)


@pytest.mark.parametrize("height", [0.5, 0.3, 0.0, -1.0])
def test_wind_near_the_ground_is_that_at_half_a_metre(height):
    assert SEVENTH.velocity(height) == SEVENTH.velocity(0.5)
    if height < 0.5:
        assert SEVENTH.gradient(height) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("height", "turned_deg"), [(0.0, 0.0), (8.0, 0.0), (58.0, 15.0), (108.0, 30.0), (300.0, 30.0)]
)
def test_wind_veers_clockwise_over_a_hundred_metres(height, turned_deg):
    north, east = TURNING.velocity(height)
    comes_from = np.arctan2(-east, -north) % (2 * pi)
    assert comes_from == pytest.approx(radians(200.0 + turned_deg), abs=1e-12)


@pytest.mark.parametrize("wind", [SEVENTH, TURNING, Wind(speed=4.0, from_direction=1.0, exponent=0.0)])
@pytest.mark.parametrize("height", [0.2, 0.7, 5.0, 30.0, 107.0, 150.0])
def test_gradient_is_the_slope_of_the_velocity(wind, height):
    step = 1e-4
    slope = (np.array(wind.velocity(height + step)) - np.array(wind.velocity(height - step))) / (2 * step)
    # Central difference: truncation 1e-8 of the third derivative, rounding 1e-11.
    np.testing.assert_allclose(wind.gradient(height), slope, atol=1e-7)


@pytest.mark.parametrize("height", [0.5, 8.0, 108.0])
def test_velocity_has_no_steps(height):
    below, above = TURNING.velocity(height - 1e-9), TURNING.velocity(height + 1e-9)
    assert below == pytest.approx(above, abs=1e-7)


def test_profile_is_the_velocity_at_each_height():
    heights = np.array([0.0, 10.0, 60.0])
    profile = TURNING.profile(heights)
    assert profile.shape == (2, 3)
    np.testing.assert_array_equal(profile.T, [TURNING.velocity(h) for h in heights])
    assert TURNING.profile(np.array([])).shape == (2, 0)


def test_calm():
    assert Wind.calm().velocity(50.0) == (0.0, 0.0)
    assert Wind.calm().gradient(50.0) == (0.0, 0.0)


def test_site_builds_its_wind():
    written = {
        "speed": "3 m/s",
        "from": "270 deg",
        "reference_height": "9 m",
        "exponent": 0.2,
        "turn": "20 deg",
    }
    wind = build_wind(SiteSpec.model_validate({"wind": written}))
    assert wind == Wind(
        speed=3.0, from_direction=radians(270.0), reference_height=9.0, exponent=0.2, turn=radians(20.0)
    )
    assert wind.velocity(9.0) == pytest.approx((0.0, 3.0), abs=1e-12)


def test_a_site_without_wind_is_calm():
    assert build_wind(SiteSpec()) == Wind.calm()
