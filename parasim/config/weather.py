"""The site: ground height, air and wind."""

from typing import Annotated

from pydantic import Field

from parasim.config.base import (
    Spec,
    angle_between,
    length_between,
    number_between,
    pressure_between,
    speed_between,
    temperature_step_between,
)

STANDARD_PRESSURE = 101325.0
"""Sea-level pressure of the standard atmosphere. [Pa] Source: [ISO2533]"""


class WindSpec(Spec):
    """Mean wind: a power law over height, and a veer from the reference height to 100 m above it.

    ``from`` is the compass direction the wind comes from.
    """

    speed: Annotated[float, speed_between(0.0, 40.0)]
    from_direction: Annotated[float, angle_between(0.0, 360.0)] = Field(alias="from")
    reference_height: Annotated[float, length_between(0.5, 200.0)] = 10.0
    exponent: Annotated[float, number_between(0.0, 0.6)] = 0.143
    turn: Annotated[float, angle_between(-180.0, 180.0)] = 0.0


class SiteSpec(Spec):
    """Where it flies: ground above sea level, and how the air departs from the standard."""

    ground_height: Annotated[float, length_between(-450.0, 6000.0)] = 0.0
    temperature_offset: Annotated[float, temperature_step_between(-60.0, 60.0)] = 0.0
    sea_level_pressure: Annotated[float, pressure_between(850.0, 1100.0)] = STANDARD_PRESSURE
    wind: WindSpec | None = None
