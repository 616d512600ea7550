"""An arrival at the ground: its speeds, energy and loads, and what the payload can take of them."""

from dataclasses import dataclass
from math import hypot

from parasim.caveats import Caveat
from parasim.config.design import Design
from parasim.config.scenario import LandingSpec
from parasim.environment.atmosphere import GRAVITY


@dataclass(frozen=True, slots=True, kw_only=True)
class Touchdown:
    """How something arrives at the ground.

    Attributes
    ----------
    ground_speed, sink : float
        Horizontal and vertical speed over the ground. [m/s]
    mass : float
        Of all that arrives. [kg]
    """

    ground_speed: float
    sink: float
    mass: float

    @property
    def speed(self) -> float:
        """Along the path over the ground. [m/s]"""
        return hypot(self.ground_speed, self.sink)

    @property
    def energy(self) -> float:
        """Kinetic, of the whole velocity. [J]"""
        return 0.5 * self.mass * self.speed**2

    @property
    def vertical_energy(self) -> float:
        """Of the vertical speed alone. [J]"""
        return 0.5 * self.mass * self.sink**2

    @property
    def equivalent_height(self) -> float:
        """Height of a free fall without air that ends at the same vertical speed. [m]"""
        return self.sink**2 / (2 * GRAVITY)

    @property
    def energy_height(self) -> float:
        """Height of a free fall without air that ends with the same energy. [m]"""
        return self.speed**2 / (2 * GRAVITY)


def mean_load(speed: float, distance: float) -> float:
    """Mean force over weight while something is brought to rest over a distance.

    Parameters
    ----------
    speed : float
        Along the line of the stop. [m/s]
    distance : float
        [m]

    Returns
    -------
    float
        Times its weight, its weight included. [-]

    Notes
    -----
    What the force takes up is the kinetic energy and, on the way down, the weight over the distance:
    F s = m V²/2 + m g s, so F/(m g) = V²/(2 g s) + 1.

    Examples
    --------
    >>> round(mean_load(3.1, 0.02), 1)
    25.5
    """
    return speed**2 / (2 * GRAVITY * distance) + 1.0


def peak_load(speed: float, distance: float) -> float:
    """Largest force over weight if it grows evenly with the distance: twice the mean. [-]

    A triangular pulse is our assumption, no source; a hard shell on stone is worse, good foam better.
    """
    return 2 * mean_load(speed, distance)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A figure against its limit.

    Attributes
    ----------
    name : {"sink", "ground_speed", "energy", "load"}
        Of the figure.
    value : float
        SI; load in weights.
    limit : float or None
        None where the design gives none.
    """

    name: str
    value: float
    limit: float | None

    @property
    def word(self) -> str:
        """Within, over or no limit given."""
        if self.limit is None:
            return "no limit given"
        return "within" if self.value <= self.limit else "over"

    @property
    def symbol(self) -> str:
        """The word as one character."""
        return {"within": "+", "over": "x", "no limit given": "?"}[self.word]


def verdicts(touchdown: Touchdown, limits: LandingSpec) -> tuple[Verdict, ...]:
    """An arrival against what the payload can take: sink, ground speed, energy and peak load."""
    peak = peak_load(touchdown.sink, limits.stop_distance)
    return (
        Verdict(name="sink", value=touchdown.sink, limit=limits.max_sink),
        Verdict(name="ground_speed", value=touchdown.ground_speed, limit=limits.max_ground_speed),
        Verdict(name="energy", value=touchdown.energy, limit=limits.max_energy),
        Verdict(name="load", value=peak, limit=limits.max_load),
    )


LIMITS = {
    "max_sink": "the sink",
    "max_ground_speed": "the speed over the ground",
    "max_energy": "the energy",
    "max_load": "the load",
}
"""Keys of the design's `landing` that a touchdown is judged by, in words."""


def limits_lacking(design: Design) -> list[Caveat]:
    """A sentence on limits that the file does not give; none if it gives all."""
    missing = {key: words for key, words in LIMITS.items() if getattr(design.landing, key) is None}
    if not missing:
        return []
    keys = ", ".join(f"landing.{key}" for key in missing)
    *first, last = missing.values()
    named = f"{', '.join(first)} and {last}" if first else last
    return [Caveat(f"No limit is given for {named}, so none is judged: {keys}.", "lacks")]
