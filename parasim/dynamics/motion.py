"""The equations of motion as compiled functions: the one definition that the single drop and thousands share.

Momentum has three parts: of the solid parts and of the enclosed air, which move with the vehicle, and of the
apparent mass, which answers to motion through the air (Kirchhoff's equations of a body in a fluid).
Source: [LissamanBrown1993]

Of the apparent mass's moments, the one of steady motion (Munk's moment, v x Mv) is left out, because the
lattice's pitching and yawing moments already hold it: a thin plate's lift at the quarter chord is Munk's
moment about mid-chord. The velocity v in it is the canopy's own, turning included: that of the confluence
would count part of the moment twice in a turn or a swing. It is the velocity that would give the air the same
momentum without turning: p over the apparent mass of each axis, for the chords of a canopy lie parallel and
the three axes do not couple. `parasim.dynamics.dissipation` sees to it that what is
left out and what is held together never feed the motion.

Vectors are tuples of floats here, so that nothing has to be allocated on the way.
"""

from collections.abc import Callable
from math import asin, atan2, inf, sqrt
from typing import Any, NamedTuple

import numpy as np

from parasim.aerodynamics.look_up import LookUpTable, Vec3, Vec6, look_up
from parasim.compiled import compiled, inlined
from parasim.dynamics.dissipation import dissipative, held_spin, munk_power
from parasim.dynamics.suspension.swing import PATH_PIECES
from parasim.environment.atmosphere import GRAVITY, HIGHEST_HEIGHT, LOWEST_HEIGHT, density_at
from parasim.environment.wind import WindLaw, mean_wind
from parasim.rotations import FloatArray, rotation_rows

NO_AIRSPEED = 1e-6
"""Airspeed below which the flow has no direction and no force. [m/s]"""

Matrix = tuple[Vec3, Vec3, Vec3]

Vec4 = tuple[float, float, float, float]
"""Velocity of the confluence through the air, body axes [m/s], and the pull of the lines on the payload along
the canopy's upright, negative where they would have to push [N]."""

NO_MOTION = (0.0, 0.0, 0.0)

STILL = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
"""No gust."""


_FIELDS = [
    # Momentum by motion about the confluence: of all that is rigid with the canopy; per unit density, of
    # the enclosed air and of the apparent mass.
    ("solid", "f8", (6, 6)),
    ("enclosed", "f8", (6, 6)),
    ("air", "f8", (6, 6)),
    ("air_mass", "f8", (3,)),  # apparent mass along x, y and z, uncoupled, per unit density [m³]
    ("modes", "f8", (6, 6)),  # of all three together, as `parasim.dynamics.inertia` has them
    ("ratio", "f8", (6,)),
    ("mass", "f8"),  # of the solid parts [kg]
    ("first_moment", "f8", (3,)),  # of the solid parts about the confluence [kg m]
    ("table_origin", "f8", (3,)),  # point that the table's moments are about, from the confluence [m]
    ("ground_height", "f8"),  # above sea level [m]
    ("temperature_offset", "f8"),  # from the standard atmosphere [K]
    ("sea_level_pressure", "f8"),  # [Pa]
    # The payload, whether it swings or is rigid with the canopy.
    ("payload_mass", "f8"),  # [kg]
    ("payload_center", "f8", (3,)),  # from the point it hangs by, its own axes [m]
    ("payload_inertia", "f8", (3, 3)),  # about its centre [kg m²]
    ("payload_drag_area", "f8"),  # [m²]
    ("stiffness", "f8", (3,)),  # torque by relative angle, of swing, twist and roll [N m/rad]
    ("damping", "f8", (3,)),  # torque by relative rate [N m s/rad]
    # Where the point it hangs by is in canopy axes, by its pitch: the cubics of
    # `parasim.dynamics.suspension.swing`.
    ("path_start", "f8"),  # [rad]
    ("path_step", "f8"),  # zero where it hangs at the confluence [rad]
    ("path", "f8", (PATH_PIECES, 2, 4)),  # [m]
    # What no flight can reach, from `parasim.dynamics.reach`.
    ("terminal_speed", "f8"),  # [m/s]
]


class _Record(np.void):  # type: ignore[misc]
    """A record of `CONSTANTS`, whose fields are attributes; not to be changed.

    numba asks a record for its bytes at every call. numpy's own describes all its fields first, which takes
    longer than the call.
    """

    __slots__ = ("data",)

    def __getattr__(self, name: str) -> Any:
        """A field, or the bytes of all, which then stay."""
        if name == "data":
            self.data = self.tobytes()  # type: ignore[misc, assignment]
            return self.data
        try:
            return self[name]
        except ValueError:
            raise AttributeError(name) from None


CONSTANTS = np.dtype((_Record, _FIELDS))
"""Constants of the motion of a rigid vehicle, or of a canopy that carries a swinging payload. A record, since
a compiled function is handed its place in memory instead of all its fields."""

Constants = Any
"""A record of `CONSTANTS`."""


class Motion(NamedTuple):
    """What a vehicle's motion goes by.

    Attributes
    ----------
    constants : record of `CONSTANTS`
        Masses and the site's air.
    table : LookUpTable
        The canopy.
    bodies : ndarray, shape (n, 7)
        Position, unit vector along and half drag area of each bluff piece. [m], [-], [m²]
    wind : WindLaw
        Mean wind over height.
    swings : bool or None
        True for a payload that swings; None where it is rigid with the canopy, a type of its own, so that
        what swings it is not even compiled.
    """

    constants: Constants
    table: LookUpTable
    bodies: FloatArray
    wind: WindLaw
    swings: bool | None = None


@inlined
def dot3(a: Vec3, b: Vec3) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@inlined
def cross3(a: Vec3, b: Vec3) -> Vec3:
    """Vector product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@inlined
def vector3(a: FloatArray) -> Vec3:
    """The three entries of an array."""
    return a[0], a[1], a[2]


@inlined
def add3(a: Vec3, b: Vec3) -> Vec3:
    """Sum of two vectors."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


@inlined
def sub3(a: Vec3, b: Vec3) -> Vec3:
    """The first vector less the second."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


@inlined
def scale3(k: float, a: Vec3) -> Vec3:
    """A vector times a number."""
    return k * a[0], k * a[1], k * a[2]


@inlined
def rotate3(m: Matrix, a: Vec3) -> Vec3:
    """A matrix times a vector."""
    return (
        m[0][0] * a[0] + m[0][1] * a[1] + m[0][2] * a[2],
        m[1][0] * a[0] + m[1][1] * a[1] + m[1][2] * a[2],
        m[2][0] * a[0] + m[2][1] * a[1] + m[2][2] * a[2],
    )


@inlined
def unrotate3(m: Matrix, a: Vec3) -> Vec3:
    """A matrix, transposed, times a vector."""
    return (
        m[0][0] * a[0] + m[1][0] * a[1] + m[2][0] * a[2],
        m[0][1] * a[0] + m[1][1] * a[1] + m[2][1] * a[2],
        m[0][2] * a[0] + m[1][2] * a[1] + m[2][2] * a[2],
    )


@inlined
def matvec6(m: FloatArray, a: Vec6) -> Vec6:
    """A matrix, shape (6, 6), times a vector."""
    u, v, w, p, q, r = a
    return (
        m[0, 0] * u + m[0, 1] * v + m[0, 2] * w + m[0, 3] * p + m[0, 4] * q + m[0, 5] * r,
        m[1, 0] * u + m[1, 1] * v + m[1, 2] * w + m[1, 3] * p + m[1, 4] * q + m[1, 5] * r,
        m[2, 0] * u + m[2, 1] * v + m[2, 2] * w + m[2, 3] * p + m[2, 4] * q + m[2, 5] * r,
        m[3, 0] * u + m[3, 1] * v + m[3, 2] * w + m[3, 3] * p + m[3, 4] * q + m[3, 5] * r,
        m[4, 0] * u + m[4, 1] * v + m[4, 2] * w + m[4, 3] * p + m[4, 4] * q + m[4, 5] * r,
        m[5, 0] * u + m[5, 1] * v + m[5, 2] * w + m[5, 3] * p + m[5, 4] * q + m[5, 5] * r,
    )


@inlined
def matvec6_t(m: FloatArray, a: Vec6) -> Vec6:
    """A matrix, shape (6, 6), transposed, times a vector."""
    return matvec6(m.T, a)


@inlined
def product6(a: Vec6, b: Vec6) -> Vec6:
    """Products of entries."""
    return a[0] * b[0], a[1] * b[1], a[2] * b[2], a[3] * b[3], a[4] * b[4], a[5] * b[5]


attitude_matrix: Callable[[float, float, float, float], Matrix] = inlined(rotation_rows)
"""Rotation from body to earth of a quaternion of any length."""


@inlined
def attitude_rate(qw: float, qx: float, qy: float, qz: float, rates: Vec3) -> Vec4:
    """Rate of change of a quaternion by the body's rates. [1/s]"""
    p, q, r = rates
    return (
        -0.5 * (qx * p + qy * q + qz * r),
        0.5 * (qw * p + qy * r - qz * q),
        0.5 * (qw * q + qz * p - qx * r),
        0.5 * (qw * r + qx * q - qy * p),
    )


@inlined
def canopy_wrench(
    table: LookUpTable,
    origin: Vec3,
    velocity: Vec3,
    rates: Vec3,
    density: float,
    left: float,
    right: float,
) -> tuple[Vec3, Vec3]:
    """Force and moment of the air on the canopy about the confluence, body axes.

    Parameters
    ----------
    table : LookUpTable
        The canopy's coefficients.
    origin : tuple of float
        Point that its moments are about, from the confluence. [m]
    velocity, rates : tuple of float
        Of the confluence through the air, and of the body. [m/s], [rad/s]
    density : float
        [kg/m³]
    left, right : float
        Brakes, fractions of full travel. [-]
    """
    u, v, w = add3(velocity, cross3(rates, origin))
    airspeed = sqrt(u * u + v * v + w * w)
    if airspeed < NO_AIRSPEED:
        return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    alpha, beta = atan2(w, u), asin(max(-1.0, min(1.0, v / airspeed)))
    half_b, half_c = table.span / 2, table.chord / 2
    spin = held_spin((rates[0] * half_b, rates[1] * half_c, rates[2] * half_b), airspeed)
    cx, cy, cz, cl, cm, cn = look_up(table, alpha, beta, left, right, airspeed, spin, density)
    force_scale = 0.5 * density * airspeed * table.area
    force = scale3(force_scale, (cx, cy, cz))
    moment = scale3(force_scale, (cl * table.span, cm * table.chord, cn * table.span))
    return force, add3(moment, cross3(origin, force))


@inlined
def bodies_wrench(bodies: FloatArray, velocity: Vec3, rates: Vec3) -> tuple[Vec3, Vec3]:
    """Force and moment on lines and payload per unit density, each in the flow at its own place."""
    u, v, w = velocity
    p, q, r = rates
    X = Y = Z = L = M = N = 0.0
    for i in range(len(bodies)):
        x, y, z = bodies[i, 0], bodies[i, 1], bodies[i, 2]
        ex, ey, ez = bodies[i, 3], bodies[i, 4], bodies[i, 5]
        du, dv, dw = u + q * z - r * y, v + r * x - p * z, w + p * y - q * x
        along = du * ex + dv * ey + dw * ez
        du, dv, dw = du - along * ex, dv - along * ey, dw - along * ez
        drag = -bodies[i, 6] * sqrt(du * du + dv * dv + dw * dw)
        fx, fy, fz = drag * du, drag * dv, drag * dw
        X, Y, Z = X + fx, Y + fy, Z + fz
        L, M, N = L + y * fz - z * fy, M + z * fx - x * fz, N + x * fy - y * fx
    return (X, Y, Z), (L, M, N)


@inlined
def withheld_power(constants: Constants, through_air: Vec3, rates: Vec3, density: float) -> float:
    """Power of Munk's moment, which `inertial_wrench` leaves out; arguments as there. [W]"""
    per_density = matvec6(constants.air, through_air + rates)
    own = (
        per_density[0] / constants.air_mass[0],
        per_density[1] / constants.air_mass[1],
        per_density[2] / constants.air_mass[2],
    )
    return density * munk_power(own, (per_density[0], per_density[1], per_density[2]), rates)


@inlined
def inertial_wrench(
    constants: Constants, velocity: Vec3, through_air: Vec3, rates: Vec3, density: float
) -> tuple[Vec3, Vec3]:
    """What turning, moving axes make of the momenta, (w x p, w x h + v x p), without Munk's moment.

    Parameters
    ----------
    constants : record of `CONSTANTS`
        Of the constants.
    velocity, through_air, rates : tuple of float
        Of the confluence over the ground and through the air, body axes; of the body. [m/s], [rad/s]
    density : float
        [kg/m³]
    """
    over_ground = velocity + rates
    s, e = matvec6(constants.solid, over_ground), matvec6(constants.enclosed, over_ground)
    per_density = matvec6(constants.air, through_air + rates)
    moving_p = (s[0] + density * e[0], s[1] + density * e[1], s[2] + density * e[2])
    moving_h = (s[3] + density * e[3], s[4] + density * e[4], s[5] + density * e[5])
    air_p = scale3(density, (per_density[0], per_density[1], per_density[2]))
    air_h = scale3(density, (per_density[3], per_density[4], per_density[5]))
    # How much faster the confluence moves than the canopy, whose own v x p is Munk's moment.
    lead = (
        through_air[0] - per_density[0] / constants.air_mass[0],
        through_air[1] - per_density[1] / constants.air_mass[1],
        through_air[2] - per_density[2] / constants.air_mass[2],
    )
    force = cross3(rates, add3(moving_p, air_p))
    moment = cross3(rates, add3(moving_h, air_h))
    return force, add3(moment, add3(cross3(velocity, moving_p), cross3(lead, air_p)))


@inlined
def net_wrench(
    motion: Motion, y: FloatArray, left: float, right: float, gust: Vec6
) -> tuple[Matrix, Vec3, Vec3, float, Vec6]:
    """What accelerates a vehicle in a state, whatever its inertia.

    Parameters
    ----------
    motion : Motion
        Constants.
    y : ndarray, shape (13,) or more
        State, in the slots of `parasim.dynamics.state`.
    left, right : float
        Brakes, fractions of full travel. [-]
    gust : tuple of float, length 6
        Gust and its rate of change on board: north, east, down. [m/s], [m/s²]

    Returns
    -------
    to_earth : tuple
        Rotation from body to earth.
    earth_velocity, air_velocity : tuple of float
        Of the confluence over the ground, earth axes; through the air, body axes. [m/s]
    density : float
        [kg/m³]
    wrench : tuple of float, length 6
        Force and moment about the confluence, less what turning axes make of the momenta. [N], [N m]
    """
    constants = motion.constants
    to_earth = attitude_matrix(y[3], y[4], y[5], y[6])
    velocity, rates = (y[7], y[8], y[9]), (y[10], y[11], y[12])
    earth_velocity = rotate3(to_earth, velocity)
    # Held within the atmosphere's range: an integrator's trial step may leave it, and is then refused.
    altitude = min(max(constants.ground_height - y[2], LOWEST_HEIGHT), HIGHEST_HEIGHT)
    density = density_at(altitude, constants.temperature_offset, constants.sea_level_pressure)
    climb = -earth_velocity[2]
    north, east, north_rise, east_rise = mean_wind(motion.wind, -y[2])
    wind = unrotate3(to_earth, (north + gust[0], east + gust[1], gust[2]))
    met = unrotate3(to_earth, (north_rise * climb + gust[3], east_rise * climb + gust[4], gust[5]))
    wind_rate = sub3(met, cross3(rates, wind))
    through_air = sub3(velocity, wind)
    canopy_force, canopy_moment = canopy_wrench(
        motion.table, vector3(constants.table_origin), through_air, rates, density, left, right
    )
    withheld = withheld_power(constants, through_air, rates, density)
    canopy_force, canopy_moment = dissipative(
        canopy_force, canopy_moment, through_air, rates, withheld, motion.table.span
    )
    body_force, body_moment = bodies_wrench(motion.bodies, through_air, rates)
    down = to_earth[2]
    weight = scale3(GRAVITY * constants.mass, down)
    weight_moment = scale3(GRAVITY, cross3(vector3(constants.first_moment), down))
    inertial_force, inertial_moment = inertial_wrench(constants, velocity, through_air, rates, density)
    # The apparent mass accelerates against the air, which itself changes as the body turns and sinks.
    change = matvec6(constants.air, wind_rate + NO_MOTION)
    force = add3(sub3(add3(canopy_force, weight), inertial_force), scale3(density, body_force))
    moment = add3(sub3(add3(canopy_moment, weight_moment), inertial_moment), scale3(density, body_moment))
    wrench = (
        force[0] + density * change[0],
        force[1] + density * change[1],
        force[2] + density * change[2],
        moment[0] + density * change[3],
        moment[1] + density * change[4],
        moment[2] + density * change[5],
    )
    return to_earth, earth_velocity, through_air, density, wrench


@inlined
def mode_response(constants: Constants, density: float) -> Vec6:
    """Acceleration of each mode of inertia by its part of a wrench, as `parasim.dynamics.inertia` has it."""
    ratio = constants.ratio
    return (
        1.0 / (1.0 + density * ratio[0]),
        1.0 / (1.0 + density * ratio[1]),
        1.0 / (1.0 + density * ratio[2]),
        1.0 / (1.0 + density * ratio[3]),
        1.0 / (1.0 + density * ratio[4]),
        1.0 / (1.0 + density * ratio[5]),
    )


@inlined
def rigid_pull(
    constants: Constants, y: FloatArray, out: FloatArray, through_air: Vec3, down: Vec3, density: float
) -> float:
    """Pull of the lines on a payload that is rigid with the canopy; endless if it has no payload. [N]

    What accelerates the payload besides its weight and drag. Along the canopy's z axis, upwards.
    """
    mass = constants.payload_mass
    if mass <= 0.0:
        return inf
    rates, center = (y[10], y[11], y[12]), vector3(constants.payload_center)
    swept = cross3(rates, center)
    u, v, w = add3(through_air, swept)
    drag = -0.5 * density * constants.payload_drag_area * sqrt(u * u + v * v + w * w) * w
    turned = cross3(rates, add3((y[7], y[8], y[9]), swept))
    spun = cross3((out[10], out[11], out[12]), center)
    return drag + mass * (GRAVITY * down[2] - out[9] - turned[2] - spun[2])


@compiled
def rigid_rates(
    motion: Motion, y: FloatArray, left: float, right: float, gust: Vec6, out: FloatArray
) -> Vec4:
    """Write the rate of change of a rigid vehicle's state to the first 13 slots.

    Arguments as for `net_wrench`; returns the flow and the pull of the lines.
    """
    to_earth, earth_velocity, through_air, density, wrench = net_wrench(motion, y, left, right, gust)
    constants = motion.constants
    out[0], out[1], out[2] = earth_velocity
    out[3], out[4], out[5], out[6] = attitude_rate(y[3], y[4], y[5], y[6], (y[10], y[11], y[12]))
    in_modes = product6(matvec6_t(constants.modes, wrench), mode_response(constants, density))
    out[7], out[8], out[9], out[10], out[11], out[12] = matvec6(constants.modes, in_modes)
    u, v, w = through_air
    return u, v, w, rigid_pull(constants, y, out, through_air, to_earth[2], density)
