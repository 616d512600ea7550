"""What scale and tape found on the ground: taken over by hand arithmetic, written, and read back."""

from __future__ import annotations

import json
from dataclasses import replace
from math import exp, log
from pathlib import Path
from typing import Any

import pytest

from parasim.config.design import Design
from parasim.config.loader import override, parse_design
from parasim.config.notes import load_notes
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import DesignError
from parasim.flight.servo.servo import servo
from parasim.flight.trim import find_trims
from parasim.geometry.hang import pose_of_changed_lines
from parasim.geometry.line_stock import finished_lengths
from parasim.learning.as_built import as_built
from parasim.learning.design_file import fitted_file
from parasim.learning.learn import learn
from parasim.learning.learned import Learned


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


def noted(tmp_path: Path, built: dict[str, Any], *measured: dict[str, Any], name: str = "notes.yaml") -> Path:
    path = tmp_path / name
    flights = [{"name": name, "measured": measured}] if measured else []
    path.write_text(json.dumps({"as_built": built, "flights": flights}), encoding="utf-8")
    return path


def short_rear(vehicle: Vehicle, tmp_path: Path) -> str:
    """Table of lines as designed, but for a rear row that is 8 mm short; brake lines not measured."""
    lines = [line for line in vehicle.line_set.lines if line.kind != "brake"]
    lengths = finished_lengths(vehicle.design.lines, lines, {})
    rows = [f"{key},{1e3 * (length - 0.008 * key.endswith('-D')):.3f}" for key, length in lengths.items()]
    (tmp_path / "lines.csv").write_text("\n".join(["line,measured_mm", *rows]), encoding="utf-8")
    return "lines.csv"


def masses(vehicle: Vehicle) -> dict[str, float]:
    return {item.name: item.properties.mass for item in vehicle.items}


def test_the_canopy_weighs_what_the_scale_says(vehicle: Vehicle, tmp_path: Path) -> None:
    built = {
        "canopy_mass": {"mass": "97 g", "error": "1 g"},
        "finished_mass": {"mass": "112 g", "error": "1 g"},
        "payload_mass": {"mass": "1.25 kg", "error": "2 g"},
    }
    found = learn(vehicle, [noted(tmp_path, built)]).vehicle
    mass = masses(found)
    assert mass["lines"] == pytest.approx(0.112 - 0.097, rel=1e-4)  # five digits are written
    assert found.mass == pytest.approx(1.25 + 0.112, rel=1e-4)
    assert mass["tape"] == pytest.approx(masses(vehicle)["tape"])


def test_a_force_is_weighed_by_its_error(vehicle: Vehicle, tmp_path: Path) -> None:
    """Normal prior and datum: the mean of the logarithms, weighted by one over the squares, by hand.

    Theory is taken 0.5 to 2 times, two deviations: ln 2 / 2. A reading twice the theory's, known to 5 %
    beside 10 % for the curve. Force grows with airspeed squared, so at 1.1 times the airspeed it is 1.21.
    """
    before = servo(vehicle).curve
    i = 15
    pull, force, speed = before.pull[i], before.both[i], before.airspeed[i]
    read = {"pull": pull, "force": 2 * 1.21 * force, "airspeed": 1.1 * speed, "error": 0.121 * force}
    learned = learn(vehicle, [noted(tmp_path, {"brake_force": [read]})])
    prior, datum = (log(2) / 2) ** -2, 1 / (0.05**2 + 0.1**2)
    factor, spread = exp(datum * log(2) / (prior + datum)), (prior + datum) ** -0.5
    after = servo(learned.vehicle).curve
    assert after.scale == pytest.approx(factor, rel=1e-3)
    assert after.high == pytest.approx(exp(2 * spread), rel=1e-3)
    assert after.low * after.high == pytest.approx(1.0)
    assert after.both[i] == pytest.approx(factor * force, rel=1e-3)


def test_what_is_written_is_what_was_fitted_with(vehicle: Vehicle, configs: Path, tmp_path: Path) -> None:
    built = {
        "canopy_mass": {"mass": "97 g", "error": "1 g"},
        "line_lengths": short_rear(vehicle, tmp_path),
        "brake_force": [{"pull": "60 mm", "force": "0.4 N", "airspeed": "7 m/s", "error": "0.02 N"}],
    }
    learned = learn(vehicle, [noted(tmp_path, built)], design_file=str(configs / "heron.yaml"))
    text = fitted_file(learned)
    assert "# nose-down positive" in text  # comments stay
    assert parse_design(text) == learned.vehicle.design
    assert "calibration" not in text
    again = learn(assemble(parse_design(text)), [noted(tmp_path, {"line_lengths": "lines.csv"})])
    assert again.vehicle.rigging.rigging_angle == pytest.approx(
        learned.vehicle.rigging.rigging_angle, abs=2e-4
    )


def moment(learned: Learned) -> tuple[float, float]:
    """Moment shift that was found, and one deviation. [-]"""
    number = next(each for each in learned.numbers if each.name == "moment_shift")
    return number.after.value, number.after.width / 4


def test_a_short_rear_row_is_no_wrong_moment(vehicle: Vehicle, tmp_path: Path) -> None:
    """Eight millimetres short, cloth a tenth heavier, a true moment of 0.006; the truth is assembled apart.

    When written: 0.0037 with what was measured, 0.0138 without, one deviation 0.007 and 0.006: off by 0.3 and
    by 1.3 deviations. A moment is known so poorly from eight flights that both ranges of two hold the truth.
    """
    true_moment = 0.006
    rear = [line.label for line in vehicle.line_set.lines if line.label.endswith("-D")]
    pose = pose_of_changed_lines(vehicle.line_set, vehicle.canopy, dict.fromkeys(rear, -0.008))
    heavier = override(vehicle.design, {"canopy.cloth.areal_weight": 1.1 * 0.040})
    factors = replace(vehicle.model.factors, moment_shift=true_moment)
    truth = assemble(heavier, factors=factors, rigging=replace(pose, misfit=0.0))
    weighed = truth.mass - vehicle.design.payload.mass - masses(truth)["lines"]
    built = {
        "line_lengths": short_rear(vehicle, tmp_path),
        "canopy_mass": {"mass": weighed, "error": 0.0005},
    }
    trim = find_trims(truth, modes=False).chosen
    flown = [{"sink": trim.sink, "error": 0.03}] * 4 + [{"airspeed": trim.airspeed, "error": 0.08}] * 4
    value, deviation = moment(learn(vehicle, [noted(tmp_path, built, *flown)]))
    plain = tmp_path / "plain.yaml"
    plain.write_text(json.dumps({"flights": [{"name": "a", "measured": flown}]}), encoding="utf-8")
    without, spread = moment(learn(vehicle, [plain]))
    assert abs(value - true_moment) < deviation
    assert abs(without - true_moment) > max(spread, 2 * abs(value - true_moment))


@pytest.mark.parametrize(
    ("built", "said"),
    [
        ({"canopy_mass": {"mass": "6 g", "error": "1 g"}}, "as_built.canopy_mass.mass: given 0.006 kg"),
        ({"brake_force": [{"pull": "900 mm", "force": "1 N", "error": "0.1 N"}]}, "beyond the brake travel"),
        ({"brake_force": [{"pull": "2 mm", "force": "1 N", "error": "0.1 N"}]}, "no force is computed there"),
    ],
)
def test_what_makes_no_design_is_a_line(
    vehicle: Vehicle, tmp_path: Path, built: dict[str, Any], said: str
) -> None:
    with pytest.raises(DesignError) as caught:
        learn(vehicle, [noted(tmp_path, built)])
    assert len(str(caught.value).splitlines()) == 1
    assert str(caught.value).startswith("notes.yaml: as_built.")
    assert said in str(caught.value)


def test_one_canopy_is_built_once(vehicle: Vehicle, tmp_path: Path) -> None:
    built = {"payload_mass": {"mass": "1.25 kg", "error": "2 g"}}
    both = [noted(tmp_path, built), noted(tmp_path, built, name="later.yaml")]
    with pytest.raises(DesignError, match=r"later\.yaml: as_built: already in notes\.yaml"):
        learn(vehicle, both)


def test_each_weight_is_set_beside_what_was_designed(vehicle: Vehicle, tmp_path: Path) -> None:
    """With half as much payload again it sinks faster, by the square root of the mass."""
    built = {
        "finished_mass": {"mass": "95 g", "error": "1 g"},
        "payload_mass": {"mass": "1.8 kg", "error": "2 g"},
    }
    found = as_built(vehicle, [("notes.yaml", load_notes(noted(tmp_path, built)))])
    canopy, payload = found.weighed
    assert (canopy.words, canopy.mass, payload.mass) == ("with its lines", 0.095, 1.8)
    assert canopy.designed + payload.designed == pytest.approx(vehicle.mass)
    before, after = found.trims
    assert after.sink / before.sink == pytest.approx((found.vehicle.mass / vehicle.mass) ** 0.5, rel=0.03)


def test_the_answer_says_what_was_taken_over(vehicle: Vehicle, tmp_path: Path) -> None:
    learned = learn(vehicle, [noted(tmp_path, {"canopy_mass": {"mass": "97 g", "error": "1 g"}})])
    designed = 1e3 * (vehicle.mass - masses(vehicle)["payload"] - masses(vehicle)["lines"])
    before, after = (find_trims(each).chosen for each in (vehicle, learned.vehicle))
    line = " ".join(learned.report.first_line("metric").split())
    assert line.startswith(
        f"heron as built: weighed 97.0 g without its lines, {designed:.1f} g designed. It glides "
        f"{after.glide_ratio:.2f} to 1, sinking at {after.sink:.2f} m/s; as designed "
        f"{before.glide_ratio:.2f} to 1, sinking at {before.sink:.2f} m/s"
    )
    assert "weighed 3.42 oz without its lines" in " ".join(learned.report.first_line("imperial").split())
    assert "97.0 ± 1.0 g" in learned.text()
    assert learned.report.document()["as_built"][0]["as_built_kg"] == pytest.approx(0.097)
