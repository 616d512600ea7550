"""`parasim drop` on the three demonstration designs: figures, options, files, units, refusals."""

import csv
import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import ceil, hypot, radians
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from parasim.cli.drop import with_options
from parasim.cli.main import main
from parasim.config.design import Design
from parasim.flight.drop import CAUTIONS

KEYS = {
    "parasim", "name", "release", "wind", "landed", "ending", "accuracy", "height_m", "time_aloft_s",
    "distance_m", "north_m", "east_m", "bearing_deg", "touchdown", "unopened", "unopened_drift_m", "way_down",
    "cautions", "caveats",
}  # fmt: skip
TOUCHDOWN = {
    "ground_speed_m_s", "sink_m_s", "speed_m_s", "mass_kg", "energy_j", "vertical_energy_j",
    "equivalent_drop_height_m", "energy_drop_height_m",
}  # fmt: skip
FILES = {
    "drop.csv", "drop_heights.csv", "drop.json", "drop_side.png", "drop_track.png", "drop_history.png",
    "drop_strip.svg",
}  # fmt: skip
STANDARD_GRAVITY = 9.80665


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_document_and_files(
    name: str, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["drop", str(configs / f"{name}.yaml"), "--json", "--out", str(tmp_path)]) == 0
    document: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert set(document) == KEYS | {"warnings", "files"}
    assert document["cautions"] == list(CAUTIONS)
    for case in ("touchdown", "unopened"):
        landing = document[case]
        assert set(landing) == TOUCHDOWN
        speed = hypot(landing["ground_speed_m_s"], landing["sink_m_s"])
        assert landing["energy_j"] == pytest.approx(0.5 * landing["mass_kg"] * speed**2)
        fall = landing["vertical_energy_j"] / (landing["mass_kg"] * STANDARD_GRAVITY)
        assert landing["equivalent_drop_height_m"] == pytest.approx(fall)
        fall = landing["energy_j"] / (landing["mass_kg"] * STANDARD_GRAVITY)
        assert landing["energy_drop_height_m"] == pytest.approx(fall)
    assert document["unopened"]["energy_j"] > document["touchdown"]["energy_j"]
    assert {path.name for path in tmp_path.iterdir()} == {f"{name}_{file}" for file in FILES}
    assert all(path.read_bytes().startswith(b"\x89PNG") for path in tmp_path.glob("*.png"))
    rows = list(csv.DictReader((tmp_path / f"{name}_drop.csv").read_text().splitlines()))
    assert float(rows[0]["height_m"]) == pytest.approx(document["release"]["height_m"])
    assert float(rows[-1]["time_s"]) == pytest.approx(document["time_aloft_s"], abs=1e-4)
    assert float(rows[-1]["north_m"]) == pytest.approx(document["north_m"], abs=1e-4)
    assert float(rows[-1]["sink_m_s"]) == pytest.approx(document["touchdown"]["sink_m_s"], abs=1e-4)
    assert json.loads((tmp_path / f"{name}_drop.json").read_text())["distance_m"] == document["distance_m"]


def test_measured_wind(configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From a table beside the design file; a mistake in it is one line, with its file and line."""
    heron = (configs / "heron.yaml").read_text(encoding="utf-8")
    design, table = tmp_path / "heron.yaml", tmp_path / "wind.csv"
    design.write_text(re.sub(r"^  wind: .*$", "  wind: {table: wind.csv}", heron, flags=re.MULTILINE))
    table.write_text("height_m,speed_m_s,from_deg\n2,1.8,250\n10,3,260\n60,5,280\n")
    assert main(["drop", str(design), "--json"]) == 0
    wind = json.loads(capsys.readouterr().out)["wind"]
    assert wind == {
        "speed_m_s": pytest.approx(3),
        "from_deg": pytest.approx(260),
        "reference_height_m": 10,
        "at_release_m_s": 5,
    }
    out = tmp_path / "out"
    table.write_text("height_m,speed_m_s,from_deg\n2,1.8,250\n10,three,260\n60,5,280\n")
    assert main(["drop", str(design), "--out", str(out)]) == 2
    printed = capsys.readouterr()
    assert printed.err == 'wind.csv:3: speed_m_s: given "three", not a number; use 0 to 120\n'
    assert printed.out == ""
    assert not out.exists()
    assert main(["drop", str(design), "--wind", "3 m/s"]) == 2
    assert "--wind" in capsys.readouterr().err


LINES_OF_THE_WAY = re.compile(r"^(\d+) (m|ft) +(\d+) s", re.MULTILINE)


def test_a_drop_from_high_up_tells_its_way_down(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """True airspeed at 8 km is sqrt(1.2250 / 0.52579) = 1.526 times the equivalent (ISO 2533)."""
    arguments = ["drop", str(configs / "heron.yaml"), "--height", "8 km", "--brake", "2 m: L 0 R 0"]
    assert main([*arguments, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    way = document["way_down"]
    assert [round(row["height_m"]) for row in way] == [8000, 7000, 6000, 5000, 4000, 3000, 2000, 1000, 0]
    ratio = way[0]["airspeed_m_s"] / way[0]["equivalent_airspeed_m_s"]
    assert ratio == pytest.approx(1.526, rel=0.01)  # heron's ground is at 120 m
    assert way[0]["reynolds"] < 0.8 * way[-2]["reynolds"]
    assert way[-1]["time_s"] == pytest.approx(document["time_aloft_s"])
    (said,) = [word for word in document["caveats"] if "wind law" in word]
    assert "counts as at 1000 m" in said
    assert main([*arguments, "--units", "imperial"]) == 0
    imperial = capsys.readouterr().out
    assert [row[:2] for row in LINES_OF_THE_WAY.findall(imperial)][1:-1] == [
        (f"{height}", "ft") for height in (25000, 20000, 15000, 10000, 5000)
    ]
    assert "min" in imperial.split(":")[0]


def test_the_way_down_of_a_low_drop_is_shown_when_all_is(
    configs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["drop", str(configs / "heron.yaml"), "--height", "20 m"]
    assert main(arguments) == 0
    assert "On the way down" not in capsys.readouterr().out
    assert main([*arguments, "--all"]) == 0
    heights = [int(row[0]) for row in LINES_OF_THE_WAY.findall(capsys.readouterr().out)]
    assert heights == [20, 15, 10, 5, 0]


def test_a_wind_table_that_ends_far_below_is_one_line(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    heron = (configs / "heron.yaml").read_text(encoding="utf-8")
    design, table = tmp_path / "heron.yaml", tmp_path / "wind.csv"
    design.write_text(re.sub(r"^  wind: .*$", "  wind: {table: wind.csv}", heron, flags=re.MULTILINE))
    table.write_text("height_m,speed_m_s,from_deg\n2,1.8,250\n2500,30,260\n")
    for command in ("drop", "scatter"):
        out = tmp_path / command
        assert main([command, str(design), "--height", "12 km", "--out", str(out)]) == 2
        printed = capsys.readouterr()
        assert printed.err == (
            f"{design}: site.wind.table: given wind.csv, it ends 9500 m lower than the release, at 2500 m; "
            "for a release at 12000 m give the wind up to 11000 m at least\n"
        )
        assert printed.out == ""
        assert not out.exists()
    table.write_text("height_m,speed_m_s,from_deg\n2,1.8,250\n35001,130,260\n")
    assert main(["drop", str(design)]) == 2
    assert capsys.readouterr().err == (
        'wind.csv:3: height_m: given "35001", too large; use 0 to 35000\n'
        'wind.csv:3: speed_m_s: given "130", too large; use 0 to 120\n'
    )


def test_a_long_drop_shows_how_far_it_is(
    configs: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a terminal only, on stderr; what it is told rises to the end."""
    told: list[tuple[int, int]] = []

    @contextmanager
    def watched(message: str, *, quiet: bool = False) -> Iterator[Callable[[int, int], None]]:
        assert not quiet
        yield lambda done, of: told.append((done, of))

    monkeypatch.setattr("parasim.cli.drop.working", watched)
    assert main(["drop", str(configs / "heron.yaml"), "--height", "3 km", "--quiet"]) == 0
    assert "heron" in capsys.readouterr().out
    assert len(told) >= 4
    assert {of for _, of in told} == {100}
    assert all(0 <= done <= 100 for done, _ in told)


def test_options_stand_in_for_the_file(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options = ["--height", "200 ft", "--wind", "6 kt", "--wind-from", "90 deg", "--heading", "180 deg"]
    brakes = ["--brake", "2s: L 0.3 R 0.0", "--brake", "10m: L 80% R 80% over 1s"]
    assert main(["drop", str(configs / "heron.yaml"), "--json", *options, *brakes]) == 0
    document = json.loads(capsys.readouterr().out)
    # 200 ft = 60.96 m and 6 kt = 6 x 1852 m / 3600 s, by definition of the units.
    assert document["release"]["height_m"] == pytest.approx(60.96)
    assert document["wind"]["speed_m_s"] == pytest.approx(3.0866667)
    assert document["wind"]["from_deg"] == pytest.approx(90)
    assert document["release"]["heading_deg"] == pytest.approx(180)
    assert document["release"]["brakes"] == ["2 s: L 30 % R 0 %", "10 m: L 80 % R 80 % over 1 s"]


def test_text_in_both_units(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["drop", str(configs / "heron.yaml"), "--height", "20 m"]
    assert main([*arguments, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert main(arguments) == 0
    metric = capsys.readouterr().out
    assert main([*arguments, "--units", "imperial"]) == 0
    imperial = capsys.readouterr().out
    sink, energy = document["touchdown"]["sink_m_s"], document["touchdown"]["energy_j"]
    assert f"{sink:.2f} m/s" in metric
    assert f"{sink / 0.3048:.1f} ft/s" in imperial
    # 1 ft lbf = 0.3048 m x 4.4482216 N = 1.3558179 J
    assert f"{energy / 1.3558179:.1f} ft lbf" in imperial
    assert "unopened" in metric
    for caution in CAUTIONS:
        assert f"caution: {caution}" in " ".join(metric.split())
        assert f"caution: {caution}" in " ".join(imperial.split())
    assert "2.76 m: L 94 % R 94 %" in metric
    assert "9.06 ft: L 94 % R 94 %" in imperial  # 2.76 m / 0.3048
    assert " m/s" not in imperial


def test_start_with_a_velocity(heron: Design) -> None:
    changed = with_options(heron, {"drop.velocity": ["5 m/s", "0 m/s", "1 m/s"]})
    assert changed.drop.start == "velocity"
    assert changed.drop.velocity == (5.0, 0.0, 1.0)
    back = with_options(changed, {"drop.start": "rest"})
    assert (back.drop.start, back.drop.velocity) == ("rest", None)


def test_design_is_left_alone_without_options(heron: Design) -> None:
    assert with_options(heron, {}) == heron
    turned = with_options(heron, {"drop.heading": "90 deg"})
    assert turned.drop.heading == pytest.approx(radians(90))
    assert turned.canopy == heron.canopy


REFUSED = [
    (
        ["--height", "60 kg"],
        '--height: given "60 kg", a mass; use a length such as "1.1 m" or "48 in" or "3 ft 8 in", '
        "1 to 35000 m",
    ),
    (["--height", "36 km"], '--height: given "36 km", too large; use 1 to 35000 m'),
    (["--height", "0.1 m"], '--height: given "0.1 m", too small; use 1 to 35000 m'),
    (["--height", "high"], '--height: given "high", not a length; use a length'),
    (["--wind", "3 m"], '--wind: given "3 m", a length; use a speed such as "3 m/s" or "6 kt", 0 to 40 m/s'),
    (
        ["--wind-from", "270"],
        '--wind-from: given "270", an angle without its unit could be degrees or radians',
    ),
    (["--heading", "north"], '--heading: given "north", not an angle'),
    (["--start", "thrown"], '--start: given "thrown", not a choice here; use steady, rest or velocity'),
    (["--start", "velocity"], "--velocity: given none, start: velocity needs one; add velocity"),
    (["--velocity", "3 m/s"], '--velocity: given "3 m/s", not three speeds; use north, east, down'),
    (["--velocity", "3 m/s, 0 m/s, 1 kg"], '--velocity: given "1 kg", a mass; use a speed'),
    (["--brake", "left"], '--brake: given "left", not a brake command; write "2s: L 0.3 R 0"'),
    (["--brake", "2s: L 3 R 0"], '--brake: given "3", too large'),
    (
        ["--brake", "4s: L 0 R 0", "--brake", "2s: L 1 R 1"],
        "--brake: brake commands out of order; let each be later",
    ),
]


@pytest.mark.parametrize(("options", "told"), REFUSED, ids=[" ".join(options) for options, _ in REFUSED])
def test_refusals(
    options: list[str], told: str, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["drop", str(configs / "heron.yaml"), "--out", str(tmp_path / "out"), *options]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith(f"parasim: {told}")
    assert printed.err.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_wind_without_direction(
    reference_text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before, _, after = reference_text.partition("  wind: {")
    path = tmp_path / "calm.yaml"
    path.write_text(before + after.partition("\n")[2])
    assert main(["drop", str(path), "--wind", "3 m/s"]) == 2
    assert capsys.readouterr().err == "parasim: --wind-from: missing; add --wind-from\n"


def test_a_file_in_place_of_the_directory(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("")
    assert main(["drop", str(configs / "heron.yaml"), "--out", str(taken)]) == 2
    assert capsys.readouterr().err == f"parasim: --out: {taken} is a file; give the name of a directory\n"


def test_slack_lines_are_no_landing(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["drop", str(configs / "heron.yaml"), "--start", "rest", "--wind", "0 m/s"]
    assert main(arguments) == 0
    printed = capsys.readouterr()
    first = " ".join(printed.out.partition("\n\n")[0].split())
    assert re.fullmatch(r"heron: the lines go slack 0\.9 s after release, 77 m above .*is not known", first)
    assert re.search(r"^energy +not known +\d", printed.out, re.M)
    assert "design fails: The lines go slack" in printed.err
    assert "Plan for the unopened figures" in " ".join(printed.err.split())
    assert main([*arguments, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["touchdown"] is None
    assert document["landed"] is False
    assert document["ending"] == "slack lines"
    assert document["unopened"]["energy_j"] > 100.0


def test_a_film_is_written_when_asked_for(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """At ten frames a second and the last moment besides; its length and size are said last."""
    low = ["drop", str(configs / "heron.yaml"), "--height", "1.5 m", "--film"]
    assert main([*low, "--out", str(tmp_path), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    path = tmp_path / "heron_drop_film.gif"
    assert str(path) in document["files"]
    with Image.open(path) as film:
        assert film.n_frames == ceil(10 * document["time_aloft_s"]) + 1
    assert main(low) == 2
    assert capsys.readouterr().err == (
        "parasim: --film: given without --out, nowhere to write it; add --out DIR\n"
    )
