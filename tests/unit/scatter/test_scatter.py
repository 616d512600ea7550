"""A scatter of straight glides in uniform wind, whose landings have a closed form."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.wind import Wind
from parasim.errors import OptionError, SolverError
from parasim.flight.drop import Release, release_of, unopened
from parasim.scatter import scatter as module
from parasim.scatter.checkpoint import Checkpoint, run_contents
from parasim.scatter.members import (
    ARRAYS,
    CHUNK,
    LATE,
    OPENED,
    TOO_LATE,
    UNOPENED,
    Chunk,
    Members,
    Plan,
    chunks,
    fly_chunk,
)
from parasim.scatter.scatter import Scatter, build_plan, conclude, fly_all
from parasim.workers import Workers
from tests import ensemble_stand_in as stand_in

HERE = Workers(count=1, pool="threads")
STILL = {name: {"normal": 0} for name in ("release_north", "release_east", "release_height", "payload_mass")}
ALONE: dict[str, Any] = {
    **{f"scatter.{name}": spread for name, spread in STILL.items()},
    **{f"scatter.{name}": {"normal": "0 deg"} for name in ("heading", "wind_from", "rigging_angle")},
    **{f"scatter.{name}": {"normal": 0} for name in ("left_trim", "right_trim", "wind_speed")},
    **{
        f"scatter.{name}": {"normal": 0}
        for name in (
            "lift_factor", "extra_drag", "inlet_drag_factor", "moment_shift", "line_drag_coefficient",
            "roughness_drag", "brake_lift_factor", "brake_drag_factor", "side_force_slope", "yaw_damping",
            "roll_damping",
        )
    },
    "scatter.unopened": 0,
    "scatter.late.probability": 0,
}  # fmt: skip
"""Nothing varies and every canopy opens."""


@pytest.fixture(scope="module")
def heron(heron: Design) -> Design:
    """From 60 m, with two turns, and its brakes pulled near the ground."""
    brakes = ["3s: L 0.4 R 0 over 1s", "5s: L 0 R 0 over 1s", "9s: L 0 R 0.4 over 1s", "11s: L 0 R 0 over 1s"]
    return override(heron, {"drop.height": 60.0, "drop.brakes": [*brakes, "4m: L 0.9 R 0.9 over 1s"]})


def plan_of(vehicle: Vehicle, release: Release, *, seed: int = 1, **ensemble_model: Any) -> Plan:
    plan = build_plan(vehicle, release, seed=seed, flies=False)
    shared = stand_in.build_ensemble_model(vehicle, release, varied=())
    return replace(plan, ensemble_model=replace(shared, **ensemble_model), fly=stand_in.fly)


def scattered(design: Design, *, drops: int, seed: int = 1, **ensemble_model: Any) -> Scatter:
    vehicle = assemble(design)
    release = release_of(vehicle)
    plan = plan_of(vehicle, release, seed=seed, **ensemble_model)
    members = fly_all(plan, drops, HERE)
    return conclude(vehicle, release, plan, members, drops=drops, workers=HERE)


@pytest.fixture(scope="module")
def plain(heron: Design) -> Scatter:
    return scattered(heron, drops=2000)


def same(one: Members, other: Members) -> bool:
    arrays = [(getattr(one, name), getattr(other, name)) for name in ARRAYS]
    arrays += [(one.inputs[name], other.inputs[name]) for name in one.inputs]
    return set(one.inputs) == set(other.inputs) and all(a.tobytes() == b.tobytes() for a, b in arrays)


def test_drift_in_uniform_wind_has_a_closed_form(heron: Design) -> None:
    """With only the release off, touchdowns are the releases moved by (airspeed + wind) x time."""
    design = override(
        heron,
        {**ALONE, "scatter.release_north": {"normal": "8 m"}, "scatter.release_east": {"normal": "3 m"}},
    )
    found = scattered(design, drops=3000)
    duration = (60.0 - stand_in.HANG) / (stand_in.SINK)
    factor = found.vehicle.model.factors
    airspeed = stand_in.AIRSPEED
    assert factor.lift_factor == 0.92
    # heading 270 deg into a wind of 3 m/s from there
    np.testing.assert_allclose(found.drift[1], -(airspeed - 3.0) * duration, atol=4 * 3 / np.sqrt(3000))
    assert found.drift[0] == pytest.approx(0.0, abs=4 * 8 / np.sqrt(3000))
    assert found.members.north.std() == pytest.approx(8.0, rel=0.05)
    assert found.members.east.std() == pytest.approx(3.0, rel=0.05)
    # 90 % radius of a cloud with deviations 8 and 3: by a library's quadratic form, here from a fresh sample
    fresh = np.random.default_rng(1).normal(0, [8.0, 3.0], (200000, 2))
    assert found.radii[1] == pytest.approx(np.quantile(np.hypot(*fresh.T), 0.9), rel=0.05)


def test_nothing_spread_lands_in_one_place(heron: Design) -> None:
    found = scattered(override(heron, ALONE), drops=150)
    assert np.ptp(found.members.north) == np.ptp(found.members.east) == 0
    assert found.sensitivity is None
    assert found.footprint is not None
    assert found.radii == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)


def test_branches_come_as_often_as_said(heron: Design) -> None:
    design = override(
        heron, {"scatter.unopened": "10 %", "scatter.late": {"probability": "20 %", "delay": "0.5 s"}}
    )
    found = scattered(design, drops=2000)
    count = {share.name: share.count for share in found.outcomes}
    assert sum(count.values()) == 2000
    assert stats.binomtest(count["unopened"], 2000, 0.1).pvalue > 1e-3
    assert stats.binomtest(count["late"] + count["too late"], 2000, 0.2).pvalue > 1e-3
    for share in found.outcomes:
        assert share.low <= share.value <= share.high


def test_intervals_hold_the_truth_as_often_as_they_say(heron: Design) -> None:
    """At 95 %: of 200 scatters of 100 drops, few miss the true 10 %. Exact intervals err to the safe side."""
    from parasim.scatter.statistics import share

    rng = np.random.default_rng(2)
    missed = sum(
        not each.low <= 0.1 <= each.high for each in (share("x", rng.random(100) < 0.1) for _ in range(200))
    )
    assert missed <= stats.binom(200, 0.05).ppf(0.999)


def test_unopened_arrive_as_a_drop_has_them(plain: Scatter) -> None:
    fallen = plain.members.select(plain.members.outcome == UNOPENED)
    assert len(fallen) > 5
    for i in range(len(fallen)):
        height = fallen.inputs["release_height"][i]
        expected = unopened(plain.vehicle, float(height)).sink
        # lighter or heavier by a few per cent, and pushed by the wind
        assert fallen.sink[i] == pytest.approx(expected, rel=0.04)
    assert np.isnan(fallen.heading).all()
    off = np.hypot(fallen.north - fallen.inputs["release_north"], fallen.east - fallen.inputs["release_east"])
    assert (off < 20).all()


def test_late_ones_glide_less_far(heron: Design) -> None:
    late = override(heron, {**ALONE, "scatter.late": {"probability": "100 %", "delay": "2 s"}})
    found, nominal = scattered(late, drops=500), scattered(override(heron, ALONE), drops=10)
    members = found.members
    assert set(np.unique(members.outcome)) <= {LATE, TOO_LATE}
    glided = members.select(members.outcome == LATE)
    reach = np.hypot(nominal.members.north[0], nominal.members.east[0])
    assert (np.hypot(glided.north, glided.east) < reach).all()
    assert (glided.sink == nominal.members.sink[0]).all()
    fell = members.select(members.outcome == TOO_LATE)
    assert len(fell)
    assert (fell.sink > 15).all()


def test_late_ones_lose_fall_and_opening_height(heron: Design) -> None:
    from parasim.scatter.inputs import COLUMNS, numbers_of
    from parasim.scatter.unopened import OPENING_SPEEDS, fall

    design = override(heron, {**ALONE, "scatter.late": {"probability": "100 %", "delay": "0.7 s"}})
    vehicle = assemble(design)
    plan = plan_of(vehicle, release_of(vehicle))
    members = fly_chunk(plan, Chunk(0, 50))
    delay = -0.7 * np.log1p(-numbers_of(1, 0, 50)[:, COLUMNS["delay"]])
    state, _ = fall(
        plan.falling, height=np.full(50, 60.0), mass=np.full(50, vehicle.mass), wind_speed=np.full(50, 3.0),
        wind_from=np.full(50, plan.nominal["wind_from"]), until=delay,
    )  # fmt: skip
    speed = np.sqrt((state.velocity**2).sum(axis=0))
    left = state.height - np.interp(speed, OPENING_SPEEDS, plan.falling.opening_lost)
    taken = np.interp(speed, OPENING_SPEEDS, plan.falling.opening_time)
    glides = members.outcome == LATE
    assert 0 < np.count_nonzero(glides) <= 50
    expected = delay + taken + (left - stand_in.HANG) / stand_in.SINK
    np.testing.assert_allclose(members.time_aloft[glides], expected[glides], rtol=1e-9)


def test_late_ones_begin_in_a_steady_glide(heron: Design) -> None:
    design = override(
        heron, {"drop.start": "rest", "scatter.late": {"probability": "50 %", "delay": "0.5 s"}}
    )
    vehicle = assemble(design)
    starts: dict[str, int] = {}

    def watched(ensemble_model: Any, inputs: Any, *, number: Any, seed: int) -> Any:
        starts[ensemble_model.start] = starts.get(ensemble_model.start, 0) + len(number)
        return stand_in.fly(ensemble_model, inputs, number=number, seed=seed)

    members = fly_chunk(replace(plan_of(vehicle, release_of(vehicle)), fly=watched), Chunk(0, 100))
    count = np.bincount(members.outcome, minlength=4)
    assert starts == {"rest": count[OPENED], "steady": count[LATE]}


def test_same_seed_same_bytes_on_any_workers(heron: Design) -> None:
    vehicle = assemble(heron)
    plan = plan_of(vehicle, release_of(vehicle), gusts=0.5)
    teams = [HERE, Workers(count=3, pool="threads")]  # processes below, where one dies
    one, *others = [fly_all(plan, 450, team) for team in teams]
    assert all(same(one, other) for other in others)
    assert not same(one, fly_all(replace(plan, seed=2), 450, HERE))


def test_more_drops_begin_with_the_same(heron: Design, plain: Scatter) -> None:
    few = scattered(heron, drops=250)
    first = plain.members.select(np.arange(250))
    assert same(few.members, first)


def test_failed_members_are_counted_and_kept_out(heron: Design) -> None:
    found = scattered(heron, drops=400, fail_above=64.0)
    failed = found.failed
    opened_high = (found.members.outcome <= LATE) & (found.members.inputs["release_height"] > 64.0)
    assert len(failed) > 5
    assert found.failures == {"motion not finite": len(failed)}
    assert np.count_nonzero(opened_high) >= len(failed)
    assert len(found.landed) + len(failed) == 400
    assert np.isfinite(found.landed.north).all()
    assert any(f"{len(failed)} drops did not land" in caveat for caveat in found.caveats)
    assert any("may not stand for all" in caveat for caveat in found.caveats)


def test_nothing_landed_is_said(heron: Design) -> None:
    design = override(heron, {"scatter.unopened": 0, "scatter.late.probability": 0})
    with pytest.raises(SolverError, match="none of 50 drops came to the ground: 50 motion not finite"):
        scattered(design, drops=50, fail_above=0.0)


def test_released_on_the_ground_is_said(heron: Design) -> None:
    design = override(
        heron,
        {"drop.height": "1 m", "scatter.unopened": 0, "scatter.release_height": {"uniform": [-0.9, 0.5]}},
    )
    found = scattered(design, drops=100)
    assert 0 < found.failures["released on the ground"] < 100


def test_over_limits(plain: Scatter, heron: Design) -> None:
    over = {share.name: share for share in plain.limits}
    assert set(over) == {"sink", "energy", "load", "any"}
    landed = plain.landed
    assert over["sink"].count == np.count_nonzero(landed.sink > 4.0)
    assert over["any"].count >= max(share.count for name, share in over.items() if name != "any")
    assert over["energy"].limit == 60.0
    none = scattered(override(heron, {"landing": None}), drops=120)
    assert none.limits == ()


def test_advice_moves_the_release(heron: Design) -> None:
    design = override(
        heron,
        {
            **ALONE,
            "scatter.release_north": {"normal": "4 m"},
            "scatter.target": {"north": "30 m", "east": "-50 m", "radius": "8 m"},
        },
    )
    found = scattered(design, drops=2000)
    advice = found.advice
    assert advice is not None
    assert advice.release == pytest.approx((30.0 - found.drift[0], -50.0 - found.drift[1]))
    assert advice.now.count == 0
    # within two deviations on a line
    p = stats.norm.cdf(2) - stats.norm.cdf(-2)
    assert advice.moved.value == pytest.approx(p, abs=4 * np.sqrt(p * (1 - p) / 2000))
    moved = override(design, {"scatter.target.north": "40 m"})
    again = scattered(moved, drops=2000).advice
    assert again is not None
    assert again.release[0] - advice.release[0] == pytest.approx(10.0)


def test_kept_parts_go_on_and_give_the_same(heron: Design, tmp_path: Path) -> None:
    vehicle = assemble(heron)
    plan = plan_of(vehicle, release_of(vehicle))
    what = {"design": "heron", "seed": 1}
    kept = Checkpoint.open(tmp_path, what, resume=False)
    for chunk in chunks(300)[:2]:
        kept.keep(chunk, fly_chunk(plan, chunk))
    again = Checkpoint.open(tmp_path, what, resume=True)
    flown: list[int] = []
    members = fly_all(plan, 450, HERE, kept=again, done=lambda more, of: flown.append(more))
    assert flown == [200, 100, 100, 50]
    assert same(members, fly_all(plan, 450, HERE))
    assert all(again.finished(chunk) is not None for chunk in chunks(450))
    again.remove()
    assert list(tmp_path.iterdir()) == []


def test_parts_of_another_run_are_not_mixed_in(tmp_path: Path) -> None:
    Checkpoint.open(tmp_path, {"design": "heron", "seed": 1}, resume=False)
    with pytest.raises(OptionError, match=r"belong to another run \(seed differ"):
        Checkpoint.open(tmp_path, {"design": "heron", "seed": 2}, resume=True)
    with pytest.raises(OptionError, match="nothing to go on with"):
        Checkpoint.open(tmp_path / "elsewhere", {"design": "heron", "seed": 2}, resume=True)


def test_spoilt_parts_are_flown_again(heron: Design, tmp_path: Path) -> None:
    vehicle = assemble(heron)
    plan = plan_of(vehicle, release_of(vehicle))
    kept = Checkpoint.open(tmp_path, {}, resume=False)
    fly_all(plan, 300, HERE, kept=kept)
    files = sorted(kept.directory.glob("*.npz"))
    assert len(files) == 3
    files[0].write_bytes(files[0].read_bytes()[:100])
    files[1].write_text("nonsense")
    files[2].rename(files[2].with_name(f"{200:09d}_99.npz"))
    assert same(fly_all(plan, 300, HERE, kept=kept), fly_all(plan, 300, HERE))


def test_finished_parts_are_not_thrown_away(tmp_path: Path, heron: Design) -> None:
    vehicle = assemble(heron)
    plan = plan_of(vehicle, release_of(vehicle))
    kept = Checkpoint.open(tmp_path, {"seed": 1}, resume=False)
    kept.keep(Chunk(0, CHUNK), fly_chunk(plan, Chunk(0, CHUNK)))
    notes = kept.directory / "notes.txt"
    notes.write_text("the user's own")
    with pytest.raises(OptionError, match="holds finished parts of this very run: 1; add --resume"):
        Checkpoint.open(tmp_path, {"seed": 1}, resume=False)
    other = Checkpoint.open(tmp_path, {"seed": 2}, resume=False)
    assert other.finished(Chunk(0, CHUNK)) is None
    assert other.others() == 1
    other.remove()
    assert kept.finished(Chunk(0, CHUNK)) is not None
    kept.remove()
    assert list(kept.directory.iterdir()) == [notes]


def test_a_part_of_another_run_under_this_name_is_not_used(tmp_path: Path, heron: Design) -> None:
    vehicle = assemble(heron)
    plan = plan_of(vehicle, release_of(vehicle))
    one, two = (Checkpoint.open(tmp_path, {"seed": seed}, resume=False) for seed in (1, 2))
    one.keep(Chunk(0, CHUNK), fly_chunk(plan, Chunk(0, CHUNK)))
    (path,) = one.own()
    path.rename(path.with_name(path.name.replace(one.mark, two.mark)))
    assert two.finished(Chunk(0, CHUNK)) is None


def test_an_edited_file_makes_another_run(tmp_path: Path, heron: Design) -> None:
    table = tmp_path / "wind.csv"
    table.write_text("height_m,speed_m_s,from_deg\n2,3,270\n50,5,270\n")
    design = override(heron, {"site.wind": {"table": str(table)}})
    before = run_contents(design, seed=1)
    assert run_contents(design, seed=1) == before
    table.write_text("height_m,speed_m_s,from_deg\n2,3,270\n50,6,270\n")
    after = run_contents(design, seed=1)
    assert [key for key in before if before[key] != after[key]] == ["design", "files"]
    assert list(before["files"]) == [".site.wind.table"]


def test_interrupted_keeps_what_is_done(heron: Design, monkeypatch: pytest.MonkeyPatch) -> None:
    vehicle = assemble(heron)
    release = release_of(vehicle)
    plan = plan_of(vehicle, release)
    real = module.each_done

    def interrupted(*arguments: Any) -> Iterator[Any]:
        for i, found in enumerate(real(*arguments)):
            if i == 3:
                raise KeyboardInterrupt
            yield found

    monkeypatch.setattr(module, "each_done", interrupted)
    members = fly_all(plan, 1000, HERE)
    assert len(members) == 300
    found = conclude(vehicle, release, plan, members, drops=1000, workers=HERE, sobol_base=8)
    assert not found.complete
    assert found.stopped
    assert found.sobol is None
    assert "Partial: 300 of 1000 drops were flown." in found.caveats


def test_interrupted_before_anything_is_done(heron: Design, monkeypatch: pytest.MonkeyPatch) -> None:
    vehicle = assemble(heron)

    def interrupted(*_: Any) -> Iterator[Any]:
        raise KeyboardInterrupt
        yield

    monkeypatch.setattr(module, "each_done", interrupted)
    with pytest.raises(KeyboardInterrupt):
        fly_all(plan_of(vehicle, release_of(vehicle)), 1000, HERE)


def test_a_process_that_dies_in_flight_changes_nothing(heron: Design, tmp_path: Path) -> None:
    vehicle = assemble(heron)
    plan = plan_of(vehicle, release_of(vehicle), die_at=250, note=str(tmp_path / "died"))
    members = fly_all(plan, 500, Workers(count=2, pool="processes"))
    assert (tmp_path / "died").exists()
    assert same(members, fly_all(plan, 500, HERE))


def test_wind_that_rivals_the_airspeed_is_told(plain: Scatter) -> None:
    gale = replace(plain, vehicle=in_wind(plain.vehicle, Wind(speed=12.0, from_direction=0.0)))
    said = "hardly makes headway"
    assert any(said in caveat for caveat in gale.caveats)
    assert not any(said in caveat for caveat in plain.caveats)


def test_caveats(plain: Scatter) -> None:
    assert plain.complete
    assert any("not measured" in caveat for caveat in plain.caveats)
    assert any("swings left out" in caveat for caveat in plain.caveats)
    assert OPENED in plain.members.outcome


def test_sobol_indices_of_what_hangs_together_are_doubted(heron: Design) -> None:
    hangs = override(heron, {"calibration.correlations": {"lift_factor": {"moment_shift": -0.6}}})
    for design, said in ((heron, False), (hangs, True)):
        found = scattered(design, drops=60)
        assert "Sobol" not in " ".join(found.caveats)
        with_indices = replace(found, sobol=stand_in)  # type: ignore[arg-type]
        assert ("Sobol indices take inputs as independent" in " ".join(with_indices.caveats)) is said
