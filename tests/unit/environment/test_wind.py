"""Wind: cases worked by hand, direction signs, kinks."""

from __future__ import annotations

from itertools import pairwise
from math import hypot, pi, radians

import numba
import numpy as np
import pytest
from scipy.interpolate import CubicSpline, PchipInterpolator

from parasim.compiled import compiled
from parasim.config.weather import SiteSpec
from parasim.environment.wind import (
    Wind,
    build_wind,
    changed_wind,
    check_wind_reaches,
    mean_wind,
    measured_wind,
)
from parasim.errors import DesignError

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


ROUGH = Wind(speed=5.0, from_direction=radians(300.0), roughness=0.03, turn=radians(20.0))
HEIGHTS = (2.0, 10.0, 25.0, 60.0, 140.0)
MEASURED = measured_wind(
    HEIGHTS, (1.5, 3.0, 3.0, 5.5, 4.0), [radians(d) for d in (240, 270, 280, 350, 20)], exponent=0.2
)


@pytest.mark.parametrize("height", [0.5, 2.0, 10.0, 80.0])
def test_logarithmic_law(height):
    """V = 5 ln(h/0.03) / ln(10/0.03), worked by decimal logarithms."""
    expected = 5.0 * np.log10(height / 0.03) / np.log10(10.0 / 0.03)
    assert hypot(*ROUGH.velocity(height)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("height", [2.0, 4.0, 20.0, 50.0, 100.0])
def test_logarithmic_law_grows_as_in_the_code_for_buildings(height):
    """EN 1991-1-4, 4.3.2 (from memory, unverified): c_r(z) = k_r ln(z / z_0).

    In its terrain II, low vegetation, z_0 is 0.05 m and k_r 0.19; the law holds from 2 m up.
    """
    wind = Wind(speed=1.0, from_direction=0.0, roughness=0.05)
    roughness_factor = 0.19 * np.log(height / 0.05)
    assert hypot(*wind.velocity(height)) == pytest.approx(roughness_factor / 1.00668, rel=1e-5)


def test_over_grass_the_two_laws_are_alike():
    """Over open grass, z_0 of 3 cm, the power law that fits from 10 to 50 m is near 1/7 (common practice)."""
    grown = hypot(*Wind(speed=1.0, from_direction=0.0, roughness=0.03).velocity(50.0))
    assert np.log(grown) / np.log(5.0) == pytest.approx(1 / 7, abs=0.01)


@pytest.mark.parametrize(("roughness", "lowest"), [(0.03, 0.5), (0.5, 1.5)])
def test_logarithmic_law_never_blows_backwards(roughness, lowest):
    """It ends at 0.5 m or three roughness lengths, ln 3 over the ground."""
    wind = Wind(speed=5.0, from_direction=0.0, roughness=roughness)
    for height in (lowest, 0.9 * lowest, roughness, 0.0, -2.0):
        assert wind.velocity(height) == wind.velocity(lowest)
        assert wind.velocity(height)[0] < 0.0
    assert wind.gradient(0.99 * lowest) == (0.0, 0.0)
    assert wind.gradient(1.01 * lowest)[0] < 0.0


@pytest.mark.parametrize("wind", [ROUGH, MEASURED])
@pytest.mark.parametrize("height", [0.2, 0.7, 5.0, 17.0, 30.0, 90.0, 150.0])
def test_gradient_of_the_other_laws_is_the_slope_of_the_velocity(wind, height):
    step = 1e-4
    slope = (np.array(wind.velocity(height + step)) - np.array(wind.velocity(height - step))) / (2 * step)
    np.testing.assert_allclose(wind.gradient(height), slope, atol=1e-7)


def test_measured_wind_at_its_points():
    speeds = np.hypot(*MEASURED.profile(np.array(HEIGHTS)))
    np.testing.assert_allclose(speeds, [1.5, 3.0, 3.0, 5.5, 4.0], rtol=1e-14)
    north, east = MEASURED.velocity(60.0)
    assert np.degrees(np.arctan2(-east, -north)) % 360 == pytest.approx(350.0, abs=1e-10)


def test_measured_wind_lies_between_its_neighbours():
    """Both components, at 50 places in every gap; they would overshoot with a plain cubic spline."""
    overshoot = False
    for low, high in pairwise(HEIGHTS):
        inside = np.linspace(low, high, 50)
        ends = MEASURED.profile(np.array([low, high]))
        between = MEASURED.profile(inside)
        assert np.all(between >= ends.min(axis=1, keepdims=True) - 1e-12)
        assert np.all(between <= ends.max(axis=1, keepdims=True) + 1e-12)
        spline = CubicSpline(HEIGHTS, MEASURED.profile(np.array(HEIGHTS)).T)(inside).T
        overshoot |= bool(np.any(spline > ends.max(axis=1, keepdims=True) + 1e-12))
    assert overshoot


def test_measured_wind_is_that_of_the_library():
    """scipy's interpolator between the points, evaluated by itself."""
    library = PchipInterpolator(HEIGHTS, MEASURED.profile(np.array(HEIGHTS)).T)
    inside = np.linspace(2.0, 139.9, 97)
    np.testing.assert_allclose(MEASURED.profile(inside), library(inside).T, atol=1e-12)


@pytest.mark.parametrize("height", HEIGHTS)
def test_measured_wind_has_no_steps(height):
    below, above = MEASURED.velocity(height - 1e-9), MEASURED.velocity(height + 1e-9)
    assert below == pytest.approx(above, abs=1e-7)
    if height not in {HEIGHTS[0], HEIGHTS[-1]}:
        assert MEASURED.gradient(height - 1e-9) == pytest.approx(MEASURED.gradient(height + 1e-9), abs=1e-6)


def test_measured_wind_beyond_its_points():
    """Above as at the top; below by the power law of a fifth: (1/2)^0.2 = 0.871, down to half a metre."""
    assert MEASURED.velocity(500.0) == MEASURED.velocity(140.0)
    assert MEASURED.gradient(500.0) == (0.0, 0.0)
    assert hypot(*MEASURED.velocity(1.0)) == pytest.approx(1.5 * 0.8706, abs=1e-4)
    north, east = MEASURED.velocity(1.0)
    assert np.degrees(np.arctan2(-east, -north)) % 360 == pytest.approx(240.0, abs=1e-10)
    assert MEASURED.velocity(0.0) == MEASURED.velocity(0.5)


def test_measured_down_to_the_ground():
    wind = measured_wind((0.0, 20.0), (1.0, 3.0), (0.0, 0.0), exponent=0.2)
    assert wind.velocity(-1.0) == wind.velocity(0.0) == (-1.0, -0.0)
    assert wind.gradient(-1.0) == (0.0, 0.0)
    assert wind.velocity(10.0)[0] == pytest.approx(-2.0)


def test_measured_wind_says_what_it_is_at_ten_metres():
    assert MEASURED.speed == pytest.approx(3.0)
    assert MEASURED.from_direction == pytest.approx(radians(270.0))


@compiled
def compiled_wind(law, height):
    return mean_wind(law, height)


@pytest.mark.parametrize("wind", [SEVENTH, TURNING, ROUGH, MEASURED])
@pytest.mark.parametrize("height", [-1.0, 0.5, 0.9, 4.0, 10.0, 77.0, 139.0, 140.0, 300.0, 999.0, 1000.0, 2e4])
def test_compiled_is_what_is_written(wind, height):
    """To rounding: a compiler may contract a product and a sum."""
    assert mean_wind(wind.law, height) == pytest.approx(compiled_wind(wind.law, height), abs=1e-13)


@pytest.mark.parametrize("wind", [SEVENTH, TURNING, ROUGH, MEASURED])
def test_changed_wind(wind):
    """Half as strong and from 90 deg further clockwise: what went north goes east."""
    changed = changed_wind(wind.law, factor=0.5, turned=radians(90))
    for height in (0.3, 1.0, 15.0, 90.0, 200.0):
        north, east, north_rise, east_rise = mean_wind(wind.law, height)
        wanted = (-0.5 * east, 0.5 * north, -0.5 * east_rise, 0.5 * north_rise)
        assert mean_wind(changed, height) == pytest.approx(wanted, abs=1e-12)


def test_laws_are_one_type_to_the_compiler():
    """However a wind is written, compiled functions take it without being compiled again."""
    winds = [SEVENTH, MEASURED, ROUGH, Wind.calm(), Wind(speed=3, from_direction=1)]
    laws = [wind.law for wind in winds] + [changed_wind(MEASURED.law, factor=1.1, turned=0.2)]
    assert len({numba.typeof(law) for law in laws}) == 1


def test_site_builds_the_other_laws(tmp_path):
    (tmp_path / "wind.csv").write_text("height_ft,speed_kt,from_deg\n100,10,200\n20,5,180\n")
    table = build_wind(SiteSpec.model_validate({"wind": {"table": tmp_path / "wind.csv", "exponent": 0.3}}))
    assert hypot(*table.velocity(30.48)) == pytest.approx(10 * 1852 / 3600)
    assert hypot(*table.velocity(3.048)) == pytest.approx(5 * 1852 / 3600 * 0.5**0.3)
    written = {"speed": "5 m/s", "from": "300 deg", "roughness": "30 mm", "turn": "20 deg"}
    rough = build_wind(SiteSpec.model_validate({"wind": written}))
    assert rough.velocity(33.0) == pytest.approx(ROUGH.velocity(33.0))


@pytest.mark.parametrize("wind", [SEVENTH, TURNING, ROUGH])
@pytest.mark.parametrize("height", [1000.0, 1000.1, 10_000.0, 35_000.0])
def test_laws_end_with_the_boundary_layer(wind, height):
    """They would have the wind at 35 km be half as strong again as at 1 km; 1000 m is common practice."""
    assert wind.velocity(height) == wind.velocity(1000.0)
    assert wind.gradient(height) == (0.0, 0.0)
    assert wind.velocity(1000.0) == pytest.approx(wind.velocity(1000.0 - 1e-9), abs=1e-9)
    assert hypot(*wind.velocity(1000.0)) > hypot(*wind.velocity(500.0))


def test_a_table_that_begins_high_falls_off_from_the_boundary_layer_down():
    """(250 / 1000)^0.2 = 0.7579 of the 20 m/s at 4 km, which hold down to 1 km; no step on the way."""
    wind = measured_wind((4000.0, 8000.0), (20.0, 40.0), (1.0, 1.0), exponent=0.2)
    assert hypot(*wind.velocity(250.0)) == pytest.approx(20.0 * 0.7579, abs=1e-3)
    for height in (1000.0, 2500.0, 3999.9, 4000.0):
        assert hypot(*wind.velocity(height)) == pytest.approx(20.0, abs=1e-2)


def test_measured_directions_pass_through_north():
    """Between 350 and 10 deg of one speed: half-way by vectors it is cos 10 deg = 0.985 of it, from north."""
    wind = measured_wind((0.0, 30_000.0), (50.0, 50.0), (radians(350.0), radians(10.0)), exponent=0.2)
    north, east = wind.velocity(15_000.0)
    assert east == pytest.approx(0.0, abs=1e-9)
    assert north == pytest.approx(-50.0 * np.cos(radians(10.0)))


def test_a_release_above_what_is_known_of_the_wind_is_spoken_of():
    assert Wind.calm().caveats(30_000.0) == ()
    assert SEVENTH.caveats(1000.0) == ()
    (word,) = SEVENTH.caveats(10_000.0)
    assert "above 1000 m" in word
    assert "the release at 10000 m" in word
    assert "32808 ft" in word.said("imperial")
    assert MEASURED.caveats(140.0) == ()
    (word,) = MEASURED.caveats(500.0)
    assert (
        word == "The wind's table ends at 140 m, the release is at 500 m: between them it counts as at 140 m."
    )


def test_a_table_that_ends_far_below_the_release_is_refused():
    check_wind_reaches(MEASURED, 1140.0, site=SiteSpec())
    check_wind_reaches(SEVENTH, 30_000.0, site=SiteSpec())
    with pytest.raises(DesignError) as told:
        check_wind_reaches(MEASURED, 1141.0, site=SiteSpec())
    assert str(told.value) == (
        "site.wind.table: it ends 1001 m lower than the release, at 140 m; "
        "for a release at 1141 m give the wind up to 141 m at least"
    )
