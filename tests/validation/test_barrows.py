"""Apparent mass of an arced wing against Barrows (2002), J. Aircraft 39(3), "Apparent Mass of Parafoils
with Spanwise Camber".

The check values are of a wing with b 1.5 m, c 0.6 m, t 0.09 m, r 1.2 m in air of 1.225 kg/m³, worked from
the paper's formulas by somebody else; the paper itself was not at hand, so nothing here was typed from its
tables. The two identities are the paper's, and hold for any wing.
"""

from __future__ import annotations

import pytest

from tests.validation.barrows import arced_wing_apparent_mass, flat_wing_apparent_mass

AIR_DENSITY = 1.225
WING = {"span": 1.5, "chord": 0.6, "thickness": 0.09}


@pytest.mark.parametrize(
    ("entry", "expected", "half_digit"),
    [
        ("m11", 0.010542, 5e-7),
        ("m22", 0.051668, 5e-7),
        ("m33", 0.37110, 5e-6),
        ("I11", 0.006038, 5e-7),
        ("I22", 0.005239, 5e-7),
        ("I33", 0.002179, 5e-7),
    ],
)
def test_check_values_to_their_printed_digits(entry, expected, half_digit):
    wing = arced_wing_apparent_mass(**WING, arc_radius=1.2)
    assert AIR_DENSITY * getattr(wing, entry) == pytest.approx(expected, abs=half_digit, rel=0)


@pytest.mark.parametrize("arc_radius", [0.7, 1.2, 5.0])
@pytest.mark.parametrize("chord", [0.3, 0.6, 1.2])
def test_rolls_about_the_arc_centre_and_the_pitch_centre(arc_radius, chord):
    wing = arced_wing_apparent_mass(span=1.5, chord=chord, thickness=0.15 * chord, arc_radius=arc_radius)
    flat = flat_wing_apparent_mass(span=1.5, chord=chord, thickness=0.15 * chord)
    about_arc_centre = wing.matrix([0.0, 0.0, arc_radius])[3, 3]
    about_pitch_centre = wing.matrix([0.0, 0.0, wing.pitch_centre])[3, 3]
    assert about_arc_centre == pytest.approx(arc_radius**2 * flat.m22, rel=1e-10)
    assert about_pitch_centre == pytest.approx(flat.I11, rel=1e-10)


@pytest.mark.parametrize("arc_radius", [0.7, 1.2, 5.0])
def test_roll_centre_lies_between_pitch_centre_and_arc_centre(arc_radius):
    wing = arced_wing_apparent_mass(**WING, arc_radius=arc_radius)
    assert 0.0 < wing.pitch_centre < wing.roll_centre < arc_radius


def test_a_wide_arc_is_a_flat_wing():
    flat = flat_wing_apparent_mass(**WING)
    wide = arced_wing_apparent_mass(**WING, arc_radius=1e4)
    for entry in ("m11", "m22", "m33", "I11", "I22", "I33"):
        assert getattr(wide, entry) == pytest.approx(getattr(flat, entry), rel=1e-6)
    # The pitch centre sinks by b²/24r = 9.4 µm; the roll centre by I_f11/(r m_f22), 1.3 mm at r = 10 km.
    assert wide.pitch_centre == pytest.approx(1.5**2 / 24e4, rel=1e-3)
    assert wide.roll_centre == pytest.approx(flat.I11 / flat.m22 / 1e4, rel=1e-2)
