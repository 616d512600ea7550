"""Packed volume and length, by hand."""

from math import pi

import pytest

from parasim.config.loader import override
from parasim.sewing.packing import packed

MASSES = {"upper skin": 0.050, "tape": 0.007, "lines": 0.0138}
"""[kg]"""
SOLID = 0.057 / 1140 + 0.0138 / 1380
"""57 g of nylon and 13.8 g of polyester: 50 and 10 cm³. [m³]"""


def test_volume_is_the_solid_one_and_air(reference):
    found = packed(reference, MASSES)
    assert found.solid == pytest.approx(SOLID)
    assert found.volume == pytest.approx(60e-6 / 0.30)
    assert found.volume_range == pytest.approx((60e-6 / 0.40, 60e-6 / 0.25))
    assert found.line_fibre == "polyester"
    assert (found.length, found.length_range, found.filled) == (None, None, None)


def test_length_in_a_tube(reference):
    tube = override(reference, {"packing": {"tube": "80 mm", "length": "50 mm", "fraction": "40 %"}})
    found = packed(tube, MASSES)
    assert found.length == pytest.approx(150e-6 / (pi * 0.04**2))
    assert found.filled == pytest.approx(found.length / 0.05)
    assert found.container == "tube"


def test_length_in_a_tray(reference):
    """200 cm³ on 100 cm²."""
    found = packed(override(reference, {"packing": {"tray": ["0.2 m", "5 cm"]}}), MASSES)
    assert found.length == pytest.approx(0.020)
    assert found.length_range == pytest.approx((0.015, 0.024))
    assert found.filled is None


def test_lines_of_another_fibre(reference):
    """Fibre densities differ: the same mass of a lighter fibre takes more room."""
    light = packed(override(reference, {"lines.material": "uhmwpe"}), MASSES)
    assert light.line_volume == pytest.approx(0.0138 / 970)
