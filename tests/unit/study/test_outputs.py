"""Outputs by name: each is the figure of its own command, and each moves for some key."""

from math import degrees

import numpy as np
import pytest

from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble
from parasim.errors import SolverError
from parasim.flight.flare.flare import flare
from parasim.flight.glide import headline_figures
from parasim.flight.landing import landing
from parasim.flight.opening.opening import opening
from parasim.flight.servo.servo import servo
from parasim.flight.trim import find_trims
from parasim.flight.turn.steady import steady_turns
from parasim.study.outputs import OUTPUTS, Flown
from parasim.units import UNITS

MOVED_BY = {
    "mass": {"payload.mass": 1.4},
    "area": {"canopy.span": 1.2},
    "wing_loading": {"payload.mass": 1.4},
    "aspect_ratio": {"canopy.chord": 0.55},
    "unopened_speed": {"payload.drag_area": 0.03},
    "opening_load": {"opening.filling_constant": 3},
    "opening_height": {"opening.filling_constant": 3},
    "snatch_load": {"opening.release_speed": 12},
    "braked_glide": {"brakes.travel": 0.1},
    "braked_sink": {"brakes.travel": 0.1},
    "braked_speed": {"brakes.travel": 0.1},
    "turn_rate": {"brakes.travel": 0.1},
    "turn_radius": {"brakes.travel": 0.1},
    "servo_force": {"brakes.travel": 0.1},
    "servo_torque": {"servo.arm": 0.08},
    "landing_load": {"landing.stop_distance": 0.05},
}
"""The rest moves with the rigging angle."""


@pytest.fixture(scope="module")
def flown(heron):
    return Flown(vehicle=assemble(heron))


def figures(design, names):
    flown = Flown(vehicle=assemble(design))
    return {name: OUTPUTS[name].figure(flown) for name in names}


def test_names_units_and_heads():
    for name, output in OUTPUTS.items():
        assert output.name == name
        assert output.kind in UNITS
        assert output.head == (f"{name}_{output.suffix}" if output.suffix else name)


def test_glide_outputs_are_those_of_glide(flown):
    wanted = headline_figures(flown.vehicle)
    ours = {"glide": "glide_ratio"}
    for name in ("sink", "glide", "airspeed", "forward_speed", "alpha", "stall_margin", "tuck_margin"):
        assert OUTPUTS[name].figure(flown) == wanted[ours.get(name, name)]


def test_braked_glide_is_that_of_the_polar(flown):
    trim = find_trims(flown.vehicle, brake=1.0, modes=False).chosen
    assert OUTPUTS["braked_sink"].figure(flown) == trim.sink
    assert OUTPUTS["braked_glide"].figure(flown) == trim.glide_ratio


def test_landing_outputs_are_those_of_landing(flown):
    still = landing(flown.vehicle, winds=np.zeros(1), flared=False)
    arrival = still.still("brakes released")
    assert OUTPUTS["landing_energy"].figure(flown) == arrival.touchdown.energy
    assert OUTPUTS["landing_speed"].figure(flown) == arrival.touchdown.speed
    assert OUTPUTS["landing_load"].figure(flown) == arrival.peak_load
    assert OUTPUTS["unopened_speed"].figure(flown) == still.still("unopened").touchdown.sink


@pytest.mark.slow
def test_flared_outputs_are_those_of_flare(flown):
    found = flare(flown.vehicle).touchdown
    assert OUTPUTS["flared_sink"].figure(flown) == found.sink
    assert OUTPUTS["flared_speed"].figure(flown) == found.speed
    assert OUTPUTS["flared_energy"].figure(flown) == found.energy


def test_servo_and_opening_outputs_are_those_of_their_commands(flown):
    told = servo(flown.vehicle)
    assert OUTPUTS["servo_torque"].figure(flown) == told.peak_torque
    assert OUTPUTS["servo_force"].figure(flown) == told.steady_force
    now = opening(flown.vehicle, speeds=np.zeros(0)).now.designed
    assert OUTPUTS["opening_load"].figure(flown) == now.peak
    assert OUTPUTS["opening_height"].figure(flown) == now.height_to_full
    assert OUTPUTS["snatch_load"].figure(flown) == now.snatch[0]


def test_turn_outputs_are_those_of_turn(flown):
    last = steady_turns(flown.vehicle, left=0.0, right=1.0)[-1]
    assert last.right == 1.0
    assert OUTPUTS["turn_rate"].figure(flown) == last.rate
    assert OUTPUTS["turn_radius"].figure(flown) == last.radius


def test_every_output_moves_for_some_key(heron):
    quick = [name for name in OUTPUTS if not name.startswith(("flared", "payload"))]
    before = figures(heron, quick)
    changes = {name: MOVED_BY.get(name, {"lines.rigging_angle": "1 deg"}) for name in quick}
    after = {}
    for change in {str(c): c for c in changes.values()}.values():
        same = [name for name in quick if changes[name] == change]
        after |= figures(override(heron, change), same)
    still = [name for name in quick if abs(after[name] / before[name] - 1) < 1e-4]
    assert still == []


@pytest.mark.slow
def test_flared_outputs_move_too(heron, flown):
    names = ("flared_sink", "flared_speed", "flared_energy")
    moved = figures(override(heron, {"payload.mass": 1.5}), names)
    before = {name: OUTPUTS[name].figure(flown) for name in names}
    assert [name for name in names if abs(moved[name] / before[name] - 1) < 1e-3] == []
    assert moved["flared_energy"] > before["flared_energy"]  # the sink alone may go either way


def test_payload_swings_only_on_its_lines(heron, reference):
    with pytest.raises(SolverError, match=r"the design has hooks: stiff"):
        figures(reference, ["payload_swing"])
    swings = []
    for damping in (0.05, 0.5):
        joint = {"roll_stiffness": 0.5, "twist_stiffness": 0.05, "damping": damping}
        changes = {"payload.suspension": joint, "lines.rigging_angle": "2 deg"}
        swings.append(figures(override(heron, changes), ["payload_swing"])["payload_swing"])
    assert 0 < degrees(swings[1]) < degrees(swings[0]) < 45


def test_no_glide_is_told_in_words(heron):
    with pytest.raises(SolverError, match="no stable steady glide"):
        figures(override(heron, {"calibration.moment_shift": -0.19}), ["sink"])


def test_landing_load_and_fall_figures_carry_cautions():
    for name, output in OUTPUTS.items():
        if name != "wing_loading" and any(
            word in name for word in ("landing", "sink", "flared", "load", "unopened", "servo", "turn")
        ):
            assert any("injure people" in caution for caution in output.cautions), name
