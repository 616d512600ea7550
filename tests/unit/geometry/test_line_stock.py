"""Line stock: stretch by Hooke's law, strength at knots."""

from __future__ import annotations

import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.geometry.line_stock import FIBRES, KNOT_EFFICIENCY, build_line_stock


def stock(design: Design, **keys: object):
    return build_line_stock(override(design, {f"lines.{key}": value for key, value in keys.items()}).lines)


def test_without_material_nothing_is_made_up(reference: Design):
    plain = stock(reference)
    assert (plain.stiffness, plain.strength, plain.knotted_strength, plain.shrinkage) == (
        None,
        None,
        None,
        0.0,
    )
    assert plain.stretched(0.5, at=1.0, measured_under=7.0) == 0.5


def test_nylon_by_hand(reference: Design):
    """0.5 g/m is 500 tex; 4.5 N/tex, half of it in a braid: 1125 N. 7 N more stretch 0.5 m by 3.1 mm."""
    nylon = stock(reference, material="nylon")
    assert nylon.stiffness == pytest.approx(1125.0)
    assert nylon.stretched(0.5, at=0.0, measured_under=7.0) == pytest.approx(0.5 + 0.5 * 7 / 1125)
    assert nylon.stretched(0.5, at=7.0, measured_under=7.0) == pytest.approx(0.5)
    assert nylon.stretched(0.5, at=7.0, measured_under=0.0) < 0.5


def test_strength_told_goes_before_the_estimate(reference: Design):
    told = stock(reference, material="aramid", strength="400 N")
    assert told.strength == 400.0
    assert told.strength_is_given
    assert told.knotted_strength == pytest.approx(KNOT_EFFICIENCY * 400)
    assert not stock(reference, material="aramid").strength_is_given


def test_order_of_the_fibres():
    """Common practice, no source: nylon stretches most; the two high-modulus fibres are strongest."""
    assert sorted(FIBRES, key=lambda name: FIBRES[name].modulus) == ["nylon", "polyester", "aramid", "uhmwpe"]
    assert min(FIBRES["aramid"].tenacity, FIBRES["uhmwpe"].tenacity) > 2 * FIBRES["polyester"].tenacity
    assert all(0 <= fibre.shrinkage < 0.02 for fibre in FIBRES.values())
