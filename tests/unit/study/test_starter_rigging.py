"""A starter design glides as its payload hangs, rigged for the middle of the model's own window."""

import pytest

from parasim.config.loader import parse_design
from parasim.dynamics.vehicle import assemble
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE, stall_alpha, tuck_margin
from parasim.flight.trim import find_trims
from parasim.study.new import new

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(("mass", "sink"), [(0.3, 2.0), (0.3, 3.0), (1.0, 3.0), (2.5, 5.0), (4.0, 2.5)])
def test_starters_keep_both_margins(mass: float, sink: float) -> None:
    starter = new("lark", mass=mass, sink=sink)
    vehicle = assemble(parse_design(starter.content))
    assert vehicle.rigging.rigging_angle == pytest.approx(starter.vehicle.rigging.rigging_angle, abs=1e-6)
    trim = find_trims(vehicle, modes=False).chosen
    assert tuck_margin(vehicle, trim) >= TUCK_RESERVE
    assert stall_alpha(vehicle) - trim.alpha >= STALL_RESERVE
    assert trim.sink == pytest.approx(sink, rel=0.05)
