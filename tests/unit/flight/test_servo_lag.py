"""Servos that take their time: drop, ensemble, replay, step response; and what is said of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.config.scenario import BrakeCommand
from parasim.dynamics.brakes.actuators import build_drive, servo_limits, unloaded_time
from parasim.dynamics.brakes.control import BrakeMove, BrakeSchedule
from parasim.dynamics.brakes.flown import INSTANT, ServoLimits, flown_schedule
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.drop import Drop, Release, drop, release_of
from parasim.flight.servo.lag import too_quick, too_quick_commands
from parasim.flight.turn.step import step_response
from parasim.scatter.ensemble import fly
from parasim.scatter.ensemble_model import build_ensemble_model
from parasim.scatter.replay import member_release

COMMANDS = ("1s: L 0.6 R 0 over 0.5s", "2.5s: L 0 R 0", "4m: L 0.9 R 0.7 over 1s")
MIRRORED = ("1s: L 0 R 0.6 over 0.5s", "2.5s: L 0 R 0", "4m: L 0.7 R 0.9 over 1s")
SLOW = {"servo.time_per_60_deg": "1.5 s"}
CALM = {"site.wind.speed": 0.0, "drop.heading": "0 deg"}


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(override(heron, CALM))


def with_servo(vehicle: Vehicle, changes: dict[str, object]) -> Vehicle:
    """The same parts, servos of another kind."""
    return replace(vehicle, design=override(vehicle.design, changes))


def release(vehicle: Vehicle, *texts: str) -> Release:
    commands = tuple(BrakeCommand.model_validate(text) for text in texts)
    return replace(release_of(vehicle), height=15.0, brakes=commands)


def place(found: Drop) -> np.ndarray:
    return np.array([found.track.north[-1], found.track.east[-1]])


@pytest.fixture(scope="module")
def drops(vehicle: Vehicle) -> dict[str, Drop]:
    kinds = {"none": {"servo": None}, "quick": {}, "slow": SLOW, "short": {"servo.arm": "20 mm"}}
    return {
        name: drop(with_servo(vehicle, changes), release(vehicle, *COMMANDS))
        for name, changes in kinds.items()
    }


def test_a_slower_or_shorter_servo_lands_elsewhere(drops: dict[str, Drop]) -> None:
    """By more than a decimetre, where the integrator's own error is under a centimetre."""
    for name in ("slow", "short"):
        assert np.linalg.norm(place(drops[name]) - place(drops["none"])) > 0.1
    assert np.linalg.norm(place(drops["slow"]) - place(drops["short"])) > 0.1


def test_without_a_servo_brakes_follow_at_once(drops: dict[str, Drop]) -> None:
    assert servo_limits(drops["none"].vehicle.design) == INSTANT
    assert drops["none"].trajectory.schedule == drops["none"].trajectory.commanded


@pytest.mark.parametrize("name", ["none", "slow", "short"])
def test_single_drop_and_ensemble_agree(drops: dict[str, Drop], name: str) -> None:
    """Commands by time and by height alike. At the single drop's tolerance, to a millimetre."""
    found = drops[name]
    family = build_ensemble_model(found.vehicle, found.release, varied=())
    landing = fly(family, {}, number=np.array([0]), seed=1, rtol=1e-7)
    np.testing.assert_allclose([landing.north[0], landing.east[0]], place(found), atol=1e-3)
    assert landing.time_aloft[0] == pytest.approx(found.time_aloft, abs=1e-3)


def test_a_replay_with_built_in_trims_agrees(vehicle: Vehicle) -> None:
    slow = with_servo(vehicle, SLOW)
    nominal = release(slow, *COMMANDS)
    family = build_ensemble_model(slow, nominal, varied=("left_trim", "right_trim"))
    trims = {"left_trim": 0.06, "right_trim": -0.03}
    landing = fly(
        family, {k: np.array([x]) for k, x in trims.items()}, number=np.array([0]), seed=1, rtol=1e-7
    )
    single = drop(slow, member_release(nominal, {**family.nominal, **trims}))
    np.testing.assert_allclose([landing.north[0], landing.east[0]], place(single), atol=1e-2)


def test_mirrored_commands_land_mirrored(vehicle: Vehicle) -> None:
    slow = with_servo(vehicle, SLOW)
    one, other = (place(drop(slow, release(slow, *texts))) for texts in (COMMANDS, MIRRORED))
    np.testing.assert_allclose(one, other * [1, -1], atol=1e-3)
    assert abs(one[1]) > 0.1


def test_a_step_response_goes_by_the_servo(vehicle: Vehicle) -> None:
    quick, slow = (step_response(with_servo(vehicle, changes), left=0.0, right=0.6) for changes in ({}, SLOW))
    assert slow.rise_time > quick.rise_time + 0.3


def test_limits_are_those_that_the_servo_command_tells(heron: Design) -> None:
    """120 deg at 0.14 s for 60 deg: 0.28 s for 126 mm."""
    spec, travel = heron.servo, heron.brakes.travel
    assert spec is not None
    drive = build_drive(spec, travel)
    limits = servo_limits(heron)
    assert limits.reach / limits.rate == pytest.approx(unloaded_time(spec, drive, travel))
    assert limits.reach / limits.rate == pytest.approx(0.28, rel=0.01)


# --- said -------------------------------------------------------------------------------------------------


def told(*moves: tuple[float, float, float]) -> BrakeSchedule:
    return BrakeSchedule(moves=tuple(BrakeMove(start=s, over=o, left=x, right=x) for s, o, x in moves))


@pytest.mark.parametrize(
    ("moves", "limits", "words"),
    [
        ([(2.0, 1.0, 0.9)], (1 / 1.6, 1.0), "reach 90 % after 1.4 s instead of 1.0 s"),
        ([(2.0, 0.0, 0.9)], (1.0, 1.0), "reach 90 % after 0.9 s instead of at once"),
        ([(2.0, 1.0, 0.9)], (10.0, 0.5), "reach only 50 % instead of 90 %"),
        ([(1.0, 0.0, 0.8), (1.5, 0.0, 0.0)], (0.5, 1.0), "reach only 25 % instead of 80 %"),
    ],
)
def test_asking_too_much_is_said(moves: list, limits: tuple[float, float], words: str) -> None:
    schedule = told(*moves)
    (sentence,) = too_quick(schedule, flown_schedule(schedule, ServoLimits(*limits)))
    assert words in sentence


def test_a_servo_that_follows_is_not_worth_a_word() -> None:
    schedule = told((2.0, 1.0, 0.9), (5.0, 2.0, 0.0))
    assert too_quick(schedule, flown_schedule(schedule, ServoLimits(2.0, 1.0))) == []
    assert too_quick(schedule, schedule) == []


def test_commands_by_height_are_asked_before_any_flight(heron: Design) -> None:
    commands = [BrakeCommand.model_validate(text) for text in COMMANDS]
    assert "reach" in too_quick_commands(override(heron, SLOW), commands[2:])[0]
    assert too_quick_commands(override(heron, {"servo": None}), commands) == []


def test_a_drop_says_so(drops: dict[str, Drop]) -> None:
    assert sum(caveat.startswith("Servo:") for caveat in drops["slow"].caveats) == 1
    assert not any(caveat.startswith("Servo:") for caveat in drops["none"].caveats)


def test_a_brake_told_what_it_does_already_is_not_behind(heron: Design) -> None:
    """At once and nothing: the brakes never move, and there is no moment at which they would be there."""
    commands = (BrakeCommand(at_time=1.0, left=0.0, right=0.0),)
    assert too_quick_commands(heron, commands) == []
