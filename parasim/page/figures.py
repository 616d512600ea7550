"""Rulers of a design: at once where a steady glide is all they need, a stage after the other where not."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from parasim.aerodynamics.factors import build_ranges
from parasim.config.design import Design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import ParasimError, first_line
from parasim.flight.flare.flare import flare
from parasim.flight.glide import GLIDE_FACTORS
from parasim.flight.landing import flying_figures
from parasim.flight.opening.opening import opening
from parasim.flight.servo.servo import servo
from parasim.flight.uncertainty import Band, flying_bands
from parasim.making.rulers import Ruler, landing_rulers, margin_rulers, opening_rulers, servo_rulers
from parasim.units import System, show

Figures = Mapping[str, Band]


def glide_rulers(vehicle: Vehicle, figures: Figures) -> Iterator[Ruler]:
    """Those of the steady glide: its glide ratio, what the landing and the margins make of it."""
    ratio = figures["glide_ratio"]
    yield Ruler(
        name="glide ratio", kind="ratio", value=ratio.value, low=ratio.low, high=ratio.high, limit=None,
        most=False, basis="none",
    )  # fmt: skip
    yield from landing_rulers(vehicle.design.landing, figures)
    yield from margin_rulers(figures)


def quick(design: Design) -> tuple[Ruler, ...]:
    """Rulers of the steady glide, without bands.

    Raises
    ------
    ParasimError
        If the design cannot be assembled or has no stable steady glide.
    """
    vehicle = assemble(design)
    bare = {
        name: Band(value=value, low=value, high=value, causes=())
        for name, value in flying_figures(vehicle).items()
    }
    return tuple(glide_rulers(vehicle, bare))


def answer(found: tuple[Ruler, ...], units: System) -> str:
    """Glide and sink in a sentence, with the digits of `parasim glide`."""
    by_name = {ruler.name: ruler.value for ruler in found}
    return (
        f"glides {by_name['glide ratio']:.1f} to 1 with the brakes released, sinks "
        f"{show(by_name['sink'], 'speed', units)}, in still air"
    )


def _banded(vehicle: Vehicle) -> Iterator[Ruler]:
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    yield from glide_rulers(vehicle, flying_bands(vehicle, ranges, flying_figures).figures)


def _servo(vehicle: Vehicle) -> Iterator[Ruler]:
    yield from servo_rulers(servo(vehicle))


def _opening(vehicle: Vehicle) -> Iterator[Ruler]:
    yield from opening_rulers(opening(vehicle))


def _flare(vehicle: Vehicle) -> Iterator[Ruler]:
    """The sink that the best flare lands with, against the same limit."""
    sink = flare(vehicle, aim="both").touchdown.sink
    yield Ruler(
        name="sink, flared", kind="speed", value=sink, low=sink, high=sink,
        limit=vehicle.design.landing.max_sink, most=True, basis="landing.max_sink",
    )  # fmt: skip


SLOW: dict[str, Callable[[Vehicle], Iterator[Ruler]]] = {
    "bands": _banded, "servo": _servo, "opening": _opening, "flare": _flare,
}  # fmt: skip
"""Stages in the order in which they follow, quickest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """What one stage found.

    Attributes
    ----------
    stage : str
        A key of `SLOW`.
    rulers : tuple of Ruler
        Empty where it found nothing.
    trouble : str
        Why not, in a line.
    last : bool
        Whether no other stage comes after it.
    """

    stage: str
    rulers: tuple[Ruler, ...]
    trouble: str = ""
    last: bool = False


def follow(design: Design) -> Iterator[Followed]:
    """Every stage, one by one; a stage that finds no answer says so."""
    vehicle = assemble(design)
    for stage, work in SLOW.items():
        last = stage == [*SLOW][-1]
        try:
            yield Followed(stage=stage, rulers=tuple(work(vehicle)), last=last)
        except ParasimError as error:
            yield Followed(stage=stage, rulers=(), trouble=first_line(error), last=last)
