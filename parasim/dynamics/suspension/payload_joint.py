"""Nine degrees of freedom: the payload swings below the lines.

Canopy and lines move as in `parasim.dynamics.rigid_body`; the payload is a second rigid body that hangs on
them and has its own attitude, by the equations of `parasim.dynamics.suspension.motion_joint`. Below one riser
a side it swings freely fore and aft; front and rear hooks lead it on a path. Sideways it leans against the
spread of the risers, and it twists against the lines, both as springs. With stiff springs it is the rigid
vehicle.
"""

from dataclasses import dataclass
from functools import cached_property
from math import asin, atan2, cos, sin, sqrt

import numpy as np

from parasim.aerodynamics.drag import Bodies
from parasim.aerodynamics.table import AeroTable
from parasim.config.design import Design
from parasim.dynamics.motion import STILL, Motion
from parasim.dynamics.rigid_body import RigidBody, build_rigid_body, point_of_body, rigid_parts
from parasim.dynamics.state import ATTITUDE, PAYLOAD_ATTITUDE, PAYLOAD_RATES, RATES, VELOCITY
from parasim.dynamics.suspension.motion_joint import swinging_rates
from parasim.dynamics.suspension.swing import Swing
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY, Atmosphere
from parasim.environment.wind import Wind
from parasim.mass.inventory import payload_center
from parasim.mass.properties import MassProperties, of_box, of_points, total
from parasim.rotations import FloatArray, cross, quaternion_product, rotation_matrix

ROLL_GIVE = 0.1
"""Lean at which one riser has taken all the load, where the design gives no stiffness. Our choice. [rad]"""

NOMINAL_PULL = 0.05
"""Angle of the pull against the canopy's upright at which the swing's damping is set. Our choice. [rad]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Springs and dampers between canopy and payload.

    Attributes
    ----------
    roll_stiffness, twist_stiffness, swing_stiffness : float
        Torque by relative angle about the payload's x axis, the lines, and the canopy's y axis. [N m/rad]
    roll_damping, twist_damping, swing_damping : float
        Torque by relative rate. [N m s/rad]
    """

    roll_stiffness: float
    twist_stiffness: float
    roll_damping: float
    twist_damping: float
    swing_damping: float
    swing_stiffness: float = 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class JointedBody:
    """Constants of the motion of canopy and payload; build with `build_jointed_body`.

    Attributes
    ----------
    canopy : RigidBody
        All but the payload.
    payload_mass : float
        [kg]
    payload_inertia : ndarray, shape (3, 3)
        About its centre of mass. [kg m²]
    payload_drag_area : float
        [m²]
    swing : Swing
        Where it hangs, by its pitch.
    joint : Joint
        What holds it.
    """

    canopy: RigidBody
    payload_mass: float
    payload_inertia: FloatArray
    payload_drag_area: float
    swing: Swing
    joint: Joint

    @property
    def payload_center(self) -> FloatArray:
        """From the point it hangs by, payload axes, shape (3,). [m]"""
        return self.swing.center

    @property
    def wind(self) -> Wind:
        """Wind it flies in."""
        return self.canopy.wind

    @property
    def atmosphere(self) -> Atmosphere:
        """Air it flies in."""
        return self.canopy.atmosphere

    @property
    def mass(self) -> float:
        """All that has weight. [kg]"""
        return self.canopy.mass + self.payload_mass

    @cached_property
    def motion(self) -> Motion:
        """Constants of its motion, as the equations want them."""
        joint, rest = self.joint, self.canopy.motion
        constants = np.array(rest.constants)
        constants["payload_mass"] = self.payload_mass
        constants["payload_center"] = self.payload_center
        constants["payload_inertia"] = self.payload_inertia
        constants["payload_drag_area"] = self.payload_drag_area
        constants["stiffness"] = joint.swing_stiffness, joint.twist_stiffness, joint.roll_stiffness
        constants["damping"] = joint.swing_damping, joint.twist_damping, joint.roll_damping
        constants["path_start"], constants["path_step"], constants["path"] = self.swing.pieces
        return rest._replace(constants=constants[()], swings=True)

    def derivative(self, state: FloatArray, left: float, right: float) -> FloatArray:
        """Rate of change of the state, without gusts.

        Parameters
        ----------
        state : ndarray, shape (20,)
            In the slots of `parasim.dynamics.state`.
        left, right : float
            Brakes, fractions of full travel. [-]

        Returns
        -------
        ndarray, shape (20,)
            Per second.
        """
        rates = np.empty(20)
        swinging_rates(self.motion, state, left, right, STILL, rates)
        return rates

    def payload(self, state: FloatArray, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where a point of the payload is and how it moves; as `RigidBody.payload`."""
        return point_of_payload(state, place, self.swing)

    def hanging(self, state: FloatArray) -> FloatArray:
        """State of the rigid vehicle, shape (13,), with the payload hanging as its weight and drag pull it.

        In the canopy's plane of symmetry, as it would in steady flight.
        """
        to_earth = rotation_matrix(state[ATTITUDE])
        height = -float(state[2])
        density = self.atmosphere.density(self.canopy.ground_height + height)
        wind = np.array([*self.wind.velocity(height), 0.0])
        through_air = state[VELOCITY] - to_earth.T @ wind
        speed = float(np.linalg.norm(through_air))
        pull = self.payload_mass * GRAVITY * to_earth[2]
        pull = pull - 0.5 * density * self.payload_drag_area * speed * through_air
        return self.with_swing(state, float(self.swing.hanging(pull[[0, 2]])))

    def with_swing(self, state: FloatArray, swing: float) -> FloatArray:
        """State with the payload at a pitch against the canopy [rad], turning with it.

        Parameters
        ----------
        state : ndarray, shape (13,)
            Of the rigid vehicle.
        swing : float
            Nose-up positive. [rad]
        """
        turn = np.array([cos(swing / 2), 0.0, sin(swing / 2), 0.0])
        to_canopy = rotation_matrix(turn)
        return np.concatenate([state, quaternion_product(state[ATTITUDE], turn), to_canopy.T @ state[RATES]])

    def energy(self, state: FloatArray) -> float:
        """Kinetic energy, that of the air moved along too, springs, and potential energy. [J]"""
        to_canopy = rotation_matrix(state[ATTITUDE])
        to_earth = rotation_matrix(state[PAYLOAD_ATTITUDE])
        rates = state[PAYLOAD_RATES]
        position, velocity = self.payload(state, self.payload_center)
        kinetic = self.payload_mass * velocity @ velocity + rates @ self.payload_inertia @ rates
        swing, twist, lean = relative_angles(to_earth.T @ to_canopy)
        joint = self.joint
        springs = joint.swing_stiffness * swing**2 + joint.twist_stiffness * 2 * (1 - cos(twist))
        springs += joint.roll_stiffness * sin(lean) ** 2
        potential = -self.payload_mass * GRAVITY * float(position[2])
        return self.canopy.energy(state[:13]) + 0.5 * float(kinetic + springs) + potential


def point_of_payload(state: FloatArray, place: FloatArray, swing: Swing) -> tuple[FloatArray, FloatArray]:
    """Position and velocity over the ground, shape (3, ...), of a point of a swinging payload.

    Parameters
    ----------
    state : ndarray, shape (20, ...)
        One or many.
    place : ndarray, shape (3,)
        Of the point, from that by which the payload hangs, payload axes. [m]
    swing : Swing
        Where it hangs.
    """
    position, velocity = point_of_body(state, place, state[PAYLOAD_ATTITUDE], state[PAYLOAD_RATES])
    if swing.pitch is None:
        return position, velocity
    to_earth = rotation_matrix(state[ATTITUDE])
    payload_to_earth = rotation_matrix(state[PAYLOAD_ATTITUDE])
    upright = np.einsum("ji...,j...->i...", to_earth, payload_to_earth[:, 2])
    relative = np.einsum("ij...,j...->i...", payload_to_earth, state[PAYLOAD_RATES])
    relative = np.einsum("ji...,j...->i...", to_earth, relative) - state[RATES]
    change = cross(relative, upright)
    square = upright[0] ** 2 + upright[2] ** 2
    rate = (upright[2] * change[0] - upright[0] * change[2]) / square
    pitch = np.arctan2(upright[0], upright[2])
    hook, slope = (np.moveaxis(swing.hook(pitch, order), -1, 0) for order in (0, 1))
    still = np.zeros_like(pitch)
    at = np.stack([hook[0], still, hook[1]])
    moving = cross(state[RATES], at) + np.stack([slope[0] * rate, still, slope[1] * rate])
    return (
        position + np.einsum("ij...,j...->i...", to_earth, at),
        velocity + np.einsum("ij...,j...->i...", to_earth, moving),
    )


def relative_angles(to_payload: FloatArray) -> tuple[float, float, float]:
    """Swing, twist and lean of the payload against the canopy.

    Parameters
    ----------
    to_payload : ndarray, shape (3, 3)
        Rotation from canopy to payload axes.

    Returns
    -------
    swing, twist, lean : float
        Nose-up, nose to the right and right side down positive: of the payload's upright along the canopy's
        plane of symmetry, about the bisector of the two uprights, and of the upright out of that plane. [rad]
    """
    upright = to_payload[2]
    return (
        atan2(float(upright[0]), float(upright[2])),
        atan2(float(to_payload[0, 1] - to_payload[1, 0]), float(to_payload[0, 0] + to_payload[1, 1])),
        -asin(max(-1.0, min(1.0, float(upright[1])))),
    )


def build_joint(vehicle: Vehicle, swing: Swing) -> Joint:
    """Springs and dampers of a design.

    Left out, the roll stiffness is that with which one riser takes all the load at a lean of `ROLL_GIVE`,
    and the twist stiffness that of a load hung on two lines: W a b / h, a and b the half distances of the
    lines below and above, h how far apart upright: the textbook bifilar pendulum, from memory.
    """
    spec, payload = vehicle.design.payload.suspension, payload_box(vehicle.design)
    weight = payload.mass * GRAVITY
    half_spread = vehicle.design.lines.riser.spread / 2
    canopy = vehicle.canopy
    tab_angle = canopy.rib_angle[canopy.loaded_ribs]
    half_span = float(np.abs(canopy.arc_radius * np.sin(tab_angle)).mean())
    roll, twist = spec.roll_stiffness, spec.twist_stiffness
    if roll is None:
        roll = weight * half_spread / ROLL_GIVE
    if twist is None:
        drop = canopy.arc_radius * (1 - float(np.cos(tab_angle).mean()))
        twist = weight * half_spread * half_span / (vehicle.rigging.line_length - drop)
    about_x, about_y, about_z = np.diag(payload.inertia).tolist()
    below = weight * float(swing.center[2])
    return Joint(
        roll_stiffness=roll,
        twist_stiffness=twist,
        roll_damping=2 * spec.damping * sqrt(max(roll + below, 0.0) * about_x),
        twist_damping=2 * spec.damping * sqrt(twist * about_z),
        swing_damping=2 * spec.damping * sqrt(swing_stiffness(swing, weight) * about_y),
    )


def swing_stiffness(swing: Swing, weight: float) -> float:
    """Pitch stiffness of a payload hanging at rest, its own pendulum included. [N m/rad]"""
    pull = weight * np.array([sin(NOMINAL_PULL), cos(NOMINAL_PULL)])
    return max(-float(pull @ swing.arm(swing.hanging(pull), 2)), 0.0)


def payload_box(design: Design) -> MassProperties:
    """The payload about the point it hangs by, payload axes."""
    return of_box(design.payload.mass, payload_center(design), design.payload.size)


def build_jointed_body(vehicle: Vehicle, table: AeroTable | None = None) -> JointedBody:
    """Constants of a vehicle's motion with its payload hanging on its lines."""
    payload = payload_box(vehicle.design)
    swing = vehicle.swing
    rest = total(item.properties for item in vehicle.items if item.name != "payload")
    bodies, drag_area = split_payload(vehicle.bodies)
    point = of_points(np.array([payload.mass]), payload.center[None])
    return JointedBody(
        canopy=rigid_parts(vehicle, rest, bodies, table or vehicle.model.table),
        payload_mass=payload.mass,
        payload_inertia=payload.inertia - point.inertia,
        payload_drag_area=drag_area,
        swing=swing,
        joint=build_joint(vehicle, swing),
    )


def split_payload(bodies: Bodies) -> tuple[Bodies, float]:
    """Bodies without the payload, and the payload's drag area. [m²]"""
    is_payload = np.array([name == "payload" for name in bodies.name])
    rest = Bodies(
        name=tuple(name for name in bodies.name if name != "payload"),
        position=bodies.position[~is_payload],
        drag_area=bodies.drag_area[~is_payload],
        direction=bodies.direction[~is_payload],
    )
    return rest, float(bodies.drag_area[is_payload].sum())


def build_body(vehicle: Vehicle, table: AeroTable | None = None) -> RigidBody | JointedBody:
    """Motion of a vehicle as its payload hangs: on lines, or on a pole as one rigid body."""
    if vehicle.design.payload.suspension.stiff:
        return build_rigid_body(vehicle, table)
    return build_jointed_body(vehicle, table)
