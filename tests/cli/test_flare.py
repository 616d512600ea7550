"""``parasim flare`` prints, writes and refuses."""

from __future__ import annotations

import csv
import json
import re
from inspect import signature
from pathlib import Path
from typing import Any

import pytest

from parasim.cli import flare as command
from parasim.flight.flare import flare as module


@pytest.fixture(autouse=True)
def _short_search(monkeypatch):
    monkeypatch.setattr(module, "STRIDES", ())
    monkeypatch.setattr(module, "COARSE", [(70, 10), (85, 10)])
    monkeypatch.setattr(module, "FLARE_FACTORS", ("brake_drag_factor",))


def test_text_and_files(run: Any, configs: Path, capsys):
    assert run("flare", configs / "heron.yaml", "--out", "out") == 0
    printed = capsys.readouterr()
    assert "above ground both brakes to" in printed.out
    assert "begun 1.0 m too high" in printed.out
    assert "caution: A falling payload can injure people" in printed.out
    assert "under load it is slower" in " ".join(printed.err.split())
    names = sorted(path.name for path in Path("out").iterdir())
    assert names == [f"heron_flare{end}" for end in (".csv", ".json", ".png", "_heights.csv")]
    with open("out/heron_flare_heights.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 121
    assert float(rows[0]["start_height_m"]) == 0.0
    saved = json.loads(Path("out/heron_flare.json").read_text())
    assert float(rows[0]["sink_m_s"]) == pytest.approx(saved["brakes_released"]["sink_m_s"], rel=0.01)


def test_json_alone_on_stdout(run: Any, configs: Path, capsys):
    assert run("flare", configs / "heron.yaml", "--for", "sink", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["aim"] == "sink"
    assert found["gain"]["sink_m_s"] == pytest.approx(
        found["brakes_released"]["sink_m_s"] - found["flared"]["sink_m_s"]
    )
    assert found["gain"]["sink_m_s"] > 0
    assert {case["name"] for case in found["cases"]} == {
        "as_planned", "too_high", "too_low", "gust_down", "gust_up", "gust_head", "gust_tail",
    }  # fmt: skip
    assert found["cautions"]
    assert found["pull"][0]["pull_mm"] == pytest.approx(126 * found["pull"][0]["brake_fraction"])


def test_imperial(run: Any, configs: Path, capsys):
    assert run("flare", configs / "heron.yaml", "--units", "imperial") == 0
    printed = capsys.readouterr()
    assert "ft lbf" in printed.out
    assert "begun 3.3 ft too high" in printed.out  # 1 m / 0.3048
    assert re.search(r'^    - "[\d.]+ ft: L ', printed.out, re.M)
    assert not re.search(r"\d m\b|m/s|\d J\b", printed.out + printed.err)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--for", "comfort"], "'comfort' is not one of"),
        (["--stages", "3"], "'--stages': "),
        (["--height-error", "3 kg"], '--height-error: given "3 kg", a mass; use a length'),
        (["--height-error", "-1 m"], "too small"),
    ],
)
def test_bad_options(run: Any, configs: Path, capsys, options, told):
    assert run("flare", configs / "heron.yaml", *options, "--out", "out") == 2
    printed = capsys.readouterr()
    assert told in printed.err
    assert len(printed.err.splitlines()) == 1
    assert printed.out == ""
    assert not Path("out").exists()


def test_height_error_left_out_is_that_of_the_analysis() -> None:
    """The command line says it again, so that help need not load flight dynamics."""
    default = signature(command.flare).parameters["height_error"].default
    assert default == f"{module.HEIGHT_ERROR:g} m"
