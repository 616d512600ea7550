"""The table of a long way down, and what is said of thin air."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.environment.gust import Gusts
from parasim.flight.aloft import MOST_LEVELS, levels, round_heights, thin_air_caveats
from parasim.flight.track import ENDS, LONG, LONG_STEP, SAMPLE_STEP, Track, sample_times


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


def track(height: np.ndarray, airspeed: float = 10.0) -> Track:
    """Sinking by 10 m/s and more; only what the table reads."""
    n = len(height)
    zero, time = np.zeros(n), np.arange(n, dtype=float)
    return Track(
        time=time, north=zero, east=zero, height=height, velocity=np.stack([zero, zero, zero + 3.0]),
        airspeed=np.full(n, airspeed), alpha=zero, beta=zero, attitude=np.zeros((3, n)),
        rates=np.zeros((3, n)), left=zero, right=zero,
    )  # fmt: skip


@pytest.mark.parametrize("top", [1.0, 7.3, 80.0, 999.0, 1000.0, 10_000.0, 10_001.0, 35_000.0])
@pytest.mark.parametrize("size", [1.0, 0.3048])
def test_round_heights(top: float, size: float) -> None:
    found = round_heights(top, size)
    assert found[0] == pytest.approx(top)
    assert 2 <= len(found) <= MOST_LEVELS + 2
    assert (np.diff(found) < 0).all()
    assert found[-1] > 0
    steps = found[1:] / size
    mantissa = np.array([f"{step:.6e}"[:8].rstrip("0.").replace(".", "") for step in steps])
    assert all(len(digits) <= 2 for digits in mantissa)


def test_levels_are_met_on_the_way(vehicle: Vehicle) -> None:
    """1000, 990, ... m at 0, 1, ... s; a bump upwards does not count twice. EAS is V sqrt(rho / 1.225)."""
    height = 1000.0 - 10.0 * np.arange(91)
    height[40] = 640.0
    found = levels(vehicle, track(height), np.array([1000.0, 755.0, 500.0, 50.0]))
    assert [row.height for row in found] == pytest.approx([1000.0, 755.0, 500.0, 100.0])
    assert [row.time for row in found] == pytest.approx([0.0, 24.5, 50.0, 90.0])
    one = found[1]
    density = vehicle.atmosphere.density(vehicle.ground_height + 755.0)
    assert one.air_density == pytest.approx(density)
    assert one.equivalent_airspeed == pytest.approx(10.0 * (density / 1.225) ** 0.5, rel=1e-5)
    assert one.reynolds == pytest.approx(
        density * 10.0 * vehicle.canopy.mean_chord / vehicle.atmosphere.viscosity(875.0)
    )
    assert one.mach == pytest.approx(10.0 / (1.4 * 287.05287 * vehicle.atmosphere.temperature(875.0)) ** 0.5)
    assert one.wind_from == pytest.approx(np.radians(270.0))
    assert one.sink == 3.0


def test_a_flight_that_ends_on_its_way_has_the_levels_that_it_passed(vehicle: Vehicle) -> None:
    found = levels(vehicle, track(np.array([900.0, 850.0, 810.0])), np.array([900.0, 800.0, 400.0]))
    assert [row.height for row in found] == pytest.approx([900.0, 810.0])


def test_what_is_said_of_thin_air(vehicle: Vehicle) -> None:
    still, rough = Gusts.none(), Gusts.none()._replace(deviation=0.5)
    assert thin_air_caveats(vehicle, track(np.array([900.0, 0.0])), rough) == ()
    assert thin_air_caveats(vehicle, track(np.array([10e3, 0.0])), still) == ()
    (word,) = thin_air_caveats(vehicle, track(np.array([10e3, 0.0])), rough)
    assert "from 1000 m up it fades" in word
    low, fast = thin_air_caveats(vehicle, track(np.array([35e3, 0.0]), airspeed=100.0), still)
    assert "Reynolds number is below 55000" in low
    assert "0.32 of the speed of sound" in fast
    assert "some 6 % more" in fast


def test_where_the_section_tables_end(vehicle: Vehicle) -> None:
    """Re over sqrt(rho) / mu is the same at all heights; so 55 000 is met at one density."""
    (word,) = thin_air_caveats(vehicle, track(np.array([30e3, 0.0])), Gusts.none())
    height = float(word.split("Above ")[1].split(" m")[0])

    def scale(altitude: float) -> float:
        return vehicle.atmosphere.density(altitude) ** 0.5 / vehicle.atmosphere.viscosity(altitude)

    there = vehicle.reynolds * scale(vehicle.ground_height + height) / scale(vehicle.ground_height)
    assert there == pytest.approx(55_000.0, rel=0.02)


def test_a_long_flight_is_sampled_more_coarsely_in_its_middle() -> None:
    assert np.diff(sample_times(LONG)) == pytest.approx(SAMPLE_STEP)
    time = sample_times(4000.02)
    assert (time[0], time[-1]) == (0.0, 4000.02)
    steps = np.diff(time)
    assert (steps > 0).all()
    assert steps.max() == pytest.approx(LONG_STEP)
    assert steps[time[1:] < ENDS].max() == pytest.approx(SAMPLE_STEP)
    assert steps[time[:-1] > 4000.02 - ENDS].max() == pytest.approx(SAMPLE_STEP)
    assert len(time) < 12_000


def test_wind_is_that_of_the_height(vehicle: Vehicle) -> None:
    there = replace(vehicle, wind=replace(vehicle.wind, speed=5.0, exponent=0.0))
    assert [row.wind for row in levels(there, track(np.array([50.0, 0.0])), np.array([50.0]))] == [5.0, 5.0]
