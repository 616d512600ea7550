"""What must hold for the aerodynamics of any sane design."""

from __future__ import annotations

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parasim.aerodynamics.drag import body_forces
from parasim.aerodynamics.model import MIRROR
from parasim.aerodynamics.strips import Flow
from parasim.config.design import Design
from parasim.dynamics.vehicle import assemble
from tests.strategies import designs

FEW = settings(max_examples=8, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@FEW
@given(design=designs())
def test_tables_are_finite_and_settled(design: Design) -> None:
    vehicle = assemble(design)
    for table in (vehicle.model.table, vehicle.model.released_table):
        assert np.isfinite(table.steady).all()
        assert np.isfinite(table.rates).all()
        assert table.unconverged <= 0.001 * table.steady[..., 0].size


@FEW
@given(
    design=designs(),
    alpha=st.floats(-0.2, 0.5),
    beta=st.floats(-0.5, 0.5),
    left=st.floats(0, 1),
    right=st.floats(0, 1),
)
def test_the_model_mirrors(design: Design, alpha: float, beta: float, left: float, right: float) -> None:
    model = assemble(design).model
    one = model.coefficients(Flow.steady(np.array([alpha]), beta), np.array([left]), np.array([right]))
    other = model.coefficients(Flow.steady(np.array([alpha]), -beta), np.array([right]), np.array([left]))
    np.testing.assert_allclose(one, MIRROR * other, atol=1e-3)


@FEW
@given(design=designs(), alpha=st.floats(-np.pi, np.pi), beta=st.floats(-1.5, 1.5))
def test_drag_holds_back(design: Design, alpha: float, beta: float) -> None:
    """From whatever side the air comes, the canopy and its bodies are pushed along with it."""
    vehicle = assemble(design)
    wind = Flow.steady(np.array([alpha]), beta).wind[0]
    steady, _ = vehicle.model.table.look_up(alpha, beta, 0.0, 0.0)
    assert steady[:3] @ wind > 0
    position = vehicle.bodies.position
    assert (body_forces(vehicle.bodies, np.broadcast_to(wind, position.shape)) @ wind).sum() > 0


@FEW
@given(design=designs())
def test_small_angles_lift_and_turn_into_the_wind(design: Design) -> None:
    """More angle of attack more lift; sideslip from the right pushes left and rolls away; rates damp."""
    table = assemble(design).model.released_table
    low, _ = table.look_up(0.05, 0.0, 0.0, 0.0)
    high, rates = table.look_up(0.10, 0.0, 0.0, 0.0)
    assert high[2] < low[2] < 0.1
    slipping, _ = table.look_up(0.05, 0.05, 0.0, 0.0)
    assert slipping[1] < 0
    assert rates[3, 0] < 0
    assert rates[4, 1] < 0
    assert rates[5, 2] < 0


@FEW
@given(design=designs(), brake=st.floats(0.1, 1.0))
def test_both_brakes_slow_down(design: Design, brake: float) -> None:
    """Symmetric brake at a gliding angle of attack: more drag, no side force."""
    model = assemble(design).model
    flow, none, both = Flow.steady(np.array([0.1])), np.zeros(1), np.array([brake])
    free, braked = (model.coefficients(flow, b, b)[0, 0] for b in (none, both))
    along = flow.wind[0]
    assert braked[:3] @ along > free[:3] @ along - 1e-9
    np.testing.assert_allclose(braked[[1, 3, 5]], 0.0, atol=1e-6)
