"""A wing of aspect ratio 40 flies on its section's polar: the coupling of lattice and polar must not lose it.

The middle of such a wing sees hardly any downwash: Prandtl's lifting line gives a rectangular wing of aspect
ratio 40 an induced angle of about CL/(pi A), which is taken off here before the polar is asked. Source:
Prandtl (1921), from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from parasim.aerodynamics.section import build_section_polar
from parasim.aerodynamics.strips import Flow
from parasim.geometry.surface import cosine_strips
from tests.validation.wings import loads, plain_canopy, wind_axes

ASPECT = 40.0
ALPHA = np.radians([-4.0, 0.0, 4.0, 8.0, 10.0])


@pytest.fixture(scope="module")
def wing():
    strips = cosine_strips(plain_canopy(span=ASPECT, chord=1.0), 24)
    polar = build_section_polar(family="naca23015", thickness=0.15, reynolds=8e5)
    return strips, polar, loads(strips, Flow.steady(ALPHA), polar)


def test_lift_at_the_middle(wing):
    """Within 3 % of the polar, and of the polar at the angle less the lifting line's CL/(pi A)."""
    strips, polar, found = wing
    middle = strips.n_strips // 2
    cl = found.cl[:, 0, middle]
    expected, _, _ = polar.coefficients(ALPHA - cl / (np.pi * ASPECT))
    np.testing.assert_allclose(cl, expected, rtol=0.03)
    plain, _, _ = polar.coefficients(ALPHA)
    np.testing.assert_allclose(cl, plain, rtol=0.03)


def test_profile_drag_of_the_whole_wing(wing):
    _, polar, found = wing
    flow = Flow.steady(ALPHA)
    cd = np.einsum("fsk,fk->f", found.profile_drag[:, 0], flow.wind) / ASPECT
    _, expected, _ = polar.coefficients(ALPHA)
    np.testing.assert_allclose(cd, expected, rtol=0.05)


def test_induced_drag_is_prandtls(wing):
    """CL^2/(pi A) over a span efficiency of 0.87 to 0.93 for a rectangle of aspect ratio 40 (Glauert, from
    memory).
    """
    strips, polar, found = wing
    flow = Flow.steady(ALPHA)
    induced = np.einsum("fsk,fk->f", found.induced_drag[:, 0], flow.wind) / ASPECT
    lift = wind_axes(strips, flow, polar, area=ASPECT)[:, 0]
    efficiency = lift**2 / (np.pi * ASPECT) / induced
    assert np.all((efficiency > 0.82) & (efficiency < 0.95))


def test_wrong_sign_would_be_noticed(wing):
    """The trap: a coupling with its sign turned settles at half the lift. Lift must be nearer the whole than
    half.
    """
    strips, polar, _ = wing
    lift = wind_axes(strips, Flow.steady(np.radians([8.0])), polar, area=ASPECT)[0, 0]
    section, _, _ = polar.coefficients(np.radians(8.0))
    assert lift > 0.9 * section
