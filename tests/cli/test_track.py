"""``parasim track`` prints, writes and refuses."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from tests.flown import Flight, logged
from tests.log_files import csv_text, gpx_text
from tests.texts import flowing

HERON = "heron_log.csv"


@pytest.fixture
def drop(tmp_path: Path) -> str:
    """The hand example: 3.04 m/s down, 7.4 m/s ahead, four circles and a half."""
    fixes = logged(Flight(fall=1.0, flare=1.8, turns=4.5), "speeds", np.random.default_rng(3))
    (tmp_path / "drop_3.csv").write_text(csv_text(fixes))
    return "drop_3.csv"


def test_text_and_files(run: Any, drop, capsys):
    assert run("track", drop, "--mass", "1.25 kg", "--out", "out") == 0
    printed = capsys.readouterr()
    first = flowing(printed.out.partition("\n\n")[0])
    assert re.match(
        r"drop_3\.csv: 10[345] s from release to touchdown; sinks 3\.0\d m/s \(± 0\.\d+\) straight", first
    )
    assert "turns right 28.0 deg/s (± " in first
    assert first.endswith("from 4 circles")
    for words in (
        "straight",
        "circles to the right",
        "Opening and flare",
        "Wind by height",
        "Not given:",
    ):
        assert words in printed.out
    assert "caution: Computed, not flown." in printed.out
    assert "file lacks: Brakes are not known: --brakes" in printed.err
    assert "safe" not in printed.out
    names = ["drop_3_notes.yaml", "drop_3_segments.yaml", "drop_3_track.csv"]
    names += ["drop_3_track.json", "drop_3_track.png"]
    assert sorted(path.name for path in Path("out").iterdir()) == names
    with open("out/drop_3_track.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["kind"] for row in rows] == ["straight", "circles", "straight"]
    assert float(rows[1]["turn_rate_deg_s"]) == pytest.approx(28.0, abs=0.1)


def test_notes_without_brakes_are_lines_to_fill_in(run: Any, drop, capsys):
    assert run("track", drop, "--out", "out") == 0
    text = Path("out/drop_3_notes.yaml").read_text()
    (flight,) = yaml.safe_load(text)["flights"]
    assert list(flight) == ["name", "air_density", "measured"]
    assert flight["measured"] == []
    assert "# brakes not known: fill in left and right" in text
    assert "# - {sink: 3.0" in text


def test_notes_with_brakes_have_the_form_that_others_read(run: Any, drop, capsys):
    brakes = "0s: L 0 R 0; 22s: R 50%; 80s: R 0"
    options = ("--brakes", brakes, "--mass", "1.25 kg", "--air-density", "1.20 kg/m^3", "--out", "out")
    assert run("track", drop, *options) == 0
    assert "Brakes are not known" not in capsys.readouterr().err
    (flight,) = yaml.safe_load(Path("out/drop_3_notes.yaml").read_text())["flights"]
    assert list(flight) == ["name", "mass", "air_density", "measured"]
    assert (flight["name"], flight["mass"], flight["air_density"]) == ("drop_3", "1.25 kg", "1.200 kg/m3")
    for entry in flight["measured"]:
        assert list(entry)[1:] == ["error", "left", "right", "how"]
    sink = next(entry for entry in flight["measured"] if "sink" in entry)
    assert float(sink["sink"].removesuffix(" m/s")) == pytest.approx(3.04, abs=0.1)
    assert (sink["left"], sink["right"]) == ("0 %", "0 %")
    assert sink["how"].endswith("s straight, 2 legs, slope of the pressure height")
    turn = next(entry for entry in flight["measured"] if "turn_rate" in entry)
    assert float(turn["turn_rate"].removesuffix(" deg/s")) == pytest.approx(28.0, abs=0.2)
    assert (turn["left"], turn["right"]) == ("0 %", "50 %")


def test_segments_are_corrected_and_given_back(run: Any, drop, capsys):
    assert run("track", drop, "--out", "out") == 0
    first = json.loads(Path("out/drop_3_track.json").read_text())
    assert run("track", drop, "--segments", "out/drop_3_segments.yaml", "--out", "again") == 0
    again = json.loads(Path("again/drop_3_track.json").read_text())
    for before, after in zip(first["flights"][0]["stretches"], again["flights"][0]["stretches"], strict=True):
        assert after["sink_m_s"] == pytest.approx(before["sink_m_s"], abs=0.01)
    text = Path("out/drop_3_segments.yaml").read_text()
    Path("mine.yaml").write_text(re.sub(r"(kind: straight.*)}", r"\1, left: 0 %, right: 10 %}", text))
    capsys.readouterr()
    assert run("track", drop, "--segments", "mine.yaml", "--json") == 0
    found = json.loads(capsys.readouterr().out)["flights"][0]["segments"]
    changed = next(segment for segment in found if segment["kind"] == "straight")
    assert changed["right_brake_percent"] == pytest.approx(10.0)


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_imperial_is_complete(run: Any, configs, capsys, units):
    assert run("track", configs / HERON, "--units", units, "--all") == 0
    printed = capsys.readouterr()
    text = flowing(printed.out + printed.err)
    assert (" m/s" in text, " kg/m³" in text) == ((True, True) if units == "metric" else (False, False))
    assert (" ft/s" in text, " kt" in text, " lb/ft³" in text) == (units == "imperial",) * 3
    assert not [line for line in (printed.out + printed.err).splitlines() if len(line) > 100]


def test_the_invented_log_of_heron_agrees_with_its_glide(run: Any, configs, capsys):
    """It was made of a computed drop: its figures are those of `parasim glide`, within 3 errors and 1 %."""
    assert run("glide", configs / "heron.yaml", "--json") == 0
    glide = json.loads(capsys.readouterr().out)
    assert run("track", configs / HERON, "--json") == 0
    found = json.loads(capsys.readouterr().out)["flights"][0]
    straight = next(each for each in found["alike"] if each["kind"] == "straight")
    for name in ("sink_m_s", "forward_speed_m_s"):
        truth = glide["trim"][name] if "trim" in glide else glide[name]
        error = straight[name.replace("_m_s", "_error_m_s")]
        assert abs(straight[name] - truth) < 3 * error + 0.01 * truth
    assert found["wind"]["from_deg"] == pytest.approx(250.0, abs=3.0)
    assert found["opening_time_s"] is None


def test_several_logs(run: Any, drop, capsys):
    fixes = logged(Flight(turns=3.5, sink=2.5), "places", np.random.default_rng(1))
    Path("other.gpx").write_text(gpx_text(fixes))
    assert run("track", drop, "other.gpx", "--out", "out") == 0
    lines = flowing(capsys.readouterr().out.partition("\n\n")[0])
    assert lines.startswith("drop_3.csv: ")
    assert "other.gpx: " in lines
    assert sorted(path.name for path in Path("out").iterdir()) == [
        "flights_drop_3_track.csv", "flights_drop_3_track.png", "flights_notes.yaml",
        "flights_other_track.csv", "flights_other_track.png", "flights_segments.yaml", "flights_track.json",
    ]  # fmt: skip
    assert run("track", drop, "other.gpx", "--segments", "out/flights_segments.yaml", "--quiet") == 0


def test_straight_flight_asks_for_a_wind(run: Any, tmp_path, capsys):
    fixes = logged(Flight(turns=0.0, straight=(40.0, 0.0)), "speeds", np.random.default_rng(1))
    (tmp_path / "a.csv").write_text(csv_text(fixes))
    assert run("track", "a.csv") == 0
    printed = capsys.readouterr()
    assert "wind not known" in flowing(printed.out)
    assert "through the air" not in printed.out.partition("\n\n")[0]
    assert "No wind: no full circle" in printed.err
    assert run("track", "a.csv", "--wind", "5.2 kt", "--wind-from", "248 deg") == 0
    assert "through the air" in flowing(capsys.readouterr().out)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("none.csv",), "none.csv: no such file"),
        (("drop_3.csv", "--wind", "3 m/s"), "parasim: --wind-from: missing; give both"),
        (("drop_3.csv", "--wind-from", "3 deg"), "parasim: --wind: missing; give both"),
        (("drop_3.csv", "--wind", "3 kg", "--wind-from", "3 deg"), "parasim: --wind: given"),
        (("drop_3.csv", "--mass", "1 m"), "parasim: --mass: given"),
        (("drop_3.csv", "--air-density", "9"), "parasim: --air-density: given"),
        (("drop_3.csv", "--brakes", "L 0"), "parasim: --brakes: given"),
        (("drop_3.csv", "--columns", "none.yaml"), "none.yaml: no such file"),
        (("other.gpx", "--columns", "none.yaml"), "parasim: --columns: no CSV file among the logs"),
        (("drop_3.csv", "x/drop_3.csv"), "drop_3.csv: given twice, or two logs of one name"),
        (("drop_3.csv", "--segments", "drop_3.csv"), "drop_3.csv"),
        ((), "parasim: "),
    ],
)
def test_mistakes_are_one_line(run: Any, drop, capsys, options, said):
    assert run("track", *options, "--out", "out") == 2
    printed = capsys.readouterr()
    assert printed.err.startswith(said)
    assert len(printed.err.splitlines()) == 1
    assert printed.out == ""
    assert not Path("out").exists()


def test_segments_of_another_log(run: Any, drop, capsys):
    Path("s.yaml").write_text("segments:\n  - {log: x.csv, release: 1 s, touchdown: 9 s, stretches: []}\n")
    assert run("track", drop, "--segments", "s.yaml") == 2
    assert capsys.readouterr().err == "s.yaml: segments: nothing for drop_3.csv; it has x.csv\n"
