"""Steered flights against the single drop of the reference integrator: motion, servos, gusts and flare."""

from __future__ import annotations

from math import radians

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.brakes.actuators import servo_limits
from parasim.dynamics.flight_rates import Flight
from parasim.dynamics.steered import SteeredFlight, fly_steered
from parasim.dynamics.suspension.payload_joint import build_body
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.environment.gust import build_gusts
from parasim.flight.drop import Release, drop, initial_state
from parasim.flight.trim import find_trims
from parasim.mass.inventory import payload_bottom

HEIGHT = 40.0
CASES = {
    "brakes released": {},
    "one brake": {"pull": 0.5},
    "a flare": {"flare": (2.7, 1.6, 0.9, 0.9)},
    "a gust on the way": {"site": {"site.gust": {"speed": "2 m/s", "length": "20 m", "start": "6 s"}}},
}


def release_with(*brakes: str) -> Release:
    commands = tuple(BrakeCommand.model_validate(text) for text in brakes)
    return Release(height=HEIGHT, start="steady", heading=radians(200), velocity=np.zeros(3), brakes=commands)


def steered(vehicle: Vehicle, pull: float = 0.0, flare: tuple[float, ...] | None = None) -> SteeredFlight:
    trim, body = find_trims(vehicle, height=HEIGHT, modes=False).chosen, build_body(vehicle)
    gusts = build_gusts(vehicle.design.site, trim.airspeed, wind=vehicle.wind)
    flight = Flight(motion=body.motion, gusts=gusts, servo=servo_limits(vehicle.design))
    start = np.append(body.hanging(initial_state(vehicle, release_with(), trim)), (0.0, 0.0))
    return fly_steered(
        flight, start, tuple(payload_bottom(vehicle.design).tolist()), lambda seen: (pull, 0.0),
        every=0.5, last=np.array([flare] if flare else []).reshape(-1, 4),
    )  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_it_flies_as_the_drop_does(heron: Design, name: str) -> None:
    """Places within a decimetre over some 150 m, times within a hundredth, speeds within 0.02 m/s.

    The integrators' tolerances are a hundred times finer, but the drop bends its brakes once, and the
    steered flight restarts every half second. A gust that came again after every setting would be 20 m off.
    """
    case = dict(CASES[name])
    vehicle = assemble(override(heron, case.pop("site", {})))
    found = steered(vehicle, **case)
    brakes = ["0s: L 0.5 R 0"] if "pull" in case else []
    brakes += ["2.7m: L 0.9 R 0.9 over 1.6s"] if "flare" in case else []
    wanted = drop(vehicle, release_with(*brakes))
    assert found.landed
    assert found.end.time == pytest.approx(wanted.end.time, abs=0.01)
    assert (found.end.north, found.end.east) == pytest.approx((wanted.end.north, wanted.end.east), abs=0.1)
    assert found.end.velocity[2] == pytest.approx(wanted.track.sink[-1], abs=0.02)


def test_servos_follow_at_their_speed(heron: Design) -> None:
    """A servo that takes 4 s for the whole travel has pulled an eighth of it after half a second."""
    slow = override(heron, {"servo.time_per_60_deg": "2 s"})
    rate = servo_limits(slow).rate
    assert 0.2 < rate < 0.3
    seen = steered(assemble(slow), pull=1.0).seen
    assert [each.left for each in seen[:4]] == pytest.approx([0.5 * rate * i for i in range(4)])
    assert all(each.right == 0.0 for each in seen)


def test_the_law_sees_where_it_is(heron: Design) -> None:
    seen = steered(assemble(heron)).seen
    assert np.diff([each.time for each in seen[:-1]]) == pytest.approx(0.5)
    assert seen[0].height == pytest.approx(HEIGHT - 0.27, abs=0.01)
    assert seen[-1].height == pytest.approx(0.0, abs=1e-6)
    assert seen[3].heading % (2 * np.pi) == pytest.approx(radians(200), abs=0.02)
