"""Standard air: temperature, pressure, density, viscosity and speed of sound over height."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import exp, sqrt
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from parasim.compiled import inlined
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

LAYERS = (0.0, 11_000.0, 20_000.0, 32_000.0)
"""Geopotential heights at which the layers begin; the last one reaches up to 47 km. [m] Source: [ISO2533]"""

GRADIENTS = (-0.0065, 0.0, 0.001, 0.0028)
"""Rise of temperature with geopotential height in each layer. [K/m] Source: [ISO2533]"""

EARTH_RADIUS = 6_356_766.0
"""Nominal radius by which heights become geopotential. [m] Source: [ISO2533]"""

HEAT_CAPACITY_RATIO = 1.4
"""Of dry air. [-] Source: [ISO2533]"""

STANDARD_DENSITY = SEA_LEVEL_PRESSURE / (GAS_CONSTANT * SEA_LEVEL_TEMPERATURE)
"""Of standard air at sea level, to which equivalent airspeed refers. [kg/m³]"""

SUTHERLAND_FACTOR = 1.458e-6
"""[kg/(m s K^½)] Source: [USSA1976] (ISO 2533 has the same)"""

SUTHERLAND_TEMPERATURE = 110.4
"""[K] Source: [USSA1976] (ISO 2533 has the same)"""

LOWEST_HEIGHT, HIGHEST_HEIGHT = -1000.0, 47_000.0
"""Heights above sea level between which the layers hold. [m]"""


@inlined
def air_at(height: float, temperature_offset: float, sea_level_pressure: float) -> tuple[float, float]:
    """Temperature and pressure at a height. [K], [Pa]"""
    H = EARTH_RADIUS * height / (EARTH_RADIUS + height)
    T, p = SEA_LEVEL_TEMPERATURE + temperature_offset, sea_level_pressure
    for i in range(len(LAYERS)):
        within = i == len(LAYERS) - 1 or LAYERS[i + 1] >= H
        rise = (H if within else LAYERS[i + 1]) - LAYERS[i]
        warmer = T + GRADIENTS[i] * rise
        if GRADIENTS[i] == 0.0:
            p *= exp(-GRAVITY * rise / (GAS_CONSTANT * T))
        else:
            p *= (warmer / T) ** (-GRAVITY / (GAS_CONSTANT * GRADIENTS[i]))
        T = warmer
        if within:
            break
    return T, p


@inlined
def density_at(height: float, temperature_offset: float, sea_level_pressure: float) -> float:
    """The same as `Atmosphere.density`, of one height, offset and sea-level pressure, the range unchecked."""
    T, p = air_at(height, temperature_offset, sea_level_pressure)
    return p / (GAS_CONSTANT * T)


def viscosity_of(temperature: float) -> float:
    """Dynamic viscosity of air by Sutherland's formula, of a temperature [K]. [Pa s] Source: [USSA1976]"""
    return SUTHERLAND_FACTOR * temperature**1.5 / (temperature + SUTHERLAND_TEMPERATURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Atmosphere:
    """Dry air in hydrostatic balance, warmer or colder than standard by the same amount at every height.

    Every method takes one height above sea level or an array of them, -1000 to 47000 m, and gives back the
    same shape; `OutOfRangeError` says which height lies outside or is not a number.

    Parameters
    ----------
    temperature_offset : float
        Temperature above standard. [K]
    sea_level_pressure : float
        Pressure at height zero (QNH). [Pa]

    Notes
    -----
    Heights are by the tape measure; H = r z / (r + z) makes them geopotential, which takes up that gravity
    falls off with height. The pressure follows the offset temperature upwards, so a warm day loses pressure
    more slowly with height. Moisture is left out: saturated air at 30 °C is about 1.6 % lighter than dry air
    (by Dalton's law with 42 hPa of vapour).

    Source: [ISO2533] for the standard day between 0 and 47 km; we carry its first layer on down to -1 km.

    Examples
    --------
    >>> round(Atmosphere().density(1000.0), 4), round(Atmosphere().density(30_000.0), 5)
    (1.1117, 0.01841)
    """

    temperature_offset: float = 0.0
    sea_level_pressure: float = SEA_LEVEL_PRESSURE

    def temperature(self, height: Number) -> Number:
        """Air temperature. [K]"""
        return self._each(height, lambda T, p: T)

    def pressure(self, height: Number) -> Number:
        """Air pressure. [Pa]"""
        return self._each(height, lambda T, p: p)

    def density(self, height: Number) -> Number:
        """Air density. [kg/m³]"""
        return self._each(height, lambda T, p: p / (GAS_CONSTANT * T))

    def viscosity(self, height: Number) -> Number:
        """Dynamic viscosity, as `viscosity_of`. [Pa s]"""
        return self._each(height, lambda T, p: viscosity_of(T))

    def speed_of_sound(self, height: Number) -> Number:
        """Speed of sound, sqrt(kappa R T). [m/s] Source: [ISO2533]"""
        return self._each(height, lambda T, p: sqrt(HEAT_CAPACITY_RATIO * GAS_CONSTANT * T))

    def _each(self, height: Number, figure: Callable[[float, float], float]) -> Number:
        _require_in_range(height)
        if isinstance(height, np.ndarray):
            found = [figure(*air_at(h, *self._day)) for h in height.ravel().tolist()]
            return np.array(found).reshape(height.shape)
        return figure(*air_at(height, *self._day))

    @property
    def _day(self) -> tuple[float, float]:
        return self.temperature_offset, self.sea_level_pressure


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
    Interpolated in `Atmosphere.pressure` of the standard day, every 12 m; held at its ends. Source: [ISO2533]

    Examples
    --------
    >>> round(pressure_height(Atmosphere().pressure(1000.0)), 3)
    1000.0
    """
    falling, height = _standard_day()
    found = np.interp(-np.log(pressure), falling, height)
    return found if isinstance(pressure, np.ndarray) else float(found)


@cache
def _standard_day() -> tuple[FloatArray, FloatArray]:
    """Logarithm of the pressure, its sign turned, and height. [-], [m]"""
    height = np.linspace(LOWEST_HEIGHT, HIGHEST_HEIGHT, 4001)
    return -np.log(Atmosphere().pressure(height)), height


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
