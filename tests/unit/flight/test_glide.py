"""What the glide command works out."""

from __future__ import annotations

from dataclasses import replace
from math import degrees, radians, sqrt

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import TrimError
from parasim.flight.glide import (
    RIGGING_SWEEP,
    STALL_RESERVE,
    TUCK_RESERVE,
    Glide,
    GlidePoint,
    altitude_effect,
    glide,
    rigging_window,
    section_stall,
    tuck_alpha,
)
from parasim.flight.trim import find_trims
from parasim.geometry.airfoil import build_outline, ideal_angle


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    return assemble(reference)


@pytest.fixture(scope="module")
def answer(vehicle: Vehicle) -> Glide:
    return glide(vehicle)


def test_bands_lie_about_their_figures(answer: Glide) -> None:
    for name, band in answer.bands.figures.items():
        assert band.low <= band.value <= band.high, name
        assert sum(share for _, share in band.causes) == pytest.approx(1.0), name
    assert answer.bands.figures["sink"].value == pytest.approx(answer.trim.sink)
    assert answer.bands.figures["glide_ratio"].value == pytest.approx(answer.trim.glide_ratio)


def test_drag_items_add_up_to_the_trims_drag(answer: Glide) -> None:
    """Model against table: half a per cent."""
    assert sum(item.CD for item in answer.drag.items) == pytest.approx(answer.drag.CD)
    assert sum(item.share for item in answer.drag.items) == pytest.approx(1.0)
    assert pytest.approx(answer.trim.CD, rel=0.005) == answer.drag.CD
    assert {"lines", "payload", "induced", "canopy profile"} <= {item.name for item in answer.drag.items}


def test_sweeps_begin_and_pass_at_the_trim(answer: Glide) -> None:
    assert answer.brakes[0].trim is not None
    assert answer.brakes[0].trim.sink == pytest.approx(answer.trim.sink, rel=1e-6)
    middle = answer.lines[1]
    assert middle.setting == 0.0
    assert middle.trim is not None
    assert middle.trim.alpha == pytest.approx(answer.trim.alpha, abs=1e-6)


def test_rigging_sweep_trends(answer: Glide) -> None:
    """Nose-down rigging: less angle of attack, less room to the tuck, more to the stall."""
    flown = [point for point in answer.rigging if point.trim is not None]
    assert len(flown) >= 6
    assert np.all(np.diff([point.trim.alpha for point in flown]) < 0)
    assert np.all(np.diff([point.tuck_margin for point in flown]) < 0)
    assert np.all(np.diff([point.stall_margin for point in flown]) > 0)
    assert [point.setting for point in answer.rigging] == pytest.approx(RIGGING_SWEEP)


def test_rear_row_5_mm_off(answer: Glide) -> None:
    """0.6 to 0.9 deg of rigging: shorter rear row, less rigging angle, more angle of attack."""
    short, as_designed, long = (point.trim for point in answer.lines)
    assert short.alpha > as_designed.alpha > long.alpha


def test_altitude_hardly_changes_the_glide_angle(answer: Glide) -> None:
    """Speeds go with the root of the density; by 3000 m Reynolds number does 0.4 % to the glide ratio."""
    points = {row.point.setting: row.point.trim for row in answer.altitudes}
    assert list(points)[:5] == [0, 500, 1000, 2000, 3000]
    assert max(points) == 35_000
    low, high = points[0.0], points[3000.0]
    assert low is not None
    assert high is not None
    assert high.glide_ratio == pytest.approx(low.glide_ratio, rel=5e-3)
    assert high.glide_ratio != low.glide_ratio
    # ISO 2533: density 1.2250 and 0.9091 kg/m3 at 0 and 3000 m.
    assert high.airspeed / low.airspeed == pytest.approx(sqrt(1.2250 / 0.9091), rel=5e-3)


def test_reynolds_number_and_equivalent_airspeed_at_heights(answer: Glide) -> None:
    """Re = rho V c / mu and V sqrt(rho / 1.225) at 10 km by ISO 2533 (from memory): 0.41351, 1.4577e-5."""
    (row,) = (row for row in answer.altitudes if row.point.setting == 10_000.0)
    assert row.point.trim is not None
    airspeed = row.point.trim.airspeed
    chord = answer.vehicle.canopy.mean_chord
    assert row.reynolds == pytest.approx(0.41351 * airspeed * chord / 1.4577e-5, rel=1e-3)
    assert row.equivalent_airspeed == pytest.approx(airspeed * sqrt(0.41351 / 1.225), rel=1e-4)


def test_a_release_where_the_stall_margin_is_spent_is_told(heron: Design, answer: Glide) -> None:
    assert not any("above sea level up" in word for word in answer.caveats)
    high = assemble(override(heron, {"drop.height": "30 km"}))
    told = replace(answer, vehicle=high, altitudes=altitude_effect(high))
    (word,) = (word for word in told.caveats if "above sea level up" in word)
    assert word.startswith("From 25000 m above sea level up the stall margin is under 4 deg")


def test_altitudes_are_above_sea_level(vehicle: Vehicle) -> None:
    at_sea = altitude_effect(vehicle)[0].point.trim
    assert at_sea is not None
    assert at_sea.air_density == pytest.approx(1.225, rel=1e-3)


# --- margins -----------------------------------------------------------------------------------------------


def test_stall_margin_leaves_the_stall(answer: Glide) -> None:
    assert answer.stall_margin == pytest.approx(answer.stall_alpha - answer.trim.alpha)
    assert radians(10) < answer.stall_alpha < radians(30)


def test_tuck_angle_by_hand():
    """15 %: nose radius 1.1019 x 0.0225 = 0.0248; a quarter of the pressure is lost sqrt(0.25 x 0.0248/2) =
    3.19 deg below the ideal angle, which is zero for a symmetric section.
    """
    outline = build_outline("symmetric", 0.15)
    assert degrees(ideal_angle(outline)) == pytest.approx(0.0, abs=0.01)
    assert degrees(tuck_alpha(outline)) == pytest.approx(-3.19, abs=0.02)


@pytest.mark.parametrize("family", ["flat-bottomed", "reflexed", "symmetric"])
def test_every_family_stalls_somewhere(family: str) -> None:
    from parasim.aerodynamics.section import build_section_polar

    for thickness in (0.10, 0.15, 0.18):
        for reynolds in (8e4, 3e5, 1e6):
            polar = build_section_polar(family=family, thickness=thickness, reynolds=reynolds)
            assert 5 < degrees(section_stall(polar)) < 25


def point(angle: float, tuck: float, stall: float, trim: object) -> GlidePoint:
    return GlidePoint(
        setting=radians(angle),
        trim=trim,  # type: ignore[arg-type]
        tuck_margin=radians(tuck),
        stall_margin=radians(stall),
    )


def test_window_by_hand(vehicle: Vehicle) -> None:
    """Tuck margin falls a degree a degree from 9, stall margin rises so from 0: window 4 to 8 deg."""
    trim = find_trims(vehicle, modes=False).chosen
    sweep = tuple(point(a, 9.0 - a, a, trim) for a in np.arange(0.0, 13.0, 2.0))
    window = rigging_window(sweep)
    assert window is not None
    assert degrees(STALL_RESERVE) == pytest.approx(4.0)
    assert degrees(TUCK_RESERVE) == pytest.approx(1.0)
    np.testing.assert_allclose(np.degrees(window), [4.0, 8.0], atol=0.03)


def test_no_window(vehicle: Vehicle) -> None:
    trim = find_trims(vehicle, modes=False).chosen
    assert rigging_window(tuple(point(a, -1.0, 10.0, trim) for a in (0.0, 2.0))) is None
    assert rigging_window(tuple(point(a, 9.0, 9.0, None) for a in (0.0, 2.0))) is None


def test_hinged_heron_wants_less_rigging(heron: Design) -> None:
    """None at 4 deg, where its canopy's own weight noses it under; 2.8 to 1 at 3 deg."""
    steep = override(heron, {"lines.rigging_angle": "4 deg"})
    with pytest.raises(TrimError, match="its nose drops"):
        find_trims(assemble(steep), modes=False)
    flatter = find_trims(assemble(override(heron, {"lines.rigging_angle": "3 deg"})), modes=False).chosen
    assert flatter.glide_ratio == pytest.approx(2.84, abs=0.05)
    # In cloth of half the weight it would still glide at 4 deg, steeply.
    lighter = override(steep, {"canopy.cloth.areal_weight": "20 g/m^2"})
    assert find_trims(assemble(lighter), modes=False).chosen.glide_ratio < 2.8
