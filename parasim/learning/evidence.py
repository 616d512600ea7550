"""What was measured in flight, as numbers with errors, and what a steady flight is to be asked for each."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import copysign, hypot, inf, isfinite, pi, sqrt

from parasim.config.notes import FlightSpec, HandErrors, HandSpec, MeasuredSpec, Notes
from parasim.environment.atmosphere import GRAVITY
from parasim.errors import DesignError, Mistake
from parasim.flight.turn.steady import SteadyTurn


@dataclass(frozen=True, slots=True, kw_only=True)
class Flown:
    """A steady flight as the model has it.

    Attributes
    ----------
    turn : SteadyTurn
        How it flies; straight is a turn of no rate.
    weight, canopy_weight : float
        Of all that flies, and of all but the payload. [N]
    fore_aft, sideways : tuple of float
        Periods of its swings, longest first; empty where nobody asks. [s]
    """

    turn: SteadyTurn
    weight: float
    canopy_weight: float
    fore_aft: tuple[float, ...] = ()
    sideways: tuple[float, ...] = ()

    @property
    def glide_ratio(self) -> float:
        """Forward over down. [-]"""
        return self.turn.forward_speed / self.turn.sink

    def over_ground(self, headwind: float) -> float:
        """Way over the ground for each height lost, against a wind. [-]"""
        return (self.turn.forward_speed - headwind) / self.turn.sink

    def swing(self, periods: Iterable[float], measured: float) -> float:
        """Period nearest to one that was measured, the longest where none was; infinite without any. [s]"""
        return min(
            periods, key=lambda period: abs(period - measured) if isfinite(measured) else -period, default=inf
        )

    def kite_pull(self, wind: float) -> float:
        """Pull at the riser ends of the canopy kited in a wind, at the angle of attack it glides at. [N]

        Force grows with airspeed squared, and the canopy carries itself before it pulls.
        """
        return self.weight * (wind / self.turn.airspeed) ** 2 - self.canopy_weight


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurable:
    """A quantity that can be measured.

    Attributes
    ----------
    words : str
        Its name.
    key : str
        Its name in documents, with the unit.
    kind : str
        Of quantity, a key of `parasim.units.UNITS`.
    read : callable
        From a steady flight and the datum to what the model has for it. [SI]
    digits : int or None
        Decimals shown, in place of the usual ones.
    """

    words: str
    key: str
    kind: str
    read: Callable[[Flown, "Datum"], float]
    digits: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """One measured number.

    Attributes
    ----------
    flight : str
        Name of the flight.
    quantity : str
        A key of `MEASURABLE`.
    value, error : float
        Measured, and one standard deviation. [SI]
    left, right : float
        Brakes, fractions of full travel. [-]
    mass, air_density : float or None
        All-up mass and air flown in; None for the design's. [kg], [kg/m³]
    wind : float
        Headwind of a glide over the ground; what a kited canopy stands in. [m/s]
    wind_error : float
        Of a headwind, which enters by how long the glide lasts. [m/s]
    """

    flight: str
    quantity: str
    value: float
    error: float
    left: float = 0.0
    right: float = 0.0
    mass: float | None = None
    air_density: float | None = None
    wind: float = 0.0
    wind_error: float = 0.0

    @property
    def measurable(self) -> Measurable:
        """What it is a number of."""
        return MEASURABLE[self.quantity]

    @property
    def needs_modes(self) -> bool:
        """Whether it needs the swings about the steady flight."""
        return self.quantity.startswith("swing_period")

    def read(self, flown: Flown) -> float:
        """What the model has for it. [SI]"""
        return self.measurable.read(flown, self)

    def whole_error(self, flown: Flown) -> float:
        """Error with what the wind adds by the time that the glide lasts. [SI]"""
        return hypot(self.error, self.wind_error / flown.turn.sink)


MEASURABLE: dict[str, Measurable] = {
    "airspeed": Measurable(
        words="airspeed", key="airspeed_m_s", kind="speed", read=lambda f, d: f.turn.airspeed,
    ),
    "forward_speed": Measurable(
        words="forward speed", key="forward_speed_m_s", kind="speed", read=lambda f, d: f.turn.forward_speed,
    ),
    "sink": Measurable(
        words="sink", key="sink_m_s", kind="speed", read=lambda f, d: f.turn.sink,
    ),
    "glide_ratio": Measurable(
        words="glide ratio", key="glide_ratio", kind="ratio", read=lambda f, d: f.glide_ratio,
    ),
    "ground_glide": Measurable(
        words="way over height", key="ground_glide_ratio", kind="ratio",
        read=lambda f, d: f.over_ground(d.wind),
    ),
    "turn_rate": Measurable(
        words="turn rate", key="turn_rate_deg_s", kind="angular_rate", read=lambda f, d: f.turn.rate,
    ),
    "radius": Measurable(
        words="radius", key="radius_m", kind="length", read=lambda f, d: f.turn.radius, digits=1,
    ),
    "bank": Measurable(
        words="bank", key="bank_deg", kind="angle", read=lambda f, d: f.turn.bank,
    ),
    "swing_period": Measurable(
        words="swing", key="swing_period_s", kind="time", digits=2,
        read=lambda f, d: f.swing((*f.fore_aft, *f.sideways), d.value),
    ),
    "swing_period_fore_and_aft": Measurable(
        words="swing fore and aft", key="swing_period_fore_and_aft_s", kind="time", digits=2,
        read=lambda f, d: f.swing(f.fore_aft, d.value),
    ),
    "swing_period_sideways": Measurable(
        words="swing sideways", key="swing_period_sideways_s", kind="time", digits=2,
        read=lambda f, d: f.swing(f.sideways, d.value),
    ),
    "kite_pull": Measurable(
        words="pull of the kite", key="kite_pull_n", kind="force", read=lambda f, d: f.kite_pull(d.wind),
    ),
}  # fmt: skip
"""Quantities by name."""


def evidence(noted: Iterable[tuple[str, Notes]]) -> tuple[Datum, ...]:
    """All that was measured, in the order of the files.

    Parameters
    ----------
    noted : iterable of (str, Notes)
        Name of each file and what is in it.

    Raises
    ------
    DesignError
        When a flight is there twice: it would count twice.
    """
    seen: dict[str, str] = {}
    found: list[Datum] = []
    for file, notes in noted:
        for place, flight in enumerate(notes.flights):
            if flight.name in seen:
                raise DesignError(
                    Mistake(
                        file=file, key=f"flights.{place}.name", given=f'"{flight.name}"',
                        problem=f"already in {seen[flight.name]}: it would count twice",
                        hint="take one out, or give it another name",
                    )
                )  # fmt: skip
            seen[flight.name] = file
            found += _of_flight(flight, notes.errors)
    return tuple(found)


def _of_flight(flight: FlightSpec, errors: HandErrors) -> Iterator[Datum]:
    for measured in flight.measured:
        wind = measured.wind or 0.0
        yield _datum(flight, measured, _name(measured), measured.value, measured.error, wind=wind)
    for entry in flight.by_hand:
        yield from by_hand(flight, entry, errors)


def _name(measured: MeasuredSpec) -> str:
    way = "" if measured.swing is None else f"_{measured.swing.replace(' ', '_')}"
    return measured.quantity + way if measured.quantity == "swing_period" else measured.quantity


def _datum(
    flight: FlightSpec,
    entry: MeasuredSpec | HandSpec,
    quantity: str,
    value: float,
    error: float,
    *,
    wind: float = 0.0,
    wind_error: float = 0.0,
) -> Datum:
    return Datum(
        flight=flight.name, quantity=quantity, value=value, error=error, left=entry.left, right=entry.right,
        mass=flight.mass, air_density=flight.air_density, wind=wind, wind_error=wind_error,
    )  # fmt: skip


def by_hand(flight: FlightSpec, entry: HandSpec, errors: HandErrors) -> Iterator[Datum]:
    """Numbers of what was measured by stopwatch and tape, errors by the tools.

    Relative errors of a quotient add up as squares.
    """
    if entry.distance is not None:
        yield from _glide_over_ground(flight, entry, errors)
        return
    assert entry.time is not None
    if entry.circles is not None:
        rate = copysign(
            2 * pi * entry.circles / entry.time, entry.circles if entry.towards_right else -entry.circles
        )
        error = turn_rate_error(errors, circles=abs(entry.circles), time=entry.time)
        yield _datum(flight, entry, "turn_rate", rate, error)
    if entry.radius is not None:
        yield _datum(flight, entry, "radius", entry.radius, errors.distance)
    if entry.height_lost is not None:
        error = sink_error(errors, lost=entry.height_lost, time=entry.time)
        yield _datum(flight, entry, "sink", entry.height_lost / entry.time, error)


def _glide_over_ground(flight: FlightSpec, entry: HandSpec, errors: HandErrors) -> Iterator[Datum]:
    """Way over height; where it was timed, forward speed and sink instead."""
    assert entry.distance is not None
    assert entry.height is not None
    headwind = entry.wind if entry.upwind else -entry.wind
    way = errors.distance / entry.distance
    if entry.time is None:
        ratio = entry.distance / entry.height
        yield _datum(
            flight, entry, "ground_glide", ratio, ratio * hypot(errors.height / entry.height, way),
            wind=headwind, wind_error=hypot(errors.wind, errors.air * ratio),
        )  # fmt: skip
        return
    over_ground = entry.distance / entry.time
    error = hypot(over_ground * hypot(way, _press_error(errors, entry.time)), errors.wind)
    yield _datum(flight, entry, "forward_speed", over_ground + headwind, error)
    error = sink_error(errors, lost=entry.height, time=entry.time)
    yield _datum(flight, entry, "sink", entry.height / entry.time, error)


def _press_error(errors: HandErrors, time: float) -> float:
    """Of a time by stopwatch, a press at either end, over the time. [-]"""
    return sqrt(2) * errors.stopwatch / time


def sink_error(errors: HandErrors, *, lost: float, time: float) -> float:
    """Of a sink by a height lost [m] and the time [s] that it took. [m/s]"""
    return hypot(lost / time * hypot(errors.height / lost, _press_error(errors, time)), errors.air)


def turn_rate_error(errors: HandErrors, *, circles: float, time: float) -> float:
    """Of a turn rate by circles counted and the time [s] that they took. [rad/s]"""
    return 2 * pi * circles / time * hypot(errors.circles / circles, _press_error(errors, time))


def flights_of(data: Sequence[Datum]) -> tuple[str, ...]:
    """Names of the flights, in order."""
    return tuple(dict.fromkeys(datum.flight for datum in data))


def weights_of(mass: float, payload: float) -> tuple[float, float]:
    """Weight of all that flies, and of all but the payload. [N]"""
    return mass * GRAVITY, (mass - payload) * GRAVITY
