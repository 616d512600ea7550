"""Falls of members that do not open: against the closed form in still air, and the wind's limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.environment.atmosphere import GRAVITY
from parasim.flight.drop import release_of, unopened
from parasim.scatter.unopened import OPENING_SPEEDS, Fallen, Falling, build_falling, fall, opening_losses

HEIGHTS = np.array([3.0, 20.0, 60.0, 400.0])


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def falling(vehicle: Vehicle) -> Falling:
    return build_falling(vehicle, release_of(vehicle), highest=500.0, opens_late=False)


def drop_all(falling: Falling, vehicle: Vehicle, wind: float, until: float = 1.0) -> tuple[Fallen, Fallen]:
    n = len(HEIGHTS)
    return fall(
        falling, height=HEIGHTS, mass=np.full(n, vehicle.mass), wind_speed=np.full(n, wind),
        wind_from=np.full(n, falling.wind_from), until=np.full(n, until),
    )  # fmt: skip


def in_one_air(vehicle: Vehicle, falling: Falling) -> Falling:
    """As dense at every height as at the ground."""
    density = vehicle.atmosphere.density(vehicle.ground_height)
    return replace(falling, log_density=np.full(len(falling.heights), np.log(density)))


def test_still_air_has_a_closed_form(vehicle: Vehicle, falling: Falling) -> None:
    """V² = V_t² (1 - exp(-2 g h/V_t²)) and t = V_t/g arcosh exp(g h/V_t²)."""
    _, ground = drop_all(in_one_air(vehicle, falling), vehicle, wind=0.0)
    sinks = [unopened(vehicle, float(h)).sink for h in HEIGHTS]
    np.testing.assert_allclose(ground.velocity[2], sinks, rtol=1e-6)
    terminal = unopened(vehicle, 1e6).sink
    np.testing.assert_allclose(
        ground.time, terminal / GRAVITY * np.arccosh(np.exp(GRAVITY * HEIGHTS / terminal**2)), rtol=1e-6
    )
    assert np.abs([ground.north, ground.east]).max() == 0
    np.testing.assert_allclose(ground.height, 0.0, atol=1e-6)


def test_state_on_the_way(vehicle: Vehicle, falling: Falling) -> None:
    on_the_way, ground = drop_all(in_one_air(vehicle, falling), vehicle, wind=0.0, until=1.234)
    terminal = unopened(vehicle, 1e6).sink
    fallen = terminal**2 / GRAVITY * np.log(np.cosh(GRAVITY * 1.234 / terminal))
    np.testing.assert_allclose(on_the_way.height[1:], HEIGHTS[1:] - fallen, atol=1e-5)
    np.testing.assert_allclose(
        on_the_way.velocity[2, 1:], terminal * np.tanh(GRAVITY * 1.234 / terminal), rtol=1e-6
    )
    # the lowest is on the ground by then
    assert on_the_way.time[0] == ground.time[0] < 1.234
    assert on_the_way.height[0] == pytest.approx(0.0, abs=1e-6)


def test_from_high_up_it_falls_through_thickening_air(vehicle: Vehicle) -> None:
    """From 20 km, against scipy's integrator with another library's air (`ambiance`)."""
    ambiance = pytest.importorskip("ambiance")
    release = replace(release_of(vehicle), height=20e3)
    falling = build_falling(vehicle, release, highest=20e3, opens_late=False)
    _, ground = fall(
        falling, height=np.array([20e3]), mass=np.array([vehicle.mass]), wind_speed=np.zeros(1),
        wind_from=np.zeros(1), until=np.zeros(1),
    )  # fmt: skip

    def rate(_: float, y: np.ndarray) -> list[float]:
        density = float(ambiance.Atmosphere(vehicle.ground_height + max(float(y[0]), 0.0)).density[0])
        return [-y[1], GRAVITY - 0.5 * density * falling.drag_area / vehicle.mass * y[1] * abs(y[1])]

    def down(_: float, y: np.ndarray) -> float:
        return float(y[0])

    down.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(rate, (0, 3000), [20e3, 0.0], events=[down], rtol=1e-8, atol=1e-6, method="LSODA")
    assert ground.time[0] == pytest.approx(found.t[-1], rel=1e-4)
    assert ground.velocity[2, 0] == pytest.approx(found.y[1, -1], rel=1e-3)


def test_wind_takes_it_along_as_an_integrator_has_it(vehicle: Vehicle, falling: Falling) -> None:
    """Against scipy's integrator with the wind's own formula, member by member."""
    _, ground = drop_all(falling, vehicle, wind=6.0)

    def rate(_: float, y: np.ndarray) -> np.ndarray:
        density = vehicle.atmosphere.density(vehicle.ground_height - min(float(y[2]), 0.0))
        drag = 0.5 * density * falling.drag_area / vehicle.mass
        north, east = vehicle.wind.velocity(-y[2])
        air = y[3:] - 2.0 * np.array([north, east, 0.0])  # the design's wind is 3 m/s
        return np.concatenate([y[3:], -drag * np.linalg.norm(air) * air + [0, 0, GRAVITY]])

    def down(_: float, y: np.ndarray) -> float:
        return float(y[2])

    down.terminal = True  # type: ignore[attr-defined]
    for i, height in enumerate(HEIGHTS):
        found = solve_ivp(rate, (0, 1000), [0, 0, -height, 0, 0, 0], events=[down], rtol=1e-9, atol=1e-9)
        end = found.y[:, -1]
        assert ground.time[i] == pytest.approx(found.t[-1], rel=1e-4)
        assert [ground.north[i], ground.east[i]] == pytest.approx(end[:2], abs=0.01 + 1e-3 * abs(end[1]))
        assert ground.velocity[:, i] == pytest.approx(end[3:], abs=0.02)


def test_wind_direction_turns_the_drift(vehicle: Vehicle, falling: Falling) -> None:
    n = 4
    turns = falling.wind_from + np.radians([0, 90, 180, 270])
    _, ground = fall(
        falling, height=np.full(n, 60.0), mass=np.full(n, vehicle.mass), wind_speed=np.full(n, 3.0),
        wind_from=turns, until=np.zeros(n),
    )  # fmt: skip
    # from 270 deg it blows to the east; each quarter turn clockwise turns the drift with it
    unit = np.array([ground.east, ground.north]) / np.hypot(ground.east, ground.north)
    np.testing.assert_allclose(unit.T, [[1, 0], [0, -1], [-1, 0], [0, 1]], atol=1e-9)
    np.testing.assert_allclose(np.hypot(ground.north, ground.east), np.hypot(ground.north[0], ground.east[0]))


def test_heavier_falls_faster(vehicle: Vehicle, falling: Falling) -> None:
    _, ground = fall(
        falling, height=np.full(2, 100.0), mass=np.array([1.0, 2.0]), wind_speed=np.zeros(2),
        wind_from=np.zeros(2), until=np.zeros(2),
    )  # fmt: skip
    assert ground.velocity[2, 1] > 1.2 * ground.velocity[2, 0]


def test_no_members_no_trouble(falling: Falling) -> None:
    none = np.zeros(0)
    _, ground = fall(falling, height=none, mass=none, wind_speed=none, wind_from=none, until=none)
    assert len(ground.time) == 0


def test_velocity_at_release_counts_only_when_given(heron: Design) -> None:
    thrown = override(
        heron, {"drop.start": "velocity", "drop.velocity": ["10 m/s", 0, 0], "site.wind.speed": 0}
    )
    vehicle = assemble(thrown)
    falling = build_falling(vehicle, release_of(vehicle), highest=100.0, opens_late=False)
    _, ground = drop_all(falling, vehicle, wind=0.0)
    assert (ground.north > 5).all()


def test_opening_takes_less_time_at_speed(vehicle: Vehicle) -> None:
    lost, time = opening_losses(vehicle, 60.0)
    assert lost.shape == time.shape == OPENING_SPEEDS.shape
    assert (np.diff(time) < 0).all()
    assert (lost > 1).all()


@pytest.mark.parametrize("pack", ["bag", "loose", "static line"])
def test_every_pack_can_open_late(heron: Design, pack: str) -> None:
    vehicle = assemble(override(heron, {"opening.pack": pack}))
    lost, _ = opening_losses(vehicle, 60.0)
    assert np.isfinite(lost).all()
