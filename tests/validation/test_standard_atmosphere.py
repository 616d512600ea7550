"""Standard air against ISO 2533:1975 and two general-purpose libraries.

The table values of ISO 2533 (identical to the U.S. Standard Atmosphere 1976 at these heights) are by
geopotential height. They were typed from notes and memory, not from the printed table; the libraries are the
independent check.
"""

from __future__ import annotations

import numpy as np
import pytest

from parasim.environment.atmosphere import Atmosphere

STANDARD = Atmosphere()


@pytest.mark.parametrize(
    ("height", "density"),
    [(0.0, 1.2250), (500.0, 1.1673), (1000.0, 1.1116), (2000.0, 1.0065), (3000.0, 0.9091)],
)
def test_density_to_the_printed_digits(height, density):
    """ISO 2533 table, density. [kg/m³]"""
    assert round(STANDARD.density(height), 4) == density


def test_sea_level_viscosity_and_the_top_of_the_layer():
    """U.S. Standard Atmosphere 1976: 1.7894e-5 Pa s at sea level; 216.65 K and 22632 Pa at 11 km."""
    assert STANDARD.viscosity(0.0) == pytest.approx(1.7894e-5, abs=0.5e-9)
    assert STANDARD.temperature(11000.0) == pytest.approx(216.65, abs=0.005)
    assert STANDARD.pressure(11000.0) == pytest.approx(22632.0, abs=0.5)


def test_ambiance_agrees_over_the_flying_range():
    """Package `ambiance` takes geometric heights; its constants are those of ISO 2533 / ICAO Doc 7488."""
    ambiance = pytest.importorskip("ambiance")
    heights = np.linspace(0.0, 5000.0, 11)
    other = ambiance.Atmosphere(ambiance.Atmosphere.geop2geom_height(heights))
    np.testing.assert_allclose(STANDARD.temperature(heights), other.temperature, rtol=1e-9)
    np.testing.assert_allclose(STANDARD.pressure(heights), other.pressure, rtol=1e-6)
    np.testing.assert_allclose(STANDARD.density(heights), other.density, rtol=1e-6)
    np.testing.assert_allclose(STANDARD.viscosity(heights), other.dynamic_viscosity, rtol=1e-6)


def test_fluids_agrees_over_the_flying_range():
    """Package `fluids`, U.S. Standard Atmosphere 1976, at geometric z = r H / (r - H), r = 6356766 m."""
    fluids = pytest.importorskip("fluids")
    heights = np.linspace(0.0, 5000.0, 11)
    radius = 6356766.0
    others = [fluids.ATMOSPHERE_1976(radius * h / (radius - h)) for h in heights]
    np.testing.assert_allclose(STANDARD.temperature(heights), [other.T for other in others], rtol=1e-6)
    np.testing.assert_allclose(STANDARD.pressure(heights), [other.P for other in others], rtol=1e-5)
    np.testing.assert_allclose(STANDARD.density(heights), [other.rho for other in others], rtol=1e-5)
    np.testing.assert_allclose(STANDARD.viscosity(heights), [other.mu for other in others], rtol=1e-5)


def test_height_taken_as_geopotential_costs_a_fiftieth_of_a_per_cent():
    """What the docstring says: 3000 m by the tape measure against 3000 m geopotential."""
    ambiance = pytest.importorskip("ambiance")
    error = STANDARD.density(3000.0) / float(ambiance.Atmosphere(3000.0).density[0]) - 1.0
    assert abs(error) < 2e-4
