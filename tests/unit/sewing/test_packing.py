"""Packed mass, volume and length, by hand."""

from math import pi, sqrt

import pytest

from parasim.config.loader import override
from parasim.errors import DesignError
from parasim.sewing.packing import packed, packed_words

MASSES = {"upper skin": 0.050, "tape": 0.006, "lines": 0.014}
"""70 g in all. [kg]"""

LOOSE = {"opening.pack": "loose"}


def test_volume_follows_from_mass_and_density(reference):
    """Common practice, no source: 200 to 250 kg/m3. 70 g at 225 are 0.311 L, at 250 0.28 L, at 200 0.35 L."""
    found = packed(override(reference, LOOSE | {"packing": None}), MASSES)
    assert (found.bag, found.pilot_chute) == (0.0, 0.0)
    assert found.mass == pytest.approx(0.070)
    assert found.volume == pytest.approx(0.070 / 225)
    assert found.volume_range == pytest.approx((0.28e-3, 0.35e-3))
    assert (found.length, found.length_range, found.filled) == (None, None, None)


def test_length_in_a_tray_is_a_range(reference):
    """0.28 to 0.35 L on 70 cm2: 40 to 50 mm."""
    tray = {"packing": {"tray": ["0.1 m", "7 cm"], "length": "45 mm"}}
    found = packed(override(reference, LOOSE | tray), MASSES)
    assert found.length_range == pytest.approx((0.040, 0.050))
    assert found.filled == pytest.approx(0.070 / 225 / 0.007 / 0.045)
    assert found.container == "tray"


def test_a_measured_density_has_a_range_in_proportion(reference):
    """A pack of 180 kg/m3: 160 to 200."""
    tube = {"packing": {"tube": "80 mm", "density": "180 kg/m^3"}}
    found = packed(override(reference, LOOSE | tube), MASSES)
    assert found.density_range == pytest.approx((160, 200))
    assert found.length == pytest.approx(0.070 / 180 / (pi * 0.04**2))


def test_bag_and_pilot_chute_are_in_mass_and_volume(reference):
    """The chute: 0.015 m2 of drag over 0.75 is 0.02 m2; cloth of 40 g/m2, 15 % for seams."""
    bag = {
        "opening.pack": "bag", "opening.drag_area": "0.015 m^2", "packing": {"bag": "80 mm"},
        "lines.length": "0.6 m", "lines.linear_density": "0.5 g/m",
    }  # fmt: skip
    found = packed(override(reference, bag), MASSES)
    chute = 1.15 * 0.040 * 0.02 + 0.0005 * (8 * sqrt(4 * 0.02 / pi) + 0.3)
    assert found.pilot_chute == pytest.approx(chute)
    section, volume = pi * 0.04**2, (0.070 + chute) / 225
    cloth = pi * 0.08 * volume / section + 2 * section  # wall, bottom and flap
    assert found.bag == pytest.approx(1.15 * 0.040 * cloth)
    assert found.mass == pytest.approx(0.070 + found.bag + chute)
    assert found.length == pytest.approx(found.mass / 225 / section)


def test_a_bag_of_no_given_size_is_as_long_as_wide(reference):
    found = packed(override(reference, {"opening.pack": "bag", "packing": None}), MASSES)
    volume = (0.070 + found.pilot_chute) / 225
    d = (4 * volume / pi) ** (1 / 3)
    assert found.bag == pytest.approx(1.15 * 0.040 * (pi * d * d + 2 * pi * d**2 / 4))


def test_the_bag_sets_the_length_not_what_it_lies_in(reference):
    both = {"packing": {"tray": ["120 mm", "80 mm"], "bag_box": ["70 mm", "100 mm"], "length": "200 mm"}}
    found = packed(override(reference, {"opening.pack": "bag"} | both), MASSES)
    assert found.section == pytest.approx(0.007)
    assert (found.container, found.room) == ("tray", 0.2)


@pytest.mark.parametrize(
    ("packing", "said"),
    [
        ({"length": "0.1 m"}, "needs one of tube, tray, bag and bag_box"),
        ({"bag": "8 cm", "bag_box": ["8 cm", "8 cm"]}, "needs one of bag and bag_box"),
        ({"tube": "8 cm", "bag": "8.1 cm"}, "packing.bag: .*does not go into the tube"),
        ({"tube": "8 cm", "bag_box": ["6 cm", "6 cm"]}, "packing.bag_box: .*does not go into the tube"),
        ({"tray": ["8 cm", "5 cm"], "bag": "6 cm"}, "packing.bag: .*does not go into the tray"),
        ({"bag": "8 cm", "density": "225 g"}, "a mass"),
        ({"bag": "8 cm", "density": 2}, "50 to 900 kg/m"),
    ],
)
def test_mistakes(reference, packing, said):
    with pytest.raises(DesignError, match=said):
        override(reference, {"opening.pack": "bag", "packing": packing})


def test_a_loose_pack_has_no_bag(reference):
    with pytest.raises(DesignError, match=r"packing.bag: .*opening.pack is loose: there is no bag"):
        override(reference, LOOSE | {"packing": {"bag": "8 cm"}})


@pytest.mark.parametrize(
    ("units", "words"),
    [
        ("metric", ("Packed: 70.0 g (canopy 56.0 g, lines 14.0 g), 0.28 to 0.35 L at 250 to 200 kg/m³",
                    "In its tray: 40 to 50 mm long.")),
        ("imperial", ("Packed: 2.47 oz (canopy 1.98 oz, lines 0.49 oz), 17.1 to 21.4 in³ at 15.6 to 12.5 lb",
                      "In its tray: 1 9/16 to 1 15/16 in long.")),
    ],
)  # fmt: skip
def test_words(reference, units, words):
    tray = {"packing": {"tray": ["0.1 m", "7 cm"]}}
    said = " ".join(packed_words(packed(override(reference, LOOSE | tray), MASSES), units))
    assert all(each in said for each in words)
