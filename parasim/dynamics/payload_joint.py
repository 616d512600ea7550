"""Nine degrees of freedom: the payload swings at the confluence.

Canopy and lines move as in `parasim.dynamics.rigid_body`; the payload is a second rigid body that shares the
confluence with them and has its own attitude, by the equations of `parasim.dynamics.motion_joint`. It swings
freely fore and aft; sideways it leans against the spread of the risers, and it twists against the lines, both
as springs on the relative angles. With stiff springs and no swing it is the rigid vehicle again.
"""

from dataclasses import dataclass
from functools import cached_property
from math import asin, atan2, cos, sin, sqrt

import numpy as np

from parasim.aerodynamics.drag import Bodies
from parasim.aerodynamics.table import AeroTable
from parasim.config.payload import JointSpec
from parasim.dynamics.motion import STILL, Motion
from parasim.dynamics.motion_joint import swinging_rates
from parasim.dynamics.rigid_body import RigidBody, build_rigid_body, point_of_body, rigid_parts
from parasim.dynamics.state import ATTITUDE, PAYLOAD_ATTITUDE, PAYLOAD_RATES, VELOCITY
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY, Atmosphere
from parasim.environment.wind import Wind
from parasim.mass.inventory import payload_center
from parasim.mass.properties import MassProperties, total
from parasim.rotations import FloatArray, quaternion_product, rotation_matrix, skew

ROLL_GIVE = 0.1
"""Lean at which one riser has taken all the load, where the design gives no stiffness. Our choice. [rad]"""


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
    payload_center : ndarray, shape (3,)
        From the confluence, payload axes. [m]
    payload_inertia : ndarray, shape (3, 3)
        About the confluence. [kg m²]
    payload_drag_area : float
        [m²]
    joint : Joint
        What holds it.
    """

    canopy: RigidBody
    payload_mass: float
    payload_center: FloatArray
    payload_inertia: FloatArray
    payload_drag_area: float
    joint: Joint

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
        return rest._replace(constants=constants[()])

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
        swinging_rates(self.motion, state, left, right, STILL, rates, np.empty((9, 10)))
        return rates

    def payload(self, state: FloatArray, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where a point of the payload is and how it moves; as `RigidBody.payload`."""
        return point_of_body(state, place, state[PAYLOAD_ATTITUDE], state[PAYLOAD_RATES])

    def hanging(self, state: FloatArray) -> FloatArray:
        """State of the rigid vehicle, shape (13,), with the payload hanging as its weight and drag want.

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
        swing = atan2(float(pull[0]), float(pull[2]))
        turn = np.array([cos(swing / 2), 0.0, sin(swing / 2), 0.0])
        return np.concatenate([state, quaternion_product(state[ATTITUDE], turn), np.zeros(3)])

    def energy(self, state: FloatArray) -> float:
        """Kinetic energy, that of the air moved along too, springs, and potential energy. [J]"""
        to_canopy = rotation_matrix(state[ATTITUDE])
        to_earth = rotation_matrix(state[PAYLOAD_ATTITUDE])
        rates = state[PAYLOAD_RATES]
        velocity = to_earth.T @ to_canopy @ state[VELOCITY]
        mass, center = self.payload_mass, self.payload_center
        kinetic = mass * velocity @ velocity + rates @ self.payload_inertia @ rates
        kinetic += 2 * mass * velocity @ (skew(rates) @ center)
        swing, twist, roll = relative_angles(to_earth.T @ to_canopy)
        joint = self.joint
        springs = joint.swing_stiffness * swing**2 + joint.twist_stiffness * twist**2
        springs += joint.roll_stiffness * roll**2
        height = -float(state[2]) - float(to_earth[2] @ center)
        return self.canopy.energy(state[:13]) + 0.5 * float(kinetic + springs) + mass * GRAVITY * height


def relative_angles(to_payload: FloatArray) -> tuple[float, float, float]:
    """Swing, twist and roll of the payload against the canopy.

    Parameters
    ----------
    to_payload : ndarray, shape (3, 3)
        Rotation from canopy to payload axes.

    Returns
    -------
    swing, twist, roll : float
        About the canopy's y axis, then z, then x. [rad]
    """
    return (
        atan2(-float(to_payload[0, 2]), float(to_payload[0, 0])),
        asin(max(-1.0, min(1.0, float(to_payload[0, 1])))),
        atan2(-float(to_payload[2, 1]), float(to_payload[1, 1])),
    )


def build_joint(vehicle: Vehicle, spec: JointSpec, payload: MassProperties) -> Joint:
    """Springs and dampers of a design.

    Left out, the roll stiffness is that with which one riser takes all the load at a lean of `ROLL_GIVE`,
    and the twist stiffness that of a load hung on two lines: W a b / h, a and b the half distances of the
    lines below and above, h how far apart upright: the textbook bifilar pendulum, from memory.
    """
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
    hanging = GRAVITY * float(payload.first_moment[2])
    return Joint(
        roll_stiffness=roll,
        twist_stiffness=twist,
        roll_damping=2 * spec.damping * sqrt((roll + hanging) * about_x),
        twist_damping=2 * spec.damping * sqrt(twist * about_z),
        swing_damping=2 * spec.damping * sqrt(hanging * about_y),
    )


def build_jointed_body(vehicle: Vehicle, spec: JointSpec, table: AeroTable | None = None) -> JointedBody:
    """Constants of a vehicle's motion with its payload hinged at the confluence."""
    payload = next(item.properties for item in vehicle.items if item.name == "payload")
    rest = total(item.properties for item in vehicle.items if item.name != "payload")
    bodies, drag_area = split_payload(vehicle.bodies)
    return JointedBody(
        canopy=rigid_parts(vehicle, rest, bodies, table or vehicle.table),
        payload_mass=payload.mass,
        payload_center=payload_center(vehicle.design),
        payload_inertia=payload.inertia,
        payload_drag_area=drag_area,
        joint=build_joint(vehicle, spec, payload),
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
    """Motion of a vehicle as its design has it: one rigid body, or with a joint where it names one."""
    joint = vehicle.design.payload.joint
    return build_jointed_body(vehicle, joint, table) if joint else build_rigid_body(vehicle, table)
