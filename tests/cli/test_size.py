"""``parasim size`` prints, writes and refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from parasim.study import size as module
from tests.texts import flowing


@pytest.fixture(autouse=True)
def _coarse_map(monkeypatch):
    monkeypatch.setattr(module, "RIGGING_ANGLES", np.radians([-1.0, 2.0]))
    monkeypatch.setattr(module, "AREAS", 3)


def test_text_and_files(run: Any, configs: Path, capsys):
    assert run("size", configs / "heron.yaml", "--sink", "2.4 m/s", "--out", "out") == 0
    printed = capsys.readouterr()
    assert "heron for a sink of 2.40 m/s: flat area" in printed.out
    assert "forward speed to spend against the wind" in flowing(printed.out)
    assert "caution: " in printed.out
    assert "square root of the area" in flowing(printed.err)
    assert sorted(path.name for path in Path("out").iterdir()) == [
        "heron_size.csv",
        "heron_size.json",
        "heron_size.png",
    ]
    with open("out/heron_size.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 2 * 3 + 2
    assert float(rows[-1]["sink_m_s"]) == pytest.approx(2.4, rel=2e-3)


def test_json_alone_on_stdout(run: Any, configs: Path, capsys):
    assert run("size", configs / "heron.yaml", "--energy", "40 ft lbf", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["goal"] == "energy"
    assert found["target_j"] == pytest.approx(54.23, abs=0.01)
    assert found["chosen"]["energy_j"] == pytest.approx(found["target_j"], rel=2e-3)
    assert found["lengths"]["span_m"] == pytest.approx(found["chosen"]["span_m"])
    assert found["chosen"]["span_m"] * found["chosen"]["chord_m"] == pytest.approx(found["chosen"]["area_m2"])
    assert found["lengths"]["stabiliser_height_m"] is None
    assert len(found["map"]) == 6


def test_out_of_reach(run: Any, configs: Path, capsys):
    assert run("size", configs / "heron.yaml", "--sink", "0.3 m/s") == 0
    told = flowing(capsys.readouterr().out)
    assert "heron: No canopy and no rigging angle reaches a sink of 0.30 m/s: flat areas of" in told
    assert run("size", configs / "heron.yaml", "--sink", "0.3 m/s", "--json", "--out", "out") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["chosen"] is None
    assert found["answers"] == []
    assert found["lengths"] == {}
    assert found["reached_low_m_s"] > 0.3


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ([], "--sink, --energy: given neither; give one"),
        (["--sink", "2 m/s", "--energy", "20 J"], "--sink, --energy: given both; give one"),
        (["--sink", "20 J"], '--sink: given "20 J", an energy or moment; use a speed'),
        (["--energy", "2 m/s"], '--energy: given "2 m/s", a speed; use an energy'),
        (["--sink", "0 m/s"], "too small"),
    ],
)
def test_bad_options(run: Any, configs: Path, capsys, options, told):
    assert run("size", configs / "heron.yaml", *options, "--out", "out") == 2
    printed = capsys.readouterr()
    assert told in printed.err
    assert len(printed.err.splitlines()) == 1
    assert printed.out == ""
    assert not Path("out").exists()
