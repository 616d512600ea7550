"""One member of a scatter flown again by itself, through the same drop as `parasim drop`."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from parasim.aerodynamics.factors import Factors
from parasim.answer import Answer
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.wind import Wind
from parasim.errors import TrimError
from parasim.flight.drop import Drop, Release, drop
from parasim.flight.trim import Trim, find_trims
from parasim.scatter.ensemble import member_turbulence
from parasim.scatter.ensemble_model import FACTORS
from parasim.scatter.inputs import Input, numbers_of
from parasim.scatter.members import LATE, OPENED, Members, Plan, begin_members


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Replay(Answer):
    """Answer to `parasim scatter --replay`: a member flown again.

    Attributes
    ----------
    vehicle : Vehicle
        The nominal one.
    number, seed : int
        In the scatter, and of it.
    varied : tuple of Input
        What varies from member to member.
    outcome : int
        Place in `parasim.scatter.members.OUTCOMES`.
    inputs : Mapping of str to float
        All inputs, as drawn or nominal. [SI]
    glided : Mapping of str to float
        Those that a late member began its glide with instead. [SI]
    drop : Drop or None
        Of those that glide.
    untrimmed : bool
        Whether it has no steady glide of its own, and began in the design's.
    fallen : Members
        The member alone as far as it fell: to the ground, or for a time before it glided.
    """

    REPORT = "parasim.report.replay:ReplayReport"

    vehicle: Vehicle
    number: int
    seed: int
    varied: tuple[Input, ...]
    outcome: int
    inputs: Mapping[str, float]
    glided: Mapping[str, float]
    drop: Drop | None
    fallen: Members
    untrimmed: bool

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        own = "This drop has no steady glide of its own; it began in the design's."
        return (*(self.drop.caveats if self.drop else ()), *([own] if self.untrimmed else []))

    @property
    def ground_speed(self) -> float | None:
        """At touchdown; None where it is not known. [m/s]"""
        if self.drop is None:
            return float(self.fallen.ground_speed[0])
        return self.drop.touchdown.ground_speed if self.drop.touchdown else None

    @property
    def sink(self) -> float | None:
        """At touchdown; None where it is not known. [m/s]"""
        if self.drop is None:
            return float(self.fallen.sink[0])
        return self.drop.touchdown.sink if self.drop.touchdown else None

    @property
    def place(self) -> tuple[float, float]:
        """North and east of the point below the nominal release, where it ended. [m]"""
        if self.drop is None:
            return float(self.fallen.north[0]), float(self.fallen.east[0])
        begun = {**self.inputs, **self.glided}
        return self.drop.end.north + begun["release_north"], self.drop.end.east + begun["release_east"]

    @property
    def time_aloft(self) -> float:
        """Fallen and glided. [s]"""
        return float(self.fallen.time_aloft[0]) + (self.drop.time_aloft if self.drop else 0.0)


def replay(vehicle: Vehicle, release: Release, plan: Plan, number: int) -> Replay:
    """Fly one member again.

    Parameters
    ----------
    vehicle, release
        Nominal.
    plan : Plan
        Of the scatter.
    number : int
        Of the member.

    Raises
    ------
    ConvergenceError
        If its motion cannot be followed here either.
    """
    started = begin_members(plan, numbers_of(plan.seed, number, 1), np.array([number]))
    fallen = started.members()
    outcome = int(fallen.outcome[0])
    inputs = {**plan.nominal, **{name: float(values[0]) for name, values in fallen.inputs.items()}}
    first = {name: float(values[0]) for name, values in started.flown.items()}
    glided = {name: value for name, value in first.items() if value != inputs[name]}
    found, untrimmed = None, False
    if outcome in (OPENED, LATE):
        series = member_turbulence(plan.seed, number)
        begun = member_release(release, {**inputs, **glided})
        begun = replace(begun, start="steady") if outcome == LATE else begun
        member = member_vehicle(vehicle, inputs)
        trim, untrimmed = _glide(member, vehicle, begun.height)
        found = drop(member, begun, trim=trim, series=series)
    return Replay(
        vehicle=vehicle,
        number=number,
        seed=plan.seed,
        varied=plan.inputs,
        outcome=outcome,
        inputs=inputs,
        glided=glided,
        drop=found,
        fallen=fallen,
        untrimmed=untrimmed,
    )


def _glide(member: Vehicle, vehicle: Vehicle, height: float) -> tuple[Trim, bool]:
    """Steady glide that a member begins in, and whether it is the design's for want of its own."""
    try:
        return find_trims(member, height=height, modes=False).chosen, False
    except TrimError:
        return find_trims(vehicle, height=height, modes=False).chosen, True


def member_vehicle(vehicle: Vehicle, inputs: Mapping[str, float]) -> Vehicle:
    """Vehicle with a member's payload, pose, calibration and wind."""
    design = vehicle.design
    payload = design.payload.model_copy(update={"mass": inputs["payload_mass"]})
    changed = assemble(
        design.model_copy(update={"payload": payload}),
        factors=Factors(**{name: inputs[name] for name in FACTORS}),
        rigging=replace(vehicle.rigging, rigging_angle=inputs["rigging_angle"]),
    )
    return in_wind(changed, member_wind(vehicle.wind, inputs["wind_speed"], inputs["wind_from"]))


def member_wind(wind: Wind, speed: float, comes_from: float) -> Wind:
    """Wind of another speed and direction at its reference height; a measured one changes as a whole."""
    changed = replace(wind, speed=speed, from_direction=comes_from)
    if not wind.table:
        return changed
    factor = speed / wind.speed if wind.speed else 1.0
    turn = comes_from - wind.from_direction
    c, s = factor * np.cos(turn), factor * np.sin(turn)
    table = tuple((h, float(c * n - s * e), float(s * n + c * e)) for h, n, e in wind.table)
    return replace(changed, table=table)


def member_release(release: Release, inputs: Mapping[str, float]) -> Release:
    """Release with a member's height and heading, and its built-in brakes added to the schedule."""
    left, right = inputs["left_trim"], inputs["right_trim"]
    brakes = tuple(_trimmed(command, left, right) for command in release.brakes)
    return replace(
        release,
        height=inputs["release_height"],
        heading=inputs["heading"],
        brakes=brakes,
        rest=(left, right),
    )


def _trimmed(command: BrakeCommand, left: float, right: float) -> BrakeCommand:
    return command.model_copy(
        update={"left": _pull(command.left + left), "right": _pull(command.right + right)}
    )


def _pull(fraction: float) -> float:
    return min(max(fraction, 0.0), 1.0)
