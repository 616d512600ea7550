"""Lift slope of an arced wing over that of the flat one: about cos^2(b/4R).

Sources: Lingard (1995) for the arc angle b/4R, from memory; the square and its range (1.5 % for R/b >= 0.8)
are a rule of thumb without a published source. Our lattice is 1.6 % over it at R/b = 0.8, so that end is told
apart.
"""

from __future__ import annotations

import numpy as np
import pytest

from parasim.geometry.surface import cosine_strips
from tests.validation.wings import lift_slope, plain_canopy

SPAN, CHORD = 1.10, 0.50
FLAT_SLOPE = lift_slope(cosine_strips(plain_canopy(span=SPAN, chord=CHORD), 12), area=SPAN * CHORD)


def departure(radius_over_span: float) -> float:
    """Of the slope's ratio from cos^2(b/4R)."""
    arced = plain_canopy(span=SPAN, chord=CHORD, arc_radius=radius_over_span * SPAN)
    ratio = lift_slope(cosine_strips(arced, 12), area=SPAN * CHORD) / FLAT_SLOPE
    return ratio / np.cos(1 / (4 * radius_over_span)) ** 2 - 1


@pytest.mark.parametrize("radius_over_span", [0.85, 1.0, 1.2, 2.0, 5.0])
def test_arc_factor(radius_over_span):
    assert departure(radius_over_span) == pytest.approx(0.0, abs=0.015)


@pytest.mark.xfail(strict=True, reason="at R/b = 0.8 the lattice is 1.6 % over cos^2(b/4R); 1.5 % was asked")
def test_arc_factor_at_the_end_of_its_range():
    assert departure(0.8) == pytest.approx(0.0, abs=0.015)


def test_record_at_the_end_of_its_range():
    """A record, not a check: notices when the figure moves."""
    assert departure(0.8) == pytest.approx(0.0157, rel=0.05)
