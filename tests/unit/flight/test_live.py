"""Flights by hand against `drop`, which follows the same equations with another integrator."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.brakes.actuators import servo_limits
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.drop import Drop, Release, drop, release_of
from parasim.flight.live import (
    MOST_AT_ONCE,
    STEPS_A_SECOND,
    LiveFlight,
    by_keys,
    flare_of,
    gliding,
)
from parasim.units import show

STEP = 1 / STEPS_A_SECOND


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


def released(vehicle: Vehicle, release: Release | None = None) -> LiveFlight:
    flight = LiveFlight(vehicle, release)
    flight.release()
    return flight


def flown_like(found: Drop) -> LiveFlight:
    """The same release, its brakes fed step by step what the drop was commanded in the middle of each."""
    flight, commanded = released(found.vehicle, found.release), found.trajectory.commanded
    while not flight.ended:
        flight.pull(*commanded.position(flight.time + STEP / 2))
        flight.step()
    return flight


def pulled(height: float, *brakes: str, vehicle: Vehicle) -> Release:
    commands = tuple(BrakeCommand.model_validate(text) for text in brakes)
    return replace(release_of(vehicle), height=height, brakes=commands)


@pytest.mark.parametrize("brakes", ["L 0 R 0", "L 0.3 R 0", "L 0.5 R 0.5"])
def test_steady_flight_is_that_of_the_drop(vehicle: Vehicle, brakes: str) -> None:
    """To the last printed digit, 25 s after the brakes were pulled; the wind's shear is in both."""
    wanted = drop(vehicle, pulled(120.0, f"0s: {brakes}", vehicle=vehicle))
    flight = released(vehicle, wanted.release)
    command = wanted.release.brakes[0]
    flight.pull(command.left, command.right)
    while flight.time < 25.0 - STEP / 2:
        flight.step()
    now, track = flight.now, wanted.track
    at = int(np.argmin(np.abs(track.time - 25.0)))
    assert flight.time == pytest.approx(track.time[at], abs=1e-9)
    for name, kind in {
        "airspeed": "speed", "sink": "speed", "ground_speed": "speed", "alpha": "angle", "height": "length",
        "north": "length", "east": "length", "left": "percent", "right": "percent",
    }.items():  # fmt: skip
        ours, theirs = float(getattr(now, name)[0]), float(getattr(track, name)[at])
        # Either side of where a digit turns over. Last bits of the tables, changed at random by 2e-16, moved
        # the drop's place after that time by up to 1.5 mm: its steps are taken to 1e-6.
        edge = abs(ours - theirs) < (2e-3 if kind == "length" else 1e-5)
        assert show(ours, kind) == show(theirs, kind) or edge, name


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_a_schedule_fed_step_by_step_lands_where_the_drop_does(name: str, configs: Path) -> None:
    """A command counts from the start of a step, so that it comes up to half a step, 8 ms, early or late.

    That moves a landing in the middle of a flare, which slows by some 5 m/s each second, by 0.04 m/s; and its
    place by as long a way as it flies then, 0.07 m. Twice that is allowed, for both edges of a move.
    """
    found = drop(assemble(load_design(configs / f"{name}.yaml")))
    flight = flown_like(found)
    now = flight.now
    assert flight.ending == "landed"
    assert flight.time == pytest.approx(found.time_aloft, abs=STEP)
    assert now.north[0] == pytest.approx(found.end.north, abs=0.14)
    assert now.east[0] == pytest.approx(found.end.east, abs=0.14)
    assert flight.touchdown is not None
    assert flight.touchdown.sink == pytest.approx(found.end.touchdown.sink, abs=0.08)
    assert flight.touchdown.ground_speed == pytest.approx(found.end.touchdown.ground_speed, abs=0.08)
    assert flight.touchdown.mass == found.vehicle.mass


def test_moves_at_the_edges_of_steps_land_within_the_integrators_errors(vehicle: Vehicle) -> None:
    """Whole seconds are such edges: what is left is the two integrators' own, a few millimetres."""
    brakes = ("2s: L 0.4 R 0", "5s: L 0 R 0.2", "9s: L 0.1 R 0.1")
    found = drop(vehicle, pulled(40.0, *brakes, vehicle=vehicle))
    flight = flown_like(found)
    assert flight.time == pytest.approx(found.time_aloft, abs=2e-3)
    assert flight.now.north[0] == pytest.approx(found.end.north, abs=0.01)
    assert flight.now.east[0] == pytest.approx(found.end.east, abs=0.01)
    assert flight.now.sink[0] == pytest.approx(found.end.touchdown.sink, abs=2e-3)


def test_gusts_and_turbulence_are_those_of_the_file(heron: Design) -> None:
    """A gust that began anew with every step, or none, would land metres away."""
    gust = {"speed": "2 m/s", "length": "20 m", "start": "4 s"}
    rough = override(
        heron, {"site.gust": gust, "site.turbulence": {"deviation": "0.6 m/s"}, "drop.brakes": []}
    )
    found = drop(assemble(rough))
    flight = flown_like(found)
    assert flight.now.north[0] == pytest.approx(found.end.north, abs=0.05)
    assert flight.now.east[0] == pytest.approx(found.end.east, abs=0.05)


def test_servos_lag_and_stop_at_their_travel(heron: Design) -> None:
    """A servo that takes 4 s for the sweep: as far after a second as its rate has it, and no further."""
    slow = assemble(override(heron, {"servo.time_per_60_deg": "2 s"}))
    rate, reach = servo_limits(slow.design)
    flight = released(slow)
    flight.pull(1.0, 0.0)
    for _ in range(STEPS_A_SECOND):
        flight.step()
    assert flight.now.left[0] == pytest.approx(rate * 1.0)
    assert flight.now.right[0] == 0.0
    flight.pull(0.0, 5.0)
    assert flight.command.tolist() == [0.0, 1.0]
    for _ in range(6 * STEPS_A_SECOND):
        flight.step()
    assert flight.now.right[0] == pytest.approx(reach)


def test_slack_lines_end_it_as_they_end_the_drop(heron: Design) -> None:
    """heron let go hanging still in a calm tucks, and its lines go slack."""
    calm = assemble(override(heron, {"drop.start": "rest", "site.wind.speed": 0.0, "drop.brakes": []}))
    found, flight = drop(calm), released(calm)
    while not flight.ended:
        flight.step()
    assert flight.ending == found.end.ending == "slack lines"
    assert flight.time == pytest.approx(found.time_aloft, abs=STEP)
    assert flight.touchdown is None
    assert flight.verdicts == ()
    time_then = flight.time
    flight.step()
    assert flight.time == time_then
    glides = LiveFlight(calm, gliding(release_of(calm)))
    assert glides.now.airspeed[0] > 5.0


def test_time_passes_only_when_it_should(vehicle: Vehicle) -> None:
    flight = LiveFlight(vehicle)
    assert flight.pass_time(1.0) == 0  # held until it is let go
    flight.release()
    assert flight.pass_time(0.1) == 6
    assert flight.time == pytest.approx(0.1)
    flight.paused = True
    assert flight.pass_time(1.0) == 0
    flight.paused, flight.pace = False, 0.25
    assert sum(flight.pass_time(0.1) for _ in range(4)) == 6
    flight.pace = 1.0
    assert flight.pass_time(60.0) == round(MOST_AT_ONCE * STEPS_A_SECOND)  # a sleeping machine lands nothing
    assert flight.pass_time(-1.0) == 0


def test_it_keeps_ten_moments_a_second_and_its_end(vehicle: Vehicle) -> None:
    flight = released(vehicle, pulled(3.0, vehicle=vehicle))
    while not flight.ended:
        flight.step()
    times = flight.track.time
    np.testing.assert_allclose(times[:-1], 0.1 * np.arange(len(times) - 1), atol=1e-9)
    assert times[-1] == flight.time
    bottom = flight.body.payload(flight.state, np.array([0.0, 0.0, 0.27]))[0]
    assert bottom[2] == pytest.approx(0.0, abs=1e-6)


def test_target_is_the_files_or_what_is_asked_for(heron: Design, vehicle: Vehicle) -> None:
    assert LiveFlight(vehicle).distance_to_target is None
    aimed = assemble(override(heron, {"scatter.target": {"north": "30 m", "east": "-40 m"}}))
    assert LiveFlight(aimed).distance_to_target == pytest.approx(50.0)
    assert LiveFlight(aimed, target=(0.0, 7.0)).distance_to_target == pytest.approx(7.0)


def test_keys_pull_and_let_up() -> None:
    """A second for the whole travel, half a second back, and never beyond either end."""
    command = np.zeros(2)
    for _ in range(30):
        command = by_keys(command, (True, False), STEP)
    np.testing.assert_allclose(command, [0.5, 0.0])
    for _ in range(15):
        command = by_keys(command, (False, True), STEP)
    np.testing.assert_allclose(command, [0.0, 0.25], atol=1e-12)
    assert by_keys(command, (True, True), 9.0).tolist() == [1.0, 1.0]


def test_flare_is_the_files(vehicle: Vehicle, heron: Design) -> None:
    found = flare_of(vehicle)
    assert found is not None
    assert (found.left, found.over) == (0.94, 1.6)
    assert flare_of(assemble(override(heron, {"drop.brakes": ["3s: L 1 R 1"]}))) is None


def test_it_is_far_quicker_than_real_time(vehicle: Vehicle) -> None:
    """Measured: 2 ms of one core for a second of flight. Fifty times that still leaves nine tenths idle."""
    flight = released(vehicle)
    flight.step()
    begun = time.process_time()
    for _ in range(10 * STEPS_A_SECOND):
        flight.step()
    assert (time.process_time() - begun) / 10.0 < 0.1
