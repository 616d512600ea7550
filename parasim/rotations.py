"""Frames, quaternions and the algebra of 3-vectors.

Frames: earth north-east-down; body x forward, y right, z down. A quaternion is ``(w, x, y, z)`` and turns
body components into earth components. Vectors and quaternions carry their component axis first and any batch
axes after it, so that one state or a thousand run through the same lines. The arithmetic is written out
because `numpy.cross` on two 3-vectors takes about ten times as long.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
"""Array of double-precision floats; the shape is reported in each docstring."""

Vector = FloatArray | Sequence[float]
"""Three components (or four, for a quaternion) along the first axis."""

Number = float | FloatArray
"""One value or a batch of them."""


def quaternion_from_euler(roll: Number, pitch: Number, yaw: Number) -> FloatArray:
    """Attitude quaternion of the yaw-pitch-roll sequence.

    Parameters
    ----------
    roll, pitch, yaw : float or ndarray of one shape
        Right wing down, nose up and nose to the right are positive. [rad]

    Returns
    -------
    ndarray, shape (4, ...)
        Unit quaternion (w, x, y, z), body to earth.

    Examples
    --------
    >>> quaternion_from_euler(0.0, 0.0, np.pi).round(6).tolist()
    [0.0, 0.0, 0.0, 1.0]
    """
    cr, sr = np.cos(0.5 * roll), np.sin(0.5 * roll)
    cp, sp = np.cos(0.5 * pitch), np.sin(0.5 * pitch)
    cy, sy = np.cos(0.5 * yaw), np.sin(0.5 * yaw)
    return np.array(
        [
            cr * cp * cy + sr * sp * sy,
            sr * cp * cy - cr * sp * sy,
            cr * sp * cy + sr * cp * sy,
            cr * cp * sy - sr * sp * cy,
        ]
    )


def euler_from_quaternion(q: Vector) -> FloatArray:
    """Roll, pitch and yaw of an attitude quaternion.

    Parameters
    ----------
    q : ndarray, shape (4, ...)
        Quaternion (w, x, y, z), body to earth; need not be of unit length.

    Returns
    -------
    ndarray, shape (3, ...)
        Roll in (-pi, pi], pitch in [-pi/2, pi/2], yaw in (-pi, pi]. [rad]

    Notes
    -----
    With the nose straight up or down only the sum or difference of roll and yaw has a meaning; there, and
    within rounding (about 1e-8 rad) of it, take only the pitch from here.
    """
    w, x, y, z = q
    n = w * w + x * x + y * y + z * z
    return np.array(
        [
            np.arctan2(2.0 * (w * x + y * z), w * w - x * x - y * y + z * z),
            np.arcsin(np.clip(2.0 * (w * y - z * x) / n, -1.0, 1.0)),
            np.arctan2(2.0 * (w * z + x * y), w * w + x * x - y * y - z * z),
        ]
    )


def rotation_rows(w: Any, x: Any, y: Any, z: Any) -> Any:
    """Rows of `rotation_matrix`, of numbers or of arrays; the equations of motion compile it."""
    s = 2.0 / (w * w + x * x + y * y + z * z)
    xx, yy, zz = s * x * x, s * y * y, s * z * z
    xy, yz, zx = s * x * y, s * y * z, s * z * x
    wx, wy, wz = s * w * x, s * w * y, s * w * z
    return (
        (1.0 - yy - zz, xy - wz, zx + wy),
        (xy + wz, 1.0 - zz - xx, yz - wx),
        (zx - wy, yz + wx, 1.0 - xx - yy),
    )


def rotation_matrix(q: Vector) -> FloatArray:
    """Matrix that turns body components into earth components.

    Parameters
    ----------
    q : ndarray, shape (4, ...)
        Quaternion (w, x, y, z). Its length does not matter, so small drift in an integration does no harm.

    Returns
    -------
    ndarray, shape (3, 3, ...)
        Orthogonal; its transpose turns earth components into body components.
    """
    return np.array(rotation_rows(*q))


def quaternion_product(a: Vector, b: Vector) -> FloatArray:
    """Rotation b, given in the axes that a turns, then a.

    Parameters
    ----------
    a, b : ndarray, shape (4, ...)
        Quaternions (w, x, y, z).

    Returns
    -------
    ndarray, shape (4, ...)
        Of unit length if both are.
    """
    aw, ax, ay, az = a
    bw, bx, by, bz = b
    return np.array(
        [
            aw * bw - ax * bx - ay * by - az * bz,
            aw * bx + ax * bw + ay * bz - az * by,
            aw * by + ay * bw + az * bx - ax * bz,
            aw * bz + az * bw + ax * by - ay * bx,
        ]
    )


def euler_rates(q: Vector, omega: Vector) -> FloatArray:
    """Rates of roll, pitch and yaw.

    Parameters
    ----------
    q : ndarray, shape (4, ...)
        Quaternion (w, x, y, z), body to earth; not straight up or down.
    omega : ndarray, shape (3, ...)
        Angular velocity of the body in body axes (p, q, r). [rad/s]

    Returns
    -------
    ndarray, shape (3, ...)
        [rad/s]
    """
    roll, pitch, _ = euler_from_quaternion(q)
    p, q_, r = omega
    across = q_ * np.sin(roll) + r * np.cos(roll)
    return np.array(
        [p + across * np.tan(pitch), q_ * np.cos(roll) - r * np.sin(roll), across / np.cos(pitch)]
    )


def cross(a: Vector, b: Vector) -> FloatArray:
    """Vector product.

    Parameters
    ----------
    a, b : ndarray, shape (3, ...)
        Component axis first; batch axes broadcast.

    Returns
    -------
    ndarray, shape (3, ...)
    """
    ax, ay, az = a
    bx, by, bz = b
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def dot(a: Vector, b: Vector) -> Number:
    """Scalar product over the first axis.

    Parameters
    ----------
    a, b : ndarray, shape (3, ...)
        Component axis first; batch axes broadcast.

    Returns
    -------
    float or ndarray, shape (...)
    """
    ax, ay, az = a
    bx, by, bz = b
    return ax * bx + ay * by + az * bz


def skew(a: Vector) -> FloatArray:
    """Matrix S(a) with S(a) b = a x b.

    Parameters
    ----------
    a : ndarray, shape (3,)

    Returns
    -------
    ndarray, shape (3, 3)
        Antisymmetric.
    """
    x, y, z = a
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
