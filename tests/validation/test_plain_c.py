"""Compiled flights against the same motion written in C and built by gcc, where there is one."""

import numpy as np
import pytest

from parasim.config.loader import override
from parasim.dynamics.runge_kutta import LANDED, room_for
from parasim.dynamics.runge_kutta import fly as fly_one
from parasim.dynamics.simulate import LONGEST_FLIGHT, RELATIVE_TOLERANCE
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import release_of
from parasim.flight.ensemble import ready
from parasim.flight.family import build_family
from scripts import plain_c

pytestmark = pytest.mark.skipif(not plain_c.has_compiler(), reason="needs gcc")

N = 20
CHANGES = {
    "payload.suspension": {"hooks": "stiff"},
    "lines.rigging_angle": "4 deg",
    "servo": None,
    "drop.height": 40.0,
    "drop.brakes": [
        "2s: L 0.4 R 0 over 1s",
        "4s: L 0 R 0 over 1s",
        "20m: L 0 R 0.3",
        "4m: L 0.9 R 0.9 over 1s",
    ],
    "site.wind": {"speed": 3.0, "from": "250 deg", "turn": "20 deg"},
    "site.turbulence": {"intensity": 0.1, "seed": 1},
}
VARIED = ("wind_speed", "wind_from", "heading", "payload_mass", "rigging_angle", "left_trim", "right_trim")


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return plain_c.PlainC(tmp_path_factory.mktemp("c"))


@pytest.fixture(scope="module")
def family(heron):
    vehicle = assemble(override(heron, CHANGES))
    return build_family(vehicle, release_of(vehicle), varied=VARIED)


@pytest.fixture(scope="module")
def inputs(family):
    random = np.random.default_rng(2)
    spread = {
        "wind_speed": 0.5,
        "wind_from": 0.3,
        "heading": 2.0,
        "payload_mass": 0.05,
        "rigging_angle": 0.01,
    }
    inputs = {name: random.normal(family.nominal[name], s, N) for name, s in spread.items()}
    return inputs | {name: random.uniform(0.0, 0.05, N) for name in ("left_trim", "right_trim")}


def test_lands_where_the_c_version_lands(family, inputs, library):
    """Same operations in the same order: what is left is the last digit of the system's pow and sin.

    In turbulence the steps' lengths hang on such digits, so that no looser agreement would say much: flights
    that differ in one of them part by some millimetres, well within the tolerance of the steps.
    """
    place = tuple(family.payload_bottom)
    room = room_for(plain_c.N_STATES, len(family.brakes) + 1)
    for k in range(N):
        member = ready(family, inputs, k, k, 1)
        expected, told = library.fly(plain_c.Prepared(member, place))
        state = member.state.copy()
        ending, time, steps, alpha, beta = fly_one(
            member.flight,
            place,
            member.timed,
            member.by_height,
            state,
            RELATIVE_TOLERANCE,
            plain_c.TOLERANCES,
            LONGEST_FLIGHT,
            room,
        )
        assert ending == told.ending == LANDED
        assert steps == told.steps
        np.testing.assert_allclose(state[:2], expected[:2], rtol=1e-9)
        np.testing.assert_allclose(
            (time, alpha, beta), (told.time, told.largest_alpha, told.largest_beta), rtol=1e-9
        )
