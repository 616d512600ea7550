"""What all members of an ensemble share, and what their own inputs change in it.

Everything dear is worked out once and then blended, so that a member costs no new aerodynamics:

- Masses move exactly when the rigging turns; lines go half of the way with the canopy, and so do their lumps.
- Coefficients change in a straight line with each calibration number, towards the far end of its range.
- So they do with the payload's mass, by which Reynolds number and leakage change a little.
- In the thinner air of a drop from high up they change as they do near the ground.
- A steady glide of its own is found from the design's (`parasim.dynamics.retrim`).
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from parasim.aerodynamics.drag import skin_drag_by
from parasim.aerodynamics.factors import Factors, build_ranges
from parasim.aerodynamics.look_up import LookUpTable
from parasim.aerodynamics.model import ALPHA_KNOTS, BRAKE_KNOTS, build_aero_table, calibrated_table
from parasim.aerodynamics.table import AeroTable
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.brakes.actuators import servo_limits
from parasim.dynamics.brakes.flown import ServoLimits
from parasim.dynamics.flight_rates import Flight
from parasim.dynamics.inertia import inertia_modes
from parasim.dynamics.motion import Motion
from parasim.dynamics.retrim import settling_slopes
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.suspension.swing import Swing
from parasim.dynamics.thin_air import table_up_to
from parasim.dynamics.vehicle import Vehicle, assemble, with_factors
from parasim.environment.gust import Gusts, build_gusts
from parasim.environment.wind import Wind
from parasim.flight.drop import Release
from parasim.flight.trim import find_trims
from parasim.mass.inventory import payload_bottom
from parasim.rotations import FloatArray, skew

FACTORS = tuple(field.name for field in fields(Factors))
SKIN = ("extra_drag", "inlet_drag_factor", "roughness_drag")
"""Factors that make skin drag, all of which changes the coefficients alike."""

FLYING_ALPHA, FLYING_REACH = np.radians((15.0, 46.0))
"""Middle of the angles of attack at which inputs change the coefficients, and how far from it they do.
Beyond, in a tumble, coefficients are those of the design. Our choice. [rad]"""

MASS_STEP = 0.1
"""Part of the payload's mass by which it is changed to see what that does to the coefficients. [-]"""

FACTOR_STEP = 0.01
"""The same for a calibration number whose range has no width; in its own unit."""

LINEAR = ("side_force_slope", "yaw_damping", "roll_damping")
"""Factors that coefficients are linear in by their definition."""

INPUTS: dict[str, str] = {
    "release_north": "m",
    "release_east": "m",
    "release_height": "m",
    "heading": "rad",
    "wind_speed": "m/s",
    "wind_from": "rad",
    "payload_mass": "kg",
    "rigging_angle": "rad",
    "left_trim": "-",
    "right_trim": "-",
} | {name: "1/rad" if name in LINEAR else "-" for name in FACTORS}
"""Inputs that a member can have of its own, all absolute values, and their units.

The release point is reported from the nominal one, the release height is the confluence's above ground. Wind
speed and direction are those at the reference height; a measured profile is scaled and turned as a whole.
Trims are brakes that are never let go, as fractions of travel.
"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slopes:
    """How the table changes with some inputs.

    Attributes
    ----------
    tables : ndarray, shape (n, size)
        Change of steady coefficients, then of rate derivatives, laid out as in the design's table.
    weights : dict of str to ndarray, shape (n,)
        Of each table, by unit of each input.
    """

    tables: FloatArray
    weights: dict[str, FloatArray]


@dataclass(frozen=True, kw_only=True, eq=False)
class EnsembleModel:
    """What all members of an ensemble share; it can be sent to other processes.

    Attributes
    ----------
    motion : Motion
        The design's; of its wind, too.
    gusts : Gusts
        The design's, with a series that members replace.
    turbulence : tuple of (float, float or None), or None
        Strength over the mean wind at 20 ft, and strength whatever the wind, which counts if there is one.
    gust_turns : bool
        Whether the discrete gust's direction is measured from the mean wind's.
    n_states : int
        13, or 20 where the payload swings.
    nominal : dict of str to float
        Every input as the design has it.
    fixed_inputs : frozenset of str
        Inputs that members may not have of their own, since it was not built for them.
    slopes : Slopes
        By those inputs that vary and change the coefficients.
    fixed, hung, lines : ndarray, shape (6, 6)
        Momentum by motion, of cloth, of the payload if it does not swing, and of the lines.
    line_rows : ndarray of bool, shape (n_bodies,)
        Which bluff pieces are lines.
    quarter_chord : ndarray, shape (3,)
        Of the centre rib. [m]
    swing : Swing
        Where the payload hangs.
    payload_bottom : ndarray, shape (3,)
        From the point it hangs by, payload axes. [m]
    brakes : tuple of BrakeCommand
        What the brakes are reported.
    servo : ServoLimits
        How they follow.
    start, velocity
        As in `Release`.
    glide, inverse : ndarray, shape (k,), (k, k)
        Of the design, as `parasim.dynamics.retrim` has them.
    """

    motion: Motion
    gusts: Gusts
    turbulence: tuple[float, float | None] | None
    gust_turns: bool
    n_states: int
    nominal: dict[str, float]
    fixed_inputs: frozenset[str]
    slopes: Slopes
    fixed: FloatArray
    hung: FloatArray
    lines: FloatArray
    line_rows: np.ndarray
    quarter_chord: FloatArray
    swing: Swing
    payload_bottom: FloatArray
    brakes: tuple[BrakeCommand, ...]
    servo: ServoLimits
    start: str
    velocity: FloatArray
    glide: FloatArray
    inverse: FloatArray


def build_ensemble_model(
    vehicle: Vehicle, release: Release, *, varied: Collection[str] = tuple(INPUTS)
) -> EnsembleModel:
    """EnsembleModel of a vehicle's drops.

    Parameters
    ----------
    vehicle : Vehicle
        The design as it is.
    release : Release
        The nominal one.
    varied : collection of str
        Inputs that members will have of their own; the fewer calibration numbers, the quicker.

    Raises
    ------
    TrimError
        If the design has no steady glide.
    """
    knots = brake_knots(release, varied)
    table = table_up_to(vehicle, release.height, brake=knots)
    body = build_body(vehicle, table)
    trim = find_trims(vehicle, height=release.height, modes=False).chosen
    site = vehicle.design.site
    gusts = build_gusts(site, trim.airspeed, wind=vehicle.wind)
    state = body.hanging(trim.state(height=release.height, heading=0.0))
    glide = np.array([state[7], state[9], trim.pitch, *_payload_pitch(state)])
    calm = in_still_air(body.motion)
    slopes: FloatArray = settling_slopes(calm, release.height, glide, len(state))
    swings = len(state) == 20
    matrices = {item.name: item.properties.matrix for item in vehicle.items}
    zero = np.zeros((6, 6))
    return EnsembleModel(
        motion=body.motion,
        gusts=gusts,
        turbulence=(site.turbulence.intensity, site.turbulence.deviation) if site.turbulence else None,
        gust_turns=site.gust is not None and site.gust.needs_wind,
        n_states=len(state),
        nominal=nominal_inputs(vehicle, release),
        fixed_inputs=frozenset({"payload_mass", "left_trim", "right_trim", *FACTORS} - set(varied)),
        slopes=_slopes(vehicle, table, knots, varied),
        fixed=sum((m for name, m in matrices.items() if name not in ("lines", "payload")), zero),
        hung=zero if swings else matrices["payload"],
        lines=matrices["lines"],
        line_rows=np.array([name == "lines" for name in vehicle.bodies.name])[: len(body.motion.bodies)],
        quarter_chord=vehicle.canopy.quarter_chord,
        swing=vehicle.swing,
        payload_bottom=payload_bottom(vehicle.design),
        brakes=release.brakes,
        servo=servo_limits(vehicle.design),
        start=release.start,
        velocity=release.velocity,
        glide=glide,
        inverse=np.linalg.inv(slopes).astype(np.float64),
    )


CALM, NO_GUSTS = Wind.calm().law, Gusts.none()


def in_still_air(motion: Motion) -> Flight:
    """Flight of a motion without wind and gusts."""
    return Flight(motion=motion._replace(wind=CALM), gusts=NO_GUSTS)


def brake_knots(release: Release, varied: Collection[str]) -> FloatArray:
    """Knots that the brakes need: all, or zero alone where they are never pulled. [-]"""
    pulled = bool(release.brakes) or not {"left_trim", "right_trim"}.isdisjoint(varied)
    return BRAKE_KNOTS if pulled else BRAKE_KNOTS[:1]


def _payload_pitch(state: FloatArray) -> list[float]:
    return [2 * float(np.arctan2(state[15], state[13]))] if len(state) == 20 else []


def nominal_inputs(vehicle: Vehicle, release: Release) -> dict[str, float]:
    """Value of every input as the design has it. [SI]"""
    return {
        "release_north": 0.0,
        "release_east": 0.0,
        "release_height": release.height,
        "heading": release.heading,
        "wind_speed": vehicle.wind.speed,
        "wind_from": vehicle.wind.from_direction,
        "payload_mass": vehicle.design.payload.mass,
        "rigging_angle": vehicle.rigging.rigging_angle,
        "left_trim": 0.0,
        "right_trim": 0.0,
    } | {name: float(getattr(vehicle.model.factors, name)) for name in FACTORS}


def flat_table(table: AeroTable | LookUpTable) -> FloatArray:
    """Steady coefficients and rate derivatives in a row."""
    laid_out = table.for_look_up if isinstance(table, AeroTable) else table
    return np.concatenate([laid_out.steady.ravel(), laid_out.rates.ravel()])


def _slopes(vehicle: Vehicle, table: AeroTable, knots: FloatArray, varied: Collection[str]) -> Slopes:
    skin = [name for name in SKIN if name in varied]
    others = [name for name in ("payload_mass", *FACTORS) if name in varied and name not in SKIN]
    names = [*skin[:1], *(name for name in others if name != "line_drag_coefficient")]

    near_ground = replace(table, thinner=())

    def slope(name: str) -> FloatArray:
        change = (
            calibrated_table(vehicle.model, name, near_ground)
            if name in LINEAR
            else _secant(vehicle, name, knots, near_ground)
        )
        return flat_table(replace(change, thinner=(change,) * len(table.thinner)))

    def skin_drag(name: str) -> float:
        return skin_drag_by(name, vehicle.canopy, vehicle.model.factors, vehicle.reference)

    rows = [slope(name) for name in names]
    weights = dict(zip(names, np.eye(len(rows)), strict=True))
    for name in skin[1:]:
        weights[name] = weights[skin[0]] * (skin_drag(name) / skin_drag(skin[0]))
    return Slopes(tables=np.array(rows).reshape(len(rows), flat_table(table).size), weights=weights)


def _secant(vehicle: Vehicle, name: str, knots: FloatArray, table: AeroTable) -> AeroTable:
    """Change of a table by unit of an input, from its value to another, at angles that it flies at."""
    if name == "payload_mass":
        step = MASS_STEP * vehicle.design.payload.mass
        changed = _with_payload(vehicle, vehicle.design.payload.mass + step)
    else:
        factors = vehicle.model.factors
        value = float(getattr(factors, name))
        limits = next(limits for limits in build_ranges(vehicle.design) if limits.name == name)
        step = max(limits.high - value, limits.low - value, key=abs) or FACTOR_STEP
        changed = with_factors(vehicle, replace(factors, **{name: value + step}))
    flying = np.abs(ALPHA_KNOTS - FLYING_ALPHA) < FLYING_REACH
    moved_table = build_aero_table(changed.model, alpha=ALPHA_KNOTS[flying], brake=knots)
    change = replace(table, steady=np.zeros_like(table.steady), rates=np.zeros_like(table.rates))
    change.steady[flying] = (moved_table.steady - table.steady[flying]) / step
    change.rates[flying] = (moved_table.rates - table.rates[flying]) / step
    return change


def _with_payload(vehicle: Vehicle, mass: float) -> Vehicle:
    """The same design with another payload mass, assembled anew."""
    design = vehicle.design
    payload = design.payload.model_copy(update={"mass": mass})
    return assemble(design.model_copy(update={"payload": payload}), factors=vehicle.model.factors)


def member_constants(ensemble_model: EnsembleModel, mass: FloatArray, shift: FloatArray) -> np.ndarray:
    """Constants of each member's motion: records of `CONSTANTS`, shape (n,).

    Parameters
    ----------
    ensemble_model : EnsembleModel
        What they share.
    mass : ndarray, shape (n,)
        Of each payload. [kg]
    shift : ndarray, shape (n, 3)
        As `canopy_shift` has it. [m]
    """
    n = len(mass)
    constants = np.broadcast_to(np.array(ensemble_model.motion.constants), n).copy()
    mass_ratio = mass / ensemble_model.nominal["payload_mass"]
    constants["table_origin"] = shift
    for name in ("enclosed", "air"):
        constants[name] = moved(constants[name], shift)
    constants["solid"] = moved(np.broadcast_to(ensemble_model.fixed, (n, 6, 6)), shift)
    constants["solid"] += moved(np.broadcast_to(ensemble_model.lines, (n, 6, 6)), shift / 2)
    constants["solid"] += mass_ratio[:, None, None] * ensemble_model.hung
    solid = constants["solid"]
    constants["mass"] = solid[:, 0, 0]
    constants["first_moment"] = np.stack([solid[:, 5, 1], solid[:, 3, 2], solid[:, 4, 0]], axis=-1)
    # Masses that are none are reported by the flight, which has no number to begin with.
    possible = np.isfinite(solid).all(axis=(1, 2)) & (mass_ratio > 0)
    per_density = constants["enclosed"] + constants["air"]
    constants["modes"], constants["ratio"] = np.nan, np.nan
    modes, ratio = inertia_modes(solid[possible], per_density[possible])
    constants["modes"][possible], constants["ratio"][possible] = modes, ratio
    for name in ("payload_mass", "payload_inertia", "stiffness", "damping"):
        scale = mass_ratio.reshape((n,) + (1,) * (constants[name].ndim - 1))
        constants[name] = scale * constants[name]
    return constants


def canopy_shift(ensemble_model: EnsembleModel, angle: FloatArray) -> FloatArray:
    """How far the canopy stands from where the design has it, body axes, shape (n, 3). [m]

    The body axes stay those of the chord; turning the rigging swings the canopy about the confluence.
    """
    length = np.hypot(ensemble_model.quarter_chord[0], ensemble_model.quarter_chord[2])
    place = -length * np.stack([np.sin(angle), np.zeros_like(angle), np.cos(angle)], axis=-1)
    at = ensemble_model.nominal["rigging_angle"]
    return place + length * np.array([np.sin(at), 0.0, np.cos(at)])


def moved(matrix: FloatArray, shift: FloatArray) -> FloatArray:
    """Momentum by motion of what has been moved, shape (n, 6, 6), about the same point."""
    carry = np.broadcast_to(np.eye(6), matrix.shape).copy()
    carry[:, :3, 3:] = -np.array([skew(s) for s in shift])
    return carry.transpose(0, 2, 1) @ matrix @ carry


def input_of(nominal: Mapping[str, float], inputs: Mapping[str, FloatArray], name: str, n: int) -> FloatArray:
    """Values of an input, shape (n,): members' own, or the design's where it does not vary."""
    given = inputs.get(name)
    return np.full(n, nominal[name]) if given is None else np.asarray(given, dtype=np.float64)
