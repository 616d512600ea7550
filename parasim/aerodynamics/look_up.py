"""Coefficients looked up in a table, as compiled functions.

Cubic in angle of attack and sideslip, through knots that need not be even; linear in each brake, and in the
logarithm of the air's density where there are tables for thinner air.
"""

from math import floor, log
from typing import NamedTuple

from parasim.compiled import compiled, inlined, interval
from parasim.rotations import FloatArray

Vec3 = tuple[float, float, float]
Vec4 = tuple[float, float, float, float]
Vec6 = tuple[float, float, float, float, float, float]


class LookUpTable(NamedTuple):
    """An `AeroTable` laid out for look-ups.

    Attributes
    ----------
    alpha, beta : ndarray, shape (n_alpha,), (n_beta,)
        Knots, rising. [rad]
    alpha_cubic, beta_cubic : ndarray, shape (n - 1, 4, 4)
        From `cubic_weights`.
    thinness : ndarray, shape (n_air,)
        Minus the logarithm of the air's density at each table, rising; not read where there is one. [-]
    steady : ndarray, shape (n_air, n_alpha + 2, n_beta + 2, n_brake, n_brake, 6)
        Coefficients, with one more knot at either end of alpha and beta. [-]
    rates : ndarray, shape (n_air, n_alpha + 2, 6, 3)
        Derivatives by the rates, in the same way. [-]
    brake_step : float
        Between knots of a brake, from zero up; fraction of full travel. [-]
    area, span, chord : float
        References. [m²], [m]
    """

    alpha: FloatArray
    beta: FloatArray
    alpha_cubic: FloatArray
    beta_cubic: FloatArray
    thinness: FloatArray
    steady: FloatArray
    rates: FloatArray
    brake_step: float
    area: float
    span: float
    chord: float


@inlined
def cubic_at(knots: FloatArray, cubic: FloatArray, value: float) -> tuple[int, Vec4]:
    """Interval of a value, and weights of the four knots around it."""
    i = interval(knots, value)
    t = (value - knots[i]) / (knots[i + 1] - knots[i])
    w = cubic[i]
    return i, (
        w[0, 0] + t * (w[1, 0] + t * (w[2, 0] + t * w[3, 0])),
        w[0, 1] + t * (w[1, 1] + t * (w[2, 1] + t * w[3, 1])),
        w[0, 2] + t * (w[1, 2] + t * (w[2, 2] + t * w[3, 2])),
        w[0, 3] + t * (w[1, 3] + t * (w[2, 3] + t * w[3, 3])),
    )


@inlined
def linear_at(n_knots: int, step: float, value: float) -> tuple[int, float, int]:
    """First knot of those that count, how far the value is on to the next one, and how many count.

    Knots lie from zero up at even steps; a value beyond them is held to the first or last.
    """
    last = n_knots - 1
    scaled = min(max(value, 0.0) / step, float(last))
    k = floor(scaled)
    t = scaled - k
    return k, t, 1 if t == 0.0 else 2


@inlined
def air_at(thinness: FloatArray, density: float) -> tuple[int, float, int]:
    """First table of those that count at a density, how far it is on to the next one, and how many count.

    Air denser or thinner than that of all tables is held to the first or last.
    """
    last = len(thinness) - 1
    if last == 0:
        return 0, 0.0, 1
    value = min(max(-log(density), thinness[0]), thinness[last])
    i = interval(thinness, value)
    return i, (value - thinness[i]) / (thinness[i + 1] - thinness[i]), 2


@compiled
def look_up(
    table: LookUpTable,
    alpha: float,
    beta: float,
    left: float,
    right: float,
    airspeed: float,
    spin: Vec3,
    density: float,
) -> Vec6:
    """Coefficients in steady flow times airspeed, plus rate derivatives times the rates.

    Parameters
    ----------
    table : LookUpTable
        Where.
    alpha, beta : float
        [rad]
    left, right : float
        Brakes, fractions of full travel; held to the knots' range. [-]
    airspeed : float
        [m/s]
    spin : tuple of float, length 3
        Roll, pitch and yaw rate times half the span, chord and span. [m/s]
    density : float
        Of the air. [kg/m³]

    Returns
    -------
    tuple of float, length 6
        CX, CY, CZ, Cl, Cm, Cn times airspeed. [m/s]
    """
    i, wa = cubic_at(table.alpha, table.alpha_cubic, alpha)
    j, wb = cubic_at(table.beta, table.beta_cubic, beta)
    k, t_left, n_left = linear_at(table.steady.shape[3], table.brake_step, left)
    m, t_right, n_right = linear_at(table.steady.shape[4], table.brake_step, right)
    air, t_air, n_air = air_at(table.thinness, density)
    s0, s1, s2 = spin
    c0 = c1 = c2 = c3 = c4 = c5 = 0.0
    for z in range(n_air):
        part = t_air if z else 1.0 - t_air
        for a in range(4):
            wz = part * wa[a]
            for b in range(4):
                for x in range(n_left):
                    for y in range(n_right):
                        w = airspeed * wz * wb[b]
                        w *= t_left if x else 1.0 - t_left
                        w *= t_right if y else 1.0 - t_right
                        value = table.steady[air + z, i + a, j + b, k + x, m + y]
                        c0 += w * value[0]
                        c1 += w * value[1]
                        c2 += w * value[2]
                        c3 += w * value[3]
                        c4 += w * value[4]
                        c5 += w * value[5]
            r = table.rates[air + z, i + a]
            c0 += wz * (r[0, 0] * s0 + r[0, 1] * s1 + r[0, 2] * s2)
            c1 += wz * (r[1, 0] * s0 + r[1, 1] * s1 + r[1, 2] * s2)
            c2 += wz * (r[2, 0] * s0 + r[2, 1] * s1 + r[2, 2] * s2)
            c3 += wz * (r[3, 0] * s0 + r[3, 1] * s1 + r[3, 2] * s2)
            c4 += wz * (r[4, 0] * s0 + r[4, 1] * s1 + r[4, 2] * s2)
            c5 += wz * (r[5, 0] * s0 + r[5, 1] * s1 + r[5, 2] * s2)
    return c0, c1, c2, c3, c4, c5
