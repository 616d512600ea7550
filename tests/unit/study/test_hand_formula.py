"""Sizing a first canopy."""

from math import radians

import pytest

from parasim.errors import OptionError
from parasim.study.hand_formula import canopy_area, size_canopy


def test_area_worked_by_hand() -> None:
    # sink 3 m/s at glide ratio 2.5: angle atan(0.4) = 21.80 deg, sine 0.37139, so V = 8.0777 m/s and
    # q = 39.966 Pa. All-up 1.1 kg weighs 10.787 N: 10.787 / (39.966 x 0.5) = 0.5398 m2;
    # 1.2 kg gives 0.5889 m2.
    assert canopy_area(mass=1.1, sink=3.0, glide_ratio=2.5) == pytest.approx(0.5398, abs=1e-4)
    assert canopy_area(mass=1.2, sink=3.0, glide_ratio=2.5) == pytest.approx(0.5889, abs=1e-4)


def test_the_canopy_carries_itself_as_well() -> None:
    size = size_canopy(payload_mass=1.2, sink=3.0, glide_ratio=2.5)
    again = canopy_area(mass=size.payload_mass + size.canopy_mass, sink=3.0, glide_ratio=2.5)
    assert size.area == pytest.approx(again, rel=1e-12)
    assert size.span * size.chord == pytest.approx(size.area, rel=0.01)
    assert size.span / size.chord == pytest.approx(2.2, rel=0.02)
    assert size.glide_angle == pytest.approx(radians(21.80), abs=1e-4)


@pytest.mark.parametrize("mass", [0.5, 1.0, 2.0, 4.0])
def test_more_mass_asks_for_more_canopy_and_stronger_lines(mass: float) -> None:
    small = size_canopy(payload_mass=mass, sink=3.5, glide_ratio=2.5)
    large = size_canopy(payload_mass=1.5 * mass, sink=3.5, glide_ratio=2.5)
    assert large.area > small.area
    assert large.line_diameter >= small.line_diameter
    assert large.brake_travel >= small.brake_travel
    assert large.cells >= small.cells


def test_out_of_any_sensible_size() -> None:
    with pytest.raises(OptionError, match="ask for more sink"):
        size_canopy(payload_mass=20.0, sink=1.0, glide_ratio=2.5)
    with pytest.raises(OptionError, match="ask for less sink"):
        size_canopy(payload_mass=0.05, sink=10.0, glide_ratio=2.5)
