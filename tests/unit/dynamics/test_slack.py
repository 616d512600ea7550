"""Lines only pull: where they would have to push, or the payload lies above the canopy, a flight ends."""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians
from pathlib import Path

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.config.scenario import longest_drop
from parasim.dynamics.flight_rates import Flight, flight_rates
from parasim.dynamics.reach import MOST_RISE, is_overturned, upright
from parasim.dynamics.runge_kutta import ALOFT, SLACK
from parasim.dynamics.simulate import simulate
from parasim.dynamics.state import ATTITUDE, LATERAL, RATES, VELOCITY
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.atmosphere import GRAVITY
from parasim.environment.gust import Gusts
from parasim.environment.wind import Wind
from parasim.errors import FlightError
from parasim.flight.drop import Release, drop, initial_state
from parasim.flight.trim import find_trims
from parasim.mass.inventory import payload_bottom, payload_center
from parasim.rotations import FloatArray, rotation_matrix
from parasim.scatter.ensemble import fly
from parasim.scatter.ensemble_model import build_ensemble_model

SUSPENSIONS = {
    "one point": {},
    "front and rear": {
        "hooks": "front and rear",
        "front": "15 mm",
        "rear": "-45 mm",
        "height": "70 mm",
        "front_rows": ["A"],
        "front_riser": "60 mm",
        "rear_riser": "60 mm",
    },
    "stiff": {"hooks": "stiff"},
}
NO_MOVES = np.empty((0, 4))


def from_rest(height: float = 80.0, heading: float = 0.0) -> Release:
    return Release(height=height, start="rest", heading=heading, velocity=np.zeros(3), brakes=())


@pytest.fixture(scope="module")
def calm(configs: Path) -> Vehicle:
    return in_wind(assemble(load_design(configs / "heron.yaml")), Wind.calm())


def rates_and_pull(vehicle: Vehicle, state: FloatArray) -> tuple[FloatArray, float]:
    y, out = np.append(state, (0.0, 0.0)), np.empty(len(state) + 2)
    flight = Flight(motion=build_body(vehicle).motion, gusts=Gusts.none())
    pull = flight_rates(flight, NO_MOVES, 0, 0.0, y, out)[3]
    return out[:-2], pull


@pytest.mark.parametrize("hooks", SUSPENSIONS)
def test_pull_is_what_accelerates_the_payload_besides_weight_and_drag(heron: Design, hooks: str) -> None:
    """Newton's second law of the payload, its acceleration by differences of its velocity."""
    rows = {"lines.cascades": []} if hooks == "front and rear" else {}
    vehicle = assemble(override(heron, {"payload.suspension": SUSPENSIONS[hooks], **rows}))
    body, payload = build_body(vehicle), vehicle.design.payload
    rng, center = np.random.default_rng(5), payload_center(vehicle.design)
    for _ in range(20):
        state = np.zeros(13)
        state[2], state[ATTITUDE] = -50.0, np.array([1.0, 0.0, 0.0, 0.0]) + rng.normal(0, 0.3, 4)
        state[ATTITUDE] /= np.linalg.norm(state[ATTITUDE])
        state[VELOCITY] = np.array([8.0, 0.0, 2.0]) + rng.normal(0, 2.0, 3)
        state[RATES] = rng.normal(0, 1.0, 3)
        state = body.hanging(state)
        rates, pull = rates_and_pull(vehicle, state)
        step = 1e-5
        (_, before), (_, after) = (body.payload(state + k * step * rates, center) for k in (-1, 1))
        _, velocity = body.payload(state, center)
        air = velocity - [*vehicle.wind.velocity(50.0), 0.0]
        density = vehicle.atmosphere.density(vehicle.ground_height + 50.0)
        drag = -0.5 * density * payload.drag_area_or_default * np.linalg.norm(air) * air
        weight = np.array([0.0, 0.0, payload.mass * GRAVITY])
        lines = payload.mass * (after - before) / (2 * step) - weight - drag
        upwards = -rotation_matrix(state[ATTITUDE])[:, 2]
        assert pull == pytest.approx(float(lines @ upwards), abs=2e-4 * payload.mass * GRAVITY)


def test_pull_in_the_steady_glide_carries_the_payload(calm: Vehicle) -> None:
    """Weight and drag along the lines, by hand: within the small angle between lines and upright."""
    trim = find_trims(calm, modes=False).chosen
    _, pull = rates_and_pull(calm, build_body(calm).hanging(trim.state(height=0.0, heading=0.0)))
    assert pull == pytest.approx(calm.design.payload.mass * GRAVITY, rel=0.02)


@pytest.mark.parametrize("name", ["heron", "wren", "pelican", "dipper", "kingfisher"])
def test_a_release_from_rest_in_still_air_is_no_landing(configs: Path, name: str) -> None:
    vehicle = in_wind(assemble(load_design(configs / f"{name}.yaml")), Wind.calm())
    found = drop(vehicle, from_rest())
    assert found.end.ending == "slack lines"
    assert found.touchdown is None
    assert 0.5 < found.end.time < 1.2
    assert any("lines go slack" in text and "unopened" in text for text in found.caveats)


@pytest.mark.parametrize("method", ["LSODA", "DOP853", "RK45"])
@pytest.mark.parametrize("rtol", [1e-6, 1e-8, 1e-10])
def test_the_moment_does_not_hang_on_tolerance_or_method(calm: Vehicle, rtol: float, method: str) -> None:
    body, release = build_body(calm), from_rest()
    start = body.hanging(initial_state(calm, release, find_trims(calm, modes=False).chosen))
    flight = simulate(
        body, start, payload_bottom=payload_bottom(calm.design), rtol=rtol, atol=rtol, method=method
    )
    assert flight.ending == "slack lines"
    assert flight.duration == pytest.approx(drop(calm, release).end.time, abs=1e-3)


@pytest.mark.parametrize("height", [120.0, 120.1, 121.0, 150.0])
@pytest.mark.parametrize("heading", [0.0, 40.0, 217.0])
def test_a_symmetric_start_stays_in_its_plane(calm: Vehicle, height: float, heading: float) -> None:
    """To the last bit in the axes of release, and to rounding over the ground."""
    found = drop(calm, from_rest(height, radians(heading)))
    assert np.all(found.trajectory.state[list(LATERAL)] == 0.0)
    off = (found.bearing - radians(heading) + pi) % (2 * pi) - pi
    assert min(abs(off), pi - abs(off)) < 1e-9
    assert np.degrees(found.track.attitude[2]) % 360 == pytest.approx(heading, abs=1e-9)


def test_what_is_dropped_across_the_plane_is_rounding(calm: Vehicle) -> None:
    found = drop(calm, replace(from_rest(30.0), start="steady"))
    for state in found.trajectory.state.T:
        rates, _ = rates_and_pull(calm, state)
        assert np.abs(rates[list(LATERAL)]).max() < 1e-11


def test_an_ensemble_ends_where_the_single_drop_ends(configs: Path) -> None:
    calm = in_wind(assemble(load_design(configs / "heron.yaml")), Wind.calm())
    release = from_rest()
    family = build_ensemble_model(calm, release, varied=("heading",))
    member = fly(family, {"heading": np.array([0.0])}, number=np.arange(1), seed=1)
    assert member.status[0] == SLACK
    # At the end of the step in which it happens.
    assert 0.0 <= member.time_aloft[0] - drop(calm, release).end.time < 0.1


def test_released_with_slack_lines_it_is_said(calm: Vehicle) -> None:
    upwards = replace(from_rest(), start="velocity", velocity=np.array([0.0, 0.0, -20.0]))
    found = drop(calm, upwards)
    assert found.end.ending == "slack lines"
    assert found.end.time == 0.0
    assert found.touchdown is None
    with pytest.raises(FlightError, match=r"slack lines, not computed further.*at 0.00 s"):
        found.trajectory.followed()


@pytest.mark.parametrize(("bank", "over"), [(0.0, False), (80.0, False), (100.0, True), (180.0, True)])
def test_overturned(bank: float, over: bool) -> None:
    state = np.zeros(15)
    state[3], state[4] = np.cos(radians(bank) / 2), np.sin(radians(bank) / 2)
    assert upright(state) == pytest.approx(np.cos(radians(bank)))
    assert is_overturned(state) == over


def test_figures_of_a_flight_that_hangs_on_rounding_are_not_known(calm: Vehicle) -> None:
    """A landing that another tolerance puts elsewhere, or ends otherwise, is none."""
    trim = find_trims(calm, height=30.0, modes=False).chosen
    found = drop(calm, replace(from_rest(30.0), start="steady"), trim=trim)
    assert found.alike
    assert found.error_of_place < 0.01
    assert found.touchdown is not None
    elsewhere = replace(found, finer_end=replace(found.end, north=found.end.north + 0.2 * found.distance))
    assert elsewhere.touchdown is None
    assert any("hangs on rounding" in text for text in elsewhere.caveats)
    otherwise = replace(found, finer_end=replace(found.end, ending="overturned"))
    assert otherwise.touchdown is None
    faster = replace(found.end.touchdown, sink=2 * found.end.touchdown.sink, ground_speed=0.0)
    assert replace(found, finer_end=replace(found.end, touchdown=faster)).touchdown is None


def test_still_aloft_has_no_touchdown(calm: Vehicle) -> None:
    found = drop(calm, replace(from_rest(30.0), start="steady"))
    aloft = replace(found, end=replace(found.end, ending="aloft"))
    assert aloft.touchdown is None
    assert aloft.unknown == "it is still aloft"


def test_carried_off_by_air_that_rises(calm: Vehicle) -> None:
    """A gust that rises for ever holds it up: neither drop nor ensemble follows it for six hours."""
    gust = {"speed": "12 m/s", "length": "10 m", "direction": "up"}
    vehicle = assemble(override(calm.design, {"site.gust": gust, "drop.start": "steady"}))
    found = drop(vehicle)
    assert found.end.ending == "aloft"
    assert found.end.height == pytest.approx(vehicle.design.drop.height + MOST_RISE, abs=2.0)
    assert (
        longest_drop(vehicle.design.drop.height) > found.end.time == pytest.approx(MOST_RISE / 10.0, rel=0.1)
    )
    family = build_ensemble_model(vehicle, found.release, varied=("heading",))
    member = fly(family, {"heading": np.array([found.release.heading])}, number=np.arange(1), seed=1)
    assert member.status[0] == ALOFT
    assert member.time_aloft[0] == pytest.approx(found.end.time, abs=1.0)
