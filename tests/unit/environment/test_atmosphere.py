"""Atmosphere: cases worked by hand, edges, the text of errors."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.config.weather import SiteSpec
from parasim.environment.atmosphere import GAS_CONSTANT, GRAVITY, Atmosphere, build_atmosphere, density_at
from parasim.errors import OutOfRangeError

WARM = Atmosphere(temperature_offset=20.0, sea_level_pressure=100000.0)


def test_offset_and_pressure_at_sea_level_by_the_gas_law():
    assert WARM.temperature(0.0) == pytest.approx(308.15)
    assert WARM.pressure(0.0) == pytest.approx(100000.0)
    assert WARM.density(0.0) == pytest.approx(100000.0 / (287.05287 * 308.15), rel=1e-12)


@pytest.mark.parametrize("air", [Atmosphere(), WARM])
@pytest.mark.parametrize("height", [-900.0, 0.0, 500.0, 4000.0, 15_000.0, 25_000.0, 40_000.0])
def test_density_carries_the_pressure_gradient(air, height):
    """Hydrostatic balance dp/dz = -rho g and the gas law p = rho R T hold at every height, offset or not.

    Gravity falls off with the square of the distance from the centre of an earth of 6356766 m radius.
    """
    step = 1.0
    slope = (air.pressure(height + step) - air.pressure(height - step)) / (2 * step)
    gravity = GRAVITY / (1.0 + height / 6356766.0) ** 2
    assert slope == pytest.approx(-air.density(height) * gravity, rel=1e-7)
    assert air.pressure(height) == pytest.approx(
        air.density(height) * GAS_CONSTANT * air.temperature(height), rel=1e-12
    )


def test_pressure_changes_density_in_proportion():
    assert Atmosphere(sea_level_pressure=2 * 101325.0).density(700.0) == pytest.approx(
        2 * Atmosphere().density(700.0), rel=1e-12
    )


@pytest.mark.parametrize("quantity", ["temperature", "pressure", "density", "viscosity", "speed_of_sound"])
def test_an_array_gives_what_a_loop_gives(quantity):
    heights = np.linspace(-1000.0, 47000.0, 25)
    of = getattr(WARM, quantity)
    np.testing.assert_allclose(of(heights), [of(float(h)) for h in heights], rtol=1e-14)


@pytest.mark.parametrize("height", [-1000.1, 47000.1, float("nan"), np.array([0.0, 47000.1])])
@pytest.mark.parametrize("quantity", ["temperature", "pressure", "density", "viscosity", "speed_of_sound"])
def test_heights_outside_the_model_are_refused(quantity, height):
    with pytest.raises(OutOfRangeError, match=r"height above sea level is .* use -1000 to 47000 m"):
        getattr(Atmosphere(), quantity)(height)


@pytest.mark.parametrize("border", [11_000.0, 20_000.0, 32_000.0])
@pytest.mark.parametrize("quantity", ["temperature", "pressure"])
def test_layers_meet_without_a_step(quantity, border):
    """The borders are geopotential heights H, at z = r H / (r - H)."""
    height = 6356766.0 * border / (6356766.0 - border)
    of = getattr(WARM, quantity)
    assert of(height - 1e-4) == pytest.approx(of(height + 1e-4), rel=1e-7)


@pytest.mark.parametrize("height", [-500.0, 120.0, 10_500.0, 11_500.0, 19_000.0, 31_000.0, 46_000.0])
def test_compiled_is_what_is_written(height):
    """To rounding: a compiler's powers may be others."""
    compiled = density_at(height, WARM.temperature_offset, WARM.sea_level_pressure)
    assert compiled == pytest.approx(WARM.density(height), rel=1e-12)


def test_site_builds_its_atmosphere():
    site = SiteSpec.model_validate({"temperature_offset": "+5 K", "sea_level_pressure": "990 hPa"})
    assert build_atmosphere(site) == Atmosphere(temperature_offset=5.0, sea_level_pressure=99000.0)


def test_a_site_left_as_it_is_has_standard_air():
    assert build_atmosphere(SiteSpec()) == Atmosphere()
