"""Display units against printed tables and an independent units library."""

import pint
import pytest

from parasim import units

# NIST SP 811 (2008), appendix B.8, typed from memory, unverified; exact or to the printed digits.
SP811 = [
    (units.FOOT, 0.3048),
    (units.INCH, 0.0254),
    (units.YARD, 0.9144),
    (units.POUND, 0.45359237),
    (units.OUNCE, 0.02834952),
    (units.POUND_FORCE, 4.448222),
    (units.KNOT, 0.5144444),
    (units.INCH_OF_MERCURY, 3386.389),
    (units.DEGREE, 0.01745329),
    (units.UNITS["energy"]["imperial"].size, 1.355818),
    (units.UNITS["inertia"]["imperial"].size, 0.04214011),
    (units.UNITS["wing_loading"]["imperial"].size, 47.88026),
    (units.UNITS["density"]["imperial"].size, 16.01846),
    (units.UNITS["areal_weight"]["imperial"].size, 0.03390575),
]


@pytest.mark.parametrize(("ours", "printed"), SP811)
def test_factors_are_the_printed_ones(ours: float, printed: float) -> None:
    assert ours == pytest.approx(printed, rel=5e-7)  # half a unit in the seventh digit


PINT_NAMES = {
    "m²": "m^2", "ft²": "ft^2", "L": "liter", "ft³": "ft^3", "kg m²": "kg*m^2", "lb ft²": "lb*ft^2",
    "kt": "knot",
    "oz in": "force_ounce*inch", "ft lbf": "ft*lbf", "N m": "N*m", "N/m²": "N/m^2", "lbf/ft²": "lbf/ft^2",
    "in": "inch",
    "g/m²": "g/m^2", "oz/yd²": "oz/yd^2", "oz/yd": "oz/yd", "cfm/ft²": "ft^3/min/ft^2", "kg/m³": "kg/m^3",
    "lb/ft³": "lb/ft^3", "°F": "delta_degF", "%": "percent", "deg": "degree", "deg/s": "degree/s",
}  # fmt: skip


def test_every_factor_against_a_units_library() -> None:
    registry = pint.UnitRegistry()
    for kind, systems in units.UNITS.items():
        for unit in systems.values():
            theirs = registry.Quantity(1.0, PINT_NAMES.get(unit.label, unit.label)).to_base_units().magnitude
            assert unit.size == pytest.approx(theirs, rel=1e-6), (kind, unit.label)


def test_shows_a_quantity_with_its_unit() -> None:
    assert units.show(0.55, "area") == "0.550 m²"
    assert units.show(0.55, "area", "imperial") == "5.92 ft²"
    assert units.show(0.12, "small_length", "imperial", digits=3) == "4.724 in"
    assert units.show(0.1, "ratio") == "0.10"
    assert units.show(None, "mass") == "-"
    assert units.show(-1e-9, "speed") == "0.00 m/s"
    assert units.label("pressure", "imperial") == "inHg"
    assert units.convert(3.0, "speed", "imperial") == pytest.approx(9.8425, abs=1e-4)


def test_an_unknown_kind_is_a_mistake_of_the_programmer() -> None:
    with pytest.raises(KeyError):
        units.show(1.0, "colour")
