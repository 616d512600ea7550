"""Where the nose is cut."""

from __future__ import annotations

import numpy as np
import pytest
from pydantic import ValidationError

from parasim.config.canopy import InletSpec
from parasim.config.loader import override
from parasim.errors import DesignError
from parasim.geometry.airfoil import build_outline, lower_surface, upper_surface
from parasim.geometry.canopy import build_canopy
from parasim.geometry.inlet import build_inlet
from parasim.sewing.templates import templates

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


def at(x, surface, outline=OUTLINE):
    return np.array([x, float(surface(outline, np.array(x)))])


@pytest.mark.parametrize("angle", [30.0, 45.0, 60.0, 90.0, 110.0])
@pytest.mark.parametrize("height", [0.02, 0.05, 0.08])
def test_an_open_nose_is_as_high_from_ahead_as_given(height, angle):
    """Trigonometry: the cut runs from lip to lip at its angle, and is so high across the chord line."""
    inlet = build_inlet(InletSpec(kind="open", height=height, cut_angle=f"{angle} deg"), OUTLINE)
    upper, lower = at(inlet.upper_lip, upper_surface), at(inlet.lower_lip, lower_surface)
    run, rise = lower - upper
    assert run == pytest.approx(height / np.tan(np.radians(angle)), abs=1e-9)
    # Near the round nose the foremost cut may be a little higher than asked for: it begins at the edge.
    assert -rise == pytest.approx(height, abs=1e-6) or inlet.upper_lip == max(0.0, -run)


def test_lips_fix_the_height():
    inlet = build_inlet(InletSpec(kind="open", upper_lip=0.03, lower_lip=0.07), OUTLINE)
    assert inlet.height == pytest.approx(at(0.03, upper_surface)[1] - at(0.07, lower_surface)[1])


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"kind": "open"}, "height: missing"),
        ({"kind": "flush", "height": 0.04, "overhang": 0.01}, "belongs to an open nose"),
        ({"kind": "open", "upper_lip": 0.02}, "missing beside the other lip"),
        ({"kind": "open", "upper_lip": 0.02, "lower_lip": 0.04, "height": 0.04}, "the lips fix the cut"),
    ],
)
def test_mistakes(given, said):
    with pytest.raises(ValidationError) as error:
        InletSpec(**given)
    found = error.value.errors()[0]["ctx"]["error"]
    assert said in f"{found.key}: {found}"


def test_an_overhang_ends_at_the_leading_edge():
    with pytest.raises(DesignError, match="use up to"):
        build_inlet(InletSpec(kind="open", upper_lip=0.02, lower_lip=0.05, overhang=0.03), OUTLINE)


def test_no_cut_is_higher_than_the_section():
    with pytest.raises(DesignError, match="no cut at 60 deg is so high"):
        build_inlet(InletSpec(kind="open", height=0.16), OUTLINE)


def test_rows_in_the_opening_are_refused_wherever_a_canopy_is_built(reference):
    nose = {"kind": "open", "upper_lip": "3 %", "lower_lip": "12 %"}
    with pytest.raises(DesignError, match=r"lines.rows.A: given 10.0 %, lies in the inlet, .* at 12.0 %"):
        build_canopy(override(reference, {"canopy.inlet": nose}))


def test_upper_skin_may_overhang_and_is_sewn_to_the_rib_behind_it(reference):
    """Mating edges agree to 0.01 mm; what hangs over is the section's own arc from the leading edge."""
    nose = {"kind": "open", "upper_lip": "3 %", "lower_lip": "6 %", "overhang": "3 %"}
    result = templates(override(reference, {"canopy.inlet": nose}))
    pieces, outline = {piece.name: piece for piece in result.pieces}, result.canopy.outline
    rib = {edge.name: edge for edge in pieces["loaded rib"].edges}
    panel = {edge.name: edge for edge in pieces["top panel"].edges}
    assert panel["left"].length == pytest.approx(rib["top"].length, abs=0.01)
    section = outline[int(np.argmin(outline[:, 0])) :: -1]
    ahead = np.vstack([section[section[:, 0] < 0.03], at(0.03, upper_surface, outline)])
    along = 1e3 * reference.canopy.chord * np.hypot(*np.diff(ahead, axis=0).T).sum()
    assert panel["left overhang"].length == pytest.approx(along, abs=0.01)
    cut = at(0.06, lower_surface, outline) - at(0.03, upper_surface, outline)
    assert rib["inlet"].length == pytest.approx(1e3 * reference.canopy.chord * np.hypot(*cut), abs=0.01)
