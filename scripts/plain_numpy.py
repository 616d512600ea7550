"""The motion of a rigid vehicle, hands up, in ordinary numpy and scipy: what a user would write by hand.

Natural code, not slowed on purpose and not tuned: `speed_limit.py` measures the compiled equations against it
and holds it to the same landing point.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import BSpline

from parasim.dynamics.simulate import LONGEST_FLIGHT
from parasim.flight.ensemble import Member
from parasim.rotations import FloatArray

GRAVITY = 9.80665
FOOT = 0.3048
DOWN = np.array([0.0, 0.0, 1.0])

Cross = Callable[[FloatArray, FloatArray], FloatArray]


def to_earth(q: FloatArray) -> FloatArray:
    """Rotation matrix of a quaternion of any length, body to earth."""
    w, x, y, z = q / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def cubic(knots: FloatArray, weights: FloatArray, value: float) -> tuple[int, FloatArray]:
    """Interval of a value between uneven knots, and weights of the four knots around it."""
    i = int(np.clip(np.searchsorted(knots, value, side="right") - 1, 0, len(knots) - 2))
    t = (value - knots[i]) / (knots[i + 1] - knots[i])
    return i, t ** np.arange(4) @ weights[i]


def spline(coefficients: FloatArray, step: float) -> BSpline:
    """Of coefficients of shape (m, n), mirrored at the ends."""
    mirrored = np.pad(coefficients, ((0, 0), (1, 1)), mode="reflect")
    return BSpline(step * (np.arange(mirrored.shape[1] + 4) - 3.0), mirrored.T, 3)


def cross_written_out(a: FloatArray, b: FloatArray) -> FloatArray:
    """As `numpy.cross`, which takes half of the time; what a user comes to who looks where it goes."""
    (ax, ay, az), (bx, by, bz) = np.asarray(a).T, np.asarray(b).T
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx]).T


class PlainMotion:
    """Rate of change of the state of one member, with the two gust coordinates."""

    def __init__(self, member: Member, place: Sequence[float], cross: Cross = np.cross) -> None:
        self.cross = cross
        (self.constants, self.table, bodies, self.wind), self.gusts = (
            member.flight.motion,
            member.flight.gusts,
        )
        self.place = np.array(place)
        self.body_place, self.body_axis, self.half_drag_area = bodies[:, :3], bodies[:, 3:6], bodies[:, 6:]
        self.hands_up = self.table.steady[:, :, 0, 0]
        along_across, vertical = self.gusts.splines[:2], self.gusts.splines[2:]
        self.along_across = spline(along_across, self.gusts.step_horizontal)
        self.vertical = spline(vertical, self.gusts.step_vertical)
        self.along_across_slope = self.along_across.derivative()
        self.vertical_slope = self.vertical.derivative()

    def density(self, height: float) -> float:
        c = self.constants
        T0, lapse = 288.15 + c["temperature_offset"], 0.0065
        altitude = np.clip(c["ground_height"] + height, -1000, 11000)
        exponent = GRAVITY / (287.05287 * lapse) - 1
        return c["sea_level_pressure"] / (287.05287 * T0) * ((T0 - lapse * altitude) / T0) ** exponent

    def mean_wind(self, height: float) -> tuple[FloatArray, FloatArray]:
        """Velocity of the air and its change with height, earth axes."""
        law = self.wind
        h = max(height, 0.5)
        speed = law.speed * (h / law.reference_height) ** law.exponent
        rise = law.exponent * speed / h if height >= 0.5 else 0.0
        depth = (height - law.reference_height) / 100
        direction = law.from_direction + law.turn * np.clip(depth, 0, 1)
        veer = law.turn / 100 if 0 <= depth < 1 else 0.0
        along = -np.array([np.cos(direction), np.sin(direction), 0.0])
        return speed * along, rise * along + speed * veer * self.cross(DOWN, along)

    def gust(self, y: FloatArray, over_ground: FloatArray, wind: FloatArray) -> tuple[FloatArray, ...]:
        """Gust, its rate of change on board, and the rates of the gust coordinates."""
        if self.gusts.deviation == 0:
            return np.zeros(3), np.zeros(3), np.zeros(2)
        h = np.clip(-y[2], 10 * FOOT, 1000 * FOOT)
        a = 0.177 + 0.000823 * h / FOOT
        sigma = self.gusts.deviation * np.array([a**-0.4, a**-0.4, 1.0])
        xi_rate = np.linalg.norm(over_ground - wind) / np.array([h / a**1.2, h])
        speed = np.linalg.norm(wind)
        c, s = wind[:2] / speed if speed > 0 else (1.0, 0.0)
        turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
        value = np.append(self.along_across(y[13]), self.vertical(y[14]))
        slope = np.append(
            self.along_across_slope(y[13]) * xi_rate[0], self.vertical_slope(y[14]) * xi_rate[1]
        )
        return turn @ (sigma * value), turn @ (sigma * slope), xi_rate

    def coefficients(self, alpha: float, beta: float) -> tuple[FloatArray, FloatArray]:
        """Steady ones, shape (6,), and derivatives by the rates, shape (6, 3)."""
        i, along_alpha = cubic(self.table.alpha, self.table.alpha_cubic, alpha)
        j, along_beta = cubic(self.table.beta, self.table.beta_cubic, beta)
        block = self.hands_up[i : i + 4, j : j + 4]
        steady = np.einsum("a,b,abn->n", along_alpha, along_beta, block)
        return steady, np.tensordot(along_alpha, self.table.rates[i : i + 4], axes=1)

    def canopy(self, air: FloatArray, omega: FloatArray, density: float) -> tuple[FloatArray, FloatArray]:
        origin, table = self.constants["table_origin"], self.table
        velocity = air + self.cross(omega, origin)
        V = np.linalg.norm(velocity)
        alpha, beta = np.arctan2(velocity[2], velocity[0]), np.arcsin(velocity[1] / V)
        lengths = np.array([table.span, table.chord, table.span])
        steady, rates = self.coefficients(alpha, beta)
        C = steady + rates @ (omega * lengths / (2 * V))
        q = 0.5 * density * V**2 * table.area
        force = q * C[:3]
        return force, q * lengths * C[3:] + self.cross(origin, force)

    def bodies(self, air: FloatArray, omega: FloatArray, density: float) -> tuple[FloatArray, FloatArray]:
        flow = air + self.cross(omega, self.body_place)
        across = flow - np.sum(flow * self.body_axis, axis=1, keepdims=True) * self.body_axis
        forces = -density * self.half_drag_area * np.linalg.norm(across, axis=1, keepdims=True) * across
        return forces.sum(axis=0), self.cross(self.body_place, forces).sum(axis=0)

    def __call__(self, time: float, y: FloatArray) -> FloatArray:
        c = self.constants
        R, velocity, omega = to_earth(y[3:7]), y[7:10], y[10:13]
        over_ground = R @ velocity
        density = self.density(-y[2])
        wind, rise = self.mean_wind(-y[2])
        gust, gust_rate, xi_rate = self.gust(y, over_ground, wind)
        air_wind = R.T @ (wind + gust)
        wind_rate = R.T @ (gust_rate - rise * over_ground[2]) - self.cross(omega, air_wind)
        air = velocity - air_wind
        canopy_force, canopy_moment = self.canopy(air, omega, density)
        body_force, body_moment = self.bodies(air, omega, density)
        gravity = GRAVITY * R.T @ DOWN
        moving = (c["solid"] + density * c["enclosed"]) @ np.append(velocity, omega)
        apparent = density * c["air"] @ np.append(air, omega)
        lead = air - apparent[:3] / (density * c["air_mass"])
        force = canopy_force + body_force + c["mass"] * gravity - self.cross(omega, moving[:3] + apparent[:3])
        moment = canopy_moment + body_moment + self.cross(c["first_moment"], gravity)
        moment -= self.cross(omega, moving[3:] + apparent[3:])
        moment -= self.cross(velocity, moving[:3]) + self.cross(lead, apparent[:3])
        wrench = np.append(force, moment) + density * c["air"] @ np.append(wind_rate, np.zeros(3))
        inertia = c["solid"] + density * (c["enclosed"] + c["air"])
        w, axis = y[3], y[4:7]
        quaternion_rate = 0.5 * np.append(-axis @ omega, w * omega + self.cross(axis, omega))
        return np.concatenate([over_ground, quaternion_rate, np.linalg.solve(inertia, wrench), xi_rate])

    def height(self, time: float, y: FloatArray) -> float:
        """Of the point that touches the ground."""
        return -y[2] - (to_earth(y[3:7]) @ self.place)[2]


def fly_plain(
    member: Member,
    place: Sequence[float],
    *,
    rtol: float,
    atol: FloatArray,
    method: str = "RK45",
    cross: Cross = np.cross,
) -> FloatArray:
    """Last state of a flight with both brakes up, shape (15,)."""
    motion = PlainMotion(member, place, cross)

    def touches(time: float, y: FloatArray) -> float:
        return motion.height(time, y)

    touches.terminal = True
    found = solve_ivp(
        motion, (0.0, LONGEST_FLIGHT), member.state, method=method, rtol=rtol, atol=atol, events=touches
    )
    return found.y[:, -1]
