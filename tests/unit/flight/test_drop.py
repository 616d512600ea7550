"""From release to touchdown."""

from __future__ import annotations

from math import exp, hypot, radians, sqrt

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.wind import Wind
from parasim.errors import DesignError
from parasim.flight.arrival import Touchdown
from parasim.flight.drop import Drop, Release, drop, release_of, unopened
from parasim.flight.trim import find_trims


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    return in_wind(assemble(reference), Wind.calm())


def a_release(**changes: object) -> Release:
    values = {
        "height": 30.0,
        "start": "steady",
        "heading": 0.0,
        "velocity": np.zeros(3),
        "brakes": (),
    }
    return Release(**{**values, **changes})  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def steady(vehicle: Vehicle) -> Drop:
    return drop(vehicle, a_release())


def test_still_air_glide_reaches_height_times_glide_ratio(vehicle: Vehicle, steady: Drop) -> None:
    trim = find_trims(vehicle, height=15.0, modes=False).chosen
    bottom = 0.27
    assert steady.distance == pytest.approx((30 - bottom) * trim.glide_ratio, rel=0.01)
    assert steady.touchdown.sink == pytest.approx(trim.sink, rel=0.01)
    assert steady.touchdown.ground_speed == pytest.approx(trim.forward_speed, rel=0.01)
    assert steady.bearing == pytest.approx(0.0, abs=1e-3) or steady.bearing == pytest.approx(
        2 * np.pi, abs=1e-3
    )


def test_heading_is_flown(vehicle: Vehicle) -> None:
    east = drop(vehicle, a_release(heading=radians(90)))
    assert east.bearing == pytest.approx(radians(90), abs=1e-3)


def test_wind_carries(vehicle: Vehicle, steady: Drop) -> None:
    """5 m/s from the west the whole way: as far east as the time aloft allows."""
    blown = drop(in_wind(vehicle, Wind(speed=5.0, from_direction=radians(270), exponent=0.0)), a_release())
    assert blown.track.east[-1] == pytest.approx(5.0 * blown.time_aloft, rel=1e-3)
    assert blown.time_aloft == pytest.approx(steady.time_aloft, rel=1e-3)


def test_track_is_evenly_sampled_and_ends_at_touchdown(steady: Drop) -> None:
    time = steady.track.time
    np.testing.assert_allclose(np.diff(time)[:-1], 0.05)
    assert time[-1] == steady.time_aloft
    assert np.all(np.diff(time) > 0)
    for name in ("north", "height", "airspeed", "alpha", "beta", "left"):
        values = getattr(steady.track, name)
        assert values.shape == time.shape
        assert np.isfinite(values).all(), name


@pytest.mark.parametrize(
    ("start", "velocity", "ending"),
    [
        ("rest", [0, 0, 0], "slack lines"),
        ("velocity", [3, 0, 1], "landed"),
        ("velocity", [0, 20, 0], "overturned"),
    ],
    ids=["rest", "thrown", "sideways"],
)
def test_start_modes(vehicle: Vehicle, start: str, velocity: list[float], ending: str) -> None:
    answer = drop(vehicle, a_release(height=60.0, start=start, velocity=np.array(velocity, float)))
    assert answer.end.ending == ending
    assert (answer.touchdown is None) == (ending != "landed")
    at_first = answer.track.velocity[:, 0]
    np.testing.assert_allclose(at_first, velocity, atol=1e-9)
    assert answer.track.height[0] == pytest.approx(60.0)


def test_from_one_metre(vehicle: Vehicle) -> None:
    answer = drop(vehicle, a_release(height=1.0, start="rest"))
    assert answer.trajectory.landed
    assert 0.2 < answer.time_aloft < 1.0
    assert answer.touchdown.sink < sqrt(2 * GRAVITY * 0.73)


def test_a_payload_on_the_ground_is_refused(vehicle: Vehicle) -> None:
    """It would fly on below the ground."""
    with pytest.raises(DesignError, match=r"drop.height: given 0.2 m.*release higher than 0.2\d m"):
        drop(vehicle, a_release(height=0.2))


def test_brakes_of_a_release(vehicle: Vehicle) -> None:
    pull = (BrakeCommand(at_height=10.0, left=0.6, right=0.6),)
    answer = drop(vehicle, a_release(brakes=pull))
    braked = answer.track.left > 0.5
    assert braked.any()
    assert answer.track.height[braked].max() < 10.0 + 0.3 + 0.2


def test_into_a_strong_wind_it_is_said(vehicle: Vehicle) -> None:
    answer = drop(in_wind(vehicle, Wind(speed=9.0, from_direction=0.0, exponent=0.0)), a_release(height=10.0))
    assert any("hardly makes headway" in text for text in answer.caveats)


def test_release_of_a_design(reference: Design) -> None:
    release = release_of(assemble(reference))
    assert release.height == 60.0
    assert release.heading == pytest.approx(radians(270))
    assert len(release.brakes) == 2


# --- unopened, and energies --------------------------------------------------------------------------------


def test_unopened_by_hand(reference: Design) -> None:
    """V^2 = Vt^2 (1 - exp(-2 g h/Vt^2)), with the payload's CdA and 6 % of the flat area."""
    vehicle = assemble(reference)
    area = 0.017 + 0.06 * 0.55
    density = vehicle.atmosphere.density(vehicle.ground_height)
    terminal = 2 * vehicle.weight / (density * area)
    found = unopened(vehicle, 60.0)
    assert found.sink == pytest.approx(sqrt(terminal * (1 - exp(-2 * GRAVITY * 60 / terminal))))
    assert found.sink < sqrt(2 * GRAVITY * 60)


def test_unopened_from_low_down_is_free_fall(reference: Design) -> None:
    assert unopened(assemble(reference), 1.0).sink == pytest.approx(sqrt(2 * GRAVITY), rel=0.03)


def test_energies_by_hand():
    """2 kg at 3 m/s along and 4 m/s down: 5 m/s, 25 J, 16 J of it vertical, like a 0.816 m drop."""
    landing = Touchdown(ground_speed=3.0, sink=4.0, mass=2.0)
    assert landing.speed == 5.0
    assert landing.energy == 25.0
    assert landing.vertical_energy == 16.0
    assert landing.equivalent_height == pytest.approx(0.816, abs=0.001)


def test_unopened_drifts_with_the_wind_near_the_ground(reference: Design) -> None:
    vehicle = assemble(override(reference, {"site.wind.speed": 5.0}))
    assert unopened(vehicle, 60.0).ground_speed == pytest.approx(hypot(*vehicle.wind.velocity(1.0)))
    assert in_wind(vehicle, Wind.calm()).wind.velocity(1.0) == (0.0, 0.0)
