"""From a flight to narrower bands, by the command line alone.

The flights are invented: computed, with noise.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from parasim.config.loader import load_design
from parasim.environment.atmosphere import pressure_height
from parasim.environment.position import north_east
from parasim.logs.fixes import Fixes
from tests.log_files import LATITUDE, LONGITUDE, gpx_text
from tests.texts import flowing

pytestmark = pytest.mark.slow

BRAKES = "0s: L 0 R 0; 24.7s: R 85%; 84.7s: R 0; 108s: L 87% R 87%"
"""Of the invented flight of heron, for logs without them."""


def bands_of(run: Any, design: Path | str, capsys: Any) -> tuple[dict[str, float], str]:
    """Widths of the bands of a glide, and what it prints."""
    capsys.readouterr()
    assert run("glide", design, "--json") == 0
    bands = json.loads(capsys.readouterr().out)["bands"]
    widths = {name: bands[name]["high"] - bands[name]["low"] for name in ("sink_m_s", "glide_ratio")}
    assert run("glide", design) == 0
    return widths, flowing(capsys.readouterr().out)


def test_a_log_in_three_commands(run: Any, configs: Path, capsys: Any) -> None:
    before, _ = bands_of(run, configs / "heron.yaml", capsys)
    assert run("track", configs / "heron_log.csv", "--mass", "1.307 kg", "--out", "flown") == 0
    assert run("learn", configs / "heron.yaml", "flown/heron_log_notes.yaml", "--out", "learnt") == 0
    after, printed = bands_of(run, "learnt/heron_fitted.yaml", capsys)
    assert after["sink_m_s"] < 0.3 * before["sink_m_s"]
    assert after["glide_ratio"] < 0.6 * before["glide_ratio"]
    assert "Calibration: fitted to 1 flight" in printed
    truth = load_design(configs / "heron.yaml").calibration  # by which the invented flight was computed
    for name in ("lift_factor", "moment_shift", "brake_drag_factor", "yaw_damping"):
        number = getattr(load_design("learnt/heron_fitted.yaml").calibration, name)
        assert number.low <= getattr(truth, name).value <= number.high


@pytest.fixture
def phone(configs: Path, tmp_path: Path) -> Path:
    """The invented flight as a phone keeps it: places and heights, no speeds, no brakes."""
    with open(configs / "heron_log.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    column = {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}
    places = np.radians([column["lat_deg"], column["lon_deg"]])
    north, east = north_east(*places, latitude=LATITUDE, longitude=LONGITUDE)
    fixes = Fixes(
        kind="invented", time=column["time_s"],
        columns={
            "north": north, "east": east, "pressure_height": pressure_height(100 * column["pressure_hPa"])
        },
    )  # fmt: skip
    path = tmp_path / "evening.gpx"
    path.write_text(gpx_text(fixes), encoding="utf-8")
    return path


def test_a_phone_in_three_commands(run: Any, configs: Path, phone: Path, capsys: Any) -> None:
    before, _ = bands_of(run, configs / "heron.yaml", capsys)
    assert run("track", phone, "--mass", "1.307 kg", "--brakes", BRAKES, "--out", "flown") == 0
    assert run("learn", configs / "heron.yaml", "flown/evening_notes.yaml", "--out", "learnt") == 0
    after, printed = bands_of(run, "learnt/heron_fitted.yaml", capsys)
    assert after["sink_m_s"] < 0.5 * before["sink_m_s"]
    assert "Calibration: fitted to 1 flight" in printed


def test_a_stopwatch_and_a_circle_in_three_commands(run: Any, capsys: Any) -> None:
    """A new design, notes by hand, and what it then glides."""
    assert run("new", "lark", "--mass", "0.8 kg", "--sink", "2.5 m/s") == 0
    before, _ = bands_of(run, "lark.yaml", capsys)
    Path("evening.yaml").write_text(
        "flights:\n  - name: evening\n    by_hand:\n      - {height_lost: 60 m, in: 24 s}\n"
        "      - {circles: 1, in: 20 s, right: 50 %}\n",
        encoding="utf-8",
    )
    assert run("learn", "lark.yaml", "evening.yaml", "--out", "learnt") == 0
    first = flowing(capsys.readouterr().out)
    assert re.match(r"lark, fitted to 2 measurements on 1 flight", first)
    after, printed = bands_of(run, "learnt/lark_fitted.yaml", capsys)
    assert after["sink_m_s"] < 0.8 * before["sink_m_s"]
    assert "Calibration: fitted to 1 flight" in printed
    assert yaml.safe_load(Path("learnt/lark_fitted.yaml").read_text("utf-8"))["calibration"]


def test_predicted_against_flown(run: Any, configs: Path, capsys: Any) -> None:
    """The invented log was computed with heron: within its band, outside that of one rigged otherwise."""
    log = configs / "heron_log.csv"
    options = ("--mass", "1.307 kg", "--design", configs / "heron.yaml", "--out", "flown")
    assert run("track", log, *options) == 0
    printed = flowing(capsys.readouterr().out)
    assert "heron_log: flew within the design's band" in printed
    assert "Predicted against flown: heron_log.csv and heron" in printed
    assert "caution: Computed, not flown." in printed
    assert {"heron_log_predicted.csv", "heron_log_predicted.png"} <= {p.name for p in Path("flown").iterdir()}
    with open("flown/heron_log_predicted.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    apart = np.array([float(row["height_flown_m"]) - float(row["height_predicted_m"]) for row in rows[:90]])
    assert np.abs(apart).max() < 2.0
    wrong = Path("wrong.yaml")
    text = (configs / "heron.yaml").read_text("utf-8")
    assert "calibration:" not in text
    wrong.write_text(
        text + "\ncalibration:\n  moment_shift: {value: -0.03, low: -0.032, high: -0.028}\n", encoding="utf-8"
    )
    assert run("track", log, "--design", wrong, "--json") == 0
    (found,) = json.loads(capsys.readouterr().out)["predicted"]
    assert found["height"]["outside"]
    assert found["height"]["outside_fraction"] > 0.3


def test_logs_that_cannot_be_flown_along_are_said(run: Any, configs: Path, phone: Path, capsys: Any) -> None:
    assert run("track", phone, "--design", configs / "heron.yaml", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert "evening: not flown again: its brakes are not known" in " ".join(found["caveats"])
    (lacking,) = found["not_predicted"]
    assert lacking["log"] == "evening"


def test_segments_need_a_log(run: Any, configs: Path, capsys: Any) -> None:
    for command in ("learn", "summary"):
        assert run(command, configs / "heron.yaml", "--segments", "a.yaml") == 2
        assert capsys.readouterr().err == "parasim: --segments: of which logs? add --log LOG\n"


def test_a_log_second_by_second(run: Any, configs: Path, capsys: Any) -> None:
    assert run("learn", configs / "heron.yaml", "--log", configs / "heron_log.csv", "--out", "learnt") == 0
    printed = flowing(capsys.readouterr().out)
    assert printed.startswith("heron, fitted to 102 s of 1 log on 1 flight: sinks 1.9")
    assert "air rising" in printed
    names = {path.name for path in Path("learnt").iterdir()}
    assert {"heron_fitted.yaml", "heron_heron_log_predicted.png", "heron_heron_log_fitted.png"} <= names
    before, _ = bands_of(run, configs / "heron.yaml", capsys)
    after, said = bands_of(run, "learnt/heron_fitted.yaml", capsys)
    assert after["sink_m_s"] < 0.6 * before["sink_m_s"]
    assert "Calibration: fitted to 1 flight" in said
