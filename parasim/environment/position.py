"""Latitude and longitude of places near a point, on the WGS 84 ellipsoid.

The ground is taken as flat in metres north and east; a place that lies so far off in that direction along
the ellipsoid is found by the radii of curvature, with the terms of second order: meridians draw together away
from the equator.
"""

from math import cos, radians, sin, sqrt, tan

import numpy as np

from parasim.errors import OutOfRangeError
from parasim.rotations import FloatArray

SEMI_MAJOR_AXIS = 6378137.0
"""[m] Source: [WGS84]"""

FLATTENING = 1 / 298.257223563
"""[-] Source: [WGS84]"""

FARTHEST = 20000.0
"""Distance from the point up to which the terms of second order are enough: up to 60 deg of latitude within
0.02 m at 5 km and 0.4 m at 20 km, up to 80 deg within 3 m. [m]"""

MOST_LATITUDE = radians(80.0)
"""Beyond it meridians draw together too fast for them. [rad]"""


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
    φ = φ0 + n/M - e² tan φ0/(2 M N), λ = λ0 + e/(N cos φ0) (1 + n tan φ0/M), with e and n the metres east and
    north.
    """
    if abs(latitude) > MOST_LATITUDE:
        raise OutOfRangeError("latitude", latitude, low=-MOST_LATITUDE, high=MOST_LATITUDE, unit="rad")
    far = float(np.hypot(north, east).max(initial=0.0))
    if not far <= FARTHEST:
        raise OutOfRangeError("distance from the position", far, low=0.0, high=FARTHEST, unit="m")
    M, N = radii_of_curvature(latitude)
    phi = latitude + north / M - east**2 * tan(latitude) / (2 * M * N)
    lam = longitude + east / (N * cos(latitude)) * (1 + north * tan(latitude) / M)
    return phi, (lam + np.pi) % (2 * np.pi) - np.pi


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
    `latitude_longitude` solved for the metres: e = N cos φ0 (λ - λ0) / (1 + n tan φ0/M) and
    n = M (φ - φ0) + e² tan φ0/(2 N), three rounds of it. Source: [Snyder1987] chapter 4 for the radii, from
    memory.

    Examples
    --------
    >>> north, east = north_east(np.array([0.82]), np.array([0.2]), latitude=0.82, longitude=0.2)
    >>> float(north[0]), float(east[0])
    (0.0, 0.0)
    """
    if abs(latitude) > MOST_LATITUDE:
        raise OutOfRangeError("latitude", latitude, low=-MOST_LATITUDE, high=MOST_LATITUDE, unit="rad")
    M, N = radii_of_curvature(latitude)
    off = (lam - longitude + np.pi) % (2 * np.pi) - np.pi
    north = M * (phi - latitude)
    east = N * cos(latitude) * off
    for _ in range(3):
        east = N * cos(latitude) * off / (1 + north * tan(latitude) / M)
        north = M * (phi - latitude) + east**2 * tan(latitude) / (2 * N)
    far = float(np.hypot(north, east).max(initial=0.0))
    if not far <= FARTHEST:
        raise OutOfRangeError("distance from the position", far, low=0.0, high=FARTHEST, unit="m")
    return north, east
