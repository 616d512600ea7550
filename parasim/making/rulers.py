"""Limits and margins of a design, each beside its figure: what is kept, what is not, and what fails first."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from parasim.config.scenario import LandingSpec
from parasim.flight.arrival import peak_load
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE, Glide
from parasim.flight.landing import Landing
from parasim.flight.opening.opening import Opening
from parasim.flight.servo.servo import Servo
from parasim.flight.uncertainty import Band


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """A figure, its band, and the limit it is laid against.

    Attributes
    ----------
    name : str
        In words.
    kind : str
        Of quantity, as in `parasim.units`.
    value, low, high : float
        SI; low and high are the value itself where it carries no band.
    limit : float or None
        None where none is given.
    most : bool
        Whether the figure may be no more than its limit; else no less.
    basis : str
        Where the limit comes from: a key of the design file, or our choice.
    """

    name: str
    kind: str
    value: float
    low: float
    high: float
    limit: float | None
    most: bool
    basis: str

    @property
    def worse(self) -> float:
        """The end of the band that is nearer to the limit, or farther beyond."""
        return self.high if self.most else self.low

    @property
    def room(self) -> float | None:
        """What the worse end leaves to the limit, over the limit; below zero beyond it. [-]"""
        if self.limit is None:
            return None
        return (self.limit - self.worse) / abs(self.limit) * (1 if self.most else -1)

    @property
    def word(self) -> str:
        """Kept, may not be kept, not kept, or unknown."""
        if self.limit is None or self.room is None:
            return "unknown"
        if self.room >= 0:
            return "kept"
        within = self.value <= self.limit if self.most else self.value >= self.limit
        return "may not be kept" if within else "not kept"


def rulers(glide: Glide, landing: Landing, opening: Opening, servo: Servo) -> tuple[Ruler, ...]:
    """Every limit and margin: landing with the brakes released, glide, servo, opening."""
    return (
        *landing_rulers(landing.limits, landing.bands.figures),
        *margin_rulers(glide.bands.figures),
        *servo_rulers(servo),
        *opening_rulers(opening),
    )


def first_to_fail(found: tuple[Ruler, ...]) -> Ruler | None:
    """The one whose worse end leaves least room, over its limit; None where no limit is given."""
    limited = [(ruler.room, i) for i, ruler in enumerate(found) if ruler.room is not None]
    return found[min(limited)[1]] if limited else None


def landing_rulers(limits: LandingSpec, bands: Mapping[str, Band]) -> Iterator[Ruler]:
    """Of the landing with the brakes released in still air, by the bands of `landing_figures`."""
    sink = bands["sink"]
    for name, figure, kind in (
        ("sink", "sink", "speed"),
        ("speed over the ground, still air", "ground_speed", "speed"),
        ("energy at touchdown, still air", "energy", "energy"),
    ):
        band, key = bands[figure], f"max_{figure}"
        yield Ruler(
            name=name, kind=kind, value=band.value, low=band.low, high=band.high,
            limit=getattr(limits, key), most=True, basis=f"landing.{key}",
        )  # fmt: skip
    load = [peak_load(speed, limits.stop_distance) for speed in (sink.value, sink.low, sink.high)]
    yield Ruler(
        name="peak load, times its weight", kind="ratio", value=load[0], low=load[1], high=load[2],
        limit=limits.max_load, most=True, basis="landing.max_load",
    )  # fmt: skip


def margin_rulers(bands: Mapping[str, Band]) -> Iterator[Ruler]:
    """Of the glide, by the bands of `headline_figures`."""
    for name, reserve in (("nose-tuck margin", TUCK_RESERVE), ("stall margin", STALL_RESERVE)):
        band = bands[name.replace("nose-", "").replace(" ", "_")]
        yield Ruler(
            name=name, kind="angle", value=band.value, low=band.low, high=band.high, limit=reserve,
            most=False, basis="our choice",
        )  # fmt: skip


def servo_rulers(servo: Servo) -> Iterator[Ruler]:
    """Of the servo's torque."""
    low, high = servo.peak_band
    torque = None if servo.motor is None else servo.motor.margin[0] * servo.peak_torque
    yield Ruler(
        name="servo torque at the peak", kind="moment", value=servo.peak_torque, low=low, high=high,
        limit=torque, most=True, basis="servo.torque",
    )  # fmt: skip


def opening_rulers(opening: Opening) -> Iterator[Ruler]:
    """Of the weakest part and the height to open in."""
    weakest, height = opening.weakest, opening.minimum_release_height
    if weakest is not None and weakest.margin is not None and weakest.margin_band is not None:
        yield Ruler(
            name=f"{weakest.part} at {weakest.event}, strength over load", kind="ratio",
            value=weakest.margin, low=weakest.margin_band[0], high=weakest.margin_band[1],
            limit=weakest.wanted, most=False, basis="our choice",
        )  # fmt: skip
    if height is not None:
        yield Ruler(
            name="height to open and glide", kind="length", value=height, low=height, high=height,
            limit=opening.release_height, most=True, basis="drop.height",
        )  # fmt: skip
