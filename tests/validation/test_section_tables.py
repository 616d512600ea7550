"""The shipped section tables: where they come from, and against handbook sections.

Abbott and von Doenhoff, Theory of Wing Sections (1959), measured NACA sections at Reynolds numbers of 3 to 9
million in a quiet tunnel, smooth or with standard roughness; ours end at 1.4 million, tripped at 0.05 chord.
Figures are from memory, unverified: lift slope 0.105 to 0.110 a degree, NACA 23015 zero lift -1.2 deg and
moment about the aerodynamic centre -0.007.
Hoerner, Fluid-Dynamic Drag (1965): turbulent skin friction with form factor, and plates across the stream;
from memory, unverified.

Sources: [AbbottDoenhoff1959], [Hoerner1965].
"""

import json

import numpy as np
import pytest
from numpy.testing import assert_allclose

from parasim.aerodynamics import section_network as network
from parasim.aerodynamics.section import TABLE_PATH, arrays_checksum, build_section_polar
from parasim.aerodynamics.section_extension import PLATE_NORMAL_FORCE_2D
from parasim.geometry.airfoil import FAMILIES, build_outline

HANDBOOK_REYNOLDS = 1.4e6  # the highest in our tables
CASES = [(f, t) for f in FAMILIES for t in (0.09, 0.15, 0.21) if f != "naca23015" or t == 0.15]


def linear_range(family, thickness, reynolds=HANDBOOK_REYNOLDS):
    """Lift slope [1/deg], zero-lift angle [deg] and moment about the aerodynamic centre, -4 to 4 deg."""
    polar = build_section_polar(family=family, thickness=thickness, reynolds=reynolds)
    alpha = np.radians(np.linspace(-4, 4, 33))
    cl, _, cm = polar.coefficients(alpha)
    slope, at_zero = np.polyfit(np.degrees(alpha), cl, 1)
    return slope, -at_zero / slope, np.polyfit(cl, cm, 1)[1]


def test_arrays_are_the_ones_recorded():
    record = json.loads(TABLE_PATH.with_suffix(".json").read_text(encoding="utf-8"))
    with np.load(TABLE_PATH) as file:
        assert arrays_checksum(dict(file)) == record["sha256_of_arrays"]
    assert record["trip_chord_ratio"] == network.TRIP
    assert record["model_size"] == network.MODEL_SIZE
    assert record["trust_confidence"] == network.TRUST_CONFIDENCE
    assert_allclose(record["reynolds"], network.TABLE_REYNOLDS, rtol=1e-6)
    assert_allclose(np.radians(record["alpha_deg"]), network.TABLE_ALPHA, atol=1e-9)
    assert_allclose(np.radians(record["trailing_edge_slope_deg"]), network.TABLE_SLOPE, atol=1e-9)


@pytest.mark.parametrize(("family", "row", "thickness"), [("flat-bottomed", 3, 0.15), ("naca23015", 0, 0.15)])
def test_a_sample_can_be_made_again(family, row, thickness):
    """Float32 of the same arithmetic: to 1e-4, which leaves room for another linear-algebra library."""
    pytest.importorskip("neuralfoil", reason="neuralfoil (parasim[sections]) is not installed")
    again = network.evaluate_section(
        build_outline(family, thickness),
        slopes=network.TABLE_SLOPE[[0, 4]],
        reynolds=network.TABLE_REYNOLDS[[2, 5]],
    )
    with np.load(TABLE_PATH) as file:
        for name in ("cl", "cd", "cm", "confidence"):
            shipped = file[f"{family}/{name}"][row][np.ix_([2, 5], [0, 4])]
            assert_allclose(getattr(again, name), shipped, atol=1e-4, err_msg=name)


def test_naca_23015_zero_lift_and_moment():
    """Within the last printed digit of each."""
    _, zero_lift, moment = linear_range("naca23015", 0.15)
    assert zero_lift == pytest.approx(-1.2, abs=0.1)
    assert moment == pytest.approx(-0.007, abs=0.001)


@pytest.mark.xfail(
    strict=True, reason="the network's lift slope is 0.112 a degree at Reynolds 1.4e6, 2 % over"
)
@pytest.mark.parametrize(("family", "thickness"), [("naca23015", 0.15), ("symmetric", 0.12)])
def test_lift_slope_is_the_handbook_one(family, thickness):
    """A known bias of the tables, 2 to 7 % over the handbook; at Reynolds 3e5 they read 0.108 and 0.109."""
    assert 0.105 <= linear_range(family, thickness)[0] <= 0.110


def test_lift_slope_is_below_that_of_an_ideal_fluid():
    """2 pi (1 + 0.77 t/c) per radian, thick section in an ideal fluid: viscosity can only take away."""
    for family, thickness in CASES:
        ideal = np.radians(2 * np.pi * (1 + 0.77 * thickness))
        for reynolds in (1e5, 3e5, HANDBOOK_REYNOLDS):
            assert linear_range(family, thickness, reynolds)[0] < ideal


@pytest.mark.parametrize("thickness", [0.09, 0.12, 0.15, 0.18, 0.21])
@pytest.mark.parametrize("reynolds", [1e5, 3e5, HANDBOOK_REYNOLDS])
def test_least_drag_of_a_tripped_section(thickness, reynolds):
    """Hoerner: 2 c_f (1 + 2 t/c + 60 (t/c)^4), turbulent c_f = 0.455 / log10(Re)^2.58; we allow 15 %."""
    polar = build_section_polar(family="symmetric", thickness=thickness, reynolds=reynolds)
    friction = 0.455 / np.log10(reynolds) ** 2.58
    handbook = 2 * friction * (1 + 2 * thickness + 60 * thickness**4)
    assert float(polar.coefficients(0.0)[1]) == pytest.approx(handbook, rel=0.15)


def test_plate_across_the_stream():
    """1.98 for an endless plate, 1.17 for aspect ratio about 2 (Hoerner); force at mid-chord, no lift."""
    for wanted in (PLATE_NORMAL_FORCE_2D, 1.17):
        polar = build_section_polar(
            family="flat-bottomed", thickness=0.15, reynolds=3e5, plate_normal_force=wanted
        )
        cl, cd, cm = (float(c) for c in polar.coefficients(np.pi / 2))
        assert cd == pytest.approx(wanted, rel=1e-6)
        assert cm == pytest.approx(-0.25 * wanted, rel=1e-6)
        assert abs(cl) < 0.03


def test_inclined_plate():
    """Hoerner's normal force of an endless plate, 1 / (0.222 + 0.283 / sin a), at 50 to 80 degrees."""
    polar = build_section_polar(
        family="symmetric", thickness=0.09, reynolds=3e5, plate_normal_force=PLATE_NORMAL_FORCE_2D
    )
    alpha = np.radians([50.0, 60.0, 70.0, 80.0])
    cl, cd, _ = polar.coefficients(alpha)
    normal = cl * np.cos(alpha) + cd * np.sin(alpha)
    assert_allclose(normal, 1 / (0.222 + 0.283 / np.sin(alpha)), rtol=0.01)


WOBBLY = pytest.mark.xfail(
    strict=True,
    reason="9 % symmetric, 35 to 40 deg of slope, 1 to 2 deg of alpha: the network's lift wobbles",
)


@pytest.mark.parametrize(
    ("family", "thickness", "reynolds"),
    [
        pytest.param(f, t, re, marks=[WOBBLY] * ((f, t) == ("symmetric", 0.09) and re < 1e6))
        for f, t in CASES
        for re in (8e4, 3e5, 1e6)
    ],
)
def test_brake_adds_lift_drag_and_nose_down_moment(family, thickness, reynolds):
    """From -2 to 2 degrees of alpha, well short of the stall of deep brake, to 70 degrees of slope.

    The least drag of a cambered section may fall with the first few degrees of brake, so drag is compared
    with that of 10 degrees less, over all slopes to 120 degrees.
    """
    polar = build_section_polar(family=family, thickness=thickness, reynolds=reynolds)
    at = slice(178, 183)
    assert np.all(np.diff(polar.cl[:15, at], axis=0) > 0)
    assert np.all(polar.cd[2:, at] > polar.cd[:-2, at])
    assert np.all(np.diff(polar.cm[:15, at], axis=0) < 0)


@pytest.mark.parametrize("family", ["flat-bottomed", "reflexed", "symmetric"])
def test_thicker_sections_have_more_drag_and_faster_flow_less(family):
    def minimum_drag(thickness, reynolds):
        return build_section_polar(family=family, thickness=thickness, reynolds=reynolds).cd[0].min()

    by_thickness = [minimum_drag(t, 2.5e5) for t in (0.09, 0.12, 0.15, 0.18, 0.21)]
    assert np.all(np.diff(by_thickness) > 0)
    by_reynolds = [minimum_drag(0.15, re) for re in (6e4, 1e5, 2e5, 4e5, 8e5, 1.4e6)]
    assert np.all(np.diff(by_reynolds) < 0)


@pytest.mark.parametrize("reynolds", [1e5, 3e5, 1e6])
def test_symmetric_sections_mirror(reynolds):
    polar = build_section_polar(family="symmetric", thickness=0.15, reynolds=reynolds)
    up, down = slice(180, 196), slice(180, 164, -1)
    assert_allclose(polar.cl[0, up], -polar.cl[0, down], atol=1e-4)
    assert_allclose(polar.cd[0, up], polar.cd[0, down], atol=1e-4)
    assert_allclose(polar.cm[0, up], -polar.cm[0, down], atol=1e-4)


@pytest.mark.parametrize(("family", "thickness"), CASES)
@pytest.mark.parametrize("reynolds", [8e4, 3e5, 1e6])
def test_lift_falls_gently_after_the_stall(family, thickness, reynolds):
    """No second climb beyond the network's ripples of 0.03, at most 3 /rad down; to 45 degrees, no brake."""
    polar = build_section_polar(family=family, thickness=thickness, reynolds=reynolds)
    after = polar.cl[0, (polar.alpha >= polar.stall_alpha) & (polar.alpha < np.radians(45))]
    assert np.max(after - np.minimum.accumulate(after)) < 0.03
    assert np.min(np.diff(after)) > -np.radians(3.0) - 1e-9
