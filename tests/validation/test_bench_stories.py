"""Worked examples from the bench, in closed form: 1 % on figures, 1 mm on lines.

REF: span 1.10 x chord 0.50 m, 7 cells, arc radius 0.75 m, 1.2 kg, resultant coefficient 0.5, glide ratio 2.5,
sea level (ISO 2533: 1.225 kg/m3, 9.80665 m/s2). No source outside: textbook mechanics, worked by hand beside
each check.
"""

from __future__ import annotations

from math import acos, cos, degrees, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import assemble
from parasim.environment.atmosphere import GRAVITY
from parasim.flight.arrival import Touchdown
from parasim.flight.drop import unopened
from parasim.geometry.canopy import Canopy, build_canopy
from parasim.geometry.lines import junction
from parasim.geometry.rigging import Rigging, rigging_from_rows, row_lengths
from tests.validation.wings import plain_canopy

RHO = 1.225
SPAN, CHORD, MASS, AREA = 1.10, 0.50, 1.2, 0.55
C_R, GLIDE = 0.5, 2.5
ROWS = np.array([0.10, 0.35, 0.60, 0.85])
POSE = Rigging(line_length=0.75, rigging_angle=radians(6))


def airspeed(mass: float, area: float) -> float:
    """Along the path, from W = 1/2 rho V^2 S C_R."""
    return sqrt(2 * mass * GRAVITY / (RHO * area * C_R))


@pytest.fixture(scope="module")
def reference_canopy(reference: Design) -> Canopy:
    return build_canopy(reference)


# --- 1, 2: landing --------------------------------------------------------------------------------


def test_1_area_for_a_sink_of_3_m_s():
    """V = 3 hypot(1, 2.5) = 8.08 m/s; S = 2 W/(rho V^2 C_R) is 0.539 m2 at 1.1 kg and 0.588 at 1.2: about
    0.54.
    """
    speed = 3.0 * hypot(1, GLIDE)
    area = 2 * 1.1 * GRAVITY / (RHO * speed**2 * C_R)
    assert area == pytest.approx(0.54, rel=0.01)


@pytest.mark.parametrize(
    ("wind", "energy"),
    [(0.0, 42.0), (-4.0, 14.0), (4.0, 89.0)],
    ids=["still air", "into 4 m/s", "with 4 m/s"],
)
def test_2_touchdown_energy(wind, energy):
    """8.36 m/s along the path, 7.76 forward, 3.10 down. Printed to the joule, hence half a joule or 1 %."""
    speed = airspeed(MASS, AREA)
    sink = speed / hypot(1, GLIDE)
    landing = Touchdown(ground_speed=GLIDE * sink + wind, sink=sink, mass=MASS)
    assert landing.energy == pytest.approx(energy, rel=0.01, abs=0.5)
    assert landing.vertical_energy == pytest.approx(6.0, abs=0.5)
    assert landing.equivalent_height == pytest.approx(0.49, rel=0.01)
    if wind == 0:
        assert landing.speed == pytest.approx(8.4, rel=0.01)
        assert sink == pytest.approx(3.1, rel=0.01)


def test_2_unopened(reference: Design):
    """CdA 0.05 m2 in all: V = sqrt(2 W/(rho CdA)) = 19.6 m/s, 230 J; from high up, where the start is
    forgotten.
    """
    design = override(reference, {"site.ground_height": 0.0, "payload.drag_area": 0.05 - 0.06 * AREA})
    arrival = unopened(assemble(design), 2000.0)
    # The vehicle weighs its canopy and lines besides the 1.2 kg of the story.
    assert arrival.sink * sqrt(MASS / arrival.mass) == pytest.approx(19.6, rel=0.01)
    assert arrival.vertical_energy * (MASS / arrival.mass) ** 2 == pytest.approx(230.0, rel=0.01)


# --- 3, 4, 5: lines -------------------------------------------------------------------------------


def test_3_straight_lines():
    lengths = 1000 * row_lengths(rigging=POSE, chord=CHORD, chordwise=ROWS)
    np.testing.assert_allclose(lengths, [746, 757, 788, 836], atol=1.0)


@pytest.mark.parametrize(
    ("rows", "trunk", "branches"), [((0, 1), 464, (285, 299)), ((2, 3), 499, (291, 341))], ids=["AB", "CD"]
)
def test_3_cascaded_lines(rows, trunk, branches):
    """Joined at 62 % of the way up, loads 60 to 40; tabs of the story on the chord line."""
    x = -POSE.line_length * sin(POSE.rigging_angle) + (0.25 - ROWS[list(rows)]) * CHORD
    z = -POSE.line_length * cos(POSE.rigging_angle)
    tabs = np.column_stack([x, 0 * x, np.full(2, z)])
    joint = junction(start=np.zeros(3), tabs=tabs, load=np.array([0.6, 0.4]), height=0.62)
    assert 1000 * np.linalg.norm(joint) == pytest.approx(trunk, abs=1.0)
    np.testing.assert_allclose(1000 * np.linalg.norm(tabs - joint, axis=1), branches, atol=1.0)


def test_4_equal_lines_give_a_circular_arc(reference: Design):
    """Arc radius left out: that of the lines. Tips 42 deg down, 1.00 m across; a flat wing wants 930 mm at
    its tip.
    """
    equal = override(reference, {"canopy.arc_radius": None, "lines.rigging_angle": 0.0})
    canopy = build_canopy(equal)
    tip = canopy.point(np.array([-canopy.half_arc, 0.0, canopy.half_arc]), np.array(0.25), np.array(0.0))
    np.testing.assert_allclose(np.linalg.norm(tip, axis=1), 0.75, atol=0.001)
    assert degrees(canopy.half_arc) == pytest.approx(42.0, rel=0.01)
    assert canopy.projected_span == pytest.approx(1.00, rel=0.01)
    assert tip[2, 1] - tip[0, 1] == pytest.approx(canopy.projected_span)
    flat = plain_canopy(span=SPAN, chord=CHORD).point(
        np.array([SPAN / 2 / 1e5]), np.array(0.25), np.array(0.0)
    )[0]
    assert 1000 * np.linalg.norm(flat - [0, 0, 0.75]) == pytest.approx(930, abs=1.0)


def test_5_rear_row_8_mm_short():
    """-1.2 deg, printed to a tenth: all four rows hold the canopy as well as they can."""
    lengths = row_lengths(rigging=POSE, chord=CHORD, chordwise=ROWS)
    short = rigging_from_rows(lengths=lengths - [0.0, 0.0, 0.0, 0.008], chord=CHORD, chordwise=ROWS)
    assert degrees(short.rigging_angle - POSE.rigging_angle) == pytest.approx(-1.2, abs=0.05)
    assert short.misfit == pytest.approx(0.0033, abs=0.0001)


def test_5_front_and_rear_row_alone():
    """With the middle rows slack it is -1.35 deg, not the 8 mm/375 mm = 1.22 deg of a rear line square to the
    chord: the rear line leans 27 deg. By the law of cosines in the triangle confluence, A tab, D tab.
    """
    a, d = row_lengths(rigging=POSE, chord=CHORD, chordwise=ROWS[[0, 3]])
    between, to_quarter = 0.375, 0.075

    def rigging_angle(rear: float) -> float:
        cos_at_a = (a**2 + between**2 - rear**2) / (2 * a * between)
        quarter = sqrt(a**2 + to_quarter**2 - 2 * a * to_quarter * cos_at_a)
        cos_at_quarter = (quarter**2 + to_quarter**2 - a**2) / (2 * quarter * to_quarter)
        return 90.0 - degrees(acos(cos_at_quarter))

    short = rigging_from_rows(lengths=np.array([a, d - 0.008]), chord=CHORD, chordwise=ROWS[[0, 3]])
    assert rigging_angle(d) == pytest.approx(-6.0) or rigging_angle(d) == pytest.approx(6.0)
    change = abs(rigging_angle(d - 0.008)) - abs(rigging_angle(d))
    assert degrees(short.rigging_angle - POSE.rigging_angle) == pytest.approx(change, abs=1e-6)
    assert change == pytest.approx(-1.35, abs=0.005)


# --- 7, 8: flight ---------------------------------------------------------------------------------


def test_7_release_from_100_m_in_5_m_s(reference_canopy: Canopy):
    """Sink 3.10 m/s: 32 s aloft, 250 m of reach in still air, 160 m of drift."""
    sink = airspeed(MASS, reference_canopy.flat_area) / hypot(1, GLIDE)
    aloft = 100 / sink
    assert aloft == pytest.approx(32.0, rel=0.01)
    assert pytest.approx(250.0) == GLIDE * 100
    assert 5 * aloft == pytest.approx(160.0, rel=0.01)


def test_8_steady_turn():
    """V_h^2/(g tan phi), all forces grown by 1/cos phi: speeds by its root, sink by its 3/2th power.

    30 deg of bank: radius printed to the metre, sink x 1.24; 60 deg: x 2.8.
    """
    forward = airspeed(MASS, AREA) * GLIDE / hypot(1, GLIDE)

    def turn(bank: float) -> tuple[float, float]:
        speed = forward / sqrt(cos(bank))
        return speed**2 / (GRAVITY * tan(bank)), cos(bank) ** -1.5

    assert turn(radians(30))[0] == pytest.approx(11.0, rel=0.12)
    assert turn(radians(30))[1] == pytest.approx(1.24, rel=0.01)
    assert turn(radians(60))[1] == pytest.approx(2.8, rel=0.011)
    # Steady turn R = V^2/(g tan phi): 6.55 m/s at 20 deg is 12.0 m, 11.5 s a turn.
    radius = 6.55**2 / (GRAVITY * tan(radians(20)))
    assert radius == pytest.approx(12.0, rel=0.01)
    assert 2 * pi * radius / 6.55 == pytest.approx(11.5, rel=0.01)


def test_impact_energy_of_one_pound():
    """At 26 and 40 ft/s: 10.5 and 24.8 ft lb (FAA, from memory); 1 %."""
    pound, foot, foot_pound = 0.45359237, 0.3048, 1.3558179
    for speed, energy in ((26, 10.5), (40, 24.8)):
        landing = Touchdown(ground_speed=0.0, sink=speed * foot, mass=pound)
        assert landing.energy / foot_pound == pytest.approx(energy, rel=0.01)
