"""Camber, zero lift and flaps against thin-aerofoil theory.

Glauert, The Elements of Aerofoil and Airscrew Theory (1926). With x = (1 - cos theta) / 2 and camber slope
dz/dx: ideal angle (1/pi) int dz/dx d theta; zero-lift angle (1/pi) int dz/dx (1 - cos theta) d theta; moment
about the quarter chord (1/2) int dz/dx (cos 2 theta - cos theta) d theta. The integrals are worked out here
from the published camber formulas; the program only sees the outline. A plain flap of chord ratio E turns the
zero-lift line by tau = 1 - (theta_f - sin theta_f) / pi of its angle, cos theta_f = 2 E - 1.

Tabulated figures are from memory, unverified: NACA 23012 zero lift -1.09 deg and moment -0.0127 (a textbook
example), camber line 64 with ideal angle 0.74 deg and moment -0.157, NACA 23012 ordinates (Abbott and von
Doenhoff, Theory of Wing Sections, 1959; Jacobs and Pinkerton, NACA TR 537, 1935), NACA 0012 ordinates (ibid.;
Jacobs, Ward and Pinkerton, NACA TR 460, 1933).

Sources: [Glauert1926], [AbbottDoenhoff1959], [JacobsPinkerton1935], [JacobsWardPinkerton1933].
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from parasim.aerodynamics.section import build_section_polar
from parasim.aerodynamics.section_extension import ARC_AS_FLAP
from parasim.geometry import airfoil
from parasim.geometry.airfoil import FAMILIES, build_outline, deflected_outline

THETA = (np.arange(20000) + 0.5) * np.pi / 20000
X = 0.5 * (1 - np.cos(THETA))


def integrals(camber_slope):
    """Ideal angle, zero-lift angle, quarter-chord moment of a camber slope given at X."""
    return (
        np.mean(camber_slope),
        np.mean(camber_slope * (1 - np.cos(THETA))),
        np.pi / 2 * np.mean(camber_slope * (np.cos(2 * THETA) - np.cos(THETA))),
    )


def zero_lift_angle(outline):
    """By Glauert's integral over the camber slope that the program takes from an outline."""
    theta, slope = airfoil.camber_slope(outline)
    return np.sum(slope * (1 - np.cos(theta))) / np.pi


def quarter_chord_moment(outline):
    """Likewise."""
    theta, slope = airfoil.camber_slope(outline)
    return 0.5 * np.sum(slope * (np.cos(2 * theta) - np.cos(theta)))


def four_digit(camber, place, x):
    """Camber height and slope of the NACA 4-digit sections (NACA TR 460)."""
    front = x < place
    width = np.where(front, place, 1 - place)
    height = camber / width**2 * (np.where(front, 0, 1 - 2 * place) + 2 * place * x - x**2)
    return height, 2 * camber / width**2 * (place - x)


def four_digit_outline(camber, place, thickness):
    """NACA 4-digit section drawn from its published formulas, thickness across the camber line."""
    x = 0.5 * (1 - np.cos(np.linspace(0, np.pi, 121)))
    z, slope = four_digit(camber, place, x)
    y = 5 * thickness * (0.2969 * x**0.5 - 0.126 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4)
    angle = np.arctan(slope)
    upper = np.column_stack([x - y * np.sin(angle), z + y * np.cos(angle)])
    lower = np.column_stack([x + y * np.sin(angle), z - y * np.cos(angle)])
    return np.vstack([upper[::-1], lower[1:]])


def slope_230(x):
    """Camber slope of the NACA 230 line (NACA TR 537)."""
    m, k1 = 0.2025, 15.957
    return np.where(x < m, k1 / 6 * (3 * x**2 - 6 * m * x + m**2 * (3 - m)), -k1 / 6 * m**3)


@pytest.mark.parametrize("camber", [0.02, 0.04, 0.06])
@pytest.mark.parametrize("place", [0.3, 0.4, 0.5])
def test_four_digit_camber(camber, place):
    """Within 2 %, and the ideal angle within a tenth of the camber: the outline is 12 % thick."""
    outline = four_digit_outline(camber, place, 0.12)
    ideal, zero_lift, moment = integrals(four_digit(camber, place, X)[1])
    assert zero_lift_angle(outline) == pytest.approx(zero_lift, rel=0.02)
    assert quarter_chord_moment(outline) == pytest.approx(moment, rel=0.02)
    assert airfoil.ideal_angle(outline) == pytest.approx(ideal, abs=0.1 * camber)


def test_camber_line_64_as_tabulated():
    """0.74 deg and -0.157 (from memory): the formula, then the outline to 0.1 deg and 0.003."""
    ideal, _, moment = integrals(four_digit(0.06, 0.4, X)[1])
    assert np.degrees(ideal) == pytest.approx(0.74, abs=0.04)
    assert moment == pytest.approx(-0.157, abs=0.003)
    outline = four_digit_outline(0.06, 0.4, 0.09)
    assert np.degrees(airfoil.ideal_angle(outline)) == pytest.approx(0.74, abs=0.1)
    assert quarter_chord_moment(outline) == pytest.approx(-0.157, abs=0.003)


def test_naca_230_camber():
    """Against the integrals, and the textbook's -1.09 deg and -0.0127 (from memory)."""
    ideal, zero_lift, moment = integrals(slope_230(X))
    assert np.degrees(zero_lift) == pytest.approx(-1.09, abs=0.005)
    assert moment == pytest.approx(-0.0127, abs=0.0002)
    outline = build_outline("naca23015", 0.15)
    assert np.degrees(zero_lift_angle(outline)) == pytest.approx(np.degrees(zero_lift), abs=0.1)
    assert np.degrees(airfoil.ideal_angle(outline)) == pytest.approx(np.degrees(ideal), abs=0.1)
    assert quarter_chord_moment(outline) == pytest.approx(moment, abs=0.001)


def test_reflexed_camber_has_no_moment():
    """A cubic camber line that crosses the chord at 7/8 has no moment about the quarter chord (Glauert)."""
    assert quarter_chord_moment(build_outline("reflexed", 0.09)) == pytest.approx(0, abs=2e-4)


@pytest.mark.parametrize("thickness", [0.09, 0.15, 0.21])
def test_symmetric_sections_are_symmetric(thickness):
    outline = build_outline("symmetric", thickness)
    assert_allclose([zero_lift_angle(outline), airfoil.ideal_angle(outline)], 0, atol=1e-9)


@pytest.mark.parametrize("ratio", [0.2, 0.3, 0.4])
def test_plain_flap(ratio):
    """Within 2 % of Glauert's tau, on a section 9 % thick with its tail turned about a hinge on the chord."""
    theta = np.arccos(2 * ratio - 1)
    tau = 1 - (theta - np.sin(theta)) / np.pi
    angle = np.radians(2)
    outline = build_outline("symmetric", 0.09)
    behind = outline[:, 0] > 1 - ratio
    arm = outline[behind] - [1 - ratio, 0]
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    outline[behind] = arm @ turn + [1 - ratio, 0]
    assert zero_lift_angle(outline) == pytest.approx(-tau * angle, rel=0.02)


def bend_effect():
    """Zero-lift angle and moment by thin-aerofoil theory, per radian of trailing-edge deflection."""
    return integrals(-np.clip(X - 0.7, 0, None) / 0.3)[1:]


def test_circular_bend():
    angle = np.radians(2)
    outline = deflected_outline(build_outline("symmetric", 0.12), angle)
    zero_lift, moment = bend_effect()
    assert zero_lift_angle(outline) == pytest.approx(zero_lift * angle, rel=0.02)
    assert quarter_chord_moment(outline) == pytest.approx(moment * angle, rel=0.02)


def test_plain_flap_with_the_lift_of_the_bend():
    """The bend lifts like a plain flap of 0.682 of its slope; one that drops as far would have 0.5."""
    theta = np.arccos(2 * 0.3 - 1)
    tau = 1 - (theta - np.sin(theta)) / np.pi
    assert -bend_effect()[0] / tau == pytest.approx(ARC_AS_FLAP, abs=5e-4)


@pytest.mark.parametrize("family", FAMILIES)
def test_brake_in_the_tables_reaches_most_of_the_thin_flap(family):
    """Real flow gives less than theory, and for small angles most of it: 70 to 100 %, common practice."""
    thickness = 0.11 if family != "naca23015" else 0.15
    polar = build_section_polar(family=family, thickness=thickness, reynolds=1.4e6)
    slope = np.radians(5)
    lift, _, moment = (
        float(with_brake - without)
        for with_brake, without in zip(
            polar.coefficients(0.0, slope), polar.coefficients(0.0, 0.0), strict=True
        )
    )
    zero_lift, theory_moment = bend_effect()
    assert 0.7 < lift / (-2 * np.pi * zero_lift * slope) < 1.0
    assert 0.7 < moment / (theory_moment * slope) < 1.0


@pytest.mark.parametrize("family", ["flat-bottomed", "reflexed", "naca23015"])
def test_zero_lift_of_the_tables_is_near_theory(family):
    """Half a degree: theory knows neither thickness nor boundary layer."""
    thickness = 0.15 if family == "naca23015" else 0.11
    polar = build_section_polar(family=family, thickness=thickness, reynolds=1.4e6)
    zero_lift = np.degrees(np.interp(0, polar.cl[0, 168:185], polar.alpha[168:185]))
    theory = np.degrees(zero_lift_angle(build_outline(family, thickness)))
    assert zero_lift == pytest.approx(theory, abs=0.5)


# x, upper, lower in per cent of the chord; from memory, unverified.
NACA_23012 = [
    (2.5, 3.61, -1.71),
    (5, 4.91, -2.26),
    (10, 6.43, -2.92),
    (15, 7.19, -3.50),
    (20, 7.50, -3.97),
    (25, 7.60, -4.28),
    (30, 7.55, -4.46),
    (40, 7.14, -4.48),
    (50, 6.41, -4.17),
    (60, 5.47, -3.67),
    (70, 4.36, -3.00),
    (80, 3.08, -2.16),
    (90, 1.68, -1.23),
    (95, 0.92, -0.70),
]


def test_naca_23012_ordinates():
    """0.03 % of the chord: the 1935 table was laid out by hand at rounded stations."""
    x, upper, lower = np.array(NACA_23012).T
    outline = FAMILIES["naca23015"](0.12)
    assert_allclose(100 * airfoil.upper_surface(outline, x / 100), upper, atol=0.03)
    assert_allclose(100 * airfoil.lower_surface(outline, x / 100), lower, atol=0.03)


def test_naca_0012_ordinates():
    """Printed digits, plus 0.001 % for interpolation between our points; from memory, unverified."""
    x = np.array([1.25, 2.5, 5, 7.5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80, 90, 95, 100])
    half = [1.894, 2.615, 3.555, 4.200, 4.683, 5.345, 5.737, 5.941, 6.002]
    half += [5.803, 5.294, 4.563, 3.664, 2.623, 1.448, 0.807, 0.126]
    outline = build_outline("symmetric", 0.12)
    assert_allclose(100 * airfoil.upper_surface(outline, x / 100), half, atol=0.0015)
