"""Members of a scatter: flown in chunks, each on the outcome that its own numbers choose."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from parasim.dynamics.runge_kutta import ALOFT, LANDED, LOST, ON_GROUND, OVERTURNED, SLACK, STUCK, TUMBLED
from parasim.rotations import FloatArray
from parasim.scatter.ensemble_model import input_of
from parasim.scatter.inputs import COLUMNS, Input, IntArray, draw, numbers_of
from parasim.scatter.unopened import OPENING_SPEEDS, Fallen, Falling, fall

UNCOMPUTED = (LOST, STUCK, TUMBLED, SLACK, OVERTURNED)
"""Endings in the air of which nothing is known: they count as over every limit, and as no hit of a target."""

CHUNK = 100
"""Members flown at a time. Fixed, so that parts kept of one run fit a longer one."""

OPENED, LATE, TOO_LATE, UNOPENED = 0, 1, 2, 3
OUTCOMES = ("opened", "late", "too late", "unopened")
"""Words for the outcomes: opened as designed; later, and glided; later, but on the ground first; never."""

STATUSES = (
    "landed",
    "still aloft at the longest time, or carried off",
    "motion not finite",
    "stuck, not computed",
    "released on the ground",
    "tumbled, not computed",
    "slack lines, not computed further",
    "overturned, not computed further",
)
"""Words for how a member ended, in the order of `parasim.dynamics.runge_kutta`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Members:
    """What became of members, each array of shape (n,).

    Attributes
    ----------
    number : ndarray
        In the whole scatter, from zero.
    outcome, status : ndarray
        Places in `OUTCOMES` and `STATUSES`.
    north, east : ndarray
        Touchdown from the point below the nominal release. [m]
    time_aloft : ndarray
        [s]
    ground_speed, sink, airspeed : ndarray
        At touchdown. [m/s]
    heading : ndarray
        At touchdown; not a number where it fell. [rad]
    largest_alpha, largest_beta : ndarray
        On the way; not a number where it fell. [rad]
    settled : ndarray
        1 where it began in a steady glide of its own, or fell; 0 where in the design's.
    mass : ndarray
        Of all that arrives. [kg]
    inputs : Mapping of str to ndarray
        Values of the inputs that vary.
    """

    number: IntArray
    outcome: IntArray
    status: IntArray
    north: FloatArray
    east: FloatArray
    time_aloft: FloatArray
    ground_speed: FloatArray
    sink: FloatArray
    airspeed: FloatArray
    heading: FloatArray
    largest_alpha: FloatArray
    largest_beta: FloatArray
    settled: IntArray
    mass: FloatArray
    inputs: Mapping[str, FloatArray]

    def __len__(self) -> int:
        """Number of members."""
        return len(self.number)

    @property
    def landed(self) -> np.ndarray:
        """Which of them came down, shape (n,)."""
        return self.status == LANDED

    @property
    def uncomputed(self) -> int:
        """How many ended in the air, their landing unknown."""
        return int(np.isin(self.status, UNCOMPUTED).sum())

    @property
    def speed(self) -> FloatArray:
        """Along the path over the ground. [m/s]"""
        return np.hypot(self.ground_speed, self.sink)

    @property
    def energy(self) -> FloatArray:
        """Kinetic, of the whole velocity. [J]"""
        return 0.5 * self.mass * self.speed**2

    def select(self, which: np.ndarray) -> "Members":
        """Those of a mask or of indices."""
        return Members(
            **{name: getattr(self, name)[which] for name in ARRAYS},
            inputs={name: values[which] for name, values in self.inputs.items()},
        )

    @classmethod
    def joined(cls, parts: list["Members"]) -> "Members":
        """Several in a row."""
        return cls(
            **{name: np.concatenate([getattr(part, name) for part in parts]) for name in ARRAYS},
            inputs={name: np.concatenate([part.inputs[name] for part in parts]) for name in parts[0].inputs},
        )


ARRAYS = tuple(field.name for field in fields(Members) if field.name != "inputs")
"""Arrays of `Members`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """All that a worker needs to fly members; it can be sent to other processes.

    Attributes
    ----------
    ensemble_model : EnsembleModel
        What all members share, of `parasim.scatter.ensemble`.
    fly : callable or None
        ``fly`` of the same module; with the first None in a plan that only begins members.
    falling : Falling
        Of those that do not open in time.
    inputs : tuple of Input
        What varies.
    nominal : Mapping of str to float
        Every input as the design has it.
    seed : int
        Of the whole scatter.
    unopened, late : float
        Probabilities. [-]
    delay : float
        Mean delay of a late opening. [s]
    mass : float
        Of all that flies, nominal. [kg]
    """

    ensemble_model: Any
    fly: Callable[..., Any] | None
    falling: Falling
    inputs: tuple[Input, ...]
    nominal: Mapping[str, float]
    seed: int
    unopened: float
    late: float
    delay: float
    mass: float


@dataclass(frozen=True, slots=True, order=True)
class Chunk:
    """Members in a row: number of the first, and how many."""

    first: int
    count: int


def chunks(drops: int) -> list[Chunk]:
    """Chunks that make up so many drops."""
    return [Chunk(first, min(CHUNK, drops - first)) for first in range(0, drops, CHUNK)]


def fly_chunk(plan: Plan, chunk: Chunk) -> Members:
    """Fly the members of a chunk."""
    u = numbers_of(plan.seed, chunk.first, chunk.count)
    return fly_members(plan, u, np.arange(chunk.first, chunk.first + chunk.count))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Begun:
    """Members as far as they fell, before any of them glides.

    Attributes
    ----------
    inputs : Mapping of str to ndarray
        As drawn, each of shape (n,).
    flown : Mapping of str to ndarray
        The same, but for late members where they begin to glide.
    figures : dict
        Arrays of `Members`, those of gliding members still empty but for the time that late ones fell.
    waited : ndarray, shape (n,)
        Time that late members fell before they glide; zero for all others. [s]
    """

    inputs: Mapping[str, FloatArray]
    flown: Mapping[str, FloatArray]
    figures: dict[str, Any]
    waited: FloatArray

    def members(self) -> Members:
        """As they are."""
        return Members(**self.figures, inputs=self.inputs)


def fly_members(plan: Plan, u: FloatArray, number: IntArray) -> Members:
    """Fly members of given numbers; arguments as for `begin_members`."""
    begun = begin_members(plan, u, number)
    figures = begun.figures
    late = figures["outcome"] == LATE
    _glide(plan, figures, begun.flown, np.flatnonzero(figures["outcome"] == OPENED))
    if late.any():
        _glide(_gliding(plan), figures, begun.flown, np.flatnonzero(late))
    figures["time_aloft"] += np.where(figures["outcome"] == LATE, begun.waited, 0.0)
    return begun.members()


def begin_members(plan: Plan, u: FloatArray, number: IntArray) -> Begun:
    """Draw members and let those fall that do not open in time.

    Parameters
    ----------
    plan : Plan
        What flies.
    u : ndarray, shape (n, WIDTH)
        Their numbers between zero and one.
    number : ndarray, shape (n,)
        Which seed the turbulence of each.
    """
    inputs = draw(plan.inputs, u)
    outcome, delay = _outcomes(plan, u)
    falls = np.flatnonzero(outcome != OPENED)
    on_the_way, ground = _falls(plan, inputs, delay, falls)
    lost, taken = _opening(plan.falling, on_the_way)
    height = on_the_way.height - lost
    late = outcome[falls] == LATE
    glides = late & (height > plan.falling.hang) & (on_the_way.height > 0)
    outcome[falls[late & ~glides]] = TOO_LATE
    figures = _blank_figures(plan, inputs, number, outcome)
    _put_down(figures, ground, inputs, falls)
    begun = {
        "release_north": on_the_way.north + on_the_way.velocity[0] * taken,
        "release_east": on_the_way.east + on_the_way.velocity[1] * taken,
    }
    drifted = {name: x[glides] for name, x in begun.items()}
    waited = np.zeros(len(number))
    waited[falls[glides]] = (on_the_way.time + taken)[glides]
    gliding = np.isin(outcome, (OPENED, LATE))
    figures["time_aloft"][gliding] = waited[gliding]
    return Begun(
        inputs=inputs,
        flown=_moved(plan, inputs, len(number), falls[glides], drifted, height[glides]),
        figures=figures,
        waited=waited,
    )


def fly_opened(plan: Plan, inputs: Mapping[str, FloatArray], number: IntArray) -> Members:
    """Fly members whose canopies all open as designed.

    Parameters
    ----------
    plan : Plan
        What flies.
    inputs : Mapping of str to ndarray
        Values of the inputs that vary, each of shape (n,).
    number : ndarray, shape (n,)
        Which seed the turbulence of each.
    """
    figures = _blank_figures(plan, inputs, number, np.full(len(number), OPENED, np.int64))
    _glide(plan, figures, inputs, np.arange(len(number)))
    return Members(**figures, inputs=inputs)


def _moved(
    plan: Plan,
    inputs: Mapping[str, FloatArray],
    n: int,
    which: IntArray,
    begun: Mapping[str, FloatArray],
    height: FloatArray,
) -> Mapping[str, FloatArray]:
    """Inputs with which late members begin to glide: drifted, and lower by what the fall took."""
    if len(which) == 0:
        return inputs
    flown = dict(inputs)
    for name, moved in begun.items():
        flown[name] = input_of(plan.nominal, inputs, name, n).copy()
        flown[name][which] += moved
    flown["release_height"] = input_of(plan.nominal, inputs, "release_height", n).copy()
    flown["release_height"][which] = height
    return flown


def _gliding(plan: Plan) -> Plan:
    """The same plan for late canopies, which begin in a steady glide whatever the release is."""
    if plan.ensemble_model is None or plan.ensemble_model.start == "steady":
        return plan
    return replace(plan, ensemble_model=replace(plan.ensemble_model, start="steady"))


def _glide(plan: Plan, figures: dict[str, Any], inputs: Mapping[str, FloatArray], which: IntArray) -> None:
    """Fly some members under their canopies, and set their figures."""
    if len(which) == 0:
        return
    if plan.fly is None:
        raise ValueError("this plan only begins members: build it with flies=True")
    landings = plan.fly(
        plan.ensemble_model,
        {name: values[which] for name, values in inputs.items()},
        number=figures["number"][which],
        seed=plan.seed,
    )
    _take_over(figures, landings, which)


def _outcomes(plan: Plan, u: FloatArray) -> tuple[IntArray, FloatArray]:
    """Branch of each member as its numbers choose it, and the delay of the late ones. [s]"""
    choice = u[:, COLUMNS["opening"]]
    outcome = np.where(
        choice < plan.unopened, UNOPENED, np.where(choice < plan.unopened + plan.late, LATE, OPENED)
    ).astype(np.int64)
    return outcome, -plan.delay * np.log1p(-u[:, COLUMNS["delay"]])


def _falls(
    plan: Plan, inputs: Mapping[str, FloatArray], delay: FloatArray, falls: IntArray
) -> tuple[Fallen, Fallen]:
    n = len(delay)
    return fall(
        plan.falling,
        height=np.maximum(input_of(plan.nominal, inputs, "release_height", n)[falls], 0.0),
        mass=_mass(plan, inputs, n)[falls],
        wind_speed=input_of(plan.nominal, inputs, "wind_speed", n)[falls],
        wind_from=input_of(plan.nominal, inputs, "wind_from", n)[falls],
        until=delay[falls],
    )


def _opening(falling: Falling, state: Fallen) -> tuple[FloatArray, FloatArray]:
    """Height and time that a late opening takes at the speed it has by then. [m], [s]"""
    speed = np.sqrt((state.velocity**2).sum(axis=0))
    return (
        np.interp(speed, OPENING_SPEEDS, falling.opening_lost),
        np.interp(speed, OPENING_SPEEDS, falling.opening_time),
    )


def _mass(plan: Plan, inputs: Mapping[str, FloatArray], n: int) -> FloatArray:
    return plan.mass + input_of(plan.nominal, inputs, "payload_mass", n) - plan.nominal["payload_mass"]


def _blank_figures(
    plan: Plan, inputs: Mapping[str, FloatArray], number: IntArray, outcome: IntArray
) -> dict[str, Any]:
    n = len(number)
    found: dict[str, Any] = {name: np.full(n, np.nan) for name in ARRAYS}
    found |= {
        "number": number,
        "outcome": outcome,
        "status": np.zeros(n, np.int64),
        "settled": np.ones(n, np.int64),
    }
    return found | {"mass": _mass(plan, inputs, n)}


def _put_down(
    figures: dict[str, Any], ground: Fallen, inputs: Mapping[str, FloatArray], falls: IntArray
) -> None:
    """Set the figures of those that fall, from each member's own release."""
    nothing = np.zeros(len(figures["number"]))
    figures["north"][falls] = inputs.get("release_north", nothing)[falls] + ground.north
    figures["east"][falls] = inputs.get("release_east", nothing)[falls] + ground.east
    figures["time_aloft"][falls] = ground.time
    figures["ground_speed"][falls] = np.hypot(ground.velocity[0], ground.velocity[1])
    figures["sink"][falls] = ground.velocity[2]
    figures["airspeed"][falls] = ground.airspeed
    figures["status"][falls] = np.where(np.isfinite(ground.time), LANDED, ALOFT)


def _take_over(figures: dict[str, Any], landings: Any, which: IntArray) -> None:
    """Set the figures of those that glide; a late one found on the ground counts as too late, as it fell."""
    status = np.asarray(landings.status, np.int64)
    outcome = figures["outcome"][which]
    too_late = (outcome == LATE) & (status == ON_GROUND)
    figures["outcome"][which[too_late]] = TOO_LATE
    kept = ~too_late
    for name in ARRAYS:
        if name not in ("number", "outcome", "mass"):
            figures[name][which[kept]] = np.asarray(getattr(landings, name))[kept]
    arrays = [figures[name][which] for name in ("north", "east", "ground_speed", "sink")]
    lost = kept & (figures["status"][which] == LANDED) & ~np.isfinite(arrays).all(axis=0)
    figures["status"][which[lost]] = LOST
