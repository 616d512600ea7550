"""Latitude and longitude of places near a point, against an independent library of geodesics."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from parasim.environment.position import FARTHEST, latitude_longitude
from parasim.errors import OutOfRangeError


@pytest.mark.parametrize("latitude", [0.0, 47.1, -33.0, 60.0, 80.0])
@pytest.mark.parametrize("distance", [300.0, 5000.0, 93_000.0, 499_999.0])
def test_places_are_those_of_geodesics(latitude: float, distance: float) -> None:
    """Geodesics of the library geographiclib on WGS 84, all around, within a tenth of a millimetre."""
    for bearing in range(0, 360, 20):
        truth = Geodesic.WGS84.Direct(latitude, 11.2, bearing, distance)
        phi, lam = latitude_longitude(
            np.array([distance * cos(radians(bearing))]),
            np.array([distance * sin(radians(bearing))]),
            latitude=radians(latitude),
            longitude=radians(11.2),
        )
        off = Geodesic.WGS84.Inverse(truth["lat2"], truth["lon2"], *np.degrees([phi[0], lam[0]]))["s12"]
        assert off < 1e-4


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
