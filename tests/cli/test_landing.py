"""``parasim landing`` prints, writes and refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.landing import read_winds
from parasim.flight.flare import flare as module


def test_text_and_files(run: Any, configs: Path, capsys):
    assert run("landing", configs / "heron.yaml", "--no-flare", "--out", "out") == 0
    printed = capsys.readouterr()
    for words in ("+ within", "x over", "? no limit given", "unopened", "none of them is a permission"):
        assert words in printed.out
    assert "caution: Local rules" in printed.out
    first = " ".join(printed.out.partition("\n\n")[0].split())
    assert "NOT KEPT: against an obstacle, 219 times its weight (at most 60 times its weight); " in first
    assert "; energy over 60.0 J across the wind from 6.0 m/s, with the wind from 2.0 m/s" in first
    assert "file lacks: No limit is given for the speed over the ground" in printed.err
    assert "bends the trailing edge" not in printed.err  # it is not flared, so no brake is pulled
    assert "safe" not in printed.out
    assert "legal" not in printed.out
    assert sorted(path.name for path in Path("out").iterdir()) == [
        "heron_landing.csv",
        "heron_landing.json",
        "heron_landing.png",
    ]
    with open("out/heron_landing.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 3 * 9 + 9
    assert {row["way"] for row in rows} == {"brakes released", "unopened"}
    assert {row["energy_verdict"] for row in rows} == {"within", "over"}


def test_json_alone_on_stdout(run: Any, configs: Path, capsys):
    assert run("landing", configs / "heron.yaml", "--no-flare", "--wind", "0..2 m/s", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["flare"] is None
    assert found["limits"]["max_energy_j"] == 60.0
    assert found["limits"]["max_ground_speed_m_s"] is None
    assert found["wind_limit_m_s"] == pytest.approx(0.8 * found["no_way_wind_m_s"])
    assert [a["wind_m_s"] for a in found["arrivals"] if a["course"] == "with"] == [0.0, 1.0, 2.0]
    still = found["arrivals"][0]
    assert still["energy_j"] == pytest.approx(0.5 * found["mass_kg"] * still["speed_m_s"] ** 2)
    assert found["yardsticks"][0]["times"]["brakes released"] == pytest.approx(
        still["energy_j"] / 14.914, rel=1e-3
    )


def test_flare_stands_beside(run: Any, configs: Path, capsys, monkeypatch):
    monkeypatch.setattr(module, "COARSE", [(85, 10)])
    monkeypatch.setattr(module, "STRIDES", ())
    monkeypatch.setattr(module, "FLARE_FACTORS", ("brake_drag_factor",))
    arguments = ("landing", configs / "heron.yaml", "--units", "imperial", "--wind", "0..6 kt")
    assert run(*arguments, "--out", "out") == 0
    assert "Flared: speed over the ground and energy" in capsys.readouterr().out
    saved = json.loads(Path("out/heron_landing.json").read_text())
    by_way = {a["way"]: a for a in saved["arrivals"] if a["wind_m_s"] == 0 and a["course"] == "into"}
    assert by_way["flared"]["sink_m_s"] < by_way["brakes released"]["sink_m_s"]
    assert saved["flare"]["flared"]["sink_m_s"] == by_way["flared"]["sink_m_s"]


@pytest.mark.parametrize(
    ("text", "first", "last", "count"),
    [
        ("0..8", 0.0, 8.0, 9),
        ("2..5 m/s", 2.0, 5.0, 4),
        ("0..10 kt", 0.0, 5.144, 6),
        ("0 m/s..10 kt", 0.0, 5.144, 6),
        ("3 m/s", 3.0, 3.0, 1),
        ("1..1.5", 1.0, 1.5, 2),
    ],
)
def test_winds(text, first, last, count):
    winds = read_winds(text)
    assert (winds[0], winds[-1]) == pytest.approx((first, last), abs=1e-3)
    assert len(winds) == count


@pytest.mark.parametrize(
    ("wind", "told"),
    [
        ("8..2", "it does not rise"),
        ("3 kg", "a mass; use a speed"),
        ("0..90 m/s", "too large"),
        ("..", "not a speed"),
        ("0..", "not a speed"),
        ("-2..3", "too small"),
    ],
)
def test_bad_winds(run: Any, configs: Path, capsys, wind, told):
    assert run("landing", configs / "heron.yaml", f"--wind={wind}", "--out", "out") == 2
    printed = capsys.readouterr()
    assert printed.err.startswith("parasim: --wind: ")
    assert told in printed.err
    assert len(printed.err.splitlines()) == 1
    assert printed.out == ""
    assert not Path("out").exists()
