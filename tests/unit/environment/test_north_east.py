"""Metres north and east of a point, against an independent library of geodesics and their way back."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from parasim.environment.atmosphere import Atmosphere, pressure_height
from parasim.environment.position import FARTHEST, latitude_longitude, north_east
from parasim.errors import OutOfRangeError


@pytest.mark.parametrize("latitude", [0.0, 47.1, -33.0, 60.0])
@pytest.mark.parametrize(("distance", "allowed"), [(300.0, 0.001), (5000.0, 0.02)])
def test_places_are_those_of_geodesics(latitude, distance, allowed):
    """The same bounds as for the way back (`FARTHEST`)."""
    for bearing in range(0, 360, 30):
        truth = Geodesic.WGS84.Direct(latitude, 179.99, bearing, distance)
        north, east = north_east(
            np.radians([truth["lat2"]]), np.radians([truth["lon2"]]), latitude=radians(latitude),
            longitude=radians(179.99),
        )  # fmt: skip
        off = np.hypot(
            north[0] - distance * cos(radians(bearing)), east[0] - distance * sin(radians(bearing))
        )
        assert off < allowed


@given(st.floats(-3e5, 3e5), st.floats(-3e5, 3e5), st.floats(-70, 70), st.floats(-180, 180))
def test_there_and_back(north, east, latitude, longitude):
    place = {"latitude": radians(latitude), "longitude": radians(longitude)}
    found = north_east(*latitude_longitude(np.array([north]), np.array([east]), **place), **place)
    assert np.array(found)[:, 0] == pytest.approx([north, east], abs=0.001)


def test_too_far_and_too_near_the_pole():
    with pytest.raises(OutOfRangeError, match="distance"):
        north_east(np.array([0.60]), np.array([0.0]), latitude=0.5, longitude=0.0)
    with pytest.raises(OutOfRangeError, match="latitude"):
        north_east(np.array([1.5]), np.array([0.0]), latitude=1.5, longitude=0.0)
    assert FARTHEST > 0


def test_pressure_height_against_the_standard():
    """[ISO2533]: 1013.25, 954.61, 898.74, 701.08 hPa at geopotential heights 0, 500, 1000 and 3000 m.

    By the tape they are z = r H/(r - H), r the nominal radius of the earth.
    """
    geopotential = np.array([0.0, 500.0, 1000.0, 3000.0])
    heights = pressure_height(100 * np.array([1013.25, 954.61, 898.74, 701.08]))
    tape = 6_356_766.0 * geopotential / (6_356_766.0 - geopotential)
    assert heights == pytest.approx(tape, abs=0.6)
    assert pressure_height(Atmosphere().pressure(2500.0)) == pytest.approx(2500.0)
