"""Thousands of drops with spread inputs, and what comes of them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.dynamics.thin_air import on_the_way
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.gust import build_gusts, low_airspeed_cautions
from parasim.environment.wind import check_wind_reaches
from parasim.flight.drop import Release, release_of
from parasim.flight.servo.lag import too_quick_commands
from parasim.flight.trim import find_trims
from parasim.rotations import FloatArray
from parasim.scatter.checkpoint import Checkpoint
from parasim.scatter.ensemble_model import nominal_inputs
from parasim.scatter.footprint import FEWEST, FEWEST_OF_TAIL, Footprint, footprint
from parasim.scatter.inputs import Input, varied_inputs
from parasim.scatter.members import (
    LATE,
    OUTCOMES,
    TOO_LATE,
    UNOPENED,
    Chunk,
    Members,
    Plan,
    chunks,
    fly_chunk,
)
from parasim.scatter.sensitivity import Sensitivity, Sobol, axis_of, build_sobol_plan, sensitivity, sobol
from parasim.scatter.statistics import (
    Advice,
    Distribution,
    Share,
    advise,
    distributions,
    failures,
    mean_drift,
    opened_in_time,
    outcome_shares,
    over_limits,
    radii,
    share,
)
from parasim.scatter.unopened import build_falling
from parasim.workers import Workers, default_count, each_done

FAST = 2.0
"""Sink over the median from which a canopy that opened is mentioned. Our choice. [-]"""

MANY_FAILED = 0.01
"""Share of failed members from which the figures may lean one way. Our choice. [-]"""

Done = Callable[[int, int], None]
"""Told how many members more are done, and of how many."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Scatter(Answer):
    """Answer to `parasim scatter`.

    Attributes
    ----------
    vehicle : Vehicle
        What was dropped.
    release : Release
        The nominal one.
    inputs : tuple of Input
        What varied.
    drops, seed : int
        As asked for.
    members : Members
        All that were flown, by number.
    footprint : Footprint or None
        Of all that landed; None for too few.
    outcomes : tuple of Share
        Of all members.
    distributions : tuple of Distribution
        Of all that landed.
    limits : tuple of Share
        Over the payload's limits, of all that landed or ended in the air, these over every one.
    drift : ndarray, shape (2,)
        Mean north and east of those that opened as designed. [m]
    radii : tuple of float
        About the mean of all landings. [m]
    advice : Advice or None
        For the target, if there is one.
    axis : ndarray, shape (2,)
        North and east part of the cloud's longer axis.
    sensitivity : Sensitivity or None
        Of those that opened as designed; None for too few.
    sobol : Sobol or None
        If asked for.
    stopped : bool
        Whether it was interrupted before all that was asked for was flown.
    """

    REPORT = "parasim.report.scatter:ScatterReport"

    vehicle: Vehicle
    release: Release
    inputs: tuple[Input, ...]
    drops: int
    seed: int
    members: Members
    footprint: Footprint | None
    outcomes: tuple[Share, ...]
    distributions: tuple[Distribution, ...]
    limits: tuple[Share, ...]
    drift: FloatArray
    radii: tuple[float | None, ...]
    advice: Advice | None
    axis: FloatArray
    sensitivity: Sensitivity | None
    sobol: Sobol | None
    stopped: bool

    @property
    def complete(self) -> bool:
        """Whether all drops were flown."""
        return len(self.members) == self.drops

    @property
    def landed(self) -> Members:
        """All that came down."""
        return self.members.select(self.members.landed)

    @property
    def failed(self) -> Members:
        """Those that did not; no figure of a landing counts them."""
        return self.members.select(~self.members.landed)

    @property
    def failures(self) -> Mapping[str, int]:
        """How many failed, by the reason."""
        return failures(self.members)

    @property
    def unopened(self) -> Share:
        """Of all drops, those whose canopy is not open before the ground."""
        return share("not open", np.isin(self.members.outcome, (TOO_LATE, UNOPENED)))

    @property
    def reach(self) -> Distribution:
        """Distance of the landings from the point under the release: the ground to keep clear."""
        return next(each for each in self.distributions if each.name == "distance")

    def _moving_air(self) -> tuple[str, ...]:
        """Cautions where the nominal wind or turbulence rivals the airspeed."""
        airspeed = find_trims(self.vehicle, height=self.release.height, modes=False).chosen.airspeed
        wind = self.vehicle.wind
        gusts = build_gusts(self.vehicle.design.site, airspeed, wind=wind)
        heights, airspeeds = on_the_way(self.vehicle, self.release.height, airspeed)
        return low_airspeed_cautions(heights=heights, airspeed=airspeeds, wind=wind, gusts=gusts)

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self.vehicle.caveats, *self._moving_air()]
        found += self.vehicle.wind.caveats(self.release.height)
        found += too_quick_commands(self.vehicle.design, self.release.brakes)
        found.append(
            Caveat(
                "Spreads are those of the design file or our choice, not measured; the scatter is as good as "
                "they are.",
                "lacks",
            )
        )
        return (*found, *self._partial(), *self._unknown(), *self._odd(), *self._hanging_together())

    def _hanging_together(self) -> list[Caveat]:
        """Inputs that Sobol indices cannot keep apart."""
        if self.sobol is None or not any(getattr(each.spread, "correlated", ()) for each in self.inputs):
            return []
        return [
            Caveat(
                "Sobol indices take inputs as independent: of calibration numbers that hang together the "
                "first takes what they share."
            )
        ]

    def _partial(self) -> list[Caveat]:
        if not self.complete:
            return [Caveat(f"Partial: {len(self.members)} of {self.drops} drops were flown.")]
        if self.stopped:
            return [Caveat("Partial: stopped before the flights for Sobol indices were done.")]
        return []

    def _unknown(self) -> list[Caveat]:
        """Members whose landing is not known, or that are few."""
        found = []
        if self.failures:
            words = ", ".join(f"{count} {reason}" for reason, count in self.failures.items())
            found.append(
                Caveat(f"{_counted(len(self.failed), 'drop')} did not land ({words}) and count in no region.")
            )
        if self.members.uncomputed:
            found.append(
                Caveat(
                    f"{_counted(self.members.uncomputed, 'drop')} ended in the air, not computed: they "
                    "count as over every limit, as off the target, and in percentiles as faster than all "
                    "others; means leave them out and are the lower for it.",
                    "fails",
                )
            )
        if len(self.failed) > MANY_FAILED * len(self.members):
            found.append(Caveat("So many drops failed that the rest may not stand for all."))
        if FEWEST <= len(self.landed) < FEWEST_OF_TAIL:
            found.append(Caveat(f"Fewer than {FEWEST_OF_TAIL} landings: the 99 % region rests on a handful."))
        return found

    def _odd(self) -> list[Caveat]:
        """Members that flew otherwise than meant."""
        found = []
        opened = opened_in_time(self.members)
        fast = int(np.count_nonzero(opened.sink > FAST * np.median(opened.sink))) if len(opened) else 0
        if fast:
            found.append(
                Caveat(
                    f"{_counted(fast, 'drop')} with a canopy that opened came down at more than {FAST:g} "
                    "times the usual sink, spiralling or diving: corners of the ranges in calibration that "
                    "nobody has measured.",
                    "fails",
                )
            )
        untrimmed = int(np.count_nonzero(self.landed.settled == 0))
        if untrimmed:
            words = f"{_counted(untrimmed, 'drop')} began in the design's steady glide, having none near it."
            found.append(Caveat(words))
        if any(outcome.count for outcome in self.outcomes if outcome.name == OUTCOMES[LATE]):
            found.append(
                Caveat(
                    "A late canopy counts as gliding steadily from the moment it is full, its swings left "
                    "out."
                )
            )
        return found


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def build_plan(vehicle: Vehicle, release: Release, *, seed: int, flies: bool = True) -> Plan:
    """All that workers need to fly members of a design; without the compiled core if nothing flies by it.

    Raises
    ------
    DesignError
        If the wind's table ends far lower than the release.
    TrimError
        If there is no steady glide to start from.
    """
    check_wind_reaches(vehicle.wind, release.height, site=vehicle.design.site)
    spec = vehicle.design.scatter
    plan = Plan(
        ensemble_model=None,
        fly=None,
        falling=build_falling(
            vehicle, release, highest=2.0 * release.height, opens_late=spec.late.probability > 0
        ),
        inputs=varied_inputs(vehicle, release),
        nominal=nominal_inputs(vehicle, release),
        seed=seed,
        unopened=spec.unopened,
        late=spec.late.probability,
        delay=spec.late.delay,
        mass=vehicle.mass,
    )
    if not flies:
        return plan
    from parasim.scatter.ensemble import fly
    from parasim.scatter.ensemble_model import build_ensemble_model

    ensemble_model = build_ensemble_model(vehicle, release, varied=[each.name for each in plan.inputs])
    return replace(plan, ensemble_model=ensemble_model, fly=fly)


def scatter(
    vehicle: Vehicle,
    release: Release | None = None,
    *,
    drops: int = 2000,
    seed: int = 1,
    workers: Workers | None = None,
    sobol_base: int = 0,
    kept: Checkpoint | None = None,
    done: Done | None = None,
) -> Scatter:
    """Drop a vehicle many times.

    Parameters
    ----------
    vehicle : Vehicle
        What is dropped; its design gives the spreads.
    release : Release, optional
        The nominal one; else as the design file has it.
    drops, seed : int
        How many, and what their numbers are made from.
    workers : Workers, optional
        Who flies them; else as many threads as there are cores.
    sobol_base : int
        Rows for Sobol indices, a power of two; zero for none.
    kept : Checkpoint, optional
        Where finished chunks are kept, and taken from.
    done : callable, optional
        Told of progress.

    Raises
    ------
    KeyboardInterrupt
        If stopped before anything was done; stopped later, the result is what was done.
    SolverError
        If nothing landed at all, or workers keep dying.
    """
    release = release or release_of(vehicle)
    workers = workers or Workers(count=default_count(), pool="threads")
    plan = build_plan(vehicle, release, seed=seed)
    members = fly_all(plan, drops, workers, kept=kept, done=done)
    return conclude(
        vehicle, release, plan, members, drops=drops, workers=workers, sobol_base=sobol_base, done=done
    )


def fly_all(
    plan: Plan, drops: int, workers: Workers, *, kept: Checkpoint | None = None, done: Done | None = None
) -> Members:
    """Fly all members; those done until then if interrupted."""
    wanted = chunks(drops)
    parts: dict[Chunk, Members] = {}
    for chunk in wanted:
        found = kept.finished(chunk) if kept else None
        if found is not None:
            parts[chunk] = found
    if done is not None and parts:
        done(sum(chunk.count for chunk in parts), drops)
    try:
        left = [chunk for chunk in wanted if chunk not in parts]
        for chunk, members in each_done(fly_chunk, plan, left, workers):
            if kept is not None:
                kept.keep(chunk, members)
            parts[chunk] = members
            if done is not None:
                done(chunk.count, drops)
    except KeyboardInterrupt:
        if not parts:
            raise
    return Members.joined([parts[chunk] for chunk in sorted(parts)])


def conclude(
    vehicle: Vehicle,
    release: Release,
    plan: Plan,
    members: Members,
    *,
    drops: int,
    workers: Workers,
    sobol_base: int = 0,
    done: Done | None = None,
) -> Scatter:
    """What comes of members that were flown; Sobol indices are flown for only if all drops were."""
    from parasim.errors import SolverError

    landed, opened = members.select(members.landed), opened_in_time(members)
    if len(landed) == 0:
        words = ", ".join(f"{count} {reason}" for reason, count in failures(members).items())
        raise SolverError(f"none of {len(members)} drops came to the ground: {words}")
    cloud = opened if len(opened) > 2 else landed
    axis = axis_of(cloud) if len(cloud) > 2 else np.array([1.0, 0.0])
    drift = mean_drift(members)
    target = vehicle.design.scatter.target
    found: dict[str, Any] = {
        "footprint": footprint(landed.east, landed.north, landed.outcome),
        "outcomes": outcome_shares(members),
        "distributions": distributions(landed, uncomputed=members.uncomputed),
        "limits": over_limits(landed, vehicle.design.landing, uncomputed=members.uncomputed),
        "drift": drift,
        "radii": radii(
            landed, np.array([landed.north.mean(), landed.east.mean()]), uncomputed=members.uncomputed
        ),
        "advice": None if target is None else advise(landed, target, drift, uncomputed=members.uncomputed),
        "axis": axis,
        "sensitivity": sensitivity(opened, axis),
    }
    indices, stopped = None, len(members) < drops
    if sobol_base and not stopped and plan.inputs:
        job = build_sobol_plan(plan, base=sobol_base, turbulent=is_turbulent(vehicle))
        try:
            indices = sobol(job, axis, workers, done)
        except KeyboardInterrupt:
            stopped = True
    return Scatter(
        vehicle=vehicle,
        release=release,
        inputs=plan.inputs,
        drops=drops,
        seed=plan.seed,
        members=members,
        sobol=indices,
        stopped=stopped,
        **found,
    )


def is_turbulent(vehicle: Vehicle) -> bool:
    """Whether members meet gusts of their own."""
    return getattr(vehicle.design.site, "turbulence", None) is not None
