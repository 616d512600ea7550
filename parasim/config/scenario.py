"""A drop: release height, start, heading and brake schedule."""

import re
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from parasim.config.base import (
    Spec,
    direction_between,
    energy_between,
    length_between,
    number_between,
    percent_between,
    speed_between,
    time_between,
)
from parasim.config.quantity import LENGTH, TIME, InvalidValue, read_quantity

HIGHEST_RELEASE = 35_000.0
"""Above ground. [m]"""

LONGEST_FLIGHT = 21_600.0
"""After release; a flight still in the air then is ended there. [s]"""


def longest_drop(height: float) -> float:
    """Time after which a drop from a height is ended still aloft: ten minutes and a sink of 0.5 m/s. [s]

    Our choice: what sinks so little is held up by the air.
    """
    return min(LONGEST_FLIGHT, 600.0 + 2.0 * height)


_PULL = r"\S{1,20}(?: ?%)?"
_COMMAND = re.compile(
    rf"(?P<at>[^:]{{1,30}}):\s*L\s+(?P<left>{_PULL})\s+R\s+(?P<right>{_PULL})(?:\s+over\s+(?P<over>.{{1,30}}))?"
)
_HOW = (
    'write "2s: L 0.3 R 0" or "20m: L 80% R 80% over 1s" '
    "(time s or height m: left and right part of the travel)"
)
_Pull = Annotated[float, percent_between(0.0, 100.0)]
_Component = Annotated[float, speed_between(-200.0, 200.0)]


class BrakeCommand(Spec):
    """Pull the brakes at a time after release or when sinking through a height above ground.

    Left and right are parts of the full travel, 0 to 1; `over` is the time taken to get there. [s]
    """

    at_time: Annotated[float, time_between(0.0, LONGEST_FLIGHT)] | None = None
    at_height: Annotated[float, length_between(0.0, HIGHEST_RELEASE)] | None = None
    left: _Pull
    right: _Pull
    over: Annotated[float, time_between(0.0, 600.0)] = 0.0

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, given: Any) -> Any:
        if isinstance(given, dict) and len(given) == 1:
            text = "".join(f"{key}: {value}" for key, value in given.items())
            if _COMMAND.fullmatch(text):
                raise InvalidValue("without quotes the colon makes a key of it", f'write it as "{text}"')
        if not isinstance(given, str):
            return given
        match = _COMMAND.fullmatch(given.strip())
        if match is None:
            raise InvalidValue("not a brake command", _HOW)
        parts = {name: text for name, text in match.groupdict().items() if text is not None}
        return {_moment(parts.pop("at")): match["at"], **parts}

    @model_validator(mode="after")
    def _one_moment(self) -> "BrakeCommand":
        if (self.at_time is None) == (self.at_height is None):
            raise InvalidValue("needs exactly one of at_time and at_height", _HOW)
        return self


class DropSpec(Spec):
    """Defaults of a drop; heights above ground, heading by compass.

    Velocity has north, east and down components and belongs to ``start: velocity``.
    """

    height: Annotated[float, length_between(1.0, HIGHEST_RELEASE)] = 60.0
    """Above ground, of the confluence, up to 35 km. Left out: 60 m."""
    start: Literal["steady", "rest", "velocity"] = "steady"
    """`steady`, gliding; `rest`, hanging still with the canopy open; or `velocity`. Left out: steady."""
    velocity: tuple[_Component, _Component, _Component] | None = None
    """North, east, down, with `start: velocity`; each -200 to 200 m/s."""
    heading: Annotated[float, direction_between(-360.0, 360.0)] = 0.0
    """Compass heading of the canopy: `90 deg` or `E`. Left out: north."""
    brakes: tuple[BrakeCommand, ...] = Field(default=(), max_length=100)
    """Commands such as `"2s: L 0.3 R 0"` or `"4m: L 0.9 R 0.9 over 1s"`: at a time after release or a height
    above ground, left and right part of the travel, and how long the move takes."""

    @field_validator("brakes", mode="before")
    @classmethod
    def _is_list(cls, given: Any) -> Any:
        if not isinstance(given, list | tuple):
            raise InvalidValue("not a list", 'write each command in quotes, such as ["2s: L 0.3 R 0"]')
        return given

    @model_validator(mode="after")
    def _consistent(self) -> "DropSpec":
        if self.start == "velocity" and self.velocity is None:
            raise InvalidValue(
                "start: velocity needs one",
                "add velocity: [3 m/s, 0 m/s, 1 m/s] (north, east, down)",
                key="velocity",
                given="none",
            )
        if self.start != "velocity" and self.velocity is not None:
            raise InvalidValue(
                f"only read with start: velocity, not start: {self.start}",
                "remove it or change start",
                key="velocity",
            )
        self._check_order("at_time", "later")
        self._check_order("at_height", "lower")
        return self

    def _check_order(self, moment: str, word: str) -> None:
        marks = [getattr(command, moment) for command in self.brakes]
        marks = [mark if moment == "at_time" else -mark for mark in marks if mark is not None]
        if any(after <= before for before, after in pairwise(marks)):
            raise InvalidValue(
                "brake commands out of order",
                f"let each be {word} than the one before",
                key="brakes",
                given="",
            )


def _moment(text: str) -> str:
    """Name the field that a moment belongs to: time after release or height above ground."""
    for kind, field in ((TIME, "at_time"), (LENGTH, "at_height")):
        try:
            read_quantity(text, kind)
        except InvalidValue:
            continue
        if text.strip()[-1:].isalpha():
            return field
    raise InvalidValue("begins with neither a time nor a height", _HOW)


class LandingSpec(Spec):
    """What the payload can take, and what stops it.

    `stop_distance` is how far it moves on from first touch: crush of foam, grass, sinking in.
    """

    stop_distance: Annotated[float, length_between(1.0, 2000.0, "mm")] = 0.02
    """How far the payload moves on from first touch: crush of foam, grass. Left out: 20 mm."""
    max_sink: Annotated[float, speed_between(0.1, 50.0)] | None = None
    """That the payload can take. Left out: no limit, as with the next three."""
    max_ground_speed: Annotated[float, speed_between(0.1, 50.0)] | None = None
    """That the payload can take."""
    max_energy: Annotated[float, energy_between(0.01, 1e5)] | None = None
    """That the payload can take."""
    max_load: Annotated[float, number_between(1.0, 1e4)] | None = None
    """That the payload can take, in weights of what lands."""
