"""Force in the brake lines against pull, over the glides that the brakes make.

Pull is counted as the servo makes it, from the line let out: the free play is in it.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from math import exp, nan

import numpy as np

from parasim.aerodynamics.brake_force import HINGE_FACTOR_RANGE, brake_line_forces
from parasim.aerodynamics.strips import Flow
from parasim.caveats import Caveat
from parasim.config.servo import MeasuredBrakeForce
from parasim.dynamics.vehicle import Vehicle
from parasim.errors import DesignError, Mistake, TrimError
from parasim.flight.servo.ring import RingFriction, left_in, ring_caveats, ring_friction
from parasim.flight.trim import Trim, find_trims
from parasim.rotations import FloatArray

MEASURED_RANGE = (0.8, 1.25)
"""True force over one scaled through a reading: spread of a spring scale in hand. Our judgement. [-]"""

FRACTIONS = np.linspace(0, 1, 26)
"""Parts of the travel at which forces are worked out. [-]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class ForceCurve:
    """Force in the main brake line of one side against pull, at the servo and as it pulls in: past a ring.

    Attributes
    ----------
    pull : ndarray, shape (n,)
        From the line let out to full travel. [m]
    one : ndarray, shape (n,)
        This brake pulled and the other free, at the airspeed and angle of attack of the glide with the brakes
        released: also what both need when they are pulled before the vehicle has slowed. [N]
    both : ndarray, shape (n,)
        In each line with both pulled, settled to the steady glide there; nan where there is none. [N]
    airspeed : ndarray, shape (n,)
        Of that glide. [m/s]
    low, high : float
        Plausible true force over the one given. [-]
    free_play : float
        Pull that only takes up slack. [m]
    scale : float
        Of the theory's force that was taken: 1 unless measured. [-]
    ring : RingFriction or None
        That the line runs through: its friction is in all forces, and its range in `low` and `high`.
    """

    pull: FloatArray
    one: FloatArray
    both: FloatArray
    airspeed: FloatArray
    low: float
    high: float
    free_play: float
    scale: float
    ring: RingFriction | None = None

    @property
    def worst(self) -> FloatArray:
        """The larger of the two at each pull, shape (n,). [N]"""
        return np.fmax(self.one, self.both)

    def at(self, pull: FloatArray | float) -> FloatArray:
        """Worst force at a pull, same shape. [N]"""
        return np.asarray(np.interp(pull, self.pull, self.worst))

    def most_up_to(self, pull: float) -> float:
        """Greatest force on the way to a pull. [N]"""
        return max(float(self.worst[self.pull <= pull].max()), float(self.at(pull)))

    @cached_property
    def left_in(self) -> float:
        """Pull that a let-out line may keep, by the canopy's least force; nan without ring. [m]"""
        if self.ring is None:
            return nan
        _, low, _ = self.ring.pulling_in
        in_canopy = self.low / low * np.fmin(self.one, self.both)
        return left_in(self.pull, in_canopy * self.ring.letting_out[1], self.ring.drag)

    @property
    def caveats(self) -> tuple[str, ...]:
        """How far to trust it, in sentences."""
        low, high = HINGE_FACTOR_RANGE
        found = []
        if self.scale == 1.0:
            found.append(
                Caveat(
                    "Brake forces come from thin-aerofoil theory of a bent tail; no force measured on "
                    "canopies of this size has been published that we know of, so they may be "
                    f"{low:g} to {high:g} times these. Hang a luggage scale in the line and give its reading "
                    "as servo.measured.",
                    "lacks",
                )
            )
        elif not low <= self.scale <= high:
            found.append(
                Caveat(
                    f"The measured brake force is {self.scale:.2g} times the theory's, outside the {low:g} "
                    f"to {high:g} expected: check pull, airspeed and the scale."
                )
            )
        if self.ring is not None:
            travel = float(self.pull[-1])
            found += ring_caveats(self.left_in, free_play=self.free_play, travel=travel, drag=self.ring.drag)
        lost = np.isnan(self.both)
        if lost.any():
            found.append(
                Caveat(
                    "With both brakes pulled {pull} or more there may be no steady glide; the force with the "
                    "other brake free stands in.",
                    "fails",
                    pull=(float(self.pull[int(np.argmax(lost))]), "small_length"),
                )
            )
        return tuple(found)


def force_curve(vehicle: Vehicle, trim: Trim, measured: MeasuredBrakeForce | None = None) -> ForceCurve:
    """Force against pull.

    Parameters
    ----------
    vehicle, trim
        What flies, and its glide with the brakes released.
    measured : MeasuredBrakeForce, optional
        The curve is scaled to go through it, at its airspeed.
    """
    still = np.zeros(len(FRACTIONS))
    one = _pressure(trim) * brake_line_forces(vehicle.model, _flow(trim), still, FRACTIONS)[0, :, 1]
    glides = [_glide_with_brakes(vehicle, float(fraction)) for fraction in FRACTIONS]
    both = np.array([_force_of_both(vehicle, glide) for glide in glides])
    curve = ForceCurve(
        pull=FRACTIONS * vehicle.design.brakes.travel,
        one=one,
        both=both,
        airspeed=np.array([nan if glide is None else glide.airspeed for glide in glides]),
        low=HINGE_FACTOR_RANGE[0],
        high=HINGE_FACTOR_RANGE[1],
        free_play=vehicle.design.free_play,
        scale=1.0,
    )
    curve = through_ring(curve, ring_friction(vehicle))
    return curve if measured is None else scaled_through(curve, measured, trim.airspeed)


def through_ring(curve: ForceCurve, ring: RingFriction | None) -> ForceCurve:
    """Curve at the servo for one in the canopy's line: more by the ring's friction, as it pulls in."""
    if ring is None:
        return curve
    taken, low, high = ring.pulling_in
    return replace(
        curve,
        one=taken * curve.one,
        both=taken * curve.both,
        low=curve.low * low / taken,
        high=curve.high * high / taken,
        ring=ring,
    )


def scaled_through(curve: ForceCurve, measured: MeasuredBrakeForce, released_airspeed: float) -> ForceCurve:
    """Curve scaled through a measurement with both brakes alike, its band two errors each way.

    Without an error the band is `MEASURED_RANGE`.

    Raises
    ------
    DesignError
        As from `over_curve`.
    """
    scale, (low, high) = over_curve(curve, measured, released_airspeed), MEASURED_RANGE
    if measured.error is not None:
        high = exp(2 * measured.error / measured.force)
        low = 1 / high
    return replace(
        curve, one=scale * curve.one, both=scale * curve.both, low=low, high=high, scale=scale * curve.scale
    )


def over_curve(curve: ForceCurve, measured: MeasuredBrakeForce, released_airspeed: float) -> float:
    """A measured force over the curve's. [-]

    The reading is taken at the servo's end of the line: past a ring, if there is one, as it pulls in. Force
    grows with airspeed squared. Where both brakes so far give no steady glide, the curve at the
    airspeed with the brakes released is compared instead.

    Raises
    ------
    DesignError
        If no force is computed at that pull, or it lies beyond the travel.
    """
    flown, force = flown_at(curve, measured.pull, released_airspeed)
    given = f"{1e3 * measured.pull:g} mm"
    if measured.pull > curve.pull[-1] * (1 + 1e-9):
        hint = f"use up to {1e3 * curve.pull[-1]:g} mm, free play included"
        raise DesignError(
            Mistake(key="servo.measured.pull", given=given, problem="beyond the brake travel", hint=hint)
        )
    if force <= 0 or measured.pull <= curve.free_play:
        hint = "measure at a longer pull, free play included"
        raise DesignError(
            Mistake(key="servo.measured.pull", given=given, problem="no force is computed there", hint=hint)
        )
    return measured.force / (force * ((measured.airspeed or flown) / flown) ** 2)


def flown_at(curve: ForceCurve, pull: float, released_airspeed: float) -> tuple[float, float]:
    """Airspeed [m/s] and force [N] with both brakes at a pull; where they give no glide, of one alone."""
    flown, force = (float(np.interp(pull, curve.pull, of)) for of in (curve.airspeed, curve.both))
    if np.isnan(force):
        return released_airspeed, float(np.interp(pull, curve.pull, curve.one))
    return flown, force


def _flow(trim: Trim) -> Flow:
    return Flow.steady(np.array([trim.alpha]))


def _pressure(trim: Trim) -> float:
    """Dynamic pressure. [Pa]"""
    return 0.5 * trim.air_density * trim.airspeed**2


def _glide_with_brakes(vehicle: Vehicle, fraction: float) -> Trim | None:
    try:
        return find_trims(vehicle, brake=fraction, modes=False).chosen
    except TrimError:
        return None


def _force_of_both(vehicle: Vehicle, glide: Trim | None) -> float:
    if glide is None:
        return nan
    brake = np.array([glide.brake])
    return _pressure(glide) * float(brake_line_forces(vehicle.model, _flow(glide), brake, brake)[0, 0, 1])
