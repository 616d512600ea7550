"""Steady straight glide: every one there is, with its stability.

At an angle of attack all forces grow with airspeed squared, so their direction alone fixes the attitude in
which weight balances them, and their size the airspeed. What is left is one function of angle of attack:
the pitching moment about the centre of mass. Its zeros are the trims.
"""

from dataclasses import dataclass, replace
from math import atan2, cos, degrees, sin, sqrt

import numpy as np

from parasim.aerodynamics.drag import Bodies, body_forces
from parasim.aerodynamics.table import AeroTable
from parasim.caveats import Caveat
from parasim.dynamics.linear import LATERAL, linearised
from parasim.dynamics.simulate import Body
from parasim.dynamics.state import (
    state_vector,
)
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.suspension.swing import Swing
from parasim.dynamics.thin_air import at_height
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.errors import TrimError
from parasim.mass.properties import total
from parasim.rotations import (
    FloatArray,
    quaternion_from_euler,
    rotation_matrix,
)

SCAN = np.radians(np.arange(-25.0, 90.5, 1.0))
"""Angles of attack between which trims are looked for. [rad]"""

USUAL_ALPHA = np.radians(5.0)
"""Angle of attack at which the pitching moment of a canopy without a trim is given. [rad]"""

DIVE = np.radians(45.0)
"""Path below the horizon from which on a steady flight is a dive, no glide. Our choice, no source. [rad]"""

FINER_SCANS = 3
"""Each narrows a trim down to a twentieth of its interval."""

GROWTH_TOLERANCE = 0.01
"""Growth rate up to which a mode counts as not growing: a minute to double. [1/s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One mode about a steady flight.

    Attributes
    ----------
    eigenvalue : complex
        Growth rate and frequency; the one of a pair with positive frequency. [1/s], [rad/s]
    lateral : bool
        Roll, yaw and sideslip, or pitch and speed.
    """

    eigenvalue: complex
    lateral: bool

    @property
    def stable(self) -> bool:
        """Whether it does not grow, within `GROWTH_TOLERANCE`."""
        return self.eigenvalue.real < GROWTH_TOLERANCE

    @property
    def period(self) -> float:
        """Infinite when it does not swing. [s]"""
        return 2 * np.pi / abs(self.eigenvalue.imag) if self.eigenvalue.imag else np.inf

    @property
    def description(self) -> str:
        """In words."""
        rate = self.eigenvalue.real
        axis = "lateral" if self.lateral else "pitch"
        motion = f"swing of period {self.period:.1f} s" if self.eigenvalue.imag else "without oscillation"
        change = "halves" if rate < 0 else "doubles"
        return f"{axis} {motion}, {change} in {np.log(2) / max(abs(rate), 1e-9):.2g} s"


@dataclass(frozen=True, kw_only=True, eq=False)
class Trim:
    """One steady straight glide in still air.

    Attributes
    ----------
    alpha, pitch : float
        Angle of attack, and attitude of the centre chord over the horizon, nose-up positive. [rad]
    airspeed : float
        Along the path. [m/s]
    brake : float
        Both brakes, fraction of full travel. [-]
    force : ndarray, shape (3,)
        Aerodynamic force over half density times airspeed squared, body axes. [m²]
    moment_slope : float
        Of the pitching moment about the centre of mass by angle of attack, over dynamic pressure, flat area
        and mean chord; negative is statically stable. [1/rad]
    modes : tuple of Mode
        Modes, fastest growing first; empty if not asked for.
    area, air_density : float
        References. [m²], [kg/m³]
    """

    alpha: float
    pitch: float
    airspeed: float
    brake: float
    force: FloatArray
    moment_slope: float
    modes: tuple[Mode, ...]
    area: float
    air_density: float

    @property
    def statically_stable(self) -> bool:
        """Whether a higher angle of attack pitches the nose down."""
        return self.moment_slope < 0

    @property
    def lines_taut(self) -> bool:
        """Whether the canopy pulls up on its lines: lines cannot push."""
        return float(self.force[2]) < 0

    @property
    def dynamically_stable(self) -> bool:
        """Whether no mode grows."""
        return all(mode.stable for mode in self.modes)

    @property
    def glide_angle(self) -> float:
        """Of the path below the horizon. [rad]"""
        return self.alpha - self.pitch

    @property
    def sink(self) -> float:
        """[m/s]"""
        return self.airspeed * sin(self.glide_angle)

    @property
    def forward_speed(self) -> float:
        """Over the ground in still air. [m/s]"""
        return self.airspeed * cos(self.glide_angle)

    @property
    def glide_ratio(self) -> float:
        """Forward over down: lift over drag of the whole vehicle. [-]"""
        return self.forward_speed / self.sink

    @property
    def CL(self) -> float:
        """Lift of the whole vehicle on flat area. [-]"""
        return float(sin(self.alpha) * self.force[0] - cos(self.alpha) * self.force[2]) / self.area

    @property
    def CD(self) -> float:
        """Drag of the whole vehicle on flat area. [-]"""
        return float(-cos(self.alpha) * self.force[0] - sin(self.alpha) * self.force[2]) / self.area

    def state(self, *, height: float, heading: float, wind: FloatArray | None = None) -> FloatArray:
        """State of this flight at a height above ground, on a heading, in a wind (north, east, down)."""
        attitude = quaternion_from_euler(0.0, self.pitch, heading)
        through_air = self.airspeed * np.array([cos(self.alpha), 0.0, sin(self.alpha)])
        if wind is not None:
            through_air = through_air + rotation_matrix(attitude).T @ wind
        return state_vector(position=np.array([0.0, 0.0, -height]), attitude=attitude, velocity=through_air)


@dataclass(frozen=True, kw_only=True, eq=False)
class Trims:
    """All steady glides at one brake setting.

    Attributes
    ----------
    chosen : Trim
        The statically stable one of lowest angle of attack; one steeper than `DIVE` only for want of others.
    others : tuple of Trim
        The rest, by angle of attack.
    """

    chosen: Trim
    others: tuple[Trim, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """What a pilot should know about the others, in sentences."""
        stable = [trim for trim in self.others if trim.statically_stable]
        return tuple(
            Caveat(
                "There is another stable glide at {alpha} angle of attack (sink {sink}): a disturbance may "
                "leave the canopy there.",
                alpha=(trim.alpha, "angle", 0),
                sink=(trim.sink, "speed", 1),
            )
            for trim in stable
        )


def find_trims(
    vehicle: Vehicle,
    *,
    brake: float = 0.0,
    height: float = 0.0,
    modes: bool = True,
    table: AeroTable | None = None,
) -> Trims:
    """Every steady straight glide in still air.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.
    brake : float
        Both brakes, fraction of full travel. [-]
    height : float
        Above ground, for the air density and, high up, for the Reynolds number. [m]
    modes : bool
        Whether to work out the modes of each.
    table : AeroTable, optional
        Instead of the vehicle's whole table; the quick one serves while the brakes rest.

    Raises
    ------
    TrimError
        If there is no statically stable steady glide. A balance that would climb is none.
    """
    if table is None:
        model = at_height(vehicle, height).model
        brakes_released = model.released_table if modes else model.trim_table
        table = brakes_released if brake == 0 else model.table
    density = vehicle.atmosphere.density(vehicle.ground_height + height)
    balance = _balance(vehicle, table, brake)
    balanced = _balanced_trims(vehicle, balance, density)
    trims = [trim for trim in balanced if trim.lines_taut and trim.sink > 0.0]
    stable = [trim for trim in trims if trim.statically_stable]
    if not stable:
        raise TrimError(_no_trim(vehicle, balance, trims))
    if modes:
        trims = [replace(trim, modes=natural_modes(vehicle, trim, height, table)) for trim in trims]
        stable = [trim for trim in trims if trim.statically_stable]
    chosen = next((trim for trim in stable if trim.glide_angle < DIVE), stable[0])
    return Trims(chosen=chosen, others=tuple(trim for trim in trims if trim is not chosen))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Balance:
    """Forces and moments of steady straight flight over angle of attack, at one brake setting.

    Attributes
    ----------
    table : AeroTable
        The canopy.
    brake : float
        Both brakes, fraction of full travel. [-]
    bodies : Bodies
        Lines and payload.
    turns : ndarray of bool, shape (n_bodies,)
        Which of them are rigid with the canopy: not a payload that hangs on lines.
    center : ndarray, shape (3,)
        Mass moment of all that is rigid with the canopy, over the whole mass. [m]
    swing : Swing or None
        Where a payload on lines hangs.
    payload_share : float
        Of its mass in the whole. [-]
    """

    table: AeroTable
    brake: float
    bodies: Bodies
    turns: np.ndarray
    center: FloatArray
    swing: Swing | None
    payload_share: float

    def force_and_moment(self, alpha: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Force over half density and airspeed squared, and pitching moment on what is rigid.

        Parameters
        ----------
        alpha : ndarray, shape (n,)
            [rad]

        Returns
        -------
        force : ndarray, shape (n, 3)
            Body axes. [m²]
        moment : ndarray, shape (n,)
            About the centre of mass, the payload pulling where it hangs. [m³]
        """
        coefficients = self.table.symmetric(alpha, self.brake)
        wind = -np.stack([np.cos(alpha), np.zeros_like(alpha), np.sin(alpha)], axis=-1)
        place = self.bodies.position
        on_bodies = body_forces(self.bodies, np.broadcast_to(wind[:, None], (len(alpha), *place.shape)))
        force = self.table.area * coefficients[:, :3] + on_bodies.sum(axis=1)
        turning, x, z = on_bodies[:, self.turns], place[self.turns, 0], place[self.turns, 2]
        moment = self.table.area * self.table.chord * coefficients[:, 4]
        moment = moment + turning[..., 0] @ z - turning[..., 2] @ x
        moment = moment - (self.center[2] * force[:, 0] - self.center[0] * force[:, 2])
        if self.swing is not None:
            on_payload = on_bodies[:, ~self.turns].sum(axis=1)
            pull = (on_payload - self.payload_share * force)[:, [0, 2]]
            arm = self.swing.arm(self.swing.hanging(pull))
            moment = moment + arm[:, 1] * pull[:, 0] - arm[:, 0] * pull[:, 1]
        return force, moment

    def moment(self, alpha: FloatArray) -> FloatArray:
        """Pitching moment alone, same shape. [m³]"""
        return self.force_and_moment(alpha)[1]


def _balance(vehicle: Vehicle, table: AeroTable, brake: float) -> _Balance:
    stiff = vehicle.design.payload.suspension.stiff
    turns = np.array([stiff or name != "payload" for name in vehicle.bodies.name])
    held = total(item.properties for item in vehicle.items if stiff or item.name != "payload")
    return _Balance(
        table=table,
        brake=brake,
        bodies=vehicle.bodies,
        turns=turns,
        center=held.first_moment / vehicle.mass,
        swing=None if stiff else vehicle.swing,
        payload_share=vehicle.design.payload.mass / vehicle.mass,
    )


def _balanced_trims(vehicle: Vehicle, balance: _Balance, density: float) -> list[Trim]:
    """Steady flights without pitching moment, by rising angle of attack.

    Every change of sign in a coarse scan is scanned again more finely, and ends with a straight line.
    """
    scanned = balance.moment(SCAN)
    crossed = np.flatnonzero(np.sign(scanned[:-1]) != np.sign(scanned[1:]))
    if not len(crossed):
        return []
    low, high, each = SCAN[crossed], SCAN[crossed + 1], np.arange(len(crossed))
    for _ in range(FINER_SCANS):
        alpha = np.linspace(low, high, 21, axis=1)
        moment = balance.moment(alpha.ravel()).reshape(alpha.shape)
        k = np.argmax(np.sign(moment[:, :-1]) != np.sign(moment[:, 1:]), axis=1)
        low, high = alpha[each, k], alpha[each, k + 1]
    slope = (moment[each, k + 1] - moment[each, k]) / (high - low)
    zero = low - moment[each, k] / slope
    slopes = slope / (balance.table.area * balance.table.chord)
    forces, _ = balance.force_and_moment(zero)
    return [
        _trim_at(vehicle, balance, alpha, slope, force, density)
        for alpha, slope, force in zip(zero.tolist(), slopes.tolist(), forces, strict=True)
    ]


def _trim_at(
    vehicle: Vehicle, balance: _Balance, alpha: float, slope: float, force: FloatArray, density: float
) -> Trim:
    size = float(np.hypot(force[0], force[2]))
    return Trim(
        alpha=alpha,
        pitch=atan2(float(force[0]), -float(force[2])),
        airspeed=sqrt(2 * vehicle.weight / (density * size)),
        brake=balance.brake,
        force=force,
        moment_slope=slope,
        modes=(),
        area=balance.table.area,
        air_density=density,
    )


def _no_trim(vehicle: Vehicle, balance: _Balance, unstable: list[Trim]) -> str:
    """What there is instead of a stable glide, and what would help."""
    brake = balance.brake
    nose_drops = balance.moment(np.array([USUAL_ALPHA]))[0] < 0
    found = ", ".join(f"{degrees(trim.alpha):.0f} deg" for trim in unstable)
    less_brake = "pull less brake, or " if brake > 0 else ""
    return (
        f"{vehicle.design.name}: no stable steady glide with both brakes at {100 * brake:.0f} % of travel: "
        f"at {degrees(USUAL_ALPHA):.0f} deg angle of attack its nose {'drops' if nose_drops else 'rises'}"
        + (f", and its balance at {found} does not last" if found else "")
        + f"; {less_brake}try {'less' if nose_drops else 'more'} rigging angle (nose-down positive)"
    )


def natural_modes(vehicle: Vehicle, trim: Trim, height: float, table: AeroTable) -> tuple[Mode, ...]:
    """Eigenvalues of the motion about a trim, fastest growing first.

    Position and heading are left out: they do not matter in still air, but for the slow change of density.

    Parameters
    ----------
    vehicle : Vehicle
        What flies.
    trim : Trim
        About which.
    height : float
        Above ground. [m]
    table : AeroTable
        To look up.
    """
    body = build_body(in_wind(vehicle, Wind.calm()), table)
    return modes_about(body, body.hanging(trim.state(height=height, heading=0.0)), trim.brake, trim.brake)


def modes_about(body: Body, state: FloatArray, left: float, right: float) -> tuple[Mode, ...]:
    """Eigenvalues of the motion about a steady state under brakes, fastest growing first."""
    values, vectors = np.linalg.eig(linearised(body, state, left, right))
    lateral_share = (np.abs(vectors[LATERAL[: len(values)]]) ** 2).sum(axis=0)
    modes = [
        Mode(eigenvalue=complex(value), lateral=bool(share > 0.5))
        for value, share in zip(values, lateral_share, strict=True)
        if value.imag >= 0
    ]
    return tuple(sorted(modes, key=lambda mode: -mode.eigenvalue.real))
