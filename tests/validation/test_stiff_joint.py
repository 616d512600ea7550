"""The joint in the limit: the stiffer it is, the nearer the rigid vehicle, in inverse proportion."""

from dataclasses import replace

import numpy as np
import pytest

from parasim.config.loader import load_design
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.rigid_body import build_rigid_body
from parasim.dynamics.simulate import simulate
from parasim.dynamics.suspension.payload_joint import Joint, build_jointed_body
from parasim.dynamics.vehicle import assemble
from parasim.flight.trim import find_trims
from parasim.mass.inventory import payload_bottom

PULL = (BrakeCommand(at_time=0.0, left=0.0, right=0.6, over=0.3),)
WATCHED = 2.0


def test_error_falls_with_stiffness(configs):
    vehicle = assemble(load_design(configs / "heron.yaml"))
    start = find_trims(vehicle, modes=False).chosen.state(height=100.0, heading=0.0)
    bottom = payload_bottom(vehicle.design)

    def flown(body, state):
        path = simulate(body, state, PULL, payload_bottom=bottom, longest=WATCHED)
        return path.state[:3, -1]

    rigid = flown(build_rigid_body(vehicle), start)
    jointed = build_jointed_body(vehicle)
    errors = []
    for k in (40.0, 160.0):
        joint = Joint(
            roll_stiffness=k,
            twist_stiffness=k,
            swing_stiffness=k,
            roll_damping=k / 50,
            twist_damping=k / 50,
            swing_damping=k / 50,
        )
        stiff = np.concatenate([start, start[3:7], start[10:13]])
        errors.append(float(np.linalg.norm(flown(replace(jointed, joint=joint), stiff) - rigid)))
    assert errors[1] < 0.05
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.25)
