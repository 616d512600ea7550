"""Lines as cylinders, fins as plates, payload as a box.

Source: Hoerner (1965), from memory: a long circular cylinder across a subcritical flow has cd 1.2 on its
frontal area (1.0 to 1.2 at a Reynolds number of 100 to 1e5), inclined by an angle to the flow sin^3 of it
along the flow; a flat plate square to the flow 1.17 to 1.2 at aspect ratio 1 to 2.
"""

from __future__ import annotations

import numpy as np
import pytest

from parasim.aerodynamics.drag import Bodies, body_forces, line_bodies
from parasim.aerodynamics.fins import Fins, fin_forces
from parasim.aerodynamics.strips import Flow
from parasim.dynamics.vehicle import assemble

RHO, SPEED = 1.225, 8.0


def one_line(*, across: bool) -> Bodies:
    direction = np.array([[0.0, 0.0, 1.0] if across else [1.0, 0.0, 0.0]])
    return Bodies(
        name=("lines",), position=np.zeros((1, 3)), drag_area=np.array([1.2 * 0.001]), direction=direction
    )


def test_cylinder_across_the_flow():
    """1 m of 1 mm line at 8 m/s: 1/2 rho V^2 d L cd = 0.5 x 1.225 x 64 x 0.001 x 1.2 = 0.04704 N."""
    force = RHO / 2 * body_forces(one_line(across=True), np.array([[-SPEED, 0.0, 0.0]]))
    np.testing.assert_allclose(force, [[-0.04704, 0.0, 0.0]], rtol=1e-12)


def test_cylinder_along_the_flow():
    force = body_forces(one_line(across=False), np.array([[-SPEED, 0.0, 0.0]]))
    np.testing.assert_allclose(force, 0.0, atol=1e-15)


@pytest.mark.parametrize("degrees", [15, 30, 45, 60, 75])
def test_inclined_cylinder(degrees):
    """Drag by sin^3, lift by sin^2 cos of the angle to the flow."""
    angle = np.radians(degrees)
    line = Bodies(
        name=("lines",),
        position=np.zeros((1, 3)),
        drag_area=np.array([1.0]),
        direction=np.array([[np.cos(angle), 0.0, np.sin(angle)]]),
    )
    x, _, z = body_forces(line, np.array([[1.0, 0.0, 0.0]]))[0]
    assert x == pytest.approx(np.sin(angle) ** 3)
    assert abs(z) == pytest.approx(np.sin(angle) ** 2 * np.cos(angle))


def test_plate_square_to_the_flow():
    """A side wind of 90 deg on a fin of 0.02 m2: cd 1.2, so 0.024 m2, and nothing else but friction."""
    fin = Fins(
        name=("stabilisers",),
        center=np.zeros((1, 3)),
        normal=np.array([[0.0, 1.0, 0.0]]),
        area=np.array([0.02]),
        aspect_ratio=np.array([1.5]),
        wetted_sides=np.array([2.0]),
    )
    force = fin_forces(fin, Flow.steady(np.zeros(1), np.radians(90.0)))[0, 0]
    np.testing.assert_allclose(force, [0.0, -0.024 - 0.012 * 0.02, 0.0], atol=1e-9)


def sum_of_cylinders(line_set, wind):
    """Drag area of every piece of line on its own, in a steady flow, along the wind. [m2]"""
    along = np.array([(line.end - line.start) / line.length for line in line_set.lines])
    length = np.array([line.length for line in line_set.lines])
    across = wind - (along @ wind)[:, None] * along
    force = (1.2 * line_set.diameter * length * np.linalg.norm(across, axis=1))[:, None] * across
    return force.sum(axis=0)


@pytest.mark.parametrize("alpha", [0, 8, 15])
def test_lumped_lines_drag_like_the_sum_of_cylinders(reference, alpha):
    """In gliding flight within 2 %."""
    line_set = assemble(reference).line_set
    wind = Flow.steady(np.radians([alpha])).wind[0]
    bodies = line_bodies(line_set, 1.2)
    lumped = body_forces(bodies, np.tile(wind, (len(bodies.name), 1))).sum(axis=0)
    assert lumped @ wind == pytest.approx(sum_of_cylinders(line_set, wind) @ wind, rel=0.02)
