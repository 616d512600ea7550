"""It rocks: which swing that is, how quickly it should decay, and what would keep it going."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import inf, log, radians

from parasim.aerodynamics.factors import FactorRange, build_ranges
from parasim.dynamics.vehicle import Vehicle, with_factors
from parasim.flight.trim import Mode, find_trims
from parasim.flight.trouble import swinging_words as words
from parasim.flight.trouble.check import Cause, Curve, Figure, Findings, ranked, settled
from parasim.flight.trouble.pitch import MASS, MOST_MASS, brake_cause, changed, rigged, row_causes, turned
from parasim.flight.uncertainty import bands

VISIBLE = 0.4
"""Period from which a swing is seen as one, not as a flutter. Our choice, no source. [s]"""

NEAR_PERIOD = 1.5
"""Ratio of two periods up to which they may be the same swing. Our choice, no source. [-]"""

# Likely sizes, and up to which they are sought: our choice by common practice, no source.
HANG, MOST_HANG = 0.010, 0.5
"""Of the riser, or of the payload's centre of mass. [m]"""

TURN = radians(0.5)
"""Of the rigging, by which is seen in which sense a swing grows. [rad]"""

FACTORS = {
    True: ("yaw_damping", "roll_damping", "side_force_slope", "moment_shift", "lift_factor"),
    False: ("moment_shift", "lift_factor"),
}
"""Factors of the calibration that swings answer to: lateral ones, and those in pitch."""


def swinging(vehicle: Vehicle, axis: str, period: float | None) -> Findings:
    """What would keep a vehicle swinging.

    Parameters
    ----------
    vehicle : Vehicle
        As designed.
    axis : str
        ``pitch``, ``roll``, or empty for whichever decays more slowly.
    period : float or None
        Of the swing that was seen. [s]

    Raises
    ------
    TrimError
        If it has no stable steady glide as designed.
    """
    trim = find_trims(vehicle).chosen
    seen = _seen(_visible(trim.modes, axis), period)
    growth = _growth(axis, period)
    ranges = build_ranges(vehicle.design, FACTORS[axis != "pitch"])
    band = bands(vehicle, ranges, lambda one: {"growth": growth(one, 0.0)}).figures["growth"]
    figure = Figure(
        words=f"growth of the {_axis(seen)} swing of {seen.period:.1f} s"
        if period
        else "growth of the swing that decays most slowly",
        kind="growth",
        designed=band.value,
        level=0.0,
        low=band.low,
        high=band.high,
    )

    def causes() -> list[Cause]:
        nose_down = growth(turned(vehicle, TURN), 0.0) > growth(turned(vehicle, -TURN), 0.0)
        rows = row_causes(vehicle, rigged(vehicle, growth, nose_down=nose_down), nose_down=nose_down)
        return [
            *_hang_causes(vehicle, growth),
            *_factor_causes(vehicle, ranges, growth),
            *_mass_causes(vehicle, growth),
            *rows,
            _damping_cause(vehicle, growth),
            brake_cause(vehicle, growth),
        ]

    return Findings(
        figure=figure,
        checks=ranked([*settled(figure, causes), *words.practices(vehicle.design.servo is not None)]),
        facts=(*_facts(_visible(trim.modes, axis), seen, period), words.gusts(seen.period, trim.airspeed)),
        failures=tuple(f"it grows as designed: {mode.description}" for mode in trim.modes if not mode.stable),
    )


def _visible(modes: Sequence[Mode], axis: str) -> list[Mode]:
    """Swings about an axis that are seen as such; all modes where there is none."""
    wanted = {"pitch": (False,), "roll": (True,)}.get(axis, (False, True))
    found = [mode for mode in modes if mode.lateral in wanted and VISIBLE <= mode.period < inf]
    return found or list(modes)


def _seen(listed: list[Mode], period: float | None) -> Mode:
    """The mode of that period, or the one that decays most slowly."""
    if period is None:
        return max(listed, key=lambda mode: mode.eigenvalue.real)
    return min(listed, key=lambda mode: abs(log(mode.period / period)))


def _growth(axis: str, period: float | None) -> Callable[[Vehicle, float], float]:
    """Growth of the swing that was seen, of another vehicle with both brakes at a fraction. [1/s]"""

    def growth(vehicle: Vehicle, brake: float) -> float:
        modes = find_trims(vehicle, brake=brake).chosen.modes
        return _seen(_visible(modes, axis), period).eigenvalue.real

    return growth


def _axis(mode: Mode) -> str:
    return "roll" if mode.lateral else "pitch"


def _facts(modes: Sequence[Mode], seen: Mode, period: float | None) -> tuple[str, ...]:
    listed = "; ".join(mode.description for mode in modes)
    found = [f"Swings of the glide as designed: {listed}."]
    if period is not None and not 1 / NEAR_PERIOD < seen.period / period < NEAR_PERIOD:
        found.append(
            f"None of them has a period near {period:.1f} s: such a swing is fed from outside, by gusts or "
            "by the brakes."
        )
    elif seen.stable:
        begins = "It is taken for" if period else "Most slowly decays"
        found.append(
            f"{begins} the {_axis(seen)} swing of {seen.period:.1f} s, which halves in "
            f"{log(2) / -seen.eigenvalue.real:.1f} s: one that goes on is fed by gusts or brakes, or "
            "something below takes its damping."
        )
    return tuple(found)


def _hang_causes(vehicle: Vehicle, growth: Callable[[Vehicle, float], float]) -> list[Cause]:
    """The payload hangs lower or higher: by its riser, or by its hooks."""
    design = vehicle.design
    suspension = design.payload.suspension
    key = "payload.suspension.height" if suspension.four_hooks else "lines.riser.length"
    own = suspension.hook_height if suspension.four_hooks else design.lines.riser.length
    causes = []
    for lower in (True, False):

        def figure(size: float, lower: bool = lower) -> float:
            return growth(changed(vehicle, {key: own + (size if lower else -size)}), 0.0)

        bound = MOST_HANG if lower else min(MOST_HANG, 0.9 * own)
        if bound > 0:
            causes.append(
                Cause(
                    name="hang",
                    words=words.hang(suspension.four_hooks, lower=lower),
                    kind="small_length",
                    likely=HANG,
                    curve=Curve(figure, bound),
                )
            )
    return causes


def _factor_causes(
    vehicle: Vehicle, ranges: tuple[FactorRange, ...], growth: Callable[[Vehicle, float], float]
) -> list[Cause]:
    """What is other than modelled, up to the end of its range; likely is half the way."""
    causes = []
    for factor in ranges:
        own = float(getattr(vehicle.model.factors, factor.name))
        for end in (factor.low, factor.high):

            def figure(size: float, name: str = factor.name, own: float = own, end: float = end) -> float:
                value = own + (size if end > own else -size)
                return growth(with_factors(vehicle, replace(vehicle.model.factors, **{name: value})), 0.0)

            if end != own:
                causes.append(
                    Cause(
                        name=factor.name.replace("_", " "),
                        words=words.factor(factor.name, up=end > own),
                        kind="coefficient",
                        likely=abs(end - own) / 2,
                        curve=Curve(figure, abs(end - own)),
                    )
                )
    return causes


def _mass_causes(vehicle: Vehicle, growth: Callable[[Vehicle, float], float]) -> list[Cause]:
    mass = vehicle.design.payload.mass
    causes = []
    for sign in (1.0, -1.0):

        def figure(size: float, sign: float = sign) -> float:
            return growth(changed(vehicle, {"payload.mass": mass + sign * size}), 0.0)

        causes.append(
            Cause(
                name="payload's mass",
                words=words.mass(mass, heavier=sign > 0),
                kind="small_mass",
                likely=MASS * mass,
                curve=Curve(figure, MOST_MASS * mass),
            )
        )
    return causes


def _damping_cause(vehicle: Vehicle, growth: Callable[[Vehicle, float], float]) -> Cause:
    own = vehicle.design.payload.suspension.damping

    def figure(size: float) -> float:
        changes: Mapping[str, object] = {"payload.suspension.damping": f"{100 * max(own - size, 0.0)!r} %"}
        return growth(changed(vehicle, changes), 0.0)

    return Cause(
        name="damping of the payload's swing", words=words.damping(), kind="percent",
        likely=own / 2, curve=Curve(figure, own),
    )  # fmt: skip
