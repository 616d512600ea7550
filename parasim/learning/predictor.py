"""Steady flights of a design at any calibration near another, for the price of a root each.

Coefficients are blended (`parasim.learning.blend`); what is nonlinear, trim and turn, is solved for anew. At
the calibration that it was built for, a predictor gives what `parasim glide` and `parasim turn` give; a fit
builds another one where it ends.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from math import ceil, inf, nan

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.aerodynamics.table import AeroTable
from parasim.dynamics.simulate import Body
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind, with_factors
from parasim.environment.wind import Wind
from parasim.errors import TrimError
from parasim.flight.trim import modes_about
from parasim.flight.turn.steady import (
    inverse_slopes,
    settled_motion,
    steady_turns,
    turn_of,
    turning_state,
)
from parasim.learning.blend import (
    BRAKED,
    LINEAR,
    NAMES,
    SKIN,
    Blend,
    build_blend,
    factors_of,
    numbers_of,
    steady_table,
)
from parasim.learning.evidence import Datum, Flown, weights_of
from parasim.rotations import FloatArray

BRAKE_STEP = 0.125
"""Steps of brake by which a steady flight is followed from the glide. [-]"""

PARTS = 4
"""Of the way from its own calibration, in which a flight is followed that is not found at once."""

SLOPE_STEP = 0.01
"""Part of a number's range by which predictions are differenced. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """A steady flight.

    Attributes
    ----------
    mass, air_density : float or None
        All-up mass and air; None for the design's. [kg], [kg/m³]
    left, right : float
        Brakes, fractions of full travel. [-]
    modes : bool
        Whether its swings are asked for.
    """

    mass: float | None = None
    air_density: float | None = None
    left: float = 0.0
    right: float = 0.0
    modes: bool = False

    @property
    def turns(self) -> bool:
        """Whether the brakes differ."""
        return self.left != self.right

    def answers_to(self, name: str) -> bool:
        """Whether a calibration number changes it."""
        if name in BRAKED:
            return bool(self.left or self.right)
        return name not in LINEAR or self.turns or self.modes

    @classmethod
    def of(cls, datum: Datum) -> "Condition":
        """What a datum was measured in."""
        return cls(
            mass=datum.mass, air_density=datum.air_density, left=datum.left, right=datum.right,
            modes=datum.needs_modes,
        )  # fmt: skip


def variant(vehicle: Vehicle, *, mass: float | None, air_density: float | None) -> Vehicle:
    """The same design in a calm, with a payload that makes it weigh so much all up, in air of a density."""
    design = vehicle.design
    if mass is not None:
        payload = design.payload.model_copy(update={"mass": design.payload.mass + mass - vehicle.mass})
        design = design.model_copy(update={"payload": payload})
    if air_density is not None:
        # Density goes with pressure, whatever the height and the temperature.
        pressure = design.site.sea_level_pressure * air_density / vehicle.reference.air_density
        site = design.site.model_copy(update={"sea_level_pressure": pressure})
        design = design.model_copy(update={"site": site})
    changed = vehicle if design is vehicle.design else assemble(design, factors=vehicle.model.factors)
    return in_wind(changed, Wind.calm())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Base:
    """A mass and air, at the calibration of the predictor, and the steady flights there.

    Attributes
    ----------
    vehicle, table
        Exact there.
    motions, inverses : dict of Condition to ndarray
        Unknowns of each flight, and how to get from what is left of their accelerations to better ones.
    """

    vehicle: Vehicle
    table: AeroTable
    motions: dict[Condition, FloatArray] = field(default_factory=dict)
    inverses: dict[Condition, FloatArray] = field(default_factory=dict)


class Predictor:
    """Steady flights of a vehicle near one calibration.

    Parameters
    ----------
    vehicle : Vehicle
        The design.
    conditions : iterable of Condition
        Flights that it will be asked for.
    at : ndarray, shape (n_numbers,), optional
        Calibration at which it is exact; the vehicle's own if left out.
    blend : Blend, optional
        If known already.

    Attributes
    ----------
    vehicle, conditions, at, blend
        As given.
    missing : tuple of Condition
        Flights that the design does not have there.
    """

    def __init__(
        self,
        vehicle: Vehicle,
        conditions: Iterable[Condition],
        *,
        at: FloatArray | None = None,
        blend: Blend | None = None,
    ) -> None:
        self.vehicle, still = vehicle, in_wind(vehicle, Wind.calm())
        self.at = numbers_of(vehicle.model.factors) if at is None else at
        self.blend = blend or build_blend(still)
        widths = [limits.high - limits.low for limits in build_ranges(vehicle.design)]
        self.step = SLOPE_STEP * np.array([width or 1.0 for width in widths])
        self.conditions = tuple(dict.fromkeys(conditions))
        groups: dict[tuple[float | None, float | None], list[Condition]] = {}
        for condition in self.conditions:
            groups.setdefault((condition.mass, condition.air_density), []).append(condition)
        self._bases = [_base(still, self.at, group) for group in groups.values()]
        known = {condition for base in self._bases for condition in base.motions}
        self.missing = tuple(each for group in groups.values() for each in group if each not in known)

    def flown(self, wanted: Collection[Condition], numbers: FloatArray) -> dict[Condition, Flown]:
        """Some of the flights at a calibration, shape (n_numbers,); but for those that are not found."""
        found: dict[Condition, Flown] = {}
        for base in self._bases:
            found |= self._fly(base, numbers, [each for each in base.motions if each in wanted])
        return found

    def begun(self, condition: Condition, numbers: FloatArray) -> tuple[Body, FloatArray, Vehicle] | None:
        """What flies at a calibration, its state in one of the flights, and its design; None if it does not.

        The state heads north, at the height where the air has the condition's density.
        """
        base = next((each for each in self._bases if condition in each.motions), None)
        if base is None:
            return None
        body, table = self._body(base, numbers)
        brakes, first = (condition.left, condition.right), base.motions[condition]
        motion = settled_motion(body, table, brakes, first, inverse=base.inverses[condition])
        if motion is None:
            motion = self._step_by_step(base, numbers, condition)
        return None if motion is None else (body, turning_state(motion), base.vehicle)

    def predict(self, data: Sequence[Datum], numbers: FloatArray) -> FloatArray:
        """What is expected of every datum, shape (n_data,); not a number where it does not fly so. [SI]"""
        return _read(data, self.flown({Condition.of(datum) for datum in data}, numbers))

    def slopes(self, data: Sequence[Datum], numbers: FloatArray) -> FloatArray:
        """Change of what is expected by unit of each number, shape (n_data, n_numbers), by differences."""
        here, wanted = self.predict(data, numbers), {Condition.of(datum) for datum in data}
        found = np.zeros((len(data), len(NAMES)))
        for k, name in enumerate(NAMES):
            if name in SKIN[1:]:
                found[:, k] = self.blend.skin[name] * found[:, NAMES.index(SKIN[0])]
                continue
            moved = numbers.copy()
            moved[k] += self.step[k]
            flown = self.flown({each for each in wanted if each.answers_to(name)}, moved)
            found[:, k] = np.nan_to_num(_read(data, flown) - here) / self.step[k]
        return found

    def _fly(self, base: _Base, numbers: FloatArray, wanted: Sequence[Condition]) -> dict[Condition, Flown]:
        if not wanted:
            return {}
        body, table = self._body(base, numbers)
        found = {}
        for condition in wanted:
            brakes = (condition.left, condition.right)
            motion = settled_motion(
                body, table, brakes, base.motions[condition], inverse=base.inverses[condition]
            )
            if motion is None:
                motion = self._step_by_step(base, numbers, condition)
            if motion is not None:
                found[condition] = _flown(base.vehicle, body, motion, condition)
        return found

    def _step_by_step(self, base: _Base, numbers: FloatArray, condition: Condition) -> FloatArray | None:
        motion: FloatArray | None = base.motions[condition]
        for part in np.linspace(0.0, 1.0, PARTS + 1)[1:]:
            if motion is not None:
                body, table = self._body(base, self.at + part * (numbers - self.at))
                motion = settled_motion(body, table, (condition.left, condition.right), motion)
        return motion

    def _body(self, base: _Base, numbers: FloatArray) -> tuple[Body, AeroTable]:
        vehicle, table = self.blend.blended(base.vehicle, base.table, numbers - self.at)
        return build_body(vehicle, table), table


def _base(vehicle: Vehicle, at: FloatArray, group: Sequence[Condition]) -> _Base:
    changed = variant(vehicle, mass=group[0].mass, air_density=group[0].air_density)
    exact = with_factors(changed, factors_of(at))
    brakes, turns = any(each.left or each.right for each in group), any(each.turns for each in group)
    base = _Base(vehicle=exact, table=steady_table(exact, brakes=brakes, turns=turns))
    body = build_body(exact, base.table)
    for condition in group:
        motion = _followed(base, condition)
        if motion is not None:
            base.motions[condition] = motion
            base.inverses[condition] = inverse_slopes(body, (condition.left, condition.right), motion)
    return base


def _followed(base: _Base, condition: Condition) -> FloatArray | None:
    """Steady flight with brakes pulled step by step out of the glide; None where it ends before."""
    most = max(condition.left, condition.right)
    left, right = (side / most if most else 0.0 for side in (condition.left, condition.right))
    brakes = np.linspace(0.0, most, ceil(most / BRAKE_STEP) + 1)
    try:
        turns = steady_turns(
            base.vehicle, left=left, right=right, brakes=brakes, growth=False, table=base.table
        )
    except TrimError:
        return None
    return turns[-1].motion if len(turns) == len(brakes) else None


def _flown(vehicle: Vehicle, body: Body, motion: FloatArray, condition: Condition) -> Flown:
    brakes = (condition.left, condition.right)
    weight, canopy_weight = weights_of(vehicle.mass, vehicle.design.payload.mass)
    return Flown(
        turn=turn_of(body, motion, brakes, growth=False, pull=0.0),
        weight=weight,
        canopy_weight=canopy_weight,
        fore_aft=_periods(body, motion, brakes, lateral=False) if condition.modes else (),
        sideways=_periods(body, motion, brakes, lateral=True) if condition.modes else (),
    )


def _periods(
    body: Body, motion: FloatArray, brakes: tuple[float, float], *, lateral: bool
) -> tuple[float, ...]:
    """Of swings fore and aft, or sideways, longest first. [s]"""
    modes = modes_about(body, turning_state(motion), *brakes)
    found = (mode.period for mode in modes if mode.lateral == lateral and mode.period < inf)
    return tuple(sorted(found, reverse=True))


def _read(data: Sequence[Datum], flown: dict[Condition, Flown]) -> FloatArray:
    conditions = (Condition.of(datum) for datum in data)
    return np.array(
        [
            datum.read(flown[each]) if each in flown else nan
            for datum, each in zip(data, conditions, strict=True)
        ]
    )
