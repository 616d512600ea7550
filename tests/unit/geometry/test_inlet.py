"""Where the nose is cut."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.config.canopy import InletSpec
from parasim.geometry.airfoil import build_outline, lower_surface
from parasim.geometry.inlet import build_inlet

OUTLINE = build_outline("flat-bottomed", 0.15)


@pytest.mark.parametrize("height", [0.005, 0.02, 0.04, 0.0731, 0.10])
def test_opening_has_its_height(height):
    """From the leading edge straight to the lip."""
    inlet = build_inlet(InletSpec(kind="flush", height=height), OUTLINE)
    nose = OUTLINE[np.argmin(OUTLINE[:, 0])]
    lip = np.array([inlet.lower_lip, float(lower_surface(OUTLINE, np.array(inlet.lower_lip)))])
    assert np.linalg.norm(lip - nose) == pytest.approx(height, abs=2e-4)


def test_every_height_moves_the_lip():
    """A nudge of the key must move the cut."""
    lips = [
        build_inlet(InletSpec(kind="flush", height=h), OUTLINE).lower_lip for h in np.linspace(0.02, 0.06, 41)
    ]
    assert np.all(np.diff(lips) > 0)


def test_kind_is_kept():
    assert build_inlet(InletSpec(kind="open", height=0.05), OUTLINE).kind == "open"
