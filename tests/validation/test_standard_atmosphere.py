"""Standard air against ISO 2533:1975 and two general-purpose libraries.

The table values of ISO 2533 (identical to the U.S. Standard Atmosphere 1976 at these heights) are by
geopotential height. They were typed from notes and memory, not from the printed table; the libraries are the
independent check. Our heights are by the tape measure, z = r H / (r - H) with r = 6356766 m.
"""

from __future__ import annotations

import numpy as np
import pytest

from parasim.environment.atmosphere import Atmosphere

STANDARD = Atmosphere()


def by_tape(geopotential):
    """Height of a geopotential height. [m]"""
    return 6356766.0 * geopotential / (6356766.0 - geopotential)


TABLE = {
    # Geopotential height [m]: temperature [K], pressure [Pa], density [kg/m³], speed of sound [m/s].
    0.0: ("288.15", "1.01325e+05", "1.2250e+00", "340.29"),
    5000.0: ("255.65", "5.4020e+04", "7.3612e-01", "320.53"),
    10_000.0: ("223.15", "2.6436e+04", "4.1271e-01", "299.46"),
    11_000.0: ("216.65", "2.2632e+04", "3.6392e-01", "295.07"),
    20_000.0: ("216.65", "5.4749e+03", "8.8035e-02", "295.07"),
    30_000.0: ("226.65", "1.1719e+03", "1.8012e-02", "301.80"),
    32_000.0: ("228.65", "8.6802e+02", "1.3225e-02", "303.13"),
    40_000.0: ("251.05", "2.7752e+02", "3.8510e-03", "317.63"),
}


@pytest.mark.parametrize("height", TABLE)
def test_the_table_to_its_printed_digits(height):
    """ISO 2533 table 1 by geopotential height; to one of the last digit, for it is from memory."""
    z = by_tape(height)
    found = [getattr(STANDARD, name)(z) for name in ("temperature", "pressure", "density", "speed_of_sound")]
    for value, printed in zip(found, TABLE[height], strict=True):
        mantissa, _, power = printed.partition("e")
        last = 10.0 ** (-len(mantissa.partition(".")[2]) + int(power or 0))
        assert value == pytest.approx(float(printed), abs=1.01 * last)


@pytest.mark.parametrize(
    ("height", "density"),
    [(0.0, 1.2250), (500.0, 1.1673), (1000.0, 1.1116), (2000.0, 1.0065), (3000.0, 0.9091)],
)
def test_density_to_the_printed_digits(height, density):
    """ISO 2533 table, density. [kg/m³]"""
    assert round(STANDARD.density(by_tape(height)), 4) == density


def test_sea_level_viscosity_and_the_top_of_the_layer():
    """U.S. Standard Atmosphere 1976: 1.7894e-5 Pa s at sea level; 216.65 K and 22632 Pa at 11 km."""
    assert STANDARD.viscosity(0.0) == pytest.approx(1.7894e-5, abs=0.5e-9)
    assert STANDARD.temperature(by_tape(11000.0)) == pytest.approx(216.65, abs=0.005)
    assert STANDARD.pressure(by_tape(11000.0)) == pytest.approx(22632.0, abs=0.5)


HEIGHTS = np.linspace(0.0, 47_000.0, 48)


def test_ambiance_agrees_over_the_flying_range():
    """Package `ambiance`, heights by the tape measure; its constants are those of ISO 2533 / ICAO Doc 7488.

    Its pressures at the borders of the layers are typed in, to six digits.
    """
    ambiance = pytest.importorskip("ambiance")
    other = ambiance.Atmosphere(HEIGHTS)
    np.testing.assert_allclose(STANDARD.temperature(HEIGHTS), other.temperature, rtol=1e-9)
    np.testing.assert_allclose(STANDARD.pressure(HEIGHTS), other.pressure, rtol=3e-6)
    np.testing.assert_allclose(STANDARD.density(HEIGHTS), other.density, rtol=3e-6)
    np.testing.assert_allclose(STANDARD.viscosity(HEIGHTS), other.dynamic_viscosity, rtol=1e-6)
    np.testing.assert_allclose(STANDARD.speed_of_sound(HEIGHTS), other.speed_of_sound, rtol=1e-9)


def test_fluids_agrees_over_the_flying_range():
    """Package `fluids`, U.S. Standard Atmosphere 1976, heights by the tape measure."""
    fluids = pytest.importorskip("fluids")
    heights = HEIGHTS
    others = [fluids.ATMOSPHERE_1976(h) for h in heights]
    np.testing.assert_allclose(STANDARD.temperature(heights), [other.T for other in others], rtol=1e-6)
    np.testing.assert_allclose(STANDARD.pressure(heights), [other.P for other in others], rtol=1e-5)
    np.testing.assert_allclose(STANDARD.density(heights), [other.rho for other in others], rtol=1e-5)
    np.testing.assert_allclose(STANDARD.viscosity(heights), [other.mu for other in others], rtol=1e-5)
