"""The flare: the pull of both brakes that lands softest, and what becomes of it when the moment is missed."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import degrees, radians
from operator import add
from typing import Literal

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.dynamics.vehicle import Vehicle
from parasim.errors import ConvergenceError, OutOfRangeError, TrimError
from parasim.flight.arrival import Touchdown
from parasim.flight.flare.descent import (
    STILL,
    BrakeSpeed,
    Descent,
    FlareDescent,
    Pull,
    brake_speed,
    build_flare_descent,
    servo_pull,
)
from parasim.flight.glide import stall_alpha
from parasim.flight.trim import Trim, find_trims
from parasim.flight.uncertainty import Bands, flying_bands
from parasim.rotations import FloatArray

Aim = Literal["sink", "energy", "both"]

AIM_WORDS: Mapping[Aim, str] = {
    "sink": "minimum vertical speed",
    "energy": "minimum total energy",
    "both": "minimum mean of vertical and total energy, each over its value without a flare",
}

HEIGHT_ERROR = 0.3
"""Error of the trigger height that the best flare allows for: the worst within it counts. [m] Our choice."""

MISS = 1.0
"""By how much the height is missed in the what-ifs. [m]"""

GUST = 1.0
"""Step of the wind in the what-ifs. [m/s]"""

CASES = {
    "as_planned": "done as planned",
    "too_high": "begun {miss} too high",
    "too_low": "begun {miss} too low",
    "gust_down": "a {gust} gust blows down",
    "gust_up": "a {gust} gust blows up",
    "gust_head": "a {gust} gust comes from ahead",
    "gust_tail": "a {gust} gust comes from behind",
}
"""What-ifs by key, with names of figures in braces."""


def _case_caveat(words: str) -> Caveat:
    """Words about what-ifs with their figures filled in."""
    return Caveat(words, "fails", miss=(MISS, "length", 1), gust=(GUST, "speed", 1))


NO_GAIN = 0.05
"""Change of sink or energy under which a flare counts as no gain. [-] Our choice, no source."""

NEAR_STALL = radians(0.5)
"""Short of the stall by less, a flare is called close to it. [rad] Our choice, no source."""

MINIMUM_FRACTION, LONGEST_PULL, LONGEST_WAIT = 0.1, 2.5, 2.0
"""Limits of the search: brake [-], time of one stage [s], wait between two. [s]"""

HEIGHT_STEP, BRAKE_STEP, TIME_STEP = 0.02, 0.01, 0.05
"""Of start height [m], brake [-] and times [s] in the search: what is advised is what was tried, and another
processor's last bit does not send the search elsewhere."""

Steps = tuple[int, ...]
"""Brake and time, or brake, time, wait, brake and time, in such steps."""

AFTERWARDS = 1.5
"""How long a descent is followed after the pull has ended. [s]"""

WHOLE_DESCENT = 12.0
"""How long the what-ifs are followed. [s]"""

COARSE: Sequence[Steps] = tuple(product(range(40, 101, 10), range(0, 51, 5)))
"""Brake and time to get there that the search begins with: it has more than one valley. [steps]"""

STRIDES = (4, 2, 1)
"""Of the search after that, from coarse to fine. [steps]"""

FLARE_FACTORS = (
    "lift_factor",
    "extra_drag",
    "moment_shift",
    "line_drag_coefficient",
    "brake_lift_factor",
    "brake_drag_factor",
)
"""Factors whose ranges the flare is tried over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlareCase:
    """The best flare done under other circumstances.

    Attributes
    ----------
    name : str
        Key of `CASES`.
    words : Caveat
        A phrase.
    start_height : float
        Of the payload's bottom as the pull begins; under zero it touched before. [m]
    gust : (float, float, float)
        Step of the wind as the pull begins: forward, to the right, down. [m/s]
    touchdown : Touchdown
        How it arrives.
    highest_alpha : float
        Before touchdown. [rad]
    stalled : bool
        Whether that is beyond the stall.
    """

    name: str
    words: Caveat
    start_height: float
    gust: tuple[float, float, float]
    touchdown: Touchdown
    highest_alpha: float
    stalled: bool


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Flare(Answer):
    """Answer to `parasim flare`.

    Attributes
    ----------
    vehicle : Vehicle
        What flies; its wind plays no part.
    trim : Trim
        The glide with the brakes released out of which it flares.
    aim : {"sink", "energy", "both"}
        What was minimised.
    height_error : float
        The pull may begin so much too high or too low; the worst within counts. [m]
    pull : Pull
        The best; without stages where no pull helps.
    start_height : float
        Best height of the payload's bottom above ground as the pull begins. [m]
    servo : BrakeSpeed
        How quickly the brakes can go.
    brakes_released, touchdown : Touchdown
        Without a flare, and with it.
    worst_sink, worst_energy : float
        Largest within `height_error` of the start height. [m/s], [J]
    cases : tuple of FlareCase
        Done as planned, too high, too low, and in gusts.
    descent : Descent
        In still air.
    stall_alpha : float
        Angle of attack at which the first strip stalls, brakes released. [rad]
    bands : Bands
        Of `sink` [m/s] and `energy` [J] at touchdown when this same flare is done by such a canopy.
    evaluations : int
        Descents simulated in the search.
    """

    REPORT = "parasim.report.flare:FlareReport"

    vehicle: Vehicle
    trim: Trim
    aim: Aim
    height_error: float
    pull: Pull
    start_height: float
    servo: BrakeSpeed
    brakes_released: Touchdown
    touchdown: Touchdown
    worst_sink: float
    worst_energy: float
    cases: tuple[FlareCase, ...]
    descent: Descent
    stall_alpha: float
    bands: Bands
    evaluations: int

    @property
    def helps(self) -> bool:
        """Whether any pull lands softer than none."""
        return bool(self.pull.stages)

    @property
    def at_end(self) -> tuple[str, ...]:
        """Limits of the search that the pull ends at, in words."""
        ends = {
            "all the brake there is": any(s.fraction > self.servo.reach - 1e-3 for s in self.pull.stages),
            "the slowest pull tried": any(s.over > LONGEST_PULL - 1e-3 for s in self.pull.stages),
        }
        return tuple(words for words, ends_there in ends.items() if ends_there)

    def near_stall(self, case: "FlareCase") -> bool:
        """Whether a case comes within `NEAR_STALL` of the stall or beyond."""
        return case.highest_alpha > self.stall_alpha - NEAR_STALL

    def compared(self, touchdown: Touchdown) -> dict[str, str]:
        """Sink and energy of an arrival against those with the brakes released: softer, no gain or HARDER."""
        up = self.brakes_released
        changes = {"sink": touchdown.sink / up.sink - 1, "energy": touchdown.energy / up.energy - 1}
        return {
            name: "no gain" if abs(change) < NO_GAIN else "softer" if change < 0 else "HARDER"
            for name, change in changes.items()
        }

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = list(self.vehicle.caveats)
        found.append(Caveat(f"Servo: {self.servo.words}; under load it is slower."))
        found.append(
            Caveat("How much lift and drag the brakes make in a quick pull is unvalidated: see the bands.")
        )
        if not self.helps:
            found.append(Caveat("No pull of the brakes lands softer than none.", "fails"))
        stalled = [CASES[case.name] for case in self.cases if case.stalled]
        if stalled:
            found.append(
                _case_caveat(
                    f"Flared, it stalls (beyond {degrees(self.stall_alpha):.1f} deg angle of attack, the "
                    f"limit with the brakes released) when {'; '.join(stalled)}: the model is roughest there."
                )
            )
        worse = [
            CASES[case.name] for case in self.cases if "HARDER" in self.compared(case.touchdown).values()
        ]
        if worse and self.helps:
            found.append(
                _case_caveat(
                    f"Flared, it lands harder than without, in sink or energy, when {'; '.join(worse)}."
                )
            )
        found += self.bands.caveats("such flare out of a steady glide")
        return tuple(found)


def flare(
    vehicle: Vehicle, *, aim: Aim = "both", stages: int = 1, height_error: float = HEIGHT_ERROR
) -> Flare:
    """Best flare of a vehicle out of its glide with the brakes released, in still air.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.
    aim : {"sink", "energy", "both"}
        What to minimise.
    stages : int
        1 or 2 moves of the brakes.
    height_error : float
        The pull may begin so much too high or too low; the worst within counts. [m]

    Raises
    ------
    OutOfRangeError
        On other stages.
    TrimError
        If it has no stable steady glide with the brakes released.
    ConvergenceError
        If the motion could not be followed.

    Notes
    -----
    Where a pull begins needs no search: one descent gives the arrival for every start height. Only arrivals
    before the first stall count. What is left, brake and time of each stage, is searched in whole steps: by a
    coarse grid, then from the best so far to its best neighbour until none is better, with ever shorter
    strides. Brakes released is among the candidates, so the best is never worse.
    """
    if stages not in (1, 2):
        raise OutOfRangeError("stages of a flare", stages, low=1, high=2)
    trim = find_trims(vehicle, modes=False).chosen
    search = _build_search(vehicle, trim, aim, height_error)
    descending = search.descending
    pull, height, evaluations = search.best(stages)
    descent = descending.descend(pull, WHOLE_DESCENT, depth=height + 2 * MISS)
    near = np.linspace(height - height_error, height + height_error, 61)
    sink, along = descent.arrivals(np.clip(near, 0.0, descent.deepest))
    return Flare(
        vehicle=vehicle,
        trim=trim,
        aim=aim,
        height_error=height_error,
        pull=pull,
        start_height=height,
        servo=search.speed,
        brakes_released=search.brakes_released,
        touchdown=descent.touchdown(height),
        worst_sink=float(sink.max()),
        worst_energy=0.5 * vehicle.mass * float(along.max()) ** 2,
        cases=_cases(descending, pull, height, search.stall_alpha) if pull.stages else (),
        descent=descent,
        stall_alpha=search.stall_alpha,
        bands=flare_bands(vehicle, pull, height),
        evaluations=evaluations,
    )


def flared_touchdown(vehicle: Vehicle, *, aim: Aim = "both") -> Touchdown:
    """Arrival with the best flare in one stage, as `flare` finds it, without what-ifs and bands.

    Raises
    ------
    TrimError
        If it has no stable steady glide with the brakes released.
    ConvergenceError
        If the motion could not be followed.
    """
    trim = find_trims(vehicle, modes=False).chosen
    search = _build_search(vehicle, trim, aim, HEIGHT_ERROR)
    pull, height, _ = search.best(1)
    return search.descending.descend(pull, WHOLE_DESCENT, depth=height + 2 * MISS).touchdown(height)


def _lowest_near(start: Steps, score: Callable[[Steps], float]) -> Steps:
    """Walk from neighbour to lower neighbour, with ever shorter strides."""
    for stride in STRIDES:
        while (low := min(_neighbours(start, stride), key=score)) != start and score(low) < score(start):
            start = low
    return start


def _neighbours(steps: Steps, stride: int) -> list[Steps]:
    """Itself, and those one stride off in one figure or in brake and time of a stage."""
    found = [steps]
    for first in range(0, len(steps), 3):
        for more in product((-stride, 0, stride), repeat=2):
            found.append((*steps[:first], *map(add, steps[first : first + 2], more), *steps[first + 2 :]))
    for wait in range(2, len(steps), 3):
        found += [(*steps[:wait], steps[wait] + more, *steps[wait + 1 :]) for more in (-stride, stride)]
    return found


def _build_search(vehicle: Vehicle, trim: Trim, aim: Aim, height_error: float) -> "_Search":
    descending = build_flare_descent(vehicle, trim)
    return _Search(
        descending=descending,
        speed=brake_speed(vehicle.design),
        aim=aim,
        height_error=height_error,
        stall_alpha=stall_alpha(vehicle),
        brakes_released=descending.descend(Pull(), 1.0).touchdown(0.0),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Search:
    descending: FlareDescent
    speed: BrakeSpeed
    aim: Aim
    height_error: float
    stall_alpha: float
    brakes_released: Touchdown

    def best(self, stages: int) -> tuple[Pull, float, int]:
        """Best pull, its start height and the number of descents tried."""
        tried: dict[Pull, float] = {}

        def score(steps: Steps) -> float:
            pull = self._pull(steps)
            if pull not in tried:
                tried[pull] = self._rate(pull)[0]
            return tried[pull]

        found = _lowest_near(min(COARSE, key=score), score)
        if stages == 2:  # split the best single pull: part of the way, no wait, the rest
            brake, over = found
            found = min(
                found, _lowest_near((6 * brake // 10, over // 2, 4, brake, over // 2), score), key=score
            )
        pull = self._pull(found) if score(found) < 1.0 else Pull()
        return pull, self._rate(pull)[1] if pull.stages else 0.0, len(tried)

    def _pull(self, steps: Steps) -> Pull:
        """From brake and time, or brake, time, wait, brake and time."""
        x = np.round(np.array(steps) * np.resize([BRAKE_STEP, TIME_STEP, TIME_STEP], len(steps)), 2)
        brake = np.clip(x[::3], MINIMUM_FRACTION, self.speed.reach)
        over = np.clip(x[1::3], 0.0, LONGEST_PULL)
        wait = [0.0, *np.clip(x[2::3], 0.0, LONGEST_WAIT).tolist()]
        stages = zip(wait, brake.tolist(), over.tolist(), strict=True)
        return servo_pull(*stages, full_travel=self.speed.full_travel)

    def _rate(self, pull: Pull) -> tuple[float, float]:
        """Minimum score over all start heights, 1 without a flare, and its start height."""
        try:
            descent = self.descending.descend(pull, pull.duration + AFTERWARDS)
        except ConvergenceError:  # tumbling: no flare to be wished for
            return np.inf, 0.0
        heights = np.arange(0.0, descent.deepest, HEIGHT_STEP)
        worst = self._worst_near(self.scores(descent, heights))
        best = int(np.argmin(worst))
        return float(worst[best]), round(float(heights[best]), 2)

    def scores(self, descent: Descent, heights: FloatArray) -> FloatArray:
        """Score of each start height; infinite where it stalls before touchdown."""
        sink, speed = descent.arrivals(heights)
        of_sink, of_speed = sink / self.brakes_released.sink, speed / self.brakes_released.speed
        score = {"sink": of_sink, "energy": of_speed**2, "both": (of_sink**2 + of_speed**2) / 2}[self.aim]
        return np.where(descent.highest_alpha(heights) < self.stall_alpha, score, np.inf)

    def _worst_near(self, scores: FloatArray) -> FloatArray:
        """Largest score within the height error of each start height; heights off either end count as bad."""
        reach = round(self.height_error / HEIGHT_STEP)
        padded = np.concatenate([np.full(reach, np.inf), scores, np.full(reach, np.inf)])
        return np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=1)


def _cases(descending: FlareDescent, pull: Pull, height: float, stall: float) -> tuple[FlareCase, ...]:
    planned = (
        ("as_planned", 0.0, STILL),
        ("too_high", MISS, STILL),
        ("too_low", -MISS, STILL),
        ("gust_down", 0.0, np.array([0.0, 0.0, GUST])),
        ("gust_up", 0.0, np.array([0.0, 0.0, -GUST])),
        ("gust_head", 0.0, np.array([-GUST, 0.0, 0.0])),
        ("gust_tail", 0.0, np.array([GUST, 0.0, 0.0])),
    )
    return tuple(
        _case(descending, pull, height + miss, gust, stall, name=name) for name, miss, gust in planned
    )


def _case(
    descending: FlareDescent,
    pull: Pull,
    height: float,
    gust: FloatArray,
    stall: float,
    *,
    name: str,
) -> FlareCase:
    through_air = max(height, 0.0) + 1.0 + WHOLE_DESCENT * max(0.0, -float(gust[2]))
    descent = descending.descend(pull, WHOLE_DESCENT, gust, depth=through_air)
    highest = float(descent.highest_alpha(height))
    return FlareCase(
        name=name,
        words=_case_caveat(CASES[name]),
        start_height=height,
        gust=(float(gust[0]), float(gust[1]), float(gust[2])),
        touchdown=descent.touchdown(height),
        highest_alpha=highest,
        stalled=highest > stall,
    )


def flare_bands(vehicle: Vehicle, pull: Pull, height: float) -> Bands:
    """Bands of the arrival when the same flare is begun at the same height by a canopy like this one."""
    ranges = build_ranges(vehicle.design, FLARE_FACTORS)

    def figures(one: Vehicle) -> Mapping[str, float]:
        trim = find_trims(one, modes=False).chosen
        try:
            descending = build_flare_descent(one, trim, one.model.straight_table)
            descent = descending.descend(pull, WHOLE_DESCENT, depth=height + 0.1)
        except ConvergenceError as error:
            raise TrimError(f"{one.design.name}: {error}") from error
        arrival = descent.touchdown(height)
        return {"sink": arrival.sink, "energy": arrival.energy}

    return flying_bands(vehicle, ranges, figures)
