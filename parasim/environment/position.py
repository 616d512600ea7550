"""Latitude and longitude of places near a point, on the WGS 84 ellipsoid.

The ground is taken as flat in metres north and east; a place is where the geodesic leads that goes so far off
in that direction.
"""

from math import cos, pi, radians, sin, sqrt, tan

import numpy as np

from parasim.errors import OutOfRangeError
from parasim.rotations import FloatArray

SEMI_MAJOR_AXIS = 6378137.0
"""[m] Source: [WGS84]"""

FLATTENING = 1 / 298.257223563
"""[-] Source: [WGS84]"""

FARTHEST = 500_000.0
"""Distance from the point beyond which the ground is not taken as flat. Our choice. [m]"""

MOST_LATITUDE = radians(80.0)
"""Beyond it maps draw places too far apart. Our choice. [rad]"""

ROUNDS = 5
"""Of the iteration: at `FARTHEST` three leave a micrometre."""

MOST_ROUNDS, CLOSE = 20, 1e-5
"""Rounds of the way back, at most, and the rest of the way at which they end. [-], [m]"""


def radii_of_curvature(latitude: float) -> tuple[float, float]:
    """Radii along the meridian and across it. [m]

    Notes
    -----
    M = a (1 - e²) / (1 - e² sin²φ)^3/2 and N = a / (1 - e² sin²φ)^1/2. Source: [Snyder1987] chapter 4, from
    memory.

    Examples
    --------
    >>> [round(radius) for radius in radii_of_curvature(0.0)]
    [6335439, 6378137]
    """
    e2 = FLATTENING * (2 - FLATTENING)
    root = sqrt(1 - e2 * sin(latitude) ** 2)
    return SEMI_MAJOR_AXIS * (1 - e2) / root**3, SEMI_MAJOR_AXIS / root


def latitude_longitude(
    north: FloatArray, east: FloatArray, *, latitude: float, longitude: float
) -> tuple[FloatArray, FloatArray]:
    """Latitude and longitude of places given in metres from a point.

    Parameters
    ----------
    north, east : ndarray, shape (n,)
        From the point. [m]
    latitude, longitude : float
        Of the point. [rad]

    Returns
    -------
    tuple of ndarray, each of shape (n,)
        [rad]; the longitude within -pi to pi.

    Raises
    ------
    OutOfRangeError
        If a place lies farther off than `FARTHEST`, or the point beyond `MOST_LATITUDE`.

    Notes
    -----
    Source: [Vincenty1975], the direct solution, in its symbols; formulas from memory.
    """
    _require_latitude(latitude)
    s, alpha1 = np.hypot(north, east), np.arctan2(east, north)
    far = float(s.max(initial=0.0))
    if not far <= FARTHEST:
        raise OutOfRangeError("distance from the position", far, low=0.0, high=FARTHEST, unit="m")
    f, b = FLATTENING, SEMI_MAJOR_AXIS * (1 - FLATTENING)
    U1 = np.arctan((1 - f) * tan(latitude))
    sinU1, cosU1 = sin(U1), cos(U1)
    sigma1 = np.arctan2(sinU1, cosU1 * np.cos(alpha1))
    sin_alpha = cosU1 * np.sin(alpha1)
    cos2_alpha = 1 - sin_alpha**2
    u2 = cos2_alpha * ((SEMI_MAJOR_AXIS / b) ** 2 - 1)
    A = 1 + u2 / 16384 * (4096 + u2 * (-768 + u2 * (320 - 175 * u2)))
    B = u2 / 1024 * (256 + u2 * (-128 + u2 * (74 - 47 * u2)))
    sigma = s / (b * A)
    for _ in range(ROUNDS):
        c, c2m = np.cos(sigma), np.cos(2 * sigma1 + sigma)
        more = B / 6 * c2m * (4 * np.sin(sigma) ** 2 - 3) * (4 * c2m**2 - 3)
        sigma = s / (b * A) + B * np.sin(sigma) * (c2m + B / 4 * (c * (2 * c2m**2 - 1) - more))
    sn, c, c2m = np.sin(sigma), np.cos(sigma), np.cos(2 * sigma1 + sigma)
    across = sinU1 * sn - cosU1 * c * np.cos(alpha1)
    phi = np.arctan2(sinU1 * c + cosU1 * sn * np.cos(alpha1), (1 - f) * np.sqrt(sin_alpha**2 + across**2))
    on_sphere = np.arctan2(sn * np.sin(alpha1), cosU1 * c - sinU1 * sn * np.cos(alpha1))
    C = f / 16 * cos2_alpha * (4 + f * (4 - 3 * cos2_alpha))
    lam = on_sphere - (1 - C) * f * sin_alpha * (sigma + C * sn * (c2m + C * c * (2 * c2m**2 - 1)))
    return phi, (longitude + lam + pi) % (2 * pi) - pi


def north_east(
    phi: FloatArray, lam: FloatArray, *, latitude: float, longitude: float
) -> tuple[FloatArray, FloatArray]:
    """Metres north and east of a point, of places given by latitude and longitude.

    Parameters
    ----------
    phi, lam : ndarray, shape (n,)
        Latitude and longitude. [rad]
    latitude, longitude : float
        Of the point. [rad]

    Returns
    -------
    tuple of ndarray, each of shape (n,)
        [m]

    Raises
    ------
    OutOfRangeError
        If a place lies farther off than `FARTHEST`, or the point beyond `MOST_LATITUDE`.

    Notes
    -----
    `latitude_longitude` turned round: each round goes the rest of the way by the radii of curvature.
    Source: [Snyder1987] chapter 4 for the radii, from memory.

    Examples
    --------
    >>> north, east = north_east(np.array([0.82]), np.array([0.2]), latitude=0.82, longitude=0.2)
    >>> float(north[0]), float(east[0])
    (0.0, 0.0)
    """
    _require_latitude(latitude)
    M, N = radii_of_curvature(latitude)
    north, east = np.zeros_like(phi), np.zeros_like(phi)
    at = (np.full_like(phi, latitude), np.full_like(lam, longitude))
    for _ in range(MOST_ROUNDS):
        off = (lam - at[1] + pi) % (2 * pi) - pi
        rest = M * (phi - at[0]), N * np.cos(phi) * off
        north, east = north + rest[0], east + rest[1]
        if max(float(np.abs(part).max(initial=0.0)) for part in rest) < CLOSE:
            break
        at = latitude_longitude(north, east, latitude=latitude, longitude=longitude)
    return north, east


def _require_latitude(latitude: float) -> None:
    if abs(latitude) > MOST_LATITUDE:
        raise OutOfRangeError("latitude", latitude, low=-MOST_LATITUDE, high=MOST_LATITUDE, unit="rad")
