"""The site: ground height, air, wind, and what gusts on top of it."""

from dataclasses import dataclass
from math import radians
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator
from pydantic_core import CoreSchema, core_schema

from parasim.config.base import (
    Spec,
    angle_between,
    direction_between,
    file_beside,
    length_between,
    number_between,
    percent_between,
    pressure_between,
    speed_between,
    temperature_step_between,
    time_between,
    whole_between,
)
from parasim.config.quantity import NUMBER, InvalidValue
from parasim.config.scenario import LONGEST_FLIGHT

STANDARD_PRESSURE = 101325.0
"""Sea-level pressure of the standard atmosphere. [Pa] Source: [ISO2533]"""

SMALLEST_REFERENCE = 10.0
"""Minimum reference height over the roughness length: nearer to the ground the logarithmic law means little.
Our choice, no source. [-]"""

GREATEST_SEED = 2**32 - 1


@dataclass(frozen=True, slots=True)
class _Degrees:
    """Marks a latitude or longitude: a plain number is in degrees, as maps have it; kept in radians."""

    limit: float

    def read(self, given: object) -> float:
        """Return radians.

        Raises
        ------
        InvalidValue
            When it is no angle, or outside the limits.
        """
        mark = angle_between(-self.limit, self.limit)
        if isinstance(given, str) and NUMBER.fullmatch(given.strip()):
            given = float(given)
        if isinstance(given, int | float) and not isinstance(given, bool):
            if not -self.limit <= given <= self.limit:
                raise InvalidValue("out of range", f"use degrees, {-self.limit:g} to {self.limit:g}")
            return radians(given)
        return mark.read(given)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        """Read with `read`; written out with its unit."""
        write = core_schema.plain_serializer_function_ser_schema(lambda x: f"{x!r} rad", when_used="json")
        return core_schema.no_info_plain_validator_function(self.read, serialization=write)


Latitude = Annotated[float, _Degrees(90.0)]
Longitude = Annotated[float, _Degrees(180.0)]


class WindSpec(Spec):
    """Mean wind: a law over height with a veer up to 100 m above the reference height, or a measured profile.

    ``from`` is the compass direction the wind comes from. The law is the power law with its ``exponent``, or
    with a ``roughness`` length the logarithmic law; above 1000 m it stays as there. A ``table`` stands in
    place of them all, but for the exponent, by which the wind falls off below the lowest measured height.
    """

    speed: Annotated[float, speed_between(0.0, 40.0)] | None = None
    """At the reference height. Leave `wind` out for a calm."""
    from_direction: Annotated[float, direction_between(0.0, 360.0)] | None = Field(default=None, alias="from")
    """Compass direction it blows from: `270 deg` or `W`."""
    reference_height: Annotated[float, length_between(0.5, 200.0)] = 10.0
    """Above ground. Left out: 10 m."""
    exponent: Annotated[float, number_between(0.0, 0.6)] = 0.143
    """Of the power law over height. Left out: 0.143, a seventh."""
    roughness: Annotated[float, length_between(0.01, 1000.0, "mm")] | None = None
    """Roughness length of the ground: with it the wind follows the logarithmic law, and has no exponent."""
    turn: Annotated[float, angle_between(-180.0, 180.0)] = 0.0
    """Veer from the reference height to 100 m above it. Left out: none."""
    table: Path | None = None
    """Path of a CSV file with the wind at some heights, from beside the design file; stands in place of the
    other keys of `wind` but the exponent."""

    @field_validator("table", mode="before")
    @classmethod
    def _find_file(cls, given: object, info: ValidationInfo) -> Path | None:
        return None if given is None else file_beside(given, info, "the path of a table, such as wind.csv")

    @model_validator(mode="after")
    def _one_way(self) -> "WindSpec":
        if self.table is not None:
            for name in ("speed", "from_direction", "reference_height", "roughness", "turn"):
                if name in self.model_fields_set and getattr(self, name) is not None:
                    raise InvalidValue(
                        "the table gives the wind at every height",
                        "leave it or the table out",
                        key="from" if name == "from_direction" else name,
                    )
            return self
        for key, value, example in (
            ("speed", self.speed, "3 m/s"),
            ("from", self.from_direction, "270 deg"),
        ):
            if value is None:
                raise InvalidValue("missing", f"add it, such as {key}: {example}", key=key, given="")
        if self.roughness is not None:
            self._check_roughness(self.roughness)
        return self

    def _check_roughness(self, roughness: float) -> None:
        if "exponent" in self.model_fields_set:
            raise InvalidValue(
                "the wind follows the power law or, with a roughness, the logarithmic law",
                "leave out the exponent or the roughness",
                key="exponent",
            )
        if self.reference_height < SMALLEST_REFERENCE * roughness:
            raise InvalidValue(
                "too near to ground so rough",
                f"use at least {SMALLEST_REFERENCE:g} roughness lengths, "
                f"{SMALLEST_REFERENCE * roughness:g} m",
                key="reference_height",
                given=f"{self.reference_height:g} m",
            )


class GustSpec(Spec):
    """One gust on top of the wind, risen over a length of the way through the air.

    It blows along the mean wind at its reference height, across it (to the right, looking downwind), up or
    down, or from a compass direction; with a negative speed the other way. It stays, or falls back.
    """

    speed: Annotated[float, speed_between(-20.0, 20.0)]
    """Full speed of one gust on top of the wind; below zero it blows the other way, a lull. Leave `gust`
    out for none."""
    length: Annotated[float, length_between(1.0, 1000.0)]
    """Way through the air, at the airspeed of the glide, over which it rises."""
    start: Annotated[float, time_between(0.0, LONGEST_FLIGHT)] = 0.0
    """After release. Left out: 0 s."""
    direction: Literal["along", "across", "up", "down"] = "along"
    """`along` the mean wind at its reference height, `across` it (to the right, looking downwind), `up` or
    `down`. Left out: along."""
    from_direction: Annotated[float, direction_between(0.0, 360.0)] | None = Field(default=None, alias="from")
    """Compass direction it blows from, in place of `direction`."""
    shape: Literal["stays", "falls"] = "stays"
    """`stays` at full speed, or `falls` back as it rose. Left out: stays."""

    @model_validator(mode="after")
    def _one_direction(self) -> "GustSpec":
        if self.from_direction is not None and "direction" in self.model_fields_set:
            raise InvalidValue("needs one of direction and from", "leave one of them out", key="direction")
        return self

    @property
    def needs_wind(self) -> bool:
        """Whether its direction is measured from the mean wind's."""
        return self.from_direction is None and self.direction in {"along", "across"}


class TurbulenceSpec(Spec):
    """Dryden turbulence by the low-altitude model.

    Its strength is a part (``intensity``) of the mean wind at 20 ft above the ground, or the standard
    ``deviation`` of its vertical component.
    """

    seed: Annotated[int, whole_between(0, GREATEST_SEED)] = 1
    """Which turbulence of all that are alike, 0 to 4294967295. Left out: 1. Leave `turbulence` out for
    none."""
    intensity: Annotated[float, percent_between(0.0, 50.0)] = 0.1
    """Standard deviation of the vertical gusts, as part of the mean wind 20 ft above the ground. Left out:
    10 %."""
    deviation: Annotated[float, speed_between(0.0, 5.0)] | None = None
    """Standard deviation of the vertical gusts, in place of `intensity`."""

    @model_validator(mode="after")
    def _one_strength(self) -> "TurbulenceSpec":
        if self.deviation is not None and "intensity" in self.model_fields_set:
            raise InvalidValue(
                "needs one of intensity and deviation", "leave one of them out", key="intensity"
            )
        return self


class SiteSpec(Spec):
    """Where it flies: ground above sea level, how the air departs from the standard, and how it moves.

    `position` is latitude and longitude (WGS 84) of the point below the nominal release, for maps.
    """

    ground_height: Annotated[float, length_between(-450.0, 6000.0)] = 0.0
    """Above sea level."""
    temperature_offset: Annotated[float, temperature_step_between(-60.0, 60.0)] = 0.0
    """From the standard atmosphere."""
    sea_level_pressure: Annotated[float, pressure_between(850.0, 1100.0)] = STANDARD_PRESSURE
    """."""
    position: tuple[Latitude, Longitude] | None = None
    """Latitude and longitude in degrees (WGS 84) of the point below the planned release, `[47.1, 11.2]`, for
    maps. Left out: no maps."""
    wind: WindSpec | None = None
    gust: GustSpec | None = None
    turbulence: TurbulenceSpec | None = None

    @model_validator(mode="after")
    def _enough_wind(self) -> "SiteSpec":
        if self.wind is not None:
            return self
        if self.gust is not None and self.gust.needs_wind:
            raise InvalidValue(
                "there is no wind to take its direction from",
                "add site.wind, or write from: 270 deg or direction: up",
                key="gust.direction",
                given=self.gust.direction,
            )
        if self.turbulence is not None and self.turbulence.deviation is None:
            raise InvalidValue(
                "there is no wind to take its strength from",
                "add site.wind, or write deviation: 0.4 m/s",
                key="turbulence",
                given="",
            )
        return self
