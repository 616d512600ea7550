"""``parasim release`` prints, writes and refuses."""

from __future__ import annotations

import csv
import io
import json
import pickle
import re
from collections.abc import Iterator
from math import hypot
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from parasim.flight.release import release as flight

FILES = {"release.json", "release.png", "release_card.pdf", "release_path.csv", "release_reach.csv",
         "release_winds.csv"}  # fmt: skip
KINDS = ("design fails: ", "file lacks: ", "model: ", "  ")


@pytest.fixture(scope="module", autouse=True)
def _each_question_once() -> Iterator[None]:
    """Answers are kept by design and options, so that printing one again costs nothing."""
    kept: dict[Any, flight.ReleasePoint] = {}
    real = flight.release

    def remembered(vehicle: Any, **options: Any) -> flight.ReleasePoint:
        key = pickle.dumps(vehicle.design), tuple(options.items())
        if key not in kept:
            kept[key] = real(vehicle, **options)
        return kept[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flight, "release", remembered)
        yield


@pytest.fixture
def done(run: Any, configs: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    assert run("release", configs / "heron.yaml", "--gust", "1 m/s", "--json", "--out", "out") == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    return json.loads(printed.out)


def test_document_hangs_together(done: dict[str, Any]) -> None:
    release, reach, wind = done["release"], done["reach"], done["wind"]
    assert (wind["speed_m_s"], wind["from_deg"], wind["measured_at_m"]) == (3.0, 270.0, 10.0)
    assert wind["at_release_m_s"] == pytest.approx(3.0 * 8.0**0.143)
    assert done["advised"]
    assert release["distance_m"] == pytest.approx(hypot(release["north_m"], release["east_m"]))
    assert release["bearing_deg"] == pytest.approx(270.0)
    assert release["gust_miss_m"] == 10.0
    for name, ends in reach["bands"].items():
        assert ends["low"] < reach[name] < ends["high"], name
    # Shear lengthens the glide with the wind as it shortens that against it: 7 m in 300.
    assert reach["down_m"] - reach["up_m"] == pytest.approx(2 * reach["drift_east_m"], abs=8.0)
    circle = done["circle"]
    assert circle["turn_time_s"] == pytest.approx(360 / circle["turn_rate_deg_s"])
    assert circle["low_deg_s"] < circle["turn_rate_deg_s"] < circle["high_deg_s"]
    assert sum(leg["share_percent"] for leg in done["legs"]) == pytest.approx(100.0)
    assert [row["wind_m_s"] for row in done["winds"]] == list(range(int(wind["limit_m_s"]) + 1))
    assert done["flown"]["miss_m"] < release["target_radius_m"] == 25.0


def test_files_are_whole(done: dict[str, Any]) -> None:
    written = {path.name.removeprefix("heron_"): path for path in Path("out").iterdir()}
    assert set(written) == FILES
    assert written["release.png"].read_bytes().startswith(b"\x89PNG")
    with written["release_winds.csv"].open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["upwind_m"]) for row in rows] == pytest.approx(
        [row["upwind_m"] for row in done["winds"]], abs=1e-4
    )
    with written["release_path.csv"].open(newline="") as file:
        path = list(csv.DictReader(file))
    assert hypot(float(path[-1]["north_m"]), float(path[-1]["east_m"])) == pytest.approx(
        done["flown"]["miss_m"], abs=1e-3
    )
    with written["release_reach.csv"].open(newline="") as file:
        edge = list(csv.DictReader(file))
    assert -min(float(row["middle_east_m"]) for row in edge) == pytest.approx(done["reach"]["up_m"], abs=0.5)


@pytest.mark.parametrize(
    ("units", "size", "other"), [("metric", (148, 210), "ft"), ("imperial", (139.7, 215.9), "m")]
)
def test_card_is_one_small_page(
    run: Any,
    configs: Path,
    capsys: pytest.CaptureFixture[str],
    units: str,
    size: tuple[float, float],
    other: str,
) -> None:
    """A5 by ISO 216, or half a page of 8.5 by 11 in; both have steps, what fails and what stops you."""
    for name in ("heron", "pelican"):
        assert run("release", configs / f"{name}.yaml", "--units", units, "--out", "out") == 0
        card = pypdfium2.PdfDocument(io.BytesIO(Path(f"out/{name}_release_card.pdf").read_bytes()))
        assert len(card) == 1
        assert [25.4 / 72 * side for side in card[0].get_size()] == pytest.approx(size, abs=0.01)
        text = " ".join(card[0].get_textpage().get_text_range().split())
        for words in ("release card", "Let go ", " steps", "What stops you", "More wind than", "can injure",
                      "facing into the wind.", "straight into the wind from "):  # fmt: skip
            assert words in text, words
        answer = " ".join(capsys.readouterr().out.split()).partition(" Measure ")[0]
        failed = answer.partition("NOT KEPT: ")[2]
        assert bool(failed) == (name == "heron")
        assert ("Not kept" in text) == bool(failed)
        assert (f"release card Not kept: {failed}." in text) == bool(failed)
        assert not re.search(rf"\d {other}\b", text)


@pytest.mark.parametrize(("units", "other"), [("metric", r"\d (ft|kt|ft/s)\b"), ("imperial", r"\d m(/s)?\b")])
@pytest.mark.parametrize("name", ["heron", "wren", "pelican", "dipper", "kingfisher"])
def test_text_in_both_systems(
    run: Any, configs: Path, capsys: pytest.CaptureFixture[str], name: str, units: str, other: str
) -> None:
    assert run("release", configs / f"{name}.yaml", "--units", units, "--all") == 0
    printed = capsys.readouterr()
    everything = printed.out + printed.err
    assert not [line for line in everything.splitlines() if len(line) > 100]
    assert not re.search(other, everything)
    assert printed.out.startswith(f"{name} let go at ")
    assert printed.out.count("caution: ") == 4
    assert all(line.startswith(KINDS) for line in printed.err.splitlines())
    for words in ("safe", "legal"):
        assert words not in everything
    assert "file lacks: No gust is given" in printed.err


def test_first_line_says_what_is_not_kept(
    run: Any, configs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    heron = configs / "heron.yaml"
    assert run("release", heron, "--wind", "9 m/s", "--quiet") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "no release point; gliding straight it can land only downwind, " in said
    assert "NOT KEPT: the wind of 9.0 m/s is over its limit of " in said
    assert run("release", heron, "--wind", "20 mph", "--units", "imperial") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "in 17.4 kt (20.0 mph) of wind from 270 deg (W) at 33 ft above ground" in said
    assert "Wait for less wind: more height helps only where the wind is weaker up there" in said
    assert run("release", heron, "--target", "60 m, 120 m", "--quiet") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert re.search(r"NOT KEPT: the planned release is \d+ m off the point advised \(at most \d+ m\)", said)
    assert run("release", heron, "--target", "0 m, -170 m", "--quiet") == 0
    assert "beyond the low end of the reach" in " ".join(capsys.readouterr().out.split())
    assert run("release", heron, "--height", "51 m", "--quiet") == 0
    assert "no room to be off" in " ".join(capsys.readouterr().out.split())


def test_no_card_without_a_release_point(run: Any, configs: Path) -> None:
    assert run("release", configs / "heron.yaml", "--wind", "9 m/s", "--out", "out") == 0
    names = {path.name.removeprefix("heron_") for path in Path("out").iterdir()}
    assert names == FILES - {"release_card.pdf", "release_path.csv"}


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--height", "40 m"], "drop.height: given 40 m, too low for one circle"),
        (["--brake", "50 %"], "or pull more (--brake)"),
        (["--brake", "5 kg"], "--brake: "),
        (["--brake", "2 %"], "--brake: "),
        (["--gust", "-1 m/s"], "--gust: "),
        (["--target", "0 m, 900 m"], "out of reach even at the high end of the band; choose one within"),
        (["--target", "900 m"], "--target: given \"900 m\", not two numbers; use north and east"),
        (["--target", "3 s, 4 m"], "--target: given \"3 s\", a time; use a length"),
        (["--wind", "90 m/s"], "--wind: "),
        (["--wind-from", "north"], "--wind-from: "),
        (["--height", "50 km"], "--height: "),
    ],
)  # fmt: skip
def test_refusals(
    run: Any, configs: Path, capsys: pytest.CaptureFixture[str], options: list[str], told: str
) -> None:
    arguments = [f"{options[0]}={options[1]}"]
    assert run("release", configs / "heron.yaml", *arguments, "--out", "out") == 2
    printed = capsys.readouterr()
    assert told in printed.err
    assert (printed.out, len(printed.err.splitlines())) == ("", 1)
    assert not Path("out").exists()
