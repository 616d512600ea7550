"""The flare never lands harder than none, keeps out of the stall, and tells what a miss does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import assemble
from parasim.errors import OutOfRangeError
from parasim.flight.flare import flare as module
from parasim.flight.flare.descent import build_flare_descent, servo_pull
from parasim.flight.flare.flare import MISS, Flare, flare
from parasim.flight.trim import find_trims
from parasim.flight.uncertainty import Bands


@pytest.fixture(scope="module")
def best(heron: Design) -> Flare:
    return flare(assemble(heron))


@pytest.fixture
def _no_bands(monkeypatch):
    """Bands take half the time and change nothing else."""
    monkeypatch.setattr(module, "flare_bands", lambda *_: Bands(figures={}, lost=()))


@pytest.mark.usefixtures("_no_bands")
@pytest.mark.parametrize("name", ["wren", "pelican"])
def test_never_harder_than_brakes_released(configs, name):
    found = flare(assemble(load_design(configs / f"{name}.yaml")))
    assert found.helps
    assert found.touchdown.sink < found.brakes_released.sink
    assert found.touchdown.energy < found.brakes_released.energy
    assert found.worst_sink < found.brakes_released.sink


def test_hands_up_is_the_glide(best: Flare):
    assert best.brakes_released.sink == pytest.approx(best.trim.sink, rel=2e-3)
    assert best.brakes_released.speed == pytest.approx(best.trim.airspeed, rel=2e-3)


def test_gain_is_large_and_kept_off_the_stall(best: Flare):
    assert best.touchdown.sink < 0.6 * best.brakes_released.sink
    assert best.descent.highest_alpha(best.start_height + best.height_error) < best.stall_alpha
    assert best.worst_sink >= best.touchdown.sink


def test_servo_limits_the_pull(best: Flare):
    (stage,) = best.pull.stages
    assert stage.over >= stage.fraction * best.servo.full_travel - 1e-9
    assert stage.fraction <= best.servo.reach


@pytest.mark.usefixtures("_no_bands")
def test_aim_is_what_gets_minimum(best: Flare):
    vehicle = best.vehicle
    sink, energy = (flare(vehicle, aim=aim, height_error=0.0) for aim in ("sink", "energy"))
    assert sink.touchdown.sink <= energy.touchdown.sink
    assert energy.touchdown.energy <= sink.touchdown.energy


def test_misses_and_gusts(best: Flare):
    cases = {case.name: case for case in best.cases}
    assert cases["as_planned"].touchdown.sink == pytest.approx(best.touchdown.sink, abs=0.01)
    assert cases["too_high"].start_height == pytest.approx(best.start_height + MISS)
    assert cases["too_high"].touchdown.sink > best.touchdown.sink
    assert cases["too_low"].touchdown.sink > best.touchdown.sink
    assert cases["gust_tail"].touchdown.ground_speed > cases["gust_head"].touchdown.ground_speed
    # Air from below adds to the angle of attack at once; from above it takes some.
    assert cases["gust_up"].highest_alpha > cases["gust_down"].highest_alpha


def test_stall_is_told(best: Flare):
    """With the stall put just under what the planned flare reaches, every case that gets there says so."""
    highest = {case.name: case.highest_alpha for case in best.cases}
    limit = highest["as_planned"] - 1e-3
    descending = module.build_flare_descent(best.vehicle, best.trim)
    cases = module._cases(descending, best.pull, best.start_height, limit)
    assert {case.name for case in cases if case.stalled} == {
        n for n, alpha in highest.items() if alpha > limit
    }


def test_same_flare_in_other_canopies_spreads(best: Flare):
    band = best.bands.figures["sink"]
    assert band.low < band.value < band.high
    assert band.value == pytest.approx(best.touchdown.sink, abs=0.01)


@pytest.mark.usefixtures("_no_bands")
def test_brakes_that_do_nothing_gain_nothing(heron: Design):
    """All of the travel but a tenth of a millimetre is slack."""
    idle = override(heron, {"brakes.travel": "40 mm", "brakes.free_play": "39.9 mm", "servo": None})
    found = flare(assemble(idle))
    assert found.touchdown.sink == pytest.approx(found.brakes_released.sink, abs=0.02)
    assert found.touchdown.sink <= found.brakes_released.sink + 1e-9
    assert "no servo" in found.servo.words


@pytest.mark.parametrize("name", ["heron", "wren"])
def test_search_finds_the_deepest_valley(configs, name):
    """Within 1 % of the lowest of 357 pulls spread over brake and time, where wren has two valleys."""
    vehicle = assemble(load_design(configs / f"{name}.yaml"))
    search = module._build_search(vehicle, find_trims(vehicle, modes=False).chosen, "both", 0.3)
    pull, height, _ = search.best(1)
    spread = [search._pull((brake, over)) for brake in range(40, 101, 3) for over in range(0, 51, 3)]
    lowest, found_height = search._rate(pull)
    assert lowest <= 1.01 * min(search._rate(other)[0] for other in spread)
    assert height == found_height


def test_what_is_told_is_what_was_tried(best: Flare):
    """A flare in whole steps, so that the line to paste is the one whose landing is told."""
    (stage,) = best.pull.stages
    assert stage.fraction == round(stage.fraction, 2)
    assert stage.over == round(stage.over * 20) / 20
    assert best.start_height == round(best.start_height * 50) / 50


@pytest.mark.usefixtures("_no_bands")
def test_two_stages(best: Flare):
    found = flare(best.vehicle, stages=2)
    assert 1 <= len(found.pull.stages) <= 2
    assert found.touchdown.energy < found.brakes_released.energy
    with pytest.raises(OutOfRangeError, match="stages of a flare is 3; use 1 to 2"):
        flare(best.vehicle, stages=3)


def test_caveats_name_the_weak_points(best: Flare):
    text = " ".join(best.caveats)
    assert "under load it is slower" in text
    assert "unvalidated" in text
    assert np.isfinite(best.touchdown.energy)


def test_last_bits_do_not_decide_the_steps(heron: Design) -> None:
    """Both brakes alike, it stays in its plane: what rounding adds across it must not grow."""
    vehicle = assemble(heron)
    trim, table = find_trims(vehicle).chosen, vehicle.model.table
    noise = 1e-15 * np.random.default_rng(5).standard_normal(table.steady.shape)
    pull = servo_pull((0.0, 0.94, 1.6), full_travel=0.28)
    planned, moved = (
        build_flare_descent(vehicle, trim, each).descend(pull, 3.1).touchdown(2.8)
        for each in (table, replace(table, steady=table.steady + noise))
    )
    assert moved.sink == pytest.approx(planned.sink, rel=1e-9)
    assert moved.energy == pytest.approx(planned.energy, rel=1e-9)
