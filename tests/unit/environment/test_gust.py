"""Gusts as met on board: axes, rates, ends of the series, the discrete gust, and what a site builds.

Statistics against the published model are in tests/validation/test_dryden.py.
"""

from __future__ import annotations

from math import hypot, radians
from typing import Any

import numba
import numpy as np
import pytest

from parasim.compiled import compiled
from parasim.config.weather import SiteSpec
from parasim.environment.gust import (
    Gusts,
    build_gusts,
    discrete_gust,
    gust_at,
    low_airspeed_cautions,
    turbulence_scales,
)
from parasim.environment.turbulence import many_series, splines_through, turbulence_series
from parasim.environment.wind import Wind, measured_wind

SEED = np.random.SeedSequence(20)
SERIES = turbulence_series(SEED)
TURBULENT = Gusts.none()._replace(deviation=0.5, splines=splines_through(SERIES))
PULSE = Gusts.none()._replace(speed=4.0, east=0.6, down=0.8, start=2.0, rise_time=3.0, falls=1)
BOTH = TURBULENT._replace(**{name: getattr(PULSE, name) for name in Gusts._fields[4:]})
WEST = {"speed": "5 m/s", "from": "270 deg"}


def at(
    gusts: Gusts, xi_horizontal: float, xi_vertical: float, *, height: float = 30.0, **given: float
) -> Any:
    rest = {
        "time": 0.0,
        "xi_horizontal_rate": 0.0,
        "xi_vertical_rate": 0.0,
        "wind_north": 0.0,
        "wind_east": 3.0,
    }
    rest |= given
    return gust_at(
        gusts, rest["time"], height, xi_horizontal, xi_vertical,
        rest["xi_horizontal_rate"], rest["xi_vertical_rate"], rest["wind_north"], rest["wind_east"],
    )  # fmt: skip


def site(**keys: Any) -> SiteSpec:
    return SiteSpec.model_validate(keys)


def test_no_gusts():
    assert at(Gusts.none(), 3.0, 4.0, xi_horizontal_rate=1.0) == (0.0,) * 6


@pytest.mark.parametrize("k", [0, 1, 77, 1280])
@pytest.mark.parametrize(("north", "east"), [(0.0, 3.0), (-2.0, 0.0), (1.2, -1.6)])
def test_axes(k, north, east):
    """At a sample: along the wind, to its right, and down."""
    gn, ge, *_ = at(TURBULENT, 0.02 * k, 0.0, wind_north=north, wind_east=east)
    gd = at(TURBULENT, 0.0, 0.05 * k)[2]
    sigma_u = 0.5 * turbulence_scales(30.0)[2]
    along = np.array([north, east]) / hypot(north, east)
    right = np.array([-along[1], along[0]])
    assert [gn, ge] == pytest.approx(sigma_u * (SERIES[0, k] * along + SERIES[1, k] * right), abs=1e-12)
    assert gd == pytest.approx(0.5 * SERIES[2, k], abs=1e-12)


def test_right_of_a_westerly_is_south():
    lull = TURBULENT._replace(splines=np.array([[0.0] * 4, [1.0] * 4, [0.0] * 4]))
    assert at(lull, 0.01, 0.01)[:3] == pytest.approx((-0.5 * turbulence_scales(30.0)[2], 0.0, 0.0))


def test_without_wind_along_is_north():
    assert at(TURBULENT, 0.5, 0.5, wind_east=0.0) == at(TURBULENT, 0.5, 0.5, wind_north=2.0, wind_east=0.0)


@pytest.mark.parametrize(
    "place", [0.313, 12.3456, 25.593, 25.607, 40.011, 51.213, 51.189, 77.707, 1e4 + 0.123]
)
def test_rates_are_the_change_along_the_way(place):
    """Central differences at the same height, between samples, also where the series turns back."""
    rates = {"xi_horizontal_rate": 0.04, "xi_vertical_rate": 0.3}
    dt = 1e-5

    def after(t: float) -> np.ndarray:
        return np.array(at(BOTH, place + 0.04 * t, 2 * place + 0.3 * t, time=3.1 + t, **rates))

    slope = (after(dt)[:3] - after(-dt)[:3]) / (2 * dt)
    np.testing.assert_allclose(after(0.0)[3:], slope, atol=1e-6)


@pytest.mark.parametrize("k", [0, 1, 500, 1279, 1280])
def test_no_steps_at_samples_nor_where_the_series_turns_back(k):
    """Value and rate, the length rounded to float on the way; bend the same on both sides."""
    for place in (0.02 * k, 2 * 0.02 * 1280 + 0.02 * k):
        if place == 0.0:
            continue
        below, above = (
            np.array(at(TURBULENT, place + d, 0.0, xi_horizontal_rate=1.0)) for d in (-1e-9, 1e-9)
        )
        np.testing.assert_allclose(below[:3], above[:3], atol=1e-6)
        np.testing.assert_allclose(below[3:], above[3:], atol=1e-4)


def test_a_long_flight_goes_to_and_fro():
    """Length 25.6: 25.6 + 3 is 25.6 - 3 backwards, and 51.2 + 3 is 3 again."""
    forth = at(TURBULENT, 22.6, 0.0, xi_horizontal_rate=1.0)
    back = at(TURBULENT, 28.6, 0.0, xi_horizontal_rate=1.0)
    assert back[:2] == pytest.approx(forth[:2], abs=1e-9)
    assert back[3:5] == pytest.approx([-rate for rate in forth[3:5]], abs=1e-7)
    again = at(TURBULENT, 54.2, 0.0, xi_horizontal_rate=1.0)
    assert again == pytest.approx(at(TURBULENT, 3.0, 0.0, xi_horizontal_rate=1.0), abs=1e-7)


@compiled
def compiled_gust(gusts, t, height, a, b, c, d, north, east):
    met = gust_at(gusts, t, height, a, b, c, d, north, east)
    return met, turbulence_scales(height), discrete_gust(gusts, t)


@pytest.mark.parametrize("gusts", [Gusts.none(), TURBULENT, PULSE, BOTH])
def test_compiled_is_what_is_written(gusts):
    """To rounding: a compiler may contract a product and a sum."""
    rng = np.random.default_rng(3)
    for _ in range(50):
        t, height, north, east = rng.uniform((0, 0, -9, -9), (12, 400, 9, 9))
        way = rng.uniform((0, 0, 0, 0), (80, 200, 1, 3))
        arguments = (gusts, t, height, *way, north, east)
        written = gust_at(*arguments), turbulence_scales(height), discrete_gust(gusts, t)
        for ours, theirs in zip(written, compiled_gust(*arguments), strict=True):
            assert ours == pytest.approx(theirs, rel=1e-14, abs=1e-12)


def test_a_gust_that_falls():
    """4 m/s over 3 s from 2 s on: half way 2, full 4, half way down 2, nothing from 8 s; symmetrical."""
    for t, wanted in ((1.0, 0.0), (2.0, 0.0), (3.5, 2.0), (5.0, 4.0), (6.5, 2.0), (8.0, 0.0), (90.0, 0.0)):
        assert discrete_gust(PULSE, t)[0] == pytest.approx(wanted, abs=1e-12)
    assert discrete_gust(PULSE, 4.2)[0] == pytest.approx(discrete_gust(PULSE, 5.8)[0])
    assert at(PULSE, 0.0, 0.0, time=5.0)[:3] == pytest.approx((0.0, 2.4, 3.2))
    assert discrete_gust(PULSE._replace(falls=0), 90.0) == (4.0, 0.0)


@pytest.mark.parametrize("t", [2.001, 3.0, 4.999, 5.001, 7.0, 7.999])
def test_rate_of_a_gust(t):
    slope = (discrete_gust(PULSE, t + 1e-5)[0] - discrete_gust(PULSE, t - 1e-5)[0]) / 2e-5
    assert discrete_gust(PULSE, t)[1] == pytest.approx(slope, abs=1e-6)


def test_the_same_seed_makes_the_same_bit_for_bit():
    again = turbulence_series(np.random.SeedSequence(20))
    np.testing.assert_array_equal(again, SERIES)
    np.testing.assert_array_equal(turbulence_series(np.random.Generator(np.random.PCG64(SEED))), SERIES)
    assert abs(np.corrcoef(SERIES[0], turbulence_series(np.random.SeedSequence(21))[0])[0, 1]) < 0.9


def test_many_are_one_by_one():
    seeds = np.random.SeedSequence(4).spawn(3)
    many = many_series(seeds, 50)
    assert many.shape == (3, 3, 50)
    for series, seed in zip(many, seeds, strict=True):
        np.testing.assert_array_equal(series, turbulence_series(seed, 50))
    assert many_series([], 50).shape == (0, 3, 50)


def test_a_tenth_of_the_wind_at_twenty_feet():
    """MIL-F-8785C: sigma_w = 0.1 W20; 5 m/s at 10 m is 5 (6.096/10)^0.2 = 4.529 m/s there."""
    turbulent = site(wind={**WEST, "exponent": 0.2}, turbulence={"seed": 20})
    gusts = build_gusts(turbulent, 8.0)
    assert gusts.deviation == pytest.approx(0.4529, abs=5e-5)
    np.testing.assert_array_equal(gusts.splines, splines_through(SERIES))
    stronger = build_gusts(turbulent, 8.0, wind=Wind(speed=10.0, from_direction=0.0, exponent=0.2))
    assert stronger.deviation == pytest.approx(0.9058, abs=1e-4)


def test_strength_as_told():
    assert build_gusts(site(turbulence={"deviation": "0.4 m/s"}), 8.0).deviation == 0.4
    tripled = build_gusts(site(wind={**WEST, "exponent": 0.2}, turbulence={"intensity": "30 %"}), 8.0)
    assert tripled.deviation == pytest.approx(3 * 0.4529, abs=2e-4)
    other = many_series([np.random.SeedSequence(9)])[0]
    given = build_gusts(site(turbulence={"deviation": 0.4}), 8.0, series=other)
    np.testing.assert_array_equal(given.splines, splines_through(other))


@pytest.mark.parametrize(
    ("direction", "vector"),
    [
        ({}, (0, 1, 0)),
        ({"direction": "along"}, (0, 1, 0)),
        ({"direction": "across"}, (-1, 0, 0)),
        ({"direction": "up"}, (0, 0, -1)),
        ({"direction": "down"}, (0, 0, 1)),
        ({"from": "180 deg"}, (1, 0, 0)),
        ({"from": "45 deg"}, (-(0.5**0.5), -(0.5**0.5), 0)),
    ],
)
def test_direction_of_a_gust(direction, vector):
    gusts = build_gusts(site(wind=WEST, gust={"speed": 3, "length": 20, **direction}), 8.0)
    assert (gusts.north, gusts.east, gusts.down) == pytest.approx(vector, abs=1e-12)
    assert (gusts.speed, gusts.start, gusts.falls, gusts.deviation) == (3.0, 0.0, 0, 0.0)
    assert gusts.rise_time == 2.5


def test_a_site_without_gusts():
    gusts = build_gusts(site(wind=WEST), 8.0)
    assert (gusts.deviation, gusts.speed) == (0.0, 0.0)


def test_gusts_are_one_type_to_the_compiler():
    """However they are written, compiled functions take them without being compiled again."""
    gust = {"speed": 3, "length": 20, "start": 4, "shape": "falls"}
    built = [
        build_gusts(site(wind={"speed": 5, "from": "270 deg"}, gust=gust, turbulence={"seed": 2}), 8),
        build_gusts(site(wind=WEST), 8.0, series=many_series([SEED])[0]),
        build_gusts(site(turbulence={"deviation": 1}), 8.0, series=many_series([SEED, SEED])[1]),
    ]
    assert len({numba.typeof(gusts) for gusts in [Gusts.none(), *built]}) == 1


def test_cautions_where_air_rivals_the_airspeed():
    """1/7 law: 7 m/s at 10 m is 9.04 m/s at 60 m. Near the ground sigma_u is 1.963 sigma_w."""
    wind = Wind(speed=7.0, from_direction=radians(270), exponent=1 / 7)
    calm, rough = Gusts.none(), Gusts.none()._replace(deviation=1.2)
    way = {"heights": np.linspace(0.0, 60.0, 101), "airspeed": np.full(101, 8.4)}
    (caution,) = low_airspeed_cautions(**way, wind=wind, gusts=calm)
    assert caution.startswith("The mean wind reaches 9.0 m/s where the airspeed is 8.4 m/s")
    (caution,) = low_airspeed_cautions(**way, wind=Wind.calm(), gusts=rough)
    assert "are 4.7 m/s where the airspeed is 8.4 m/s: they turn the flow by up to 29 deg" in caution
    assert np.degrees(np.arctan(2 * 1.2 * 1.963 / 8.4)) == pytest.approx(29, abs=0.5)
    assert len(low_airspeed_cautions(**way, wind=wind, gusts=rough)) == 2
    low = {"heights": np.linspace(0.0, 5.0, 11), "airspeed": np.full(11, 8.4)}
    assert low_airspeed_cautions(**low, wind=wind, gusts=calm) == ()


def test_high_up_the_wind_counts_beside_the_airspeed_there():
    """20 m/s where it glides at 14 m/s count for more than 60 m/s where it glides at 65 m/s."""
    wind = measured_wind((0.0, 10e3, 30e3), (2.0, 20.0, 60.0), (1.0, 1.0, 1.0), exponent=0.2)
    heights, airspeed = np.array([0.0, 10e3, 30e3]), np.array([8.0, 14.0, 65.0])
    (caution,) = low_airspeed_cautions(heights=heights, airspeed=airspeed, wind=wind, gusts=Gusts.none())
    assert caution.startswith("The mean wind reaches 20.0 m/s where the airspeed is 14.0 m/s")


@pytest.mark.parametrize(
    ("height", "share"), [(500.0, 1.0), (1000.0, 1.0), (1500.0, 0.5), (2000.0, 0.0), (9e3, 0.0)]
)
def test_turbulence_fades_above_the_boundary_layer(height, share):
    """Against the same place of the same series at 500 m, where the scales are those of 1000 ft as well."""
    gusts = build_gusts(site(wind=WEST, turbulence={"seed": 4}), 8.0)
    low, high = (np.array(gust_at(gusts, 0.0, h, 3.3, 4.4, 0.02, 0.03, 0.0, 5.0)) for h in (500.0, height))
    assert np.abs(low).min() > 0.0
    np.testing.assert_allclose(high, share * low, atol=1e-15)
