"""Standard air: temperature, pressure, density and viscosity over height."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from parasim.compiled import compiled
from parasim.errors import OutOfRangeError
from parasim.rotations import FloatArray
from parasim.units import GRAVITY as GRAVITY  # handed on: it goes with the air

if TYPE_CHECKING:
    from parasim.config.weather import SiteSpec

Number = TypeVar("Number", float, FloatArray)

GAS_CONSTANT = 287.05287
"""Specific gas constant of dry air. [J/(kg K)] Source: [ISO2533]"""

SEA_LEVEL_TEMPERATURE = 288.15
"""[K] Source: [ISO2533]"""

SEA_LEVEL_PRESSURE = 101325.0
"""[Pa] Source: [ISO2533]"""

LAPSE_RATE = 0.0065
"""Fall of temperature with height below 11 km. [K/m] Source: [ISO2533]"""

SUTHERLAND_FACTOR = 1.458e-6
"""[kg/(m s K^½)] Source: [USSA1976] (ISO 2533 has the same)"""

SUTHERLAND_TEMPERATURE = 110.4
"""[K] Source: [USSA1976] (ISO 2533 has the same)"""

LOWEST_HEIGHT, HIGHEST_HEIGHT = -1000.0, 11000.0
"""Heights above sea level between which the lapse rate is taken as constant. [m]"""

_PRESSURE_EXPONENT = GRAVITY / (GAS_CONSTANT * LAPSE_RATE)


def _density(height: Number, temperature_offset: float, sea_level_pressure: float) -> Number:
    T0 = SEA_LEVEL_TEMPERATURE + temperature_offset
    rho0 = sea_level_pressure / (GAS_CONSTANT * T0)
    rho: Number = rho0 * ((T0 - LAPSE_RATE * height) / T0) ** (_PRESSURE_EXPONENT - 1.0)
    return rho


density_at = compiled(_density)
"""The same as `Atmosphere.density`, of one height, offset and sea-level pressure, the range unchecked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Atmosphere:
    """Dry air in hydrostatic balance, warmer or colder than standard by the same amount at every height.

    Every method takes one height or an array of heights and gives back the same shape.

    Parameters
    ----------
    temperature_offset : float
        Temperature above standard. [K]
    sea_level_pressure : float
        Pressure at height zero (QNH). [Pa]

    Notes
    -----
    Heights are above sea level and taken as geopotential: at 3000 m that is 1.4 m off the tape measure, or
    0.013 % of the density. The pressure follows the offset temperature upwards, so a warm day loses pressure
    more slowly with height. Moisture is left out: saturated air at 30 °C is about 1.6 % lighter than dry air
    (by Dalton's law with 42 hPa of vapour).

    Source: [ISO2533] for the standard day between 0 and 11 km; we carry its lapse rate on down to -1 km.

    Examples
    --------
    >>> round(Atmosphere().density(1000.0), 4)
    1.1116
    """

    temperature_offset: float = 0.0
    sea_level_pressure: float = SEA_LEVEL_PRESSURE

    def temperature(self, height: Number) -> Number:
        """Air temperature.

        Parameters
        ----------
        height : float or ndarray
            Height above sea level, -1000 to 11000. [m]

        Returns
        -------
        float or ndarray
            [K]

        Raises
        ------
        OutOfRangeError
            If a height lies outside the range or is not a number.
        """
        _require_in_range(height)
        return SEA_LEVEL_TEMPERATURE + self.temperature_offset - LAPSE_RATE * height

    def pressure(self, height: Number) -> Number:
        """Air pressure.

        Parameters
        ----------
        height : float or ndarray
            Height above sea level, -1000 to 11000. [m]

        Returns
        -------
        float or ndarray
            [Pa]

        Raises
        ------
        OutOfRangeError
            If a height lies outside the range or is not a number.
        """
        T0 = SEA_LEVEL_TEMPERATURE + self.temperature_offset
        ratio = self.temperature(height) / T0
        pressure: Number = self.sea_level_pressure * ratio**_PRESSURE_EXPONENT
        return pressure

    def density(self, height: Number) -> Number:
        """Air density.

        Parameters
        ----------
        height : float or ndarray
            Height above sea level, -1000 to 11000. [m]

        Returns
        -------
        float or ndarray
            [kg/m³]

        Raises
        ------
        OutOfRangeError
            If a height lies outside the range or is not a number.
        """
        _require_in_range(height)
        return _density(height, self.temperature_offset, self.sea_level_pressure)

    def viscosity(self, height: Number) -> Number:
        """Dynamic viscosity by Sutherland's formula.

        Parameters
        ----------
        height : float or ndarray
            Height above sea level, -1000 to 11000. [m]

        Returns
        -------
        float or ndarray
            [Pa s]

        Raises
        ------
        OutOfRangeError
            If a height lies outside the range or is not a number.

        Notes
        -----
        Source: [USSA1976], Sutherland's formula.
        """
        T = self.temperature(height)
        mu: Number = SUTHERLAND_FACTOR * T**1.5 / (T + SUTHERLAND_TEMPERATURE)
        return mu


def pressure_height(pressure: Number) -> Number:
    """Height above sea level at which standard air has a pressure.

    Parameters
    ----------
    pressure : float or ndarray
        Over zero. [Pa]

    Returns
    -------
    float or ndarray
        [m]

    Notes
    -----
    `Atmosphere.pressure` of the standard day solved for the height. Source: [ISO2533]

    Examples
    --------
    >>> round(pressure_height(Atmosphere().pressure(1000.0)), 6)
    1000.0
    """
    share: Number = (pressure / SEA_LEVEL_PRESSURE) ** (1.0 / _PRESSURE_EXPONENT)
    return SEA_LEVEL_TEMPERATURE / LAPSE_RATE * (1.0 - share)


def build_atmosphere(site: SiteSpec) -> Atmosphere:
    """Atmosphere over a site.

    Parameters
    ----------
    site : SiteSpec
        Of it: ``temperature_offset`` [K] and ``sea_level_pressure`` [Pa].

    Returns
    -------
    Atmosphere
    """
    return Atmosphere(temperature_offset=site.temperature_offset, sea_level_pressure=site.sea_level_pressure)


def _require_in_range(height: float | FloatArray) -> None:
    if isinstance(height, np.ndarray):
        outside = height[~((height >= LOWEST_HEIGHT) & (height <= HIGHEST_HEIGHT))]
        if outside.size:
            _require_in_range(float(outside.flat[0]))
    elif not LOWEST_HEIGHT <= height <= HIGHEST_HEIGHT:
        raise OutOfRangeError(
            "height above sea level", height, low=LOWEST_HEIGHT, high=HIGHEST_HEIGHT, unit="m"
        )
