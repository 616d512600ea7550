"""Six degrees of freedom: canopy, lines and payload as one rigid body in moving air.

The motion is told at the confluence, in body axes. Momentum has three parts: of the solid parts and of the
enclosed air, which move with the vehicle, and of the apparent mass, which answers to motion through the air
(Kirchhoff's equations of a body in a fluid). Source: [LissamanBrown1993]

Of the apparent mass's moments, the one of steady motion (Munk's moment, v x Mv) is left out, because the
lattice's pitching and yawing moments already hold it: a thin plate's lift at the quarter chord is Munk's
moment about mid-chord. The velocity v in it is the canopy's own, turning included: that of the confluence
would count part of the moment twice in a turn or a swing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, atan2, sqrt

import numpy as np

from parasim.aerodynamics.drag import Bodies
from parasim.aerodynamics.model import AeroTable
from parasim.dynamics.inertia import Inertia, build_inertia
from parasim.dynamics.state import ATTITUDE, MOTION, POSITION, RATES, VELOCITY
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY, HIGHEST_HEIGHT, LOWEST_HEIGHT, Atmosphere
from parasim.environment.wind import Wind
from parasim.mass.properties import MassProperties
from parasim.rotations import FloatArray, cross, quaternion_rate, rotation_matrix, skew

NO_AIRSPEED = 1e-6
"""Airspeed below which the flow has no direction and no force. [m/s]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wrench:
    """Forces and moments about the confluence, body axes, shape (6,) each. [N], [N m]"""

    aerodynamic: FloatArray
    gravity: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Push:
    """What accelerates a vehicle, and what was worked out on the way.

    Attributes
    ----------
    to_earth : ndarray, shape (3, 3)
        Rotation from body to earth.
    earth_velocity, wind : ndarray, shape (3,)
        Of the confluence over the ground, earth axes; of the air there, body axes. [m/s]
    density : float
        Of the air. [kg/m³]
    wrench : ndarray, shape (6,)
        Force and moment about the confluence less what turning axes make of the momenta. [N], [N m]
    """

    to_earth: FloatArray
    earth_velocity: FloatArray
    wind: FloatArray
    density: float
    wrench: FloatArray


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RigidBody:
    """Constants of the motion, laid out for speed; build with `build_rigid_body`.

    Attributes
    ----------
    solid_matrix, enclosed_matrix, air_matrix : ndarray, shape (6, 6)
        Momentum by motion: solid parts; enclosed air and apparent mass per unit density.
    air_mass : tuple of float
        Apparent mass along x, y and z, per unit density. [m³]
    inertia : Inertia
        All three matrices, ready to invert at any density.
    weight_wrench : ndarray, shape (6, 3)
        Weight and its moment by the unit vector downwards, body axes. [N], [N m]
    mass : float
        [kg]
    table : AeroTable
        The canopy.
    reference : ndarray, shape (6,)
        Area, and area times length, of each coefficient. [m²], [m³]
    bodies : tuple of tuple
        Position, unit vector along and half drag area of each body. [m], [-], [m²]
    atmosphere, wind, ground_height
        The site. [m]
    """

    solid_matrix: FloatArray
    enclosed_matrix: FloatArray
    air_matrix: FloatArray
    air_mass: tuple[float, ...]
    inertia: Inertia
    weight_wrench: FloatArray
    mass: float
    table: AeroTable
    reference: FloatArray
    bodies: tuple[tuple[float, ...], ...]
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
        push = self.push(state, left, right)
        acceleration = self.inertia.solve(push.wrench, push.density)
        rate = quaternion_rate(state[ATTITUDE].tolist(), state[RATES].tolist())
        return np.concatenate([push.earth_velocity, rate, acceleration])

    def push(self, state: FloatArray, left: float, right: float) -> Push:
        """What accelerates the vehicle in a state, whatever its inertia; arguments as for `derivative`."""
        to_earth = rotation_matrix(state[ATTITUDE].tolist())
        motion = state[MOTION]
        earth_velocity = to_earth @ motion[:3]
        height = -float(state[2])
        # Held within the atmosphere's range: an integrator's trial step may leave it, and is then refused.
        altitude = min(max(self.ground_height + height, LOWEST_HEIGHT), HIGHEST_HEIGHT)
        density = self.atmosphere.density(altitude)
        wind, wind_rate = self._wind(to_earth, height, -float(earth_velocity[2]), motion[3:].tolist())
        air_motion = motion.copy()
        air_motion[:3] -= wind
        wrench = self.wrench(to_earth, air_motion, density, left, right)
        carried = self._carried(motion, air_motion, density)
        # The apparent mass accelerates against the air, which itself changes as the body turns and sinks.
        air_change = density * (self.air_matrix[:, :3] @ wind_rate)
        return Push(
            to_earth=to_earth,
            earth_velocity=earth_velocity,
            wind=wind,
            density=density,
            wrench=wrench.aerodynamic + wrench.gravity - carried + air_change,
        )

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
        aerodynamic = self._canopy(air_motion, density, left, right) + density * self._bodies(air_motion)
        return Wrench(aerodynamic=aerodynamic, gravity=self.weight_wrench @ to_earth[2])

    def _canopy(self, air_motion: FloatArray, density: float, left: float, right: float) -> FloatArray:
        u, v, w, p, q, r = air_motion.tolist()
        airspeed = sqrt(u * u + v * v + w * w)
        if airspeed < NO_AIRSPEED:
            return np.zeros(6)
        table = self.table
        alpha, beta = atan2(w, u), asin(max(-1.0, min(1.0, v / airspeed)))
        steady, rates = table.look_up(alpha, beta, left, right)
        half_b, half_c = table.span / 2, table.chord / 2
        coefficients = airspeed * steady + rates @ np.array([p * half_b, q * half_c, r * half_b])
        return (0.5 * density * airspeed) * self.reference * coefficients

    def _bodies(self, air_motion: FloatArray) -> FloatArray:
        """Wrench on lines and payload per unit density."""
        u, v, w, p, q, r = air_motion.tolist()
        X = Y = Z = L = M = N = 0.0
        for x, y, z, ex, ey, ez, half_drag_area in self.bodies:
            du, dv, dw = u + q * z - r * y, v + r * x - p * z, w + p * y - q * x
            along = du * ex + dv * ey + dw * ez
            du, dv, dw = du - along * ex, dv - along * ey, dw - along * ez
            drag = -half_drag_area * sqrt(du * du + dv * dv + dw * dw)
            fx, fy, fz = drag * du, drag * dv, drag * dw
            X, Y, Z = X + fx, Y + fy, Z + fz
            L, M, N = L + y * fz - z * fy, M + z * fx - x * fz, N + x * fy - y * fx
        return np.array([X, Y, Z, L, M, N])

    def _carried(self, motion: FloatArray, air_motion: FloatArray, density: float) -> FloatArray:
        """What turning, moving axes make of the momenta, (w x p, w x h + v x p), without Munk's moment."""
        solid = (self.moving_matrix(density) @ motion).tolist()
        per_density = (self.air_matrix @ air_motion).tolist()
        air = [density * each for each in per_density]
        # How much faster the confluence moves than the canopy, whose own v x p is Munk's moment.
        u, v, w = air_motion[:3].tolist()
        m11, m22, m33 = self.air_mass
        lead = (u - per_density[0] / m11, v - per_density[1] / m22, w - per_density[2] / m33)
        *velocity, p, q, r = motion.tolist()
        omega = (p, q, r)
        momentum = [a + b for a, b in zip(solid, air, strict=True)]
        x0, x1, x2 = _cross(omega, momentum[:3])
        l0, l1, l2 = _cross(omega, momentum[3:])
        m0, m1, m2 = _cross(velocity, solid[:3])
        n0, n1, n2 = _cross(lead, air[:3])
        return np.array([x0, x1, x2, l0 + m0 + n0, l1 + m1 + n1, l2 + m2 + n2])

    def moving_matrix(self, density: float) -> FloatArray:
        """Momentum by motion of all that moves with the vehicle whatever the wind, shape (6, 6)."""
        return self.solid_matrix + density * self.enclosed_matrix

    def _wind(
        self, to_earth: FloatArray, height: float, climb: float, omega: list[float]
    ) -> tuple[FloatArray, FloatArray]:
        """Wind, and its rate of change as seen on board, body axes. [m/s], [m/s²]"""
        north, east = self.wind.velocity(height)
        north_rise, east_rise = self.wind.gradient(height)
        over_ground = np.array([[north, east], [north_rise * climb, east_rise * climb]])
        wind, shear = over_ground @ to_earth[:2]
        return wind, shear - np.array(_cross(omega, wind.tolist()))

    def energy(self, state: FloatArray) -> float:
        """Kinetic energy, that of the air moved along too, and potential energy above ground. [J]"""
        to_earth = rotation_matrix(state[ATTITUDE])
        motion = state[MOTION]
        height = -float(state[2])
        density = self.atmosphere.density(self.ground_height + height)
        air_motion = motion.copy()
        air_motion[:3] -= self._wind(to_earth, height, 0.0, motion[3:].tolist())[0]
        kinetic = motion @ self.moving_matrix(density) @ motion
        kinetic += density * air_motion @ self.air_matrix @ air_motion
        first_moment = self.solid_matrix[:3, 3:][[1, 2, 0], [2, 0, 1]]
        center_height = self.mass * height - float(to_earth[2] @ first_moment)
        return float(0.5 * kinetic + GRAVITY * center_height)


def _cross(a: Sequence[float], b: Sequence[float]) -> tuple[float, float, float]:
    a0, a1, a2 = a
    b0, b1, b2 = b
    return a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0


def build_rigid_body(vehicle: Vehicle, table: AeroTable | None = None) -> RigidBody:
    """Constants of a vehicle's motion; `table` instead of the vehicle's whole one where less will do."""
    return rigid_parts(vehicle, vehicle.solid, vehicle.bodies, table or vehicle.table)


def rigid_parts(vehicle: Vehicle, solid: MassProperties, bodies: Bodies, table: AeroTable) -> RigidBody:
    """Constants of motion of the canopy with some of the vehicle's masses and bluff pieces."""
    return RigidBody(
        solid_matrix=solid.matrix,
        enclosed_matrix=vehicle.enclosed_matrix,
        air_matrix=vehicle.air_matrix,
        air_mass=tuple(np.diag(vehicle.air_matrix)[:3].tolist()),
        inertia=build_inertia(solid.matrix, vehicle.enclosed_matrix + vehicle.air_matrix),
        weight_wrench=GRAVITY * np.vstack([solid.mass * np.eye(3), skew(solid.first_moment)]),
        mass=solid.mass,
        table=table,
        reference=table.area * np.array([1, 1, 1, table.span, table.chord, table.span]),
        bodies=tuple(
            (*position.tolist(), *direction.tolist(), float(drag_area) / 2)
            for position, direction, drag_area in zip(
                bodies.position, bodies.direction, bodies.drag_area, strict=True
            )
        ),
        atmosphere=vehicle.atmosphere,
        wind=vehicle.wind,
        ground_height=vehicle.ground_height,
    )
