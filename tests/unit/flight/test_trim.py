"""Steady glides."""

from __future__ import annotations

from dataclasses import replace
from math import atan, cos, degrees, hypot, radians, sin
from pathlib import Path

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import TrimError
from parasim.flight.trim import DIVE, Mode, Trim, Trims, find_trims
from parasim.geometry.rigging import Rigging


@pytest.fixture(scope="module")
def vehicle(reference: Design) -> Vehicle:
    return assemble(reference)


@pytest.fixture(scope="module")
def trims(vehicle: Vehicle) -> Trims:
    return find_trims(vehicle)


def a_trim(**changes: object) -> Trim:
    """Force 0.11 m2 forward and 0.33 up at 8 deg angle of attack."""
    values = {
        "alpha": radians(8.0),
        "pitch": atan(0.11 / 0.33),
        "airspeed": 8.0,
        "brake": 0.0,
        "force": np.array([0.11, 0.0, -0.33]),
        "moment_slope": -0.1,
        "modes": (),
        "area": 0.55,
        "air_density": 1.225,
    }
    return Trim(**{**values, **changes})  # type: ignore[arg-type]


def test_coefficients_by_hand():
    """CL = (0.11 sin 8 + 0.33 cos 8)/0.55, CD = (-0.11 cos 8 + 0.33 sin 8)/0.55."""
    trim = a_trim()
    s, c = sin(radians(8)), cos(radians(8))
    assert pytest.approx((0.11 * s + 0.33 * c) / 0.55) == trim.CL
    assert pytest.approx((-0.11 * c + 0.33 * s) / 0.55) == trim.CD
    # A force that leans forward of upright holds a nose 18.4 deg up: such a flight would climb.
    assert degrees(trim.glide_angle) == pytest.approx(8 - 18.435, abs=0.001)


def test_lines_cannot_push():
    assert a_trim().lines_taut
    assert not a_trim(force=np.array([0.1, 0.0, 0.2])).lines_taut


def test_forces_balance_in_a_found_trim(vehicle: Vehicle, trims: Trims) -> None:
    """W = q S hypot(CL, CD), and lift over drag is the glide ratio."""
    trim = trims.chosen
    q = 0.5 * trim.air_density * trim.airspeed**2
    assert q * 0.55 * hypot(trim.CL, trim.CD) == pytest.approx(vehicle.weight)
    assert trim.glide_ratio == pytest.approx(trim.CL / trim.CD)
    assert hypot(trim.sink, trim.forward_speed) == pytest.approx(trim.airspeed)
    assert trim.alpha == pytest.approx(trim.glide_angle + trim.pitch)


def test_a_parafoil_like_glide(trims: Trims) -> None:
    """1.2 kg under 0.55 m2: glide ratio 2 to 3.5, 6 to 11 m/s, 2 to 4.5 m/s down (published systems, from
    memory).
    """
    trim = trims.chosen
    assert 2.0 < trim.glide_ratio < 3.5
    assert 6.0 < trim.airspeed < 11.0
    assert 2.0 < trim.sink < 4.5


def test_the_chosen_one_is_stable_and_lowest(trims: Trims) -> None:
    assert trims.chosen.statically_stable
    assert all(not other.statically_stable or other.alpha > trims.chosen.alpha for other in trims.others)


def test_full_brake_is_no_dive(configs: Path) -> None:
    """A canopy that also balances nose-down, steeply, under full brake glides on as under a little less."""
    vehicle = assemble(load_design(configs / "kingfisher.yaml"))
    less, full = (find_trims(vehicle, brake=brake, modes=False) for brake in (0.9, 1.0))
    assert degrees(full.chosen.alpha - less.chosen.alpha) == pytest.approx(1.5, abs=1.5)
    assert full.chosen.glide_angle < DIVE
    assert any(other.statically_stable and other.glide_angle > DIVE for other in full.others)


def test_modes_are_eight_states(trims: Trims) -> None:
    """Eight eigenvalues; one of each pair is kept."""
    modes = trims.chosen.modes
    assert sum(2 if mode.eigenvalue.imag else 1 for mode in modes) == 8
    assert sum((2 if mode.eigenvalue.imag else 1) for mode in modes if mode.lateral) == 4
    growth = [mode.eigenvalue.real for mode in modes]
    assert growth == sorted(growth, reverse=True)


def test_a_mode_in_words():
    swing = Mode(eigenvalue=complex(-np.log(2), 2 * np.pi), lateral=False)
    assert swing.description == "pitch swing of period 1.0 s, halves in 1 s"
    drift = Mode(eigenvalue=complex(0.5 * np.log(2), 0), lateral=True)
    assert drift.description == "lateral without oscillation, doubles in 2 s"
    assert drift.period == np.inf
    assert not drift.stable
    assert Mode(eigenvalue=complex(0.005, 0), lateral=True).stable


def test_more_rigging_angle_less_alpha(reference: Design, trims: Trims) -> None:
    steeper = find_trims(assemble(override(reference, {"lines.rigging_angle": "7 deg"})), modes=False).chosen
    assert steeper.alpha < trims.chosen.alpha
    assert steeper.airspeed > trims.chosen.airspeed


def test_thin_air_only_speeds_up(vehicle: Vehicle, trims: Trims) -> None:
    """By the same coefficients: up to 1000 m Reynolds number counts as that of the ground."""
    high = find_trims(vehicle, height=999.0, modes=False).chosen
    assert high.alpha == pytest.approx(trims.chosen.alpha, abs=1e-9)
    ratio = trims.chosen.air_density / high.air_density
    assert high.airspeed == pytest.approx(trims.chosen.airspeed * ratio**0.5)


def test_quick_and_whole_table_trim_alike(vehicle: Vehicle, trims: Trims) -> None:
    whole = find_trims(vehicle, modes=False, table=vehicle.model.table).chosen
    assert whole.alpha == pytest.approx(trims.chosen.alpha, abs=1e-7)


def rigged(design: Design, angle: float) -> Vehicle:
    return assemble(design, rigging=Rigging(line_length=0.75, rigging_angle=radians(angle)))


def test_without_trim_it_says_what_to_do(reference: Design) -> None:
    """A canopy rigged far too nose-down tucks."""
    with pytest.raises(TrimError, match=r"its nose drops.*; try less rigging angle \(nose-down positive\)"):
        find_trims(rigged(reference, 30.0))


def test_rigged_nose_up_it_hangs_back(reference: Design, trims: Trims) -> None:
    assert find_trims(rigged(reference, -3.0), modes=False).chosen.alpha > trims.chosen.alpha + radians(5)


def test_state_in_wind(trims: Trims) -> None:
    still = trims.chosen.state(height=50.0, heading=0.5)
    windy = trims.chosen.state(height=50.0, heading=0.5, wind=np.zeros(3))
    np.testing.assert_allclose(still, windy)
    assert still[2] == -50.0


def test_no_factor_of_the_wind(reference: Design, trims: Trims) -> None:
    """Trims are of still air, whatever the site."""
    calm = assemble(override(reference, {"site.wind": None}))
    modes = find_trims(calm).chosen.modes
    for one, other in zip(modes, trims.chosen.modes, strict=True):
        assert one.eigenvalue == pytest.approx(other.eigenvalue, abs=1e-6)


def test_a_balance_that_climbs_is_no_glide(vehicle: Vehicle) -> None:
    """With a thrust as large as its lift, every balance climbs: there is no glide to tell of."""
    table = vehicle.model.trim_table
    climbing = replace(table, steady=table.steady + np.array([1.0, 0.0, 0.0, 0.0, 0.0, 0.0]))
    with pytest.raises(TrimError, match="no stable steady glide"):
        find_trims(vehicle, modes=False, table=climbing)
