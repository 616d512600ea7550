"""Apparent mass against potential flow: Lamb's plates, published rectangles, an independent panel solution.

Sources: Lamb (1932), Hydrodynamics, 6th ed. (from memory: plate broadside-on pi rho a², plate turning
pi rho a⁴/8, disc 8/3 rho a³ and 16/45 rho a⁵); DNV-RP-C205 (2010), rectangular plates broadside-on (from
memory). The last part holds Barrows' formulas, of which the program uses the thickness terms only, against
the program where they are meant to hold.
"""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from parasim.mass.air import seen_from, thin_arc_mass
from tests.validation.barrows import arced_wing_apparent_mass

_spec = importlib.util.spec_from_file_location(
    "potential_flow_plate", Path(__file__).with_name("potential_flow_plate.py")
)
plate = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(plate)

THIN, FLAT = 1e-6, 1e4
PANELS = {"n_chord": 16, "n_span": 24}


# --- the program against closed forms and the handbook ----------------------------------------------------


def flat(aspect: float, **panels: int) -> np.ndarray:
    """Rectangle of chord 1 as good as flat, about its middle."""
    matrix = thin_arc_mass(span=aspect, root_chord=1.0, taper=1.0, arc_radius=FLAT, **panels)
    return seen_from(matrix, np.array([-0.25, 0.0, -FLAT]))


def test_long_plate_is_lambs():
    """Per length pi a² broadside-on and pi a⁴/8 turning about mid-chord, a the half chord. The ends take
    something off: of two lengths, the difference is the middle's, to 0.5 %."""
    short, long = flat(20.0, spanwise=40), flat(40.0, spanwise=80)
    assert (long - short)[2, 2] / 20.0 == pytest.approx(np.pi * 0.25, rel=0.005)
    assert (long - short)[4, 4] / 20.0 == pytest.approx(np.pi * 0.0625 / 8.0, rel=0.005)


@pytest.mark.parametrize(
    ("aspect", "factor"), [(1.0, 0.579), (1.5, 0.690), (2.0, 0.757), (3.0, 0.830), (5.0, 0.897)]
)
def test_the_handbook_factor_of_rectangles(aspect, factor):
    """DNV-RP-C205: times pi/4 c² b, for the 4 x 12 panels in use; 1 %."""
    assert flat(aspect)[2, 2] / (np.pi / 4.0 * aspect) == pytest.approx(factor, rel=0.01)


@pytest.mark.parametrize(
    ("span", "chord", "taper", "arc_radius", "tolerance"),
    [(1.1, 0.5, 1.0, 0.75, 0.006), (1.5, 0.6, 1.0, 1.2, 0.006), (1.1, 0.6, 0.5, 0.6, 0.014)],
)
def test_few_panels_are_as_good_as_many(span, chord, taper, arc_radius, tolerance):
    wing = {"span": span, "root_chord": chord, "taper": taper, "arc_radius": arc_radius}
    few, many = thin_arc_mass(**wing), thin_arc_mass(**wing, chordwise=12, spanwise=36)
    np.testing.assert_allclose(few, many, rtol=tolerance, atol=1e-12)


def test_heron_by_figures():
    """Sideways and upright per unit density, of 16 x 48 panels: 0.01843 and 0.1471 m³; 0.5 %."""
    matrix = thin_arc_mass(span=1.1, root_chord=0.5, taper=1.0, arc_radius=0.75)
    assert matrix[1, 1] == pytest.approx(0.01843, rel=0.005)
    assert matrix[2, 2] == pytest.approx(0.1471, rel=0.005)


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


# --- the program against the independent solution, and Barrows -------------------------------------------


ARCS = [(1.1, 0.5, 0.75), (1.5, 0.6, 1.2)]


def ours(span: float, chord: float, arc_radius: float) -> np.ndarray:
    """About the middle of the centre chord."""
    matrix = thin_arc_mass(span=span, root_chord=chord, taper=1.0, arc_radius=arc_radius)
    return seen_from(matrix, np.array([-0.25 * chord, 0.0, -arc_radius]))


@pytest.mark.parametrize(("span", "chord", "arc_radius"), ARCS)
def test_arcs_agree_with_the_independent_solution(span, chord, arc_radius):
    """Every entry to 1 % but pitch and yaw to 2.5 %: the independent panels, coarser in their energy, have an
    error of their own that falls as the square of their size."""
    found, exact = ours(span, chord, arc_radius), arced_plate(span, chord, arc_radius)
    scale = np.sqrt(np.outer(np.diag(exact), np.diag(exact)).clip(0.0)) + 1e-6
    tolerance = np.full((6, 6), 0.01)
    tolerance[[4, 5], [4, 5]] = 0.025
    assert np.all(np.abs(found - exact) <= tolerance * scale)


@pytest.mark.parametrize(("span", "chord", "arc_radius"), ARCS)
def test_barrows_agrees_upright_and_on_the_roll_centre(span, chord, arc_radius):
    """Where his formulas hold: m33 to 3 %, I22 to 9 %, roll centre to 0.5 %. Sideways they do not (46 %)."""
    wing = arced_wing_apparent_mass(span=span, chord=chord, thickness=THIN, arc_radius=arc_radius)
    found = ours(span, chord, arc_radius)
    assert wing.m33 == pytest.approx(found[2, 2], rel=0.03)
    assert pytest.approx(found[4, 4], rel=0.09) == wing.I22
    assert wing.roll_centre == pytest.approx(-found[1, 3] / found[1, 1], rel=0.005)


@cache
def arced_plate(span: float, chord: float, arc_radius: float) -> np.ndarray:
    shape = plate.rectangle(span=span, chord=chord, arc_radius=arc_radius)
    return plate.apparent_mass(shape, **PANELS)


@cache
def flat_plate(aspect: float) -> np.ndarray:
    return plate.apparent_mass(plate.rectangle(span=aspect, chord=1.0), **PANELS)
