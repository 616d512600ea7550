"""Latitude and longitude of places near a point, against an independent library of geodesics."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from parasim.environment.position import FARTHEST, latitude_longitude, radii_of_curvature
from parasim.errors import OutOfRangeError


@pytest.mark.parametrize("latitude", [0.0, 47.1, -33.0, 60.0, 80.0])
@pytest.mark.parametrize(("distance", "allowed"), [(300.0, 0.001), (5000.0, 0.02), (19999.0, 0.4)])
def test_places_are_those_of_geodesics(latitude: float, distance: float, allowed: float) -> None:
    """Geodesics of the library geographiclib on WGS 84, all around; towards the poles it gets worse."""
    for bearing in range(0, 360, 20):
        truth = Geodesic.WGS84.Direct(latitude, 11.2, bearing, distance)
        phi, lam = latitude_longitude(
            np.array([distance * cos(radians(bearing))]),
            np.array([distance * sin(radians(bearing))]),
            latitude=radians(latitude),
            longitude=radians(11.2),
        )
        off = Geodesic.WGS84.Inverse(truth["lat2"], truth["lon2"], *np.degrees([phi[0], lam[0]]))["s12"]
        assert off < (allowed if latitude < 70 else 8 * allowed)


def test_radii_against_the_library() -> None:
    """The library's own ellipsoid; a short geodesic along each axis gives the radius."""
    for latitude in (0.0, 45.0, 70.0):
        M, N = radii_of_curvature(radians(latitude))
        north = Geodesic.WGS84.Inverse(latitude - 1e-4, 0, latitude + 1e-4, 0)["s12"]
        east = Geodesic.WGS84.Inverse(latitude, 0, latitude, 2e-4)["s12"]
        assert pytest.approx(north / radians(2e-4), rel=1e-6) == M
        assert pytest.approx(east / radians(2e-4) / cos(radians(latitude)), rel=1e-6) == N


def test_longitude_stays_within_half_a_turn() -> None:
    _, lam = latitude_longitude(np.zeros(2), np.array([-500.0, 500.0]), latitude=0.5, longitude=np.pi)
    assert (np.abs(lam) <= np.pi).all()
    assert lam[0] > 0 > lam[1]


def test_too_far_and_too_near_the_pole() -> None:
    near = np.zeros(1)
    with pytest.raises(OutOfRangeError, match="distance"):
        latitude_longitude(near + FARTHEST + 1, near, latitude=0.5, longitude=0.0)
    with pytest.raises(OutOfRangeError, match="distance"):
        latitude_longitude(near * np.nan, near, latitude=0.5, longitude=0.0)
    with pytest.raises(OutOfRangeError, match="latitude"):
        latitude_longitude(near, near, latitude=1.5, longitude=0.0)
