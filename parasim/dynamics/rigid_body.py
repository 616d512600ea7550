"""Six degrees of freedom: canopy, lines and payload as one rigid body in moving air.

The motion is that of the confluence, in body axes, by the equations of `parasim.dynamics.motion`.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from parasim.aerodynamics.drag import Bodies
from parasim.aerodynamics.table import AeroTable
from parasim.dynamics.inertia import inertia_modes
from parasim.dynamics.motion import CONSTANTS, STILL, Motion, rigid_rates
from parasim.dynamics.reach import minimum_drag_area, terminal_speed
from parasim.dynamics.state import ATTITUDE, MOTION, POSITION, RATES, VELOCITY
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY, Atmosphere
from parasim.environment.wind import Wind
from parasim.mass.inventory import payload_center
from parasim.mass.properties import MassProperties
from parasim.rotations import FloatArray, cross, rotation_matrix


def point_of_body(
    state: FloatArray, place: FloatArray, attitude: FloatArray, rates: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Position and velocity over the ground, shape (3, ...), of a point that turns with an attitude.

    Parameters
    ----------
    state : ndarray, shape (n_states, ...)
        For the confluence.
    place : ndarray, shape (3,)
        Of the point, from the confluence, in the axes of `attitude`. [m]
    attitude, rates : ndarray, shape (4, ...), (3, ...)
        Of the body that the point belongs to. [-], [rad/s]
    """
    arm = place.reshape((3,) + (1,) * (state.ndim - 1))
    to_earth, canopy_to_earth = rotation_matrix(attitude), rotation_matrix(state[ATTITUDE])
    swing = cross(rates, np.broadcast_to(arm, rates.shape))
    position = state[POSITION] + np.einsum("ij...,j...->i...", to_earth, np.broadcast_to(arm, rates.shape))
    velocity = np.einsum("ij...,j...->i...", canopy_to_earth, state[VELOCITY])
    return position, velocity + np.einsum("ij...,j...->i...", to_earth, swing)


@dataclass(frozen=True, kw_only=True, eq=False)
class RigidBody:
    """What flies as one piece; build with `build_rigid_body`.

    Attributes
    ----------
    solid : MassProperties
        All that has weight, about the confluence.
    enclosed_matrix, air_matrix : ndarray, shape (6, 6)
        Momentum by motion, of the enclosed air and the apparent mass, per unit density.
    table : AeroTable
        The canopy.
    bodies : ndarray, shape (n, 7)
        Position, unit vector along and half drag area of each bluff piece. [m], [-], [m²]
    atmosphere, wind, ground_height
        The site. [m]
    terminal_speed : float
        Of the whole vehicle with the minimum drag of any attitude; zero if not given. [m/s]
    payload_mass, payload_drag_area : float
        Of the payload on its pole; zero if it is not among what is rigid. [kg], [m²]
    payload_center : ndarray, shape (3,)
        Its centre of mass from the confluence. [m]
    """

    solid: MassProperties
    enclosed_matrix: FloatArray
    air_matrix: FloatArray
    table: AeroTable
    bodies: FloatArray
    atmosphere: Atmosphere
    wind: Wind
    ground_height: float
    terminal_speed: float = 0.0
    payload_mass: float = 0.0
    payload_drag_area: float = 0.0
    payload_center: FloatArray = field(default_factory=lambda: np.zeros(3))

    @cached_property
    def motion(self) -> Motion:
        """Constants of its motion, as the equations want them."""
        own = np.diag(self.air_matrix)[:3]
        per_density = self.enclosed_matrix + self.air_matrix
        constants = np.zeros((), CONSTANTS)
        constants["solid"] = self.solid.matrix
        constants["enclosed"] = self.enclosed_matrix
        constants["air"] = self.air_matrix
        constants["air_mass"] = np.where(own > 0, own, 1.0)
        constants["modes"], constants["ratio"] = inertia_modes(self.solid.matrix, per_density)
        constants["mass"], constants["first_moment"] = self.solid.mass, self.solid.first_moment
        constants["ground_height"] = self.ground_height
        constants["temperature_offset"] = self.atmosphere.temperature_offset
        constants["sea_level_pressure"] = self.atmosphere.sea_level_pressure
        constants["terminal_speed"] = self.terminal_speed
        constants["payload_mass"] = self.payload_mass
        constants["payload_center"] = self.payload_center
        constants["payload_drag_area"] = self.payload_drag_area
        return Motion(
            constants=constants[()], table=self.table.for_look_up, bodies=self.bodies, wind=self.wind.law
        )

    def derivative(self, state: FloatArray, left: float, right: float) -> FloatArray:
        """Rate of change of the state, without gusts.

        Parameters
        ----------
        state : ndarray, shape (13,)
            In the slots of `parasim.dynamics.state`.
        left, right : float
            Brakes, fractions of full travel. [-]

        Returns
        -------
        ndarray, shape (13,)
            Per second.
        """
        rates = np.empty(13)
        rigid_rates(self.motion, state, left, right, STILL, rates)
        return rates

    @property
    def mass(self) -> float:
        """All that has weight. [kg]"""
        return self.solid.mass

    def hanging(self, state: FloatArray) -> FloatArray:
        """State of the rigid vehicle, shape (13,): itself."""
        return state

    def payload(self, state: FloatArray, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where a point of the payload is and how it moves.

        Parameters
        ----------
        state : ndarray, shape (n_states,) or (n_states, n)
            One or many.
        place : ndarray, shape (3,)
            Of the point, from the confluence, payload axes. [m]

        Returns
        -------
        position, velocity : ndarray, shape (3,) or (3, n)
            North, east, down; over the ground. [m], [m/s]
        """
        return point_of_body(state, place, state[ATTITUDE], state[RATES])

    def energy(self, state: FloatArray) -> float:
        """Kinetic energy, that of the air moved along too, and potential energy above ground. [J]"""
        to_earth = rotation_matrix(state[ATTITUDE])
        motion = state[MOTION]
        height = -float(state[2])
        density = self.atmosphere.density(self.ground_height + height)
        air_motion = motion.copy()
        air_motion[:3] -= np.array([*self.wind.velocity(height), 0.0]) @ to_earth
        kinetic = motion @ (self.solid.matrix + density * self.enclosed_matrix) @ motion
        kinetic += density * air_motion @ self.air_matrix @ air_motion
        center_height = self.mass * height - float(to_earth[2] @ self.solid.first_moment)
        return float(0.5 * kinetic + GRAVITY * center_height)


def build_rigid_body(vehicle: Vehicle, table: AeroTable | None = None) -> RigidBody:
    """Constants of a vehicle's motion; `table` instead of the vehicle's whole one where less will do."""
    payload = vehicle.design.payload
    return replace(
        rigid_parts(vehicle, vehicle.solid, vehicle.bodies, table or vehicle.model.table),
        payload_mass=payload.mass,
        payload_drag_area=payload.drag_area_or_default,
        payload_center=payload_center(vehicle.design),
    )


def rigid_parts(vehicle: Vehicle, solid: MassProperties, bodies: Bodies, table: AeroTable) -> RigidBody:
    """Constants of motion of the canopy with some of the vehicle's masses and bluff pieces."""
    payload = vehicle.design.payload.drag_area_or_default
    density = vehicle.atmosphere.density(vehicle.ground_height)
    return RigidBody(
        solid=solid,
        enclosed_matrix=vehicle.enclosed_matrix,
        air_matrix=vehicle.air_matrix,
        table=table,
        bodies=np.column_stack([bodies.position, bodies.direction, bodies.drag_area / 2]),
        atmosphere=vehicle.atmosphere,
        wind=vehicle.wind,
        ground_height=vehicle.ground_height,
        terminal_speed=terminal_speed(vehicle.weight, minimum_drag_area(table, payload), density),
    )
