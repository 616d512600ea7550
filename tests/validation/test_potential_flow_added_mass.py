"""Apparent mass against potential flow: Lamb's plates and a numerical solution for rectangular plates.

Sources: Lamb (1932), Hydrodynamics, 6th ed. (from memory: plate broadside-on pi rho a², ellipse pi rho b²,
plate turning pi rho a⁴/8, disc 8/3 rho a³ and 16/45 rho a⁵); DNV-RP-C205 (2010), rectangular plates
broadside-on (from memory). The program's formulas [Barrows2002] do not agree well with potential flow at
low aspect ratio: the tests in the second half keep count of by how much, so that what the docstrings say
about it stays true.
"""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from parasim.mass.air import arced_wing_apparent_mass, flat_wing_apparent_mass

_spec = importlib.util.spec_from_file_location(
    "potential_flow_plate", Path(__file__).with_name("potential_flow_plate.py")
)
plate = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(plate)

THIN = 1e-6
PANELS = {"n_chord": 16, "n_span": 24}


# --- Lamb, in closed form ---------------------------------------------------------------------------------


def test_long_wing_broadside_on_is_lambs_plate():
    """Per length pi a², a the half chord."""
    wing = flat_wing_apparent_mass(span=1e6, chord=0.6, thickness=0.09)
    assert wing.m33 / 1e6 == pytest.approx(np.pi * 0.3**2, rel=2e-6)


def test_sideways_motion_is_lambs_ellipse_edge_on():
    """Per length of chord pi (t/2)²: a long ellipse moving along its long axis."""
    wing = flat_wing_apparent_mass(span=3.0, chord=0.6, thickness=0.09)
    assert wing.m22 / 0.6 == pytest.approx(np.pi * 0.045**2, rel=1e-12)


def test_long_wing_turning_about_mid_chord_reads_a_quarter_over_lambs_plate():
    """Per length pi a⁴/8: Barrows' constant is fitted to low aspect ratios and misses the long limit by 25
    %."""
    wing = flat_wing_apparent_mass(span=1e6, chord=0.6, thickness=0.09)
    assert wing.I22 / 1e6 / (np.pi * 0.3**4 / 8.0) - 1.0 == pytest.approx(0.255, abs=0.001)


# --- the numerical solution against what is known of it ---------------------------------------------------


def test_panels_find_lambs_disc():
    """8/3 a³ broadside-on, 16/45 a⁵ about a diameter. The panels' error falls as 1/n and is extrapolated
    away; half a per cent is what is left of it.
    """
    coarse, fine = (plate.apparent_mass(plate.disc(radius=1.0), n_chord=n, n_span=n) for n in (12, 24))
    limit = 2.0 * fine - coarse
    assert limit[2, 2] == pytest.approx(8.0 / 3.0, rel=0.005)
    assert limit[3, 3] == pytest.approx(16.0 / 45.0, rel=0.005)
    assert limit[4, 4] == pytest.approx(16.0 / 45.0, rel=0.005)


@pytest.mark.parametrize(
    ("aspect", "factor"), [(1.0, 0.579), (1.5, 0.690), (2.0, 0.757), (3.0, 0.830), (5.0, 0.897)]
)
def test_panels_find_the_handbook_factor_of_rectangles(aspect, factor):
    """DNV-RP-C205: times pi/4 c² b. 0.002 for figures that were recalled, not read; the finest grid says
    0.8318 for 3."""
    assert flat_plate(aspect)[2, 2] / (np.pi / 4.0 * aspect) == pytest.approx(factor, abs=0.002)


# --- the program's formulas against the numerical solution ------------------------------------------------


@pytest.mark.parametrize(
    ("aspect", "m33", "I11", "I22"),
    [(1.0, -14, 37, -24), (2.0, -12, 13, -8), (3.0, -10, 3, 0), (5.0, -7, -5, 8)],
)
def test_how_far_the_flat_formulas_are_off(aspect, m33, I11, I22):
    """Measured differences in per cent, to the per cent: a count of a known fault, not a proof of
    agreement."""
    wing = flat_wing_apparent_mass(span=aspect, chord=1.0, thickness=THIN)
    exact = flat_plate(aspect)
    assert per_cent(wing.m33, exact[2, 2]) == pytest.approx(m33, abs=1.0)
    assert per_cent(wing.I11, exact[3, 3]) == pytest.approx(I11, abs=1.0)
    assert per_cent(wing.I22, exact[4, 4]) == pytest.approx(I22, abs=1.0)


@pytest.mark.parametrize(
    ("span", "chord", "arc_radius", "v", "w", "q"), [(1.1, 0.5, 0.75, 46, 0.5, 8), (1.5, 0.6, 1.2, 31, -2, 7)]
)
def test_how_far_the_arced_formulas_are_off(span, chord, arc_radius, v, w, q):
    """As above; seen from the middle of the centre chord. Sideways the formulas carry a third to a half too
    much."""
    wing = arced_wing_apparent_mass(span=span, chord=chord, thickness=THIN, arc_radius=arc_radius)
    ours, exact = wing.matrix([0.0, 0.0, 0.0]), arced_plate(span, chord, arc_radius)
    for i, j in [(1, 1), (1, 3), (3, 3)]:
        assert per_cent(ours[i, j], exact[i, j]) == pytest.approx(v, abs=1.0)
    assert per_cent(ours[2, 2], exact[2, 2]) == pytest.approx(w, abs=1.0)
    assert per_cent(ours[4, 4], exact[4, 4]) == pytest.approx(q, abs=1.0)


@pytest.mark.parametrize(("span", "chord", "arc_radius"), [(1.1, 0.5, 0.75), (1.5, 0.6, 1.2)])
def test_a_thin_arced_plate_rolls_freely_about_the_arc_centre(span, chord, arc_radius):
    """Sign and place of the coupling of sideways motion with roll: centre -M[v,p]/M[v,v] below."""
    wing = arced_wing_apparent_mass(span=span, chord=chord, thickness=THIN, arc_radius=arc_radius)
    exact = arced_plate(span, chord, arc_radius)
    roll_centre = -exact[1, 3] / exact[1, 1]
    assert wing.roll_centre == pytest.approx(roll_centre, rel=0.003)
    assert exact[3, 3] - exact[1, 1] * roll_centre**2 == pytest.approx(0.0, abs=1e-3 * exact[3, 3])


@pytest.mark.parametrize(("span", "chord", "arc_radius"), [(1.1, 0.5, 0.75), (1.5, 0.6, 1.2)])
def test_the_same_motions_couple(span, chord, arc_radius):
    """Where potential flow has no coupling, neither have we."""
    exact = arced_plate(span, chord, arc_radius)
    ours = arced_wing_apparent_mass(span=span, chord=chord, thickness=THIN, arc_radius=arc_radius).matrix(
        [0.0, 0.0, 0.0]
    )
    scale = np.sqrt(np.outer(*[np.diag(exact) + 1e-12] * 2))
    uncoupled = np.abs(exact) < 1e-9 * scale + 1e-12
    assert np.all(np.abs(ours[uncoupled]) < 1e-9)


def per_cent(ours: float, exact: float) -> float:
    return 100.0 * (ours / exact - 1.0)


@cache
def flat_plate(aspect: float) -> np.ndarray:
    return plate.apparent_mass(plate.rectangle(span=aspect, chord=1.0), **PANELS)


@cache
def arced_plate(span: float, chord: float, arc_radius: float) -> np.ndarray:
    shape = plate.rectangle(span=span, chord=chord, arc_radius=arc_radius)
    return plate.apparent_mass(shape, **PANELS)
