"""Notes on flights: what was measured on them, by instruments or by hand, to learn the calibration from."""

from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from parasim.config.as_built import MEASURED, AsBuiltSpec
from parasim.config.base import (
    Quantity,
    Spec,
    angle_between,
    angular_rate_between,
    density_between,
    force_between,
    length_between,
    mass_between,
    number_between,
    percent_between,
    speed_between,
    time_between,
)
from parasim.config.document import read_document
from parasim.config.loader import checked, read_text
from parasim.config.quantity import InvalidValue

TURNING = ("turn_rate", "radius", "bank")
"""Quantities of a turn, which one brake makes."""

ELSEWHERE = dict.fromkeys(MEASURED, "it is no part of a flight: write it under as_built, beside flights")
"""What is measured on the ground, and where it belongs."""

Swing = Literal["fore and aft", "sideways"]
_Pull = Annotated[float, percent_between(0.0, 100.0)]


class MeasuredSpec(Spec):
    """One measurement: exactly one quantity, its error, and the brakes it was flown with.

    In steady flight through still air; a speed is that through the air.
    """

    airspeed: Annotated[float, speed_between(0.2, 60.0)] | None = None
    """Along the path."""
    forward_speed: Annotated[float, speed_between(0.2, 60.0)] | None = None
    """Its horizontal part."""
    sink: Annotated[float, speed_between(0.05, 60.0)] | None = None
    """Its vertical part."""
    glide_ratio: Annotated[float, number_between(0.1, 20.0)] | None = None
    """Forward over down."""
    turn_rate: Annotated[float, angular_rate_between(-720.0, 720.0)] | None = None
    """Of the heading; to the right positive."""
    radius: Annotated[float, length_between(0.2, 1000.0)] | None = None
    """Of the circle."""
    bank: Annotated[float, angle_between(-89.0, 89.0)] | None = None
    """Right wing down positive."""
    swing_period: Annotated[float, time_between(0.1, 60.0)] | None = None
    """Of a swing after a disturbance: compared with the model's swing of the nearest period."""
    kite_pull: Annotated[float, force_between(0.01, 5000.0)] | None = None
    """At both riser ends together, kited from the ground in `wind`."""
    error: float
    """One standard deviation, in the unit of the quantity."""
    left: _Pull = 0.0
    """Brake, in parts of the full travel. Left out: released."""
    right: _Pull = 0.0
    """The same on the right."""
    swing: Swing | None = None
    """Which way it swings, `fore and aft` or `sideways`. Left out: either."""
    wind: Annotated[float, speed_between(0.5, 20.0)] | None = None
    """At the kited canopy, by anemometer."""
    how: Annotated[str, Field(max_length=400)] = ""
    """How it was measured: a note to yourself."""

    @property
    def quantity(self) -> str:
        """Which one was measured."""
        return next(name for name in QUANTITIES if getattr(self, name) is not None)

    @property
    def value(self) -> float:
        """What was measured. [SI]"""
        return float(getattr(self, self.quantity))

    @model_validator(mode="before")
    @classmethod
    def _one_quantity(cls, given: Any) -> Any:
        if not isinstance(given, dict):
            return given
        for name, hint in ELSEWHERE.items():
            if name in given:
                raise InvalidValue("not read here", hint, key=name)
        named = [name for name in QUANTITIES if given.get(name) is not None]
        unknown = [str(key) for key in given if key not in cls.model_fields]
        if not named and unknown:
            close = get_close_matches(unknown[0], QUANTITIES, n=1)
            hint = f"did you mean {close[0]}?" if close else f"use one of {', '.join(QUANTITIES)}"
            raise InvalidValue("no such quantity", hint, key=unknown[0], given="")
        if len(named) != 1:
            raise InvalidValue(
                "needs exactly one quantity", f"use one of {', '.join(QUANTITIES)}",
                given=" and ".join(named) or "none",
            )  # fmt: skip
        if given.get("error") is None:
            return given
        return {**given, "error": _error(given["error"], named[0])}

    @model_validator(mode="after")
    def _fits(self) -> "MeasuredSpec":
        quantity = self.quantity
        if quantity in TURNING and self.left == self.right:
            raise _no_turn(quantity)
        if quantity == "kite_pull" and (self.left or self.right):
            raise InvalidValue(
                "known with the brakes released only", "leave left and right out", key=quantity
            )
        if (quantity == "kite_pull") != (self.wind is not None):
            raise InvalidValue(
                "kite_pull and the wind it stood in go together", 'write wind: "5 m/s" with kite_pull only',
                key="wind", given="" if self.wind is None else None,
            )  # fmt: skip
        return self


QUANTITIES = tuple(MeasuredSpec.model_fields)[: tuple(MeasuredSpec.model_fields).index("error")]
"""What can be measured, by its key."""


def mark_of(quantity: str) -> Quantity:
    """Kind and limits of a quantity."""
    from parasim.config.keys import mark_in

    return mark_in(MeasuredSpec.model_fields[quantity])


def _error(given: Any, quantity: str) -> float:
    mark = mark_of(quantity)
    try:
        return Quantity(mark.kind, 1e-4, mark.high, mark.shown).read(given)
    except InvalidValue as invalid:
        raise InvalidValue(invalid.problem, invalid.hint, key="error") from None


def _no_turn(key: str) -> InvalidValue:
    return InvalidValue(
        "both brakes alike make no turn in this model", "give left or right as it was pulled", key=key
    )


class HandSpec(Spec):
    """One measurement by stopwatch and tape.

    A timed descent is `height_lost` and `in`; a circle `circles` and `in`; a glide over the ground `distance`
    and `from`.
    """

    height_lost: Annotated[float, length_between(1.0, 5000.0)] | None = None
    """In steady flight; of circles, over all of them."""
    time: Annotated[float, time_between(0.5, 3600.0)] | None = Field(default=None, alias="in")
    """Time it took."""
    circles: Annotated[float, number_between(-200.0, 200.0)] | None = None
    """Turned towards the brake that is pulled further, negative away from it."""
    radius: Annotated[float, length_between(0.2, 1000.0)] | None = None
    """Of the circles, if it was measured."""
    distance: Annotated[float, length_between(1.0, 20000.0)] | None = None
    """Over the ground, straight, from below where the steady glide began."""
    height: Annotated[float, length_between(1.0, 5000.0)] | None = Field(default=None, alias="from")
    """Height that the glide over `distance` began at."""
    wind: Annotated[float, speed_between(0.0, 20.0)] = 0.0
    """Mean wind over that height. Left out: calm."""
    upwind: bool = True
    """`false` when it glided with the wind. Left out: into it."""
    left: _Pull = 0.0
    """Brake, in parts of the full travel. Left out: released."""
    right: _Pull = 0.0
    """The same on the right."""
    how: Annotated[str, Field(max_length=200)] = ""
    """A note to yourself."""

    @property
    def towards_right(self) -> bool:
        """Whether the right brake is pulled further."""
        return self.right > self.left

    @model_validator(mode="after")
    def _one_form(self) -> "HandSpec":
        forms = {"circles": ("in",), "distance": ("from",), "height_lost": ("in",)}
        given = {info.alias or name for name, info in HandSpec.model_fields.items() if self._has(name)}
        form = next((name for name in forms if name in given), None)
        if form is None or ("circles" in given and "distance" in given):
            raise InvalidValue(
                "neither a descent, nor circles, nor a glide over the ground",
                "write height_lost and in, circles and in, or distance and from", given="",
            )  # fmt: skip
        for key in forms[form]:
            if key not in given:
                raise InvalidValue("missing", f"{form} needs it", key=key, given="")
        if form == "circles" and self.left == self.right:
            raise _no_turn("circles")
        if self.circles is not None and abs(self.circles) < 0.25:
            raise InvalidValue("too little to count", "count at least a quarter of a circle", key="circles")
        extra = {"circles": {"from"}, "distance": {"radius", "height_lost"}}
        for key in given & extra.get(form, {"from", "radius"}):
            raise InvalidValue(
                f"does not go with {form}", "leave it out, or write an entry of its own", key=key
            )
        if form != "distance" and self.wind:
            raise InvalidValue("only read with distance", "leave it out", key="wind")
        return self

    def _has(self, name: str) -> bool:
        return getattr(self, name) is not None


class HandErrors(Spec):
    """Errors of what is measured by hand, one standard deviation each; all may be left out.

    Our judgement of a careful person with simple tools, no source.
    """

    stopwatch: Annotated[float, time_between(0.01, 10.0)] = 0.3
    """Of one press; a time has two. Left out: 0.3 s."""
    height: Annotated[float, length_between(0.01, 50.0)] = 1.0
    """Of a height or a height lost. Left out: 1 m."""
    distance: Annotated[float, length_between(0.01, 50.0)] = 1.0
    """Over the ground, and of a radius. Left out: 1 m."""
    circles: Annotated[float, number_between(0.001, 1.0)] = 0.1
    """Of the count, in circles. Left out: 0.1."""
    wind: Annotated[float, speed_between(0.01, 10.0)] = 0.5
    """Of the mean wind. Left out: 0.5 m/s."""
    air: Annotated[float, speed_between(0.0, 5.0)] = 0.1
    """Rise or sink of the air itself. Left out: 0.1 m/s, a calm evening; 0.25 m/s over sunny ground."""


class FlightSpec(Spec):
    """One flight and what was measured on it."""

    name: Annotated[str, Field(max_length=100)] = ""
    """Printed with its measurements; no two alike. Left out: the name of the file, numbered if it holds more
    flights."""
    mass: Annotated[float, mass_between(0.05, 20.0)] | None = None
    """All that flew. Left out: the design's."""
    air_density: Annotated[float, density_between(0.3, 2.0)] | None = None
    """Of the air flown in. Left out: at the design's site."""
    measured: tuple[MeasuredSpec, ...] = ()
    by_hand: tuple[HandSpec, ...] = ()

    @model_validator(mode="after")
    def _has_any(self) -> "FlightSpec":
        if not self.measured and not self.by_hand:
            raise InvalidValue(
                "nothing was measured", "add measured or by_hand, or take the flight out", given=""
            )
        return self


class Notes(Spec):
    """One notes file."""

    errors: HandErrors = HandErrors()
    as_built: AsBuiltSpec | None = None
    flights: Annotated[tuple[FlightSpec, ...], Field(max_length=200)] = ()

    @model_validator(mode="after")
    def _has_any(self) -> "Notes":
        if not self.flights and self.as_built is None:
            raise InvalidValue(
                "nothing was measured", "give flights, as_built or both", key="flights", given=""
            )
        return self


def load_notes(path: str | Path) -> Notes:
    """Read a notes file.

    Raises
    ------
    DesignError
        With one line for each mistake: file, line, key, what was given and what would be right.
    """
    path = Path(path)
    notes = checked(Notes, read_document(read_text(path), path.name), path.parent)
    several = len(notes.flights) > 1
    named = (
        flight
        if flight.name
        else flight.model_copy(update={"name": path.stem + (f" {i}" if several else "")})
        for i, flight in enumerate(notes.flights, start=1)
    )
    return notes.model_copy(update={"flights": tuple(named)})
