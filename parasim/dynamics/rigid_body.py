"""Six degrees of freedom: canopy, lines and payload as one rigid body in moving air.

The motion is told at the confluence, in body axes. Momentum has three parts: of the solid parts and of the
enclosed air, which move with the vehicle, and of the apparent mass, which answers to motion through the air
(Kirchhoff's equations of a body in a fluid). Source: [LissamanBrown1993]

Of the apparent mass's moments, the one of steady translation (Munk's moment, v x Mv) is left out, because
the lattice's pitching and yawing moments already hold it: a thin plate's lift at the quarter chord is
Munk's moment about mid-chord.
"""

from dataclasses import dataclass
from math import asin, atan2, sqrt

import numpy as np

from parasim.aerodynamics.model import AeroTable
from parasim.dynamics.state import ATTITUDE, MOTION
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY, Atmosphere
from parasim.environment.wind import Wind
from parasim.rotations import FloatArray, quaternion_rate, rotation_matrix, skew

NO_AIRSPEED = 1e-6
"""Airspeed below which the flow has no direction and no force. [m/s]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wrench:
    """Forces and moments about the confluence, body axes, shape (6,) each. [N], [N m]"""

    aerodynamic: FloatArray
    gravity: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RigidBody:
    """Constants of the motion, laid out for speed; build with `build_rigid_body`.

    Attributes
    ----------
    solid_matrix, enclosed_matrix, air_matrix : ndarray, shape (6, 6)
        Momentum by motion: solid parts; enclosed air and apparent mass per unit density.
    first_moment : ndarray, shape (3,)
        Mass times centre of the solid parts. [kg m]
    mass : float
        [kg]
    table : AeroTable
        The canopy.
    body_motion : ndarray, shape (3 n_bodies, 6)
        Velocity of each body by motion; transposed, wrench by the bodies' forces.
    body_drag_area, body_direction : ndarray, shapes (n_bodies,), (n_bodies, 3)
        As in `Bodies`.
    atmosphere, wind, ground_height
        The site. [m]
    """

    solid_matrix: FloatArray
    enclosed_matrix: FloatArray
    air_matrix: FloatArray
    first_moment: FloatArray
    mass: float
    table: AeroTable
    body_motion: FloatArray
    body_drag_area: FloatArray
    body_direction: FloatArray
    atmosphere: Atmosphere
    wind: Wind
    ground_height: float

    def derivative(self, state: FloatArray, left: float, right: float) -> FloatArray:
        """Rate of change of the state.

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
        q = state[ATTITUDE]
        to_earth = rotation_matrix(q / sqrt(q @ q))
        motion = state[MOTION]
        omega = motion[3:]
        earth_velocity = to_earth @ motion[:3]
        height = -float(state[2])
        density = self.atmosphere.density(self.ground_height + height)
        wind, wind_rate = self._wind(to_earth, height, -float(earth_velocity[2]), omega)
        air_motion = motion.copy()
        air_motion[:3] -= wind
        wrench = self.wrench(to_earth, air_motion, density, left, right)
        moving_matrix = self.solid_matrix + density * self.enclosed_matrix
        air_matrix = density * self.air_matrix
        carried = _carried(motion, moving_matrix @ motion)
        air_carried = _carried(air_motion, air_matrix @ air_motion)
        air_carried[3:] -= _cross(air_motion[:3], air_matrix[:3, :3] @ air_motion[:3])
        # The apparent mass accelerates against the air, which itself changes as the body turns and sinks.
        air_carried -= air_matrix[:, :3] @ wind_rate
        acceleration = np.linalg.solve(
            moving_matrix + air_matrix, wrench.aerodynamic + wrench.gravity - carried - air_carried
        )
        return np.concatenate([earth_velocity, quaternion_rate(q, omega), acceleration])

    def wrench(
        self, to_earth: FloatArray, air_motion: FloatArray, density: float, left: float, right: float
    ) -> Wrench:
        """Forces on the vehicle.

        Parameters
        ----------
        to_earth : ndarray, shape (3, 3)
            Rotation from body to earth.
        air_motion : ndarray, shape (6,)
            Velocity of the confluence through the air, and body rates. [m/s], [rad/s]
        density : float
            Of the air. [kg/m³]
        left, right : float
            Brakes, fractions of full travel. [-]
        """
        weight = self.mass * GRAVITY * to_earth[2]
        moment = self.first_moment * GRAVITY
        gravity = np.concatenate([weight, _cross(moment, to_earth[2])])
        return Wrench(aerodynamic=self._aerodynamic(air_motion, density, left, right), gravity=gravity)

    def _aerodynamic(self, air_motion: FloatArray, density: float, left: float, right: float) -> FloatArray:
        u, v, w, p, q, r = air_motion.tolist()
        airspeed = sqrt(u * u + v * v + w * w)
        if airspeed < NO_AIRSPEED:
            return np.zeros(6)
        table = self.table
        alpha, beta = atan2(w, u), asin(max(-1.0, min(1.0, v / airspeed)))
        steady, rates = table.look_up(alpha, beta, left, right)
        half_b, half_c = table.span / 2, table.chord / 2
        coefficients = airspeed * steady + rates @ np.array([p * half_b, q * half_c, r * half_b])
        scale = 0.5 * density * airspeed * table.area
        b, c = scale * table.span, scale * table.chord
        canopy = coefficients * np.array([scale, scale, scale, b, c, b])
        return canopy + density * self._bodies(air_motion)

    def _bodies(self, air_motion: FloatArray) -> FloatArray:
        """Wrench on lines and payload per unit density."""
        velocity = (self.body_motion @ air_motion).reshape(-1, 3)
        along = np.einsum("nk,nk->n", velocity, self.body_direction)
        across = velocity - along[:, None] * self.body_direction
        speed = np.sqrt(np.einsum("nk,nk->n", across, across))
        force = (-0.5 * self.body_drag_area * speed)[:, None] * across
        return self.body_motion.T @ force.ravel()

    def _wind(
        self, to_earth: FloatArray, height: float, climb: float, omega: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Wind, and its rate of change as seen on board, body axes. [m/s], [m/s²]"""
        north, east = self.wind.velocity(height)
        wind = to_earth[0] * north + to_earth[1] * east
        north_rise, east_rise = self.wind.gradient(height)
        shear = (to_earth[0] * north_rise + to_earth[1] * east_rise) * climb
        return wind, shear - _cross(omega, wind)

    def energy(self, state: FloatArray) -> float:
        """Kinetic energy, of the air that moves with the vehicle too, and potential energy above ground. [J]"""
        to_earth = rotation_matrix(state[ATTITUDE])
        motion = state[MOTION]
        height = -float(state[2])
        density = self.atmosphere.density(self.ground_height + height)
        air_motion = motion.copy()
        air_motion[:3] -= self._wind(to_earth, height, 0.0, motion[3:])[0]
        kinetic = motion @ (self.solid_matrix + density * self.enclosed_matrix) @ motion
        kinetic += density * air_motion @ self.air_matrix @ air_motion
        center_height = self.mass * height - float(to_earth[2] @ self.first_moment)
        return float(0.5 * kinetic + GRAVITY * center_height)


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    a0, a1, a2 = a.tolist()
    b0, b1, b2 = b.tolist()
    return np.array([a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0])


def _carried(motion: FloatArray, momentum: FloatArray) -> FloatArray:
    """What turning and moving axes make of a momentum: (w x p, w x h + v x p)."""
    v, w, p, h = motion[:3], motion[3:], momentum[:3], momentum[3:]
    return np.concatenate([_cross(w, p), _cross(w, h) + _cross(v, p)])


def build_rigid_body(vehicle: Vehicle, table: AeroTable | None = None) -> RigidBody:
    """Constants of a vehicle's motion; `table` instead of the vehicle's whole one where less will do."""
    bodies = vehicle.bodies
    motion = [np.hstack([np.eye(3), -skew(position)]) for position in bodies.position]
    return RigidBody(
        solid_matrix=vehicle.solid.matrix,
        enclosed_matrix=vehicle.enclosed_matrix,
        air_matrix=vehicle.air_matrix,
        first_moment=vehicle.solid.first_moment,
        mass=vehicle.mass,
        table=table or vehicle.table,
        body_motion=np.vstack(motion),
        body_drag_area=bodies.drag_area,
        body_direction=bodies.direction,
        atmosphere=vehicle.atmosphere,
        wind=vehicle.wind,
        ground_height=vehicle.ground_height,
    )
