"""Quantities: numbers and text with units to SI floats."""

import math
import subprocess
import sys

import pytest

from parasim.config import quantity as q
from parasim.config.base import angle_between, length_between, percent_between
from parasim.config.quantity import InvalidValue, read_quantity

# Factors by definition of the units; NIST SP 811 (2008) appendix B.8 prints the same:
# foot 0.3048 m, inch 0.0254 m, pound 0.45359237 kg, ounce 0.028349523125 kg, yard 0.9144 m,
# knot 1852/3600 m/s, degree pi/180, conventional inch of mercury 3386.389 Pa.
CASES = [
    (0.5, q.LENGTH, 0.5),
    (3, q.LENGTH, 3.0),
    ("0.5", q.LENGTH, 0.5),
    ("1.5e-1", q.LENGTH, 0.15),
    ("48 in", q.LENGTH, 48 * 0.0254),
    ("48in", q.LENGTH, 48 * 0.0254),
    ("4 ft", q.LENGTH, 4 * 0.3048),
    ("120 mm", q.LENGTH, 0.12),
    ("6 ft^2", q.AREA, 6 * 0.3048**2),
    ("0.017 m^2", q.AREA, 0.017),
    ("1.2 kg", q.MASS, 1.2),
    ("2.5 lb", q.MASS, 2.5 * 0.45359237),
    ("350 g", q.MASS, 0.35),
    ("40 g/m^2", q.AREAL_WEIGHT, 0.040),
    ("1.2 oz/yd^2", q.AREAL_WEIGHT, 1.2 * 0.028349523125 / 0.9144**2),
    ("0.5 g/m", q.LINEAR_DENSITY, 0.5e-3),
    ("5000 dtex", q.LINEAR_DENSITY, 0.5e-3),
    ("15 %", q.RATIO, 0.15),
    ("15%", q.RATIO, 0.15),
    (0.15, q.RATIO, 0.15),
    ("6 deg", q.ANGLE, math.radians(6)),
    ("0.1 rad", q.ANGLE, 0.1),
    (0, q.ANGLE, 0.0),
    ("3 kt", q.SPEED, 3 * 1852 / 3600),
    ("10 ft/s", q.SPEED, 3.048),
    ("18 km/h", q.SPEED, 5.0),
    ("0.5 ft^3/min/ft^2", q.PERMEABILITY, 0.5 * 0.3048 / 60),
    ("0.5 cfm/ft^2", q.PERMEABILITY, 0.5 * 0.3048 / 60),
    ("3 cfm", q.PERMEABILITY, 3 * 0.3048 / 60),
    ("10 kg cm", q.TORQUE, 0.980665),
    ("139 oz in", q.TORQUE, 139 * 0.0283495231 * 9.80665 * 0.0254),
    ("1 Nm", q.TORQUE, 1.0),
    ("19 5/8 in", q.LENGTH, 19.625 * 0.0254),
    ("3/4 in", q.LENGTH, 0.75 * 0.0254),
    ("3 ft 8 in", q.LENGTH, 44 * 0.0254),
    ("3 ft 8 1/2 in", q.LENGTH, 44.5 * 0.0254),
    ("2 lb 7 oz", q.MASS, 39 * 0.0283495231),
    ("50 lb", q.FORCE, 50 * 4.4482216152605),
    ("1 %", q.PROBABILITY, 0.01),
    ("0.017 m²", q.AREA, 0.017),
    ("2.5 mm/s", q.PERMEABILITY, 2.5e-3),
    ("1013.25 hPa", q.PRESSURE, 101325.0),
    ("29.92 inHg", q.PRESSURE, 29.92 * 3386.389),
    ("12 degC", q.TEMPERATURE, 285.15),
    ("59 degF", q.TEMPERATURE, 288.15),
    ("+5 K", q.TEMPERATURE_STEP, 5.0),
    ("-9 delta_degF", q.TEMPERATURE_STEP, -5.0),
    ("2 min", q.TIME, 120.0),
]


@pytest.mark.parametrize(("given", "kind", "expected"), CASES, ids=lambda x: str(x)[:20])
def test_reads_numbers_and_units(given: object, kind: q.Kind, expected: float) -> None:
    assert read_quantity(given, kind) == pytest.approx(expected, rel=1e-6)


REFUSALS = [
    ("48 kg", q.LENGTH, "a mass"),
    ("1.1 m", q.MASS, "a length"),
    ("6 deg", q.RATIO, "an angle"),
    ("15 %", q.ANGLE, "a ratio"),
    ("15 %", q.LENGTH, "a ratio"),
    (6, q.ANGLE, "degrees or radians"),
    ("6", q.ANGLE, "degrees or radians"),
    ("0.5 ft^3/min", q.PERMEABILITY, "a volume flow"),
    ("1 1/0 in", q.LENGTH, "a fraction over zero"),
    ("3 ft 8", q.LENGTH, '"ft 8" is not read as a unit'),
    ("1", q.PROBABILITY, "a probability without its unit could be a ratio or per cent"),
    ("3 N", q.MASS, "a force"),
    ("3 bananas", q.LENGTH, "not a unit known here"),
    ("3 m m m m m m m m", q.LENGTH, "not read as a unit"),
    ("2 m**9**9**9**9", q.LENGTH, "not read as a unit"),
    ("2 __import__('os')", q.LENGTH, "not read as a unit"),
    ("about 3 m", q.LENGTH, "not a length"),
    ("", q.LENGTH, "not a length"),
    ("1.1 m" + " " * 3 + "x" * 80, q.LENGTH, "not a length"),
    ("nan m", q.LENGTH, "not a length"),
    ("1e999 m", q.LENGTH, "not a finite number"),
    (float("nan"), q.LENGTH, "not a finite number"),
    (float("inf"), q.ANGLE, "not a finite number"),
    (10**400, q.LENGTH, "not a finite number"),
    (True, q.LENGTH, "not a length"),
    (None, q.LENGTH, "not a length"),
    ([1], q.LENGTH, "not a length"),
    ("5 degC", q.TEMPERATURE_STEP, "a temperature, where a difference is wanted"),
    ("3 mol", q.LENGTH, "another kind of quantity"),
    ("3 m/m", q.RATIO, "not a unit that fits"),
]


@pytest.mark.parametrize(("given", "kind", "words"), REFUSALS, ids=lambda x: str(x)[:20])
def test_refuses_with_the_reason(given: object, kind: q.Kind, words: str) -> None:
    with pytest.raises(InvalidValue) as caught:
        read_quantity(given, kind)
    assert words in caught.value.problem
    assert caught.value.hint


def test_limits_are_allowed_and_told_in_their_unit() -> None:
    assert angle_between(0, 16).read("16 deg") == pytest.approx(math.radians(16))
    assert percent_between(30, 100).read("30 %") == pytest.approx(0.3)
    with pytest.raises(InvalidValue, match="too large") as caught:
        length_between(0.1, 5, "mm").read("6 mm")
    assert "0.1 to 5 mm" in caught.value.hint
    with pytest.raises(InvalidValue, match=r"too large \(a number without unit is in m\)"):
        length_between(0.1, 5, "mm").read(0.8)


@pytest.mark.parametrize("unit", sorted({*q.COMMON_UNITS, *q._SI_UNITS}))
def test_common_units_are_those_of_the_units_library(unit: str, monkeypatch: pytest.MonkeyPatch) -> None:
    q._unit.cache_clear()
    quick = q._unit(unit, q.LENGTH)
    monkeypatch.setattr(q, "COMMON_UNITS", {})
    monkeypatch.setattr(q, "_SI_UNITS", {})
    q._unit.cache_clear()
    dimension, is_angle, size, shift = q._unit(unit, q.LENGTH)
    assert (dimension, is_angle, shift) == (quick[0], quick[1], quick[3])
    assert quick[2] == pytest.approx(size, rel=1e-14)


def test_units_library_is_left_alone_until_a_unit_is_met() -> None:
    code = (
        "import sys; from parasim.config.loader import parse_design; from parasim.config.base import *\n"
        "assert length_between(0, 2).read('1 m') == 1 and length_between(0, 2).read('1 ft') < 1\n"
        "assert 'pint' not in sys.modules\n"
        "assert length_between(0, 2).read('1 yd') < 1; assert 'pint' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
