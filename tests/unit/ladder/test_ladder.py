"""Test ladder and checklists: what is expected, what stops you, what is never said."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from parasim.config.loader import override
from parasim.ladder.checklists import checklists
from parasim.ladder.expectations import Arrival, DropNumbers, FlightNumbers, Limits, OpeningNumbers
from parasim.ladder.ladder import Rung, ladder
from tests.unit.sewing.test_build_order import job_of


def drops(height: float) -> DropNumbers:
    return DropNumbers(
        height=height,
        still=Arrival(time=2.0, distance=3.0, sink=6.0, ground_speed=4.0, energy=30.0),
        windy=None,
        wind=2.0,
        unopened_sink=9.0,
        unopened_energy=50.0,
    )


NUMBERS = FlightNumbers(
    airspeed=10.0,
    forward_speed=9.5,
    sink=2.5,
    glide_ratio=3.8,
    glide_angle=0.26,
    airspeed_band=(9.0, 11.0),
    forward_band=(8.5, 10.5),
    sink_band=(2.0, 3.0),
    glide_ratio_band=(3.4, 4.2),
    energy_band=(40.0, 60.0),
    energy=50.0,
    weight=12.0,
    canopy_weight=0.75,
    half_brake=(8.0, 2.4),
    wind_limit=7.6,
    site_wind=3.0,
    dive=18.0,
    drops=(drops(5.0), drops(20.0), drops(100.0)),
    opening=OpeningNumbers(
        release_height=80.0,
        release_speed=0.0,
        peak=44.0,
        snatch=200.0,
        peak_band=(30.0, 60.0),
        height_to_full=15.0,
        full_band=(13.0, 20.0),
        height_to_glide=50.0,
        minimum_release=114.0,
    ),
)


def rungs(numbers: FlightNumbers = NUMBERS, limits: Limits | None = None, **options: Any) -> dict[str, Rung]:
    found = ladder(
        numbers, limits or Limits(), **{"pack": "bag", "steered": True, "system": "metric", **options}
    )
    return {rung.key: rung for rung in found}


def expected(rung: Rung) -> dict[str, float]:
    return {figure.name: figure.value for figure in rung.figures}


def test_rungs_rise():
    assert list(rungs()) == ["kite", "run", "balcony", "low", "high"]
    assert all(rung.do and rung.measure and rung.stop and rung.figures for rung in rungs().values())


def test_pull_of_a_kite():
    """Half the glide's airspeed lifts a quarter of the weight: 12/4 - 0.75 N; a quarter just the canopy."""
    assert NUMBERS.pull(5.0) == pytest.approx(2.25)
    assert NUMBERS.carrying_wind == pytest.approx(2.5)
    assert NUMBERS.pull(2.4) == 0.0
    figure = next(one for one in rungs()["kite"].figures if one.name == "pull kited in 5.0 m/s")
    assert figure.value == pytest.approx(2.25)
    assert figure.band == pytest.approx((12 * 25 / 121 - 0.75, 12 * 25 / 81 - 0.75))


def test_gliding_all_the_way():
    """20 m at 2.5 m/s is 8 s; at 3.8 to 1 that is 76 m, with 2 m/s of wind 16 m of drift."""
    found = expected(rungs()["low"])
    assert found["gliding all the way: time aloft"] == pytest.approx(8.0)
    assert found["gliding all the way: distance in still air"] == pytest.approx(76.0)
    assert found["drift in the site's wind over that time"] == pytest.approx(16.0)
    assert found["steady glide: sink"] == 2.5
    assert found["from rest, still air: down at"] == 6.0


def test_a_dive_longer_than_the_drop_is_told():
    found = rungs()
    assert any("lands in that dive" in words for words in found["balcony"].do)
    assert not any("lands in that dive" in words for words in found["low"].do)
    assert not any("Steady sink" in words for words in found["balcony"].stop)
    assert any("Steady sink is over 3.00 m/s" in words for words in found["low"].stop)
    unseen = rungs(replace(NUMBERS, dive=None))
    assert any("lines go slack" in words for words in unseen["low"].do)


def test_limits_of_the_payload():
    limits = Limits(sink=4.0, energy=60.0, ground_speed=5.0, load=40.0)
    stop = " ".join(rungs(limits=limits)["low"].stop)
    assert "limit of 4.00 m/s; from rest 6.00 m/s is expected, so this rung is not for the payload" in stop
    assert "limit of 60.0 J." in stop
    assert "40 times its weight" in stop
    assert "payload's limit" not in " ".join(rungs()["low"].stop)


def test_wind():
    assert any("Wind over 7.6 m/s" in words for words in rungs()["low"].stop)
    windy = rungs(replace(NUMBERS, site_wind=9.0))["low"].stop
    assert any("site's wind of 9.0 m/s is over that" in words for words in windy)
    assert "drift in the site's wind over that time" not in expected(
        rungs(replace(NUMBERS, drops=tuple(replace(one, wind=0.0) for one in NUMBERS.drops)))["low"]
    )


def test_height_that_opening_takes():
    assert any("needs 114 m at least" in words for words in rungs()["high"].stop)
    enough = replace(NUMBERS, opening=replace(NUMBERS.opening, minimum_release=80.0))
    assert not any("at least" in words for words in rungs(enough)["high"].stop)
    unknown = replace(NUMBERS, opening=replace(NUMBERS.opening, minimum_release=None, height_to_glide=None))
    assert any("reached no steady glide" in words for words in rungs(unknown)["high"].stop)
    assert "height lost until it glides" not in expected(rungs(unknown)["high"])


def test_from_what_height_the_opening_is_where_the_rung_has_another():
    assert any("of a release at 80 m, as the design has it" in words for words in rungs()["high"].do)
    same = replace(NUMBERS, opening=replace(NUMBERS.opening, release_height=NUMBERS.drops[-1].height))
    assert not any("of a release at" in words for words in rungs(same)["high"].do)


def test_without_half_brake_or_drop_there_is_no_figure():
    bare = replace(NUMBERS, half_brake=None, drops=tuple(replace(one, still=None) for one in NUMBERS.drops))
    found = expected(rungs(bare)["low"])
    assert not any("half" in name or "from rest" in name for name in found)


def test_imperial():
    found = rungs(system="imperial", pack="static line")
    assert found["low"].title == "Drop from 66 ft"
    assert "(static line)" in found["high"].do[1]
    assert any("14.8 kt" in words for words in found["low"].stop)


def test_winds_and_speeds_are_round_in_the_units_asked_for():
    for system, winds, speeds in (
        ("metric", ["3.0 m/s", "6.0 m/s"], ["3.00 m/s", "5.00 m/s"]),
        ("imperial", ["6.0 kt", "12.0 kt"], ["10.0 ft/s", "16.0 ft/s"]),
    ):
        found = rungs(system=system)
        kited = [f.name for f in found["kite"].figures if f.name.startswith("pull kited in")]
        run = [f.name for f in found["run"].figures if f.name.startswith("pull running")]
        assert [kited[0], kited[-1]] == [f"pull kited in {wind}" for wind in winds]
        assert run == [f"pull running in still air at {speed}" for speed in speeds]


def test_brakes_are_worked_only_with_servos():
    assert any("servos" in words for words in rungs()["high"].do)
    assert not any("servos" in words for words in rungs(steered=False)["high"].do)


# Checklists


def lists(design, **changes: object) -> dict[str, str]:
    job = job_of(design, **changes)
    return {one.key: " ".join(one.items) for one in checklists(job, NUMBERS, "heron.yaml")}


def test_items_are_those_of_the_design(heron):
    found = lists(heron)
    assert "All 56 pieces of line" in found["pre_pack"]
    assert "10 mm of free play" in found["pre_pack"]
    assert "126 mm at full" in found["pre_drop"]
    assert "parasim lines heron.yaml --measured FILE" in found["after_landing"]
    assert "under 7 N" in found["after_landing"]
    assert "Local rules" in found["pre_drop"]
    assert "licensed practitioner" in found["pre_drop"]


@pytest.mark.parametrize(
    ("changes", "key", "words"),
    [
        ({"canopy__stabilisers": {"height": "6 cm", "chord": "60 %"}}, "pre_pack", "Stabilisers"),
        ({"canopy__stabilisers": {"height": "6 cm", "chord": "60 %"}}, "after_landing", "Stabilisers"),
        ({"opening__slider": True}, "pre_pack", "Slider"),
        ({"opening__reefing": {"area": "20 %", "time": "1 s"}}, "pre_pack", "Reefing set: 20 % for 1.0 s"),
        ({"opening__pack": "static line"}, "pre_pack", "Static line"),
        ({"servo": None}, "pre_drop", "Brakes tied"),
    ],
)
def test_items_come_with_what_they_are_about(heron, changes, key, words):
    assert words not in lists(heron)[key]
    assert words in lists(heron, **changes)[key]


def test_items_go_with_what_they_are_about(heron):
    assert "cascades" in lists(heron)["pre_pack"]
    assert "cascades" not in lists(override(heron, {"lines.cascades": []}))["pre_pack"]


def test_the_height_packed_is_ticked_for_what_it_is(heron):
    """To open and fly the plan; where no plan is known, to open and glide."""
    drop = {
        packed: " ".join(
            checklists(job_of(heron), replace(NUMBERS, packed_height=packed), "heron.yaml")[1].items
        )
        for packed in (None, 130.0)
    }
    assert "Release height, packed: 114 m at least." in drop[None]
    assert "Release height, packed, to open and fly the plan: 130 m at least." in drop[130.0]
    assert "114 m" not in drop[130.0]


def test_nothing_is_promised(heron):
    """We never say of a drop that it is safe or legal."""
    words = [words for rung in rungs().values() for words in (*rung.do, *rung.measure, *rung.stop)]
    text = " ".join([*words, *lists(heron).values()])
    assert not re.search(r"\b(safe|safely|legal|legally|allowed)\b", text, re.IGNORECASE)
