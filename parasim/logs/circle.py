"""The wind from circles: circling at one airspeed draws a circle in the plane of ground velocity.

The centre of that circle is the wind, its radius the horizontal speed through the air.
"""

from dataclasses import dataclass
from math import hypot

import numpy as np
from scipy.optimize import least_squares

from parasim.errors import ConvergenceError
from parasim.logs.channel import Mask
from parasim.logs.noise import Fit, Rates, fit
from parasim.rotations import FloatArray

OUTLIER, BLUNDER = 5.0, 1.5
"""A velocity is left out that lies farther from the circle than so many robust standard deviations and than
this. Our choice. [-], [m/s]"""

FEWEST = 8
"""Velocities of a circle. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CircleFit:
    """A circle in the plane of ground velocity.

    Attributes
    ----------
    wind : ndarray, shape (2,)
        Velocity of the air over the ground: north, east. [m/s]
    speed : float
        Horizontal, through the air. [m/s]
    covariance : ndarray, shape (3, 3)
        Of wind north, wind east and speed. [m²/s²]
    used : ndarray, shape (2, n)
        Ground velocities that went in. [m/s]
    left_out : int
        Velocities too far from the circle.
    scatter : float
        Standard deviation of one velocity about the circle. [m/s]
    """

    wind: FloatArray
    speed: float
    covariance: FloatArray
    used: FloatArray
    left_out: int
    scatter: float

    @property
    def speed_error(self) -> float:
        """[m/s]"""
        return float(np.sqrt(self.covariance[2, 2]))


def circle_through(points: FloatArray) -> tuple[FloatArray, float]:
    """Centre and radius of the circle through three points.

    Parameters
    ----------
    points : ndarray, shape (2, 3)

    Returns
    -------
    center : ndarray, shape (2,)
    radius : float
        Infinite where the points lie on a line.

    Notes
    -----
    The centre is as far from one as from another: 2 (p2 - p1)·c = |p2|² - |p1|², and the same with p3.

    Examples
    --------
    >>> center, radius = circle_through(np.array([[4.0, 1.0, -2.0], [1.0, 4.0, 1.0]]))
    >>> center.round(9).tolist(), round(radius, 9)
    ([1.0, 1.0], 3.0)
    """
    first, others = points[:, 0], points[:, 1:]
    sides = 2 * (others - first[:, None]).T
    if abs(np.linalg.det(sides)) < 1e-9 * max(float(np.abs(sides).max()) ** 2, 1e-12):
        return np.full(2, np.inf), float("inf")
    center = np.linalg.solve(sides, (others**2).sum(axis=0) - (first**2).sum())
    return center, float(np.hypot(*(first - center)))


def algebraic_circle(points: FloatArray) -> tuple[FloatArray, float]:
    """Circle by linear least squares, a start for the geometric fit.

    Parameters
    ----------
    points : ndarray, shape (2, n)

    Notes
    -----
    Least squares of x² + y² = 2 a x + 2 b y + c, c = r² - a² - b². Source: [Kasa1976], from memory; it reads
    too small a radius from short arcs.
    """
    n = points.shape[1]
    X = np.column_stack([2 * points[0], 2 * points[1], np.ones(n)])
    a, b, c = np.linalg.lstsq(X, (points**2).sum(axis=0), rcond=None)[0]
    return np.array([a, b]), float(np.sqrt(max(c + a**2 + b**2, 0.0)))


def robust_circle(points: FloatArray) -> tuple[FloatArray, float, Mask]:
    """Circle nearest to the points, far ones weighed less; centre, radius and which points are near.

    Raises
    ------
    ConvergenceError
        If there is none, such as of points on a line.
    """
    center, radius = algebraic_circle(points)

    def distances(guess: FloatArray) -> FloatArray:
        return np.hypot(points[0] - guess[0], points[1] - guess[1]) - guess[2]

    start = np.array([*center, radius])
    found = least_squares(distances, start, loss="soft_l1", f_scale=0.5, max_nfev=200).x
    if not (np.isfinite(found).all() and 0.0 < found[2] < 100.0):
        raise ConvergenceError("no circle fits the velocities over the ground")
    off = np.abs(distances(found))
    near = off <= max(OUTLIER * 1.4826 * float(np.median(off)), BLUNDER)
    return found[:2], float(found[2]), near


def fit_circle(of: Rates, turn_rate: float) -> CircleFit:
    """Circle of ground velocities, with its errors.

    Parameters
    ----------
    of : Rates
        Ground velocities, north and east.
    turn_rate : float
        About; what averaging leaves of the radius is made good. [rad/s]

    Raises
    ------
    ConvergenceError
        If there are too few, or no circle fits.

    Notes
    -----
    Distances from the circle are made least under each kind of noise (`parasim.logs.noise`), starting from a
    robust fit. Noise along the circle makes the radius too large by σ²/2R, which is taken off.
    """
    if len(of.time) < FEWEST:
        raise ConvergenceError(f"{len(of.time)} velocities are too few for a circle")
    center, radius, near = robust_circle(of.value)
    chosen = of.part(np.flatnonzero(near))
    if len(chosen.time) < FEWEST:
        raise ConvergenceError("velocities over the ground are too scattered for a circle")
    found = fit_distance(chosen, np.array([*center, radius]))
    speed = float(found.value[2]) - found.scatter**2 / (2 * float(found.value[2]))
    left = of.attenuation(turn_rate)
    scale = np.array([1.0, 1.0, 1.0 / left])
    return CircleFit(
        wind=found.value[:2], speed=speed / left, covariance=found.covariance * np.outer(scale, scale),
        used=chosen.value, left_out=int((~near).sum()), scatter=found.scatter,
    )  # fmt: skip


def fit_distance(of: Rates, start: FloatArray, *, wind: FloatArray | None = None) -> Fit:
    """Centre and radius whose distances from velocities are least; the radius alone where the wind is known.

    Parameters
    ----------
    of : Rates
        North and east.
    start : ndarray, shape (3,)
        Centre and radius near the answer.
    wind : ndarray, shape (2,), optional
        Known centre.

    Notes
    -----
    A velocity's error counts by its part across the circle, so that those of two velocities agree by the
    cosine of the angle between them.
    """
    middle = start[:2] if wind is None else wind
    out = of.value - middle[:, None]
    out = out / np.maximum(np.hypot(*out), 1e-9)
    kinds = [(cov * (out.T @ out), weight) for cov, weight in of.kinds()]

    def both(guess: FloatArray) -> tuple[FloatArray, FloatArray]:
        away = of.value - guess[:2, None]
        far = np.maximum(np.hypot(*away), 1e-9)
        return far - guess[2], -np.column_stack([*(away / far), np.ones(len(far))])

    def radius_only(guess: FloatArray) -> tuple[FloatArray, FloatArray]:
        far = np.hypot(*(of.value - middle[:, None]))
        return far - guess[0], -np.ones((len(far), 1))

    return fit(both, start, kinds) if wind is None else fit(radius_only, start[2:], kinds, rounds=1)


def wind_errors(wind: FloatArray, covariance: FloatArray) -> tuple[float, float]:
    """Errors of a wind's speed and direction. [m/s], [rad]

    Parameters
    ----------
    wind : ndarray, shape (2,)
    covariance : ndarray, shape (2, 2)
        [m²/s²]
    """
    speed = hypot(*wind)
    along = wind / speed if speed > 1e-9 else np.array([1.0, 0.0])
    across = np.array([-along[1], along[0]])
    wide = float(np.sqrt(across @ covariance @ across))
    return float(np.sqrt(along @ covariance @ along)), min(wide / max(speed, 1e-9), np.pi / np.sqrt(3))
