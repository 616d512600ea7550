"""Compiled flights against scipy: the coefficients of the steps, and where they land.

The integrator is that of scipy, which is none of ours; what it is given to integrate is checked elsewhere.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import RK45

from parasim.config.loader import load_design, override
from parasim.dynamics.runge_kutta import ERROR, LANDED, NODES, WEIGHTS, workspace_for
from parasim.dynamics.runge_kutta import fly as fly_one
from parasim.dynamics.simulate import ABSOLUTE_TOLERANCE, GUST_TOLERANCE, RELATIVE_TOLERANCE, simulate
from parasim.dynamics.vehicle import assemble
from parasim.environment.gust import Gusts
from parasim.flight.drop import release_of
from parasim.scatter.ensemble import ready
from parasim.scatter.ensemble_model import build_ensemble_model

HEIGHT = 14.0
BRAKES = ["1s: L 0.4 R 0 over 1s", "2s: L 0 R 0 over 0.5s", "9m: L 0 R 0.3 over 1s", "3m: L 0.6 R 0.6"]
AIR = {
    "site.wind": {"speed": 3.0, "from": "250 deg", "turn": "15 deg"},
    "site.turbulence": {"intensity": 0.1, "seed": 1},
}
FLATTER = {
    "heron": {"lines.rigging_angle": "2 deg"},
    "wren": {"lines.row_lengths": {"A": "519 mm", "C": "550 mm"}},
    "pelican": {"lines.rigging_angle": "3 deg"},
}
"""So that there is a steady glide with a payload that swings."""
FLIGHTS = {
    "brakes released": (0.0, False, False),
    "windy": (3.0, False, False),
    "braked": (3.0, True, False),
    "turbulent": (3.0, True, True),
}
"""Wind speed [m/s], whether the brakes move, whether there is turbulence."""
AGREEMENT = 1e-5
"""Of landing points, over the way from release, and of times aloft, at a tolerance of `TIGHT`."""
TIGHT = 1e-8
CENTIMETRE = 0.01
"""What the tolerance that drops are flown with must keep to. [m]"""


def test_coefficients_of_the_steps():
    np.testing.assert_array_equal(NODES, [*RK45.C[1:], 1.0])
    np.testing.assert_array_equal(WEIGHTS[:5, :5], RK45.A[1:])
    np.testing.assert_array_equal(WEIGHTS[:5, 5], 0.0)
    np.testing.assert_array_equal(WEIGHTS[5], RK45.B)
    np.testing.assert_allclose(ERROR, -RK45.E, rtol=1e-15)


@pytest.fixture(scope="module", params=["heron", "wren", "pelican"])
def design(request, configs):
    changes = {"drop.height": HEIGHT, "drop.brakes": BRAKES, **AIR}
    return override(load_design(configs / f"{request.param}.yaml"), changes)


@pytest.fixture(scope="module", params=["rigid", "jointed"])
def family(request, design):
    changes = {"payload.suspension": {}, **FLATTER[design.name]} if request.param == "jointed" else {}
    vehicle = assemble(override(design, changes))
    return build_ensemble_model(vehicle, release_of(vehicle), varied=())


class Body:
    """What `simulate` asks of a body."""

    def __init__(self, motion):
        self.motion = motion


def flown(member, family, rtol):
    """Last state and time aloft of a compiled flight."""
    atol = np.append(ABSOLUTE_TOLERANCE[: family.n_states], GUST_TOLERANCE) * (rtol / RELATIVE_TOLERANCE)
    state, room = member.state.copy(), workspace_for(family.n_states + 2, len(family.brakes) + 1)
    place = tuple(family.payload_bottom)
    ending, time, *_ = fly_one(
        member.flight, place, member.timed, member.by_height, state, rtol, atol, 3600.0, room
    )
    assert ending == LANDED
    return state, time


@pytest.mark.parametrize("flight", FLIGHTS)
def test_lands_where_scipy_lands(family, flight):
    wind, braked, turbulent = FLIGHTS[flight]
    family = replace(
        family,
        brakes=family.brakes if braked else (),
        turbulence=family.turbulence if turbulent else None,
        gusts=family.gusts if turbulent else Gusts.none(),
    )
    member = ready(family, {"wind_speed": np.array([wind])}, 0, 0, 1)
    expected = simulate(
        Body(member.flight.motion),
        member.state[:-2],
        family.brakes,
        payload_bottom=family.payload_bottom,
        gusts=member.flight.gusts,
        servo=member.flight.servo,
        method="DOP853",
        rtol=1e-10,
        atol=1e-10,
    )
    end = expected.state[:3, -1]
    way = np.linalg.norm(end - member.state[:3])
    state, time = flown(member, family, TIGHT)
    assert np.linalg.norm(state[:3] - end) < AGREEMENT * way
    assert time == pytest.approx(expected.duration, rel=AGREEMENT)
    state, _ = flown(member, family, RELATIVE_TOLERANCE)
    assert np.linalg.norm(state[:3] - end) < CENTIMETRE
