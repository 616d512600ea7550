"""It dives, or it hangs back: what changes the trim.

Lengths of whole rows do it by the rigging angle alone, so that figure is worked out once over the rigging
angle, and each row asks how far it turns the canopy. All else is put into the design and flown.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from math import degrees, radians

from parasim.aerodynamics.factors import FactorRange, build_ranges
from parasim.caveats import Caveat
from parasim.config.loader import override
from parasim.dynamics.vehicle import Vehicle, assemble, with_factors
from parasim.errors import OptionError, TrimError
from parasim.flight.glide import (
    GLIDE_FACTORS,
    STALL_RESERVE,
    TUCK_RESERVE,
    headline_figures,
    stall_alpha,
    tuck_margin,
)
from parasim.flight.trim import Trim, find_trims
from parasim.flight.trouble import pitch_words as words
from parasim.flight.trouble.check import Cause, Curve, Figure, Findings, Words, ranked, sampled, settled
from parasim.flight.uncertainty import bands
from parasim.geometry.hang import pose_of_changed_lines, rigging_slopes
from parasim.units import show

Flown = Callable[[Vehicle, float], float]
"""A figure of a vehicle's glide with both brakes at a fraction of full travel."""

# Likely sizes: our choice by common practice, no source.
ROW, BRAKES, CENTER = 0.003, 0.010, 0.005
"""A whole row, on the mean; both brake lines; the payload's centre of mass or its hooks. [m]"""

MASS = 0.05
"""Of the payload's mass. [-]"""

MOST_ROW, MOST_CENTER, MOST_MASS = 0.05, 0.05, 0.6
"""Up to which these are sought. [m], [m], [-]"""

MOST_TURN = radians(10.0)
"""Change of the rigging angle up to which glides are looked at. [rad]"""

SAMPLES, POSES = 11, 5
"""Rigging angles looked at, and sizes of a row's error."""


def diving(vehicle: Vehicle, sink: float | None) -> Findings:
    """What makes a vehicle dive: to a sink, or to where its nose tucks. [m/s]

    Raises
    ------
    OptionError
        If it sinks so fast as designed.
    TrimError
        If it has no stable steady glide as designed.
    """
    if sink is None:
        return _pitched(vehicle, "tuck_margin", 0.0, _tuck, nose_down=True)
    return _pitched(vehicle, "sink", sink, _sink, nose_down=True)


def hanging_back(vehicle: Vehicle, airspeed: float | None) -> Findings:
    """What makes a vehicle fly slowly: at an airspeed, or `STALL_RESERVE` before its stall. [m/s]

    Raises
    ------
    OptionError
        If it flies so slowly as designed.
    TrimError
        If it has no stable steady glide as designed.
    """
    if airspeed is None:
        return _pitched(vehicle, "stall_margin", STALL_RESERVE, _stall, nose_down=False)
    return _pitched(vehicle, "airspeed", airspeed, _airspeed, nose_down=False)


def _trim(vehicle: Vehicle, brake: float) -> Trim:
    return find_trims(vehicle, brake=brake, modes=False).chosen


def _tuck(vehicle: Vehicle, brake: float) -> float:
    return tuck_margin(vehicle, _trim(vehicle, brake))


def _stall(vehicle: Vehicle, brake: float) -> float:
    return stall_alpha(vehicle, brake) - _trim(vehicle, brake).alpha


def _sink(vehicle: Vehicle, brake: float) -> float:
    return _trim(vehicle, brake).sink


def _airspeed(vehicle: Vehicle, brake: float) -> float:
    return _trim(vehicle, brake).airspeed


KINDS = {
    "tuck_margin": ("nose-tuck margin", "angle"),
    "stall_margin": ("stall margin", "angle"),
    "sink": ("sink", "speed"),
    "airspeed": ("airspeed", "speed"),
}
"""Figure of the glide to its words and its kind of quantity."""


def _pitched(vehicle: Vehicle, name: str, level: float, flown: Flown, *, nose_down: bool) -> Findings:
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    spread = bands(vehicle, ranges, headline_figures)
    band = spread.figures[name]
    _refuse_as_designed(vehicle, name, band.value, level)
    said, kind = KINDS[name]
    figure = Figure(
        words=said, kind=kind, designed=band.value, level=level, low=band.low, high=band.high,
        rises=name == "sink",
    )  # fmt: skip

    along = rigged(vehicle, flown, nose_down=nose_down)

    def causes() -> list[Cause]:
        return [
            *row_causes(vehicle, along, nose_down=nose_down),
            *hook_causes(vehicle, flown),
            *factor_causes(vehicle, ranges, flown),
            mass_cause(vehicle, flown),
            brake_cause(vehicle, flown),
        ]

    checks = settled(figure, causes)
    return Findings(
        figure=figure,
        checks=ranked([*checks, *words.practices(nose_down=nose_down)]),
        facts=(
            *_facts(vehicle, spread.figures["tuck_margin"].low, spread.figures["stall_margin"].low),
            *_there(vehicle, along, figure, nose_down=nose_down),
        ),
        failures=margin_failure("nose-tuck", spread.figures["tuck_margin"].low, TUCK_RESERVE)
        if nose_down
        else margin_failure("stall", spread.figures["stall_margin"].low, STALL_RESERVE),
    )


def _refuse_as_designed(vehicle: Vehicle, name: str, designed: float, level: float) -> None:
    """A sink or airspeed that is no change for the worse is a mistake of the question."""
    if (name == "sink" and level > designed) or (name == "airspeed" and level < designed):
        return
    if name in ("sink", "airspeed"):
        said, kind = KINDS[name]
        own, unit_kind = show(designed, kind), "more" if name == "sink" else "less"
        imperial = show(designed, kind, "imperial")
        raise OptionError(
            f"SYMPTOM: given {show(level, kind)} of {said}, {vehicle.design.name} has {own} ({imperial}) as "
            f"designed; give {unit_kind} than that"
        )


def _facts(vehicle: Vehicle, tuck: float, stall: float) -> tuple[str, ...]:
    trim = _trim(vehicle, 0.0)
    return (
        Caveat(
            "As designed it glides at {airspeed} and sinks {sink}, "
            f"{degrees(stall_alpha(vehicle) - trim.alpha):.1f} deg before its stall (low end of the band "
            f"{degrees(stall):.1f}) and {degrees(tuck_margin(vehicle, trim)):.1f} deg before its nose tucks "
            f"({degrees(tuck):.1f}).",
            airspeed=(trim.airspeed, "speed"),
            sink=(trim.sink, "speed"),
        ),
    )


def _there(
    vehicle: Vehicle, along: Callable[[float], float], figure: Figure, *, nose_down: bool
) -> tuple[str, ...]:
    """How it glides where the rigging alone brings it to what was seen, to compare with a film."""
    change = Curve(along, MOST_TURN).reaches(figure.level)
    if not change:
        return ()
    try:
        trim = _trim(turned(vehicle, change if nose_down else -change), 0.0)
    except TrimError:  # the samples' curve goes a little further than the glides do
        return ()
    way = "down" if nose_down else "up"
    return (
        Caveat(
            f"So it glides when it is rigged {degrees(change):.1f} deg more nose-{way}: {{airspeed}}, "
            f"sinking {{sink}}, chord {degrees(trim.pitch):+.0f} deg to the horizon.",
            airspeed=(trim.airspeed, "speed"),
            sink=(trim.sink, "speed"),
        ),
    )


def margin_failure(name: str, low: float, reserve: float) -> tuple[str, ...]:
    """What fails where the low end of a margin's band [rad] is less than is wanted. [rad]"""
    if low >= reserve:
        return ()
    return (f"{name} margin as designed may be {degrees(low):.1f} deg (wanted {degrees(reserve):.0f})",)


def rigged(vehicle: Vehicle, flown: Flown, *, nose_down: bool) -> Callable[[float], float]:
    """A figure over the change of the rigging angle in one sense, a positive size; as `sampled` has it."""
    sign = 1.0 if nose_down else -1.0
    return sampled(lambda change: flown(turned(vehicle, sign * change), 0.0), MOST_TURN, SAMPLES)


def turned(vehicle: Vehicle, change: float) -> Vehicle:
    """The vehicle rigged more nose-down by so much, its line length kept. [rad]"""
    pose = replace(vehicle.rigging, rigging_angle=vehicle.rigging.rigging_angle + change)
    return assemble(vehicle.design, factors=vehicle.model.factors, rigging=pose)


def row_causes(vehicle: Vehicle, figure: Callable[[float], float], *, nose_down: bool) -> list[Cause]:
    """Rows that are too short or too long on both sides, and those of a riser together, in one sense.

    Parameters
    ----------
    vehicle : Vehicle
        As designed.
    figure : callable
        Over the change of the rigging angle in the sense of `nose_down`, as `rigged` gives it.
    nose_down : bool
        The sense.
    """
    names = list(vehicle.line_set.straight)
    groups: dict[str, tuple[str, ...]] = {f"row {name}": (name,) for name in names}
    front = vehicle.design.payload.suspension.front_rows
    if front:
        groups["front risers"] = tuple(front)
        groups["rear risers"] = tuple(name for name in names if name not in front)
    slopes = rigging_slopes(vehicle.line_set, vehicle.canopy)
    causes = []
    for name, rows in groups.items():
        ends = [line.label for hold in vehicle.line_set.holds for line in hold.uppers if line.rows[0] in rows]
        longer = (sum(slopes[label] for label in ends) > 0) == nose_down
        by_size = sampled(partial(_turned, vehicle, ends, longer, nose_down), MOST_ROW, POSES)
        curve = Curve(lambda size, by_size=by_size: figure(max(by_size(size), 0.0)), MOST_ROW)  # type: ignore[misc]
        causes.append(
            Cause(
                name=name,
                words=words.row(rows, name, longer=longer),
                kind="small_length",
                likely=ROW,
                curve=curve,
                alone=len(rows) == 1,
            )
        )
    return causes


def _turned(vehicle: Vehicle, ends: list[str], longer: bool, nose_down: bool, size: float) -> float:
    """Change of the rigging angle in a sense by a size of the error. [rad]"""
    change = dict.fromkeys(ends, size if longer else -size)
    pose = pose_of_changed_lines(vehicle.line_set, vehicle.canopy, change)
    turned = pose.rigging_angle - vehicle.rigging.rigging_angle
    return turned if nose_down else -turned


def changed(vehicle: Vehicle, changes: Mapping[str, object]) -> Vehicle:
    """The vehicle with keys of its file changed, under its own calibration."""
    return assemble(override(vehicle.design, changes), factors=vehicle.model.factors)


def hook_causes(vehicle: Vehicle, flown: Flown) -> list[Cause]:
    """The payload's centre of mass and its hooks, forward or back."""
    suspension = vehicle.design.payload.suspension
    key = "payload.suspension"
    front, rear = suspension.front_place, suspension.rear_place
    own = vehicle.design.payload.center_of_mass.forward
    half = vehicle.design.payload.size[0] / 2
    causes = []
    for forward in (1.0, -1.0):

        def centered(size: float, forward: float = forward) -> float:
            if not suspension.four_hooks:
                return flown(changed(vehicle, {"payload.center_of_mass.forward": own + forward * size}), 0.0)
            moved = {f"{key}.front": front - forward * size, f"{key}.rear": rear - forward * size}
            return flown(changed(vehicle, moved), 0.0)

        bound = min(MOST_CENTER, half - abs(own))
        said = words.center(forward > 0, suspension.four_hooks)
        causes.append(_length("payload's centre", said, centered, bound))
        if suspension.four_hooks:

            def spaced(size: float, forward: float = forward) -> float:
                moved = {f"{key}.front": front + forward * size / 2, f"{key}.rear": rear - forward * size / 2}
                return flown(changed(vehicle, moved), 0.0)

            room = max(front - rear, 0.0) * 0.8 if forward < 0 else MOST_CENTER
            causes.append(_length("hooks", words.hooks(forward > 0), spaced, min(MOST_CENTER, room)))
    return causes


def _length(name: str, said: Words, figure: Callable[[float], float], bound: float) -> Cause:
    return Cause(name=name, words=said, kind="small_length", likely=CENTER, curve=Curve(figure, bound))


def factor_causes(vehicle: Vehicle, ranges: tuple[FactorRange, ...], flown: Flown) -> list[Cause]:
    """What cloth and section are other than modelled, up to the end of the range; likely is half the way."""
    causes = []
    for factor in ranges:
        if factor.name not in words.FACTORS:
            continue
        own = float(getattr(vehicle.model.factors, factor.name))
        for up in (True, False):
            reach = factor.high - own if up else own - factor.low
            if reach <= 0:
                continue

            def figure(size: float, name: str = factor.name, own: float = own, up: bool = up) -> float:
                factors = replace(vehicle.model.factors, **{name: own + (size if up else -size)})
                return flown(with_factors(vehicle, factors), 0.0)

            causes.append(
                Cause(
                    name=factor.name.replace("_", " "),
                    words=words.factor(factor.name, up=up),
                    kind="coefficient",
                    likely=reach / 2,
                    curve=Curve(figure, reach),
                )
            )
    return causes


def mass_cause(vehicle: Vehicle, flown: Flown) -> Cause:
    """A payload heavier than its file has it."""
    mass = vehicle.design.payload.mass
    return Cause(
        name="payload's mass",
        words=words.mass(mass),
        kind="small_mass",
        likely=MASS * mass,
        curve=Curve(
            lambda size: flown(changed(vehicle, {"payload.mass": mass + size}), 0.0), MOST_MASS * mass
        ),
    )


def brake_cause(vehicle: Vehicle, flown: Flown) -> Cause:
    """Both brake lines too short, or pulled at rest."""
    travel = vehicle.design.brakes.travel
    return Cause(
        name="brake lines",
        words=words.brakes(vehicle.design.free_play),
        kind="small_length",
        likely=BRAKES,
        curve=Curve(lambda size: flown(vehicle, min(size / travel, 1.0)), travel),
    )
