"""``parasim servo``: runs, prints its key numbers, writes its files, refuses in one line."""

import csv
import json
import re

import pytest


def test_prints_what_the_servo_does(run, configs, capsys):
    assert run("servo", configs / "heron.yaml") == 0
    printed = capsys.readouterr()
    for words in ("each brake line pulls with up to", "; buy the ", "margin over peak"):
        assert words in printed.out
    assert re.search("^arm that makes the travel +73 mm$", printed.out, re.M)
    assert "N m (" in printed.out
    assert "kg cm)" in printed.out
    assert "caution: A servo that fails" in printed.out
    assert "file lacks: Brake forces" in printed.err


def test_json_and_files(run, configs, tmp_path, capsys):
    assert run("servo", configs / "heron.yaml", "--json", "--out", "made") == 0
    answer = json.loads(capsys.readouterr().out)
    assert sorted(path.name for path in (tmp_path / "made").iterdir()) == [
        "heron_servo.csv", "heron_servo.json", "heron_servo.png", "heron_servo_force.csv",
    ]  # fmt: skip
    assert answer["travel_mm"] == pytest.approx(126)
    assert answer["drive"]["needed_arm_mm"] == pytest.approx(73, rel=0.01)
    force = answer["force"]
    assert force["low_n"] < force["value_n"] < force["high_n"]
    with (tmp_path / "made" / "heron_servo.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert max(float(row["torque_n_m"]) for row in rows) == pytest.approx(
        answer["torque"]["steady_n_m"], abs=1e-5
    )
    assert float(rows[0]["pull_mm"]) == 0.0


def test_without_a_servo_only_requirements_in_imperial(run, configs, tmp_path, capsys):
    text = (configs / "heron.yaml").read_text()
    (tmp_path / "bare.yaml").write_text(text[: text.index("\nservo:")])
    assert run("servo", "bare.yaml", "--units", "imperial") == 0
    printed = capsys.readouterr().out
    assert "no servo section" in printed
    assert "oz in" in printed
    assert "1.18 in" in printed  # the stated 30 mm arm
    assert "margin" not in printed
    assert "the 28 oz in class" in " ".join(printed.split())


def test_a_ring_on_the_riser(run, configs, tmp_path, capsys):
    """Its friction is in the pull; a rough ring that turns the line back keeps some brake on, and says so."""
    text = (configs / "heron.yaml").read_text()
    ring = "{below: 40 mm, friction: [0.6, 0.9], guide: [0 mm, 0 mm, -500 mm], drag: 0.2 N}"
    (tmp_path / "ringed.yaml").write_text(text.replace("  branches: 3", f"  branches: 3\n  ring: {ring}"))
    assert run("servo", "ringed.yaml", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert run("servo", configs / "heron.yaml", "--json") == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["ring"] is None
    more = found["ring"]["pulling_in_fraction"]["value"]
    assert more > 3
    assert found["force"]["value_n"] == pytest.approx(
        more * plain["force"]["value_n"], rel=0.05
    )  # ways differ
    assert found["ring"]["left_in_mm"] > 60
    assert any("draw the brake line back out" in caveat for caveat in found["caveats"])
    assert not any("draw the brake line back" in caveat for caveat in plain["caveats"])


RING_REFUSED = [
    ("{below: 40 mm, riser: front}", "brakes.ring.riser", "a side has only one riser"),
    ("{below: 200 mm}", "brakes.ring.below", "below the riser, which is 150 mm long; use up to 150 mm"),
    ("{below: 150 mm}", "brakes.ring.below", "the ring lies where its line is led to"),
    ("{below: 40 mm, friction: [0.3, 0.1]}", "brakes.ring.friction", "high before low"),
]


@pytest.mark.parametrize(("ring", "key", "told"), RING_REFUSED, ids=[told for *_, told in RING_REFUSED])
def test_rings_that_cannot_be(ring, key, told, run, configs, tmp_path, capsys):
    text = (configs / "heron.yaml").read_text()
    (tmp_path / "bad.yaml").write_text(text.replace("  branches: 3", f"  branches: 3\n  ring: {ring}"))
    assert run("servo", "bad.yaml") == 2
    said = capsys.readouterr().err
    assert key in said
    assert told in said
    assert said.count("\n") == 1


REFUSED = [
    ("measured: {pull: 2 mm, force: 1 N}", "servo.measured.pull", "no force is computed there"),
    ("measured: {pull: 300 mm, force: 1 N}", "servo.measured.pull", "beyond the brake travel"),
    ("drum: 30 mm", "servo.drum", "belongs to a winch"),
]


@pytest.mark.parametrize(("line", "key", "told"), REFUSED, ids=[line for line, _, _ in REFUSED])
def test_refuses_in_one_line(line, key, told, run, configs, tmp_path, capsys):
    (tmp_path / "bad.yaml").write_text((configs / "heron.yaml").read_text().rstrip() + f"\n  {line}\n")
    assert run("servo", "bad.yaml", "--out", "made") == 2
    printed = capsys.readouterr()
    assert printed.err.count("\n") == 1
    assert printed.err.startswith("bad.yaml")
    assert key in printed.err
    assert told in printed.err
    assert not (tmp_path / "made").exists()
