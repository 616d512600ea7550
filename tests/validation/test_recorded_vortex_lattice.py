"""What tests/reference/vortex_lattice.json is worth, before our own lattice is compared with it.

Sources: lift slopes of lifting-surface theory for rectangular plates, 1.460 and 2.474 per radian at aspect
ratio 1 and 2 (from memory, unverified); Belloc (2015) for the flat area of the tunnel wing.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

REFERENCE = Path(__file__).parents[1] / "reference"
RECORDED = json.loads((REFERENCE / "vortex_lattice.json").read_text(encoding="utf-8"))
WINGS = RECORDED["wings"]


@pytest.mark.parametrize(("wing", "slope"), [("rectangle_1", 1.460), ("rectangle_2", 2.474)])
def test_slopes_are_those_of_lifting_surface_theory(wing, slope):
    """To half a unit of the last printed digit."""
    assert WINGS[wing]["derivatives_at_alpha_deg"]["0"]["CL_alpha"] == pytest.approx(slope, abs=0.0005)


@pytest.mark.parametrize("wing", WINGS)
def test_the_two_finest_grids_agree(wing):
    """Within 1 %, or 0.001 for what is nearly zero."""
    *_, coarse, fine = WINGS[wing]["convergence_at_alpha_5_deg"].values()
    np.testing.assert_allclose(list(coarse.values()), list(fine.values()), rtol=0.01, atol=0.001)


def test_flat_plates_feel_no_sideslip_and_arcs_roll_about_their_centre():
    """Signs: pressure on an arc of radius R pulls through a point R below the top, so Cl = -CY R/b."""
    at_zero = {name: wing["derivatives_at_alpha_deg"]["0"] for name, wing in WINGS.items()}
    assert at_zero["rectangle_2"]["CY_beta"] == 0.0
    arc = at_zero["arced_rectangle"]
    assert arc["CY_beta"] < 0.0
    assert arc["Cl_beta"] == pytest.approx(-arc["CY_beta"] * 0.75 / 1.10, rel=0.001)
    assert arc["Cl_p"] == pytest.approx(-arc["CY_p"] * 0.75 / 1.10, rel=0.001)


def test_area_of_the_tunnel_wing():
    """0.4440 m², to the printed digit, from straight lines between the stations of the table."""
    assert WINGS["tunnel_wing"]["flat_area_m2"] == pytest.approx(0.4440, abs=0.0001)
