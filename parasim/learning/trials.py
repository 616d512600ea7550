"""What can be measured next, with which tool, how well, and what the model expects of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import hypot, nan, pi, sqrt

from parasim.config.notes import HandErrors
from parasim.dynamics.vehicle import Vehicle
from parasim.learning.evidence import Datum, Flown, sink_error, turn_rate_error
from parasim.learning.predictor import Condition

DESCENT_PART = 0.7
"""Part of the design's release height that is left for a steady descent. Our choice, no source. [-]"""

HALF_BRAKE, CIRCLE_BRAKES = 0.5, (0.25, 0.5, 1.0)
"""Brakes of the trials. [-]"""

LEAST_CIRCLE = 0.25
"""Part of a circle under which a turn is not worth timing. Our choice. [-]"""

CIRCLES = {
    0.25: "a quarter circle",
    0.5: "half a circle",
    0.75: "three quarters of a circle",
    1.0: "one full circle",
}
"""Circles that are timed, in words."""

SWINGS = 2
"""Swings timed before they have died away. Our choice, no source. [-]"""

SCALE_ERROR, ANEMOMETER_ERROR = 0.05, 0.3
"""Of a spring scale, over its reading [-], and of a hand-held anemometer [m/s]. Our judgement, no source."""

KITE_PART = 0.8
"""Wind to kite in, over the airspeed of the glide: it pulls, but not as hard as all that it carries. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One thing to measure.

    Attributes
    ----------
    key, words : str
        A plain name, and what it is.
    tool : str
        By what.
    datum : Datum
        What it would give, without a value; its error by the tool at what is expected. [SI]
    kind : str
        Of what is read off the tool, a key of `parasim.units.UNITS`.
    reads : float
        Of the tool's reading times what is expected, 1 where the reading is what is expected: a time is
        such a number over the expected. [SI]
    over : bool
        Whether the reading is `reads` over what is expected, or times it.
    height : float
        That it takes. [m]
    circles : float
        Counted. [-]
    """

    key: str
    words: str
    tool: str
    datum: Datum
    kind: str
    reads: float = 1.0
    over: bool = False
    height: float = 0.0
    circles: float = 0.0

    def reading(self, expected: float) -> float:
        """Of the tool, where the datum is as expected. [SI]"""
        return self.reads / abs(expected) if self.over else self.reads * expected


def conditions(vehicle: Vehicle) -> tuple[Condition, ...]:
    """Steady flights that trials are about."""
    return (
        Condition(),
        Condition(modes=True),
        Condition(left=HALF_BRAKE, right=HALF_BRAKE),
        *(Condition(right=brake) for brake in CIRCLE_BRAKES),
    )


def trials(vehicle: Vehicle, flown: Mapping[Condition, Flown], errors: HandErrors) -> tuple[Trial, ...]:
    """All trials that the design can be asked for, from the ground upwards.

    Parameters
    ----------
    vehicle : Vehicle
        The design.
    flown : Mapping of Condition to Flown
        What the model expects.
    errors : HandErrors
        Of stopwatch and tape.
    """
    height = DESCENT_PART * vehicle.design.drop.height
    build = _Trials(flown=flown, errors=errors, height=height)
    return tuple(build.every())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trials:
    flown: Mapping[Condition, Flown]
    errors: HandErrors
    height: float

    def every(self) -> Iterator[Trial]:
        released = self.flown.get(Condition())
        if released is None:
            return
        yield from self.kite(released)
        yield self.descent(released, "descent", "a timed descent, brakes released", 0.0)
        yield self.over_ground(released)
        if Condition(modes=True) in self.flown:
            yield from self.swing(self.flown[Condition(modes=True)])
        braked = self.flown.get(Condition(left=HALF_BRAKE, right=HALF_BRAKE))
        if braked is not None:
            yield self.descent(braked, "half brakes", "a timed descent, both brakes at 50 %", HALF_BRAKE)
        for brake in CIRCLE_BRAKES:
            turning = self.flown.get(Condition(right=brake))
            if turning is not None:
                yield from self.circle(turning, brake)

    def kite(self, released: Flown) -> Iterator[Trial]:
        wind = max(1.0, round(KITE_PART * released.turn.airspeed))
        pull = released.kite_pull(wind)
        if pull <= 0:
            return
        blown = 2 * ANEMOMETER_ERROR / wind * (pull + released.canopy_weight)
        datum = _wanted("kite_pull", hypot(SCALE_ERROR * pull, blown), wind=wind)
        yield Trial(
            key="kite", words="the pull of the kite", tool="scale and anemometer", datum=datum,
            kind="force",
        )  # fmt: skip

    def descent(self, flown: Flown, key: str, words: str, brake: float) -> Trial:
        error = sink_error(self.errors, lost=self.height, time=self.height / flown.turn.sink)
        return Trial(
            key=key, words=words, tool="stopwatch and height",
            datum=_wanted("sink", error, left=brake, right=brake), kind="time", reads=self.height, over=True,
            height=self.height,
        )  # fmt: skip

    def over_ground(self, flown: Flown) -> Trial:
        ratio, sink = flown.glide_ratio, flown.turn.sink
        way = hypot(self.errors.height / self.height, self.errors.distance / (ratio * self.height))
        wind = hypot(self.errors.wind, self.errors.air * ratio) / sink
        return Trial(
            key="over ground", words="a straight glide over the ground", tool="tape and anemometer",
            datum=_wanted("ground_glide", hypot(ratio * way, wind)), kind="length", reads=self.height,
            height=self.height,
        )  # fmt: skip

    def swing(self, flown: Flown) -> Iterator[Trial]:
        error = sqrt(2) * self.errors.stopwatch / SWINGS
        for quantity, words, periods in (
            ("swing_period_fore_and_aft", "fore and aft", flown.fore_aft),
            ("swing_period_sideways", "sideways", flown.sideways),
        ):
            if periods and periods[0] < self.height / flown.turn.sink / SWINGS:
                yield Trial(
                    key=f"swing {words}", words=f"{SWINGS} swings {words}", tool="stopwatch or video",
                    datum=_wanted(quantity, error), kind="time", reads=SWINGS, height=self.height,
                )  # fmt: skip

    def circle(self, flown: Flown, brake: float) -> Iterator[Trial]:
        count = min(1.0, self.height / flown.turn.height_per_turn)
        if count < LEAST_CIRCLE:
            return
        count = 1.0 if count == 1.0 else int(count / LEAST_CIRCLE) * LEAST_CIRCLE
        error = turn_rate_error(self.errors, circles=count, time=count * flown.turn.turn_time)
        yield Trial(
            key=f"circle {100 * brake:.0f}", words=f"{CIRCLES[count]} at right {100 * brake:.0f} %",
            tool="stopwatch", datum=_wanted("turn_rate", error, right=brake),
            kind="time", reads=2 * pi * count, over=True,
            height=count * flown.turn.height_per_turn, circles=count,
        )  # fmt: skip


def _wanted(
    quantity: str, error: float, *, left: float = 0.0, right: float = 0.0, wind: float = 0.0
) -> Datum:
    return Datum(flight="", quantity=quantity, value=nan, error=error, left=left, right=right, wind=wind)
