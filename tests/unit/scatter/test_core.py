"""A scatter over the compiled core: what is asked of it, and what physics says of any core."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.runge_kutta import OVERTURNED
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.wind import Wind
from parasim.flight.drop import Release, release_of
from parasim.scatter.ensemble_model import INPUTS
from parasim.scatter.inputs import FLIGHT_INPUTS
from parasim.scatter.members import LATE, OPENED, UNOPENED, Chunk, Members, Plan, fly_chunk
from parasim.scatter.replay import replay
from parasim.scatter.scatter import build_plan, fly_all, scatter
from parasim.workers import Workers
from tests.unit.scatter.test_scatter import same

CALIBRATED = {f"scatter.{name}": {"normal": 0} for name in INPUTS if name not in FLIGHT_INPUTS}
"""Calibration numbers as the design has them: their tables take most of the time."""
TURBULENT = {"site.turbulence": {"intensity": "15 %"}}
EVEN = {"site.wind.exponent": 0}


@pytest.fixture(scope="module")
def heron(heron: Design) -> Design:
    """From 60 m, with two turns, and its brakes pulled near the ground."""
    brakes = ["3s: L 0.4 R 0 over 1s", "5s: L 0 R 0 over 1s", "9s: L 0 R 0.4 over 1s", "11s: L 0 R 0 over 1s"]
    return override(heron, {"drop.height": 60.0, "drop.brakes": [*brakes, "4m: L 0.9 R 0.9 over 1s"]})


def plan_of(design: Design) -> tuple[Vehicle, Release, Plan]:
    vehicle = assemble(design)
    release = release_of(vehicle)
    return vehicle, release, build_plan(vehicle, release, seed=3)


@pytest.fixture(scope="module")
def turbulent(heron: Design) -> tuple[Vehicle, Release, Plan]:
    return plan_of(override(heron, {**CALIBRATED, **TURBULENT, "scatter.late.probability": "10 %"}))


def test_inputs_are_those_of_the_core() -> None:
    assert set(INPUTS) == {*FLIGHT_INPUTS, *(name for name in INPUTS if f"scatter.{name}" in CALIBRATED)}
    from parasim.scatter.inputs import COLUMNS

    assert set(INPUTS) == set(COLUMNS) - {"opening", "delay"}


def test_drift_in_an_even_wind_is_wind_times_time(heron: Design) -> None:
    """Whatever the canopy does through the air, an even wind only carries it along: Galileo's invariance."""
    design = override(heron, {**CALIBRATED, **EVEN, "scatter.unopened": 0, "scatter.late.probability": 0})
    vehicle, release, plan = plan_of(design)
    calm = in_wind(vehicle, replace(vehicle.wind, speed=1e-9))
    still = build_plan(calm, release, seed=3)
    windy, quiet = fly_chunk(plan, Chunk(0, 40)), fly_chunk(still, Chunk(0, 40))
    speed, comes_from = windy.inputs["wind_speed"], windy.inputs["wind_from"]
    np.testing.assert_allclose(windy.time_aloft, quiet.time_aloft, rtol=1e-4)
    north = quiet.north - speed * np.cos(comes_from) * windy.time_aloft
    east = quiet.east - speed * np.sin(comes_from) * windy.time_aloft
    np.testing.assert_allclose(windy.north, north, atol=0.03)
    np.testing.assert_allclose(windy.east, east, atol=0.03)
    np.testing.assert_allclose(windy.sink, quiet.sink, atol=0.01)


def test_same_bytes_in_any_chunks_and_workers(turbulent: tuple[Vehicle, Release, Plan]) -> None:
    _, _, plan = turbulent
    teams = [Workers(count=1, pool="threads"), Workers(count=2, pool="threads")]
    teams.append(Workers(count=2, pool="processes"))
    found = [fly_all(plan, 130, team) for team in teams]
    assert same(found[0], found[1])
    assert same(found[0], found[2])


def test_turbulence_is_each_members_own(turbulent: tuple[Vehicle, Release, Plan]) -> None:
    _, _, plan = turbulent
    whole = fly_chunk(plan, Chunk(0, 30))
    alone = Members.joined([fly_chunk(plan, Chunk(k, 1)) for k in range(30)])
    # other batches may round the last digit of the inputs differently
    np.testing.assert_allclose(alone.north, whole.north, atol=1e-5)
    again = replace(plan, seed=4)
    assert not np.allclose(fly_chunk(again, Chunk(0, 30)).north, whole.north)


def test_replayed_members_come_down_in_the_same_place(turbulent: tuple[Vehicle, Release, Plan]) -> None:
    """Through assembly, trim and scipy's integrator; the core turns its tables to the rigging instead."""
    vehicle, release, plan = turbulent
    members = fly_chunk(plan, Chunk(0, 100))
    chosen = [int(np.flatnonzero(members.outcome == outcome)[0]) for outcome in (OPENED, LATE, UNOPENED)]
    for k in [*chosen, 1, 2]:
        found = replay(vehicle, release, plan, k)
        assert found.outcome == members.outcome[k]
        if found.drop is None:
            assert found.fallen.north[0] == pytest.approx(members.north[k], abs=1e-6)
            continue
        begun = {**found.inputs, **found.glided}
        north = found.drop.track.north[-1] + begun["release_north"]
        east = found.drop.track.east[-1] + begun["release_east"]
        assert np.hypot(north - members.north[k], east - members.east[k]) < 0.5
        assert found.drop.touchdown.sink == pytest.approx(members.sink[k], rel=0.02)
        assert found.drop.time_aloft + found.fallen.time_aloft[0] == pytest.approx(
            members.time_aloft[k], abs=0.05
        )


def test_a_measured_wind_is_scaled_and_turned_as_a_whole(heron: Design, tmp_path: Path) -> None:
    table = tmp_path / "wind.csv"
    table.write_text("height_m,speed_m_s,from_deg\n2,1.5,250\n10,3,260\n40,5,280\n100,6,300\n")
    measured = override(heron, {**CALIBRATED, "site.wind": {"table": str(table)}, "scatter.unopened": "30 %"})
    vehicle, release, plan = plan_of(measured)
    members = fly_chunk(plan, Chunk(0, 40))
    for k in (int(np.flatnonzero(members.outcome == outcome)[0]) for outcome in (OPENED, UNOPENED)):
        found = replay(vehicle, release, plan, k)
        if found.drop is None:
            continue
        north = found.drop.track.north[-1] + found.inputs["release_north"]
        east = found.drop.track.east[-1] + found.inputs["release_east"]
        assert np.hypot(north - members.north[k], east - members.east[k]) < 0.5
    fallen = members.select(members.outcome == UNOPENED)
    off = np.array(
        [fallen.north - fallen.inputs["release_north"], fallen.east - fallen.inputs["release_east"]]
    )
    # blown roughly to where each one's wind blows at 30 m, some 14 deg veered from that at 10 m
    towards = fallen.inputs["wind_from"] + np.pi + np.radians(10)
    cosine = (off[0] * np.cos(towards) + off[1] * np.sin(towards)) / np.hypot(*off)
    assert (cosine > np.cos(np.radians(15))).all()


def test_calm_design(heron: Design) -> None:
    found = scatter(
        assemble(override(heron, {**CALIBRATED, "site.wind": None})), drops=60, seed=1,
        workers=Workers(count=1, pool="threads"),
    )  # fmt: skip
    assert isinstance(found.vehicle.wind, Wind)
    assert np.isfinite(found.landed.north).all()


@pytest.mark.parametrize("name", ["wren", "pelican"])
def test_other_designs(name: str, configs: Path) -> None:
    design = override(load_design(configs / f"{name}.yaml"), CALIBRATED)
    found = scatter(assemble(design), drops=150, seed=1, workers=Workers(count=1, pool="threads"))
    # In turbulence one in some hundreds turns over, and none of the rest is lost.
    assert set(found.failed.status.tolist()) <= {OVERTURNED}
    assert len(found.failed) <= 3
    assert found.footprint is not None
    assert found.sensitivity is not None
    assert found.members.settled.all()
