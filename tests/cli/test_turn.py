"""`parasim turn`: figures, documents, files, units, cautions, refusals; payload on a pole and swinging."""

import csv
import io
import json
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from math import pi, radians, tan
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import main
from parasim.flight.turn import turn as flight

KEYS = {
    "parasim", "name", "straight", "steady_turns", "turn_bands", "bands_lost", "no_glide_fraction",
    "steady_to_brake_fraction", "steady_to_low_brake_fraction", "steep_bank_deg", "spiral_brake_fraction",
    "reversal_brake_fraction", "wrong_way_deg_s", "growing_brake_fraction", "steps", "cautions", "caveats",
}  # fmt: skip
FILES = {"turn.csv", "turn_step.csv", "turn.json", "turn.png", "turn_step.png"}
DESIGNS = ("pelican", "stiff")

Done = tuple[dict[str, Any], Path, Path]


@pytest.fixture(scope="module", autouse=True)
def _each_design_once() -> Iterator[None]:
    """Turns are kept by design, so that printing one again costs nothing."""
    kept: dict[str, flight.Turn] = {}
    real = flight.turn

    def remembered(vehicle: Any) -> flight.Turn:
        name = vehicle.design.name
        if name not in kept:
            kept[name] = real(vehicle)
        return kept[name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flight, "turn", remembered)
        yield


@pytest.fixture(scope="module")
def files(configs: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Design files: the pelican as it is, and with its payload on a pole."""
    pelican = configs / "pelican.yaml"
    stiff = tmp_path_factory.mktemp("designs") / "stiff.yaml"
    text = pelican.read_text(encoding="utf-8").replace("name: pelican", "name: stiff")
    stiff.write_text(text.replace("payload:\n", "payload:\n  suspension: {hooks: stiff}\n"), encoding="utf-8")
    return {"pelican": pelican, "stiff": stiff}


@pytest.fixture(scope="module", params=DESIGNS)
def done(
    request: pytest.FixtureRequest, files: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> Done:
    """Document, directory and design file of one run."""
    directory, path = tmp_path_factory.mktemp("out"), files[request.param]
    with redirect_stdout(io.StringIO()) as out, redirect_stderr(io.StringIO()) as err:
        code = main(["turn", str(path), "--json", "--out", str(directory)])
    assert (code, err.getvalue()) == (0, "")
    return json.loads(out.getvalue()), directory, path


def test_document_has_the_keys_it_promises(done: Done) -> None:
    document, _, _ = done
    assert set(document) == KEYS | {"warnings", "files"}
    assert document["parasim"]["command"] == "turn"
    assert [band["right_brake_fraction"] for band in document["turn_bands"]] == [0.25, 0.5, 0.75, 1.0]


def test_turns_are_consistent(done: Done) -> None:
    """Rate, radius, time, speeds and height of each turn fit together; the left ones mirror the right."""
    turns = done[0]["steady_turns"]
    for one, other in zip(turns["right"], turns["left"], strict=True):
        assert one["turn_rate_deg_s"] == pytest.approx(-other["turn_rate_deg_s"], abs=1e-5)
        assert one["bank_deg"] == pytest.approx(-other["bank_deg"], abs=1e-5)
        assert (one["left_brake_fraction"], one["pull_mm"]) == (
            other["right_brake_fraction"],
            other["pull_mm"],
        )
    for turn in turns["right"][4:]:
        forward = (turn["airspeed_m_s"] ** 2 - turn["sink_m_s"] ** 2) ** 0.5
        rate = radians(abs(turn["turn_rate_deg_s"]))
        assert turn["radius_m"] == pytest.approx(forward / rate, rel=1e-4)
        assert turn["turn_time_s"] == pytest.approx(2 * pi / rate, rel=1e-4)
        assert turn["height_lost_per_turn_m"] == pytest.approx(turn["sink_m_s"] * turn["turn_time_s"])
        coordinated = forward**2 / (9.80665 * tan(abs(radians(turn["bank_deg"]))))
        assert turn["coordinated_radius_m"] == pytest.approx(coordinated, rel=1e-3)
    straight = turns["right"][0]
    assert (straight["radius_m"], straight["turn_time_s"], straight["height_lost_per_turn_m"]) == (None,) * 3


def test_bands_hold_their_figures(done: Done) -> None:
    for band in done[0]["turn_bands"]:
        assert sum(band["causes"].values()) == pytest.approx(1.0)
        assert 0.8 < band["uncalibrated_fraction"] <= 1.0
        assert band["low_deg_s"] <= band["turn_rate_deg_s"]
        if band["may_spiral"]:
            assert band["high_deg_s"] is None
        else:
            assert band["turn_rate_deg_s"] <= band["high_deg_s"]


def test_reversal_is_reported(done: Done) -> None:
    """The pelican turns the wrong way under a small brake: in the figures, in the document, in words."""
    document, _, _ = done
    rates = [turn["turn_rate_deg_s"] for turn in document["steady_turns"]["right"]]
    assert min(rates) < -0.05
    assert document["wrong_way_deg_s"] == pytest.approx(-min(rates))
    reversal = document["reversal_brake_fraction"]
    for turn in document["steady_turns"]["right"][1:]:
        assert (turn["turn_rate_deg_s"] < 0) == (turn["right_brake_fraction"] < reversal)
    words = f"Below {100 * reversal:.0f} % of travel a brake turns it the wrong way"
    assert any(words in caveat for caveat in document["caveats"])


def test_only_a_hanging_payload_swings(done: Done) -> None:
    document, _, path = done
    for step in document["steps"]:
        moved = [step[f"payload_{name}_deg"] for name in ("swing", "twist", "lean")]
        assert all(angle == 0.0 for angle in moved) if path.name == "stiff.yaml" else min(moved) > 0.01


def test_files_are_whole(done: Done) -> None:
    document, directory, _ = done
    written = {each.name: each for each in directory.iterdir()}
    stem = document["name"]
    assert set(written) == {Path(name).name for name in document["files"]}
    assert set(written) == {f"{stem}_{name}" for name in FILES}
    for name, each in written.items():
        content = each.read_bytes()
        assert content.startswith(b"\x89PNG") if name.endswith(".png") else len(content) > 500
    assert json.loads(written[f"{stem}_turn.json"].read_text())["steps"] == document["steps"]


def test_csv_repeats_the_document(done: Done) -> None:
    document, directory, _ = done
    rows = list(csv.DictReader((directory / f"{document['name']}_turn.csv").read_text().splitlines()))
    turns = [*document["steady_turns"]["right"], *document["steady_turns"]["left"]]
    for row, turn in zip(rows, turns, strict=True):
        assert set(row) == set(turn)
        assert row.pop("stable") == str(turn["stable"])
        for key, value in row.items():
            assert (turn[key] is None) if value == "" else float(value) == pytest.approx(turn[key], abs=1e-5)


def test_step_csv_ends_where_the_document_says(done: Done) -> None:
    document, directory, _ = done
    rows = list(csv.DictReader((directory / f"{document['name']}_turn_step.csv").read_text().splitlines()))
    for step in document["steps"]:
        own = [row for row in rows if float(row["right_brake_fraction"]) == step["right_brake_fraction"]]
        assert float(own[-1]["time_s"]) == 15.0
        assert float(own[-1]["height_lost_m"]) == pytest.approx(step["height_lost_m"], abs=1e-3)
        assert float(own[-1]["turn_rate_deg_s"]) == pytest.approx(step["settled_deg_s"], abs=0.05)


@pytest.mark.parametrize(
    ("units", "shown", "other"), [("metric", " m/s", " ft"), ("imperial", " ft/s", " m/s")]
)
def test_text(
    units: str, shown: str, other: str, files: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["turn", str(files["pelican"]), "--units", units]) == 0
    printed = capsys.readouterr()
    text = printed.out
    assert main(["turn", str(files["pelican"]), "--json"]) == 0
    last = json.loads(capsys.readouterr().out)["steady_turns"]["right"][-1]
    # 1 ft = 0.3048 m.
    radius = last["radius_m"] / (0.3048 if units == "imperial" else 1.0)
    rate, said = last["turn_rate_deg_s"], " ".join(text.split())
    assert f"at 100 % of one brake turns at {rate:.0f} deg/s (" in said
    assert f"on a radius of {radius:.0f} {'ft' if units == 'imperial' else 'm'}, losing" in said
    assert "NOT KEPT: turns AWAY from a brake of less than 28 %" in said.partition("steady")[0]
    assert "Right brake, steady" in text
    assert "Left brake, steady" not in text
    assert "the left brake does the same to the left" in said
    assert "rests on factors that no measurement of this canopy has settled" in said
    assert "it turns AWAY from the braked side" in said
    assert "yaw damping" in text
    assert text.count("caution: ") == 4
    assert "spirals it down" in said
    warned = " ".join(printed.err.split())
    assert "calibration, not validation" in warned
    assert f"({'49.9 ft' if units == 'imperial' else '15.2 m'} radius at " in warned  # 15.2 m / 0.3048
    assert shown in text
    assert other not in text
    assert "The payload swings up to " in said


def test_text_of_a_payload_on_a_pole(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["turn", str(files["stiff"])]) == 0
    assert "The payload swings" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["nowhere.yaml"], "nowhere.yaml"),
        (["{pelican}", "--units", "furlongs"], "furlongs"),
        (["{pelican}", "--out", "{taken}"], "is a file; give the name of a directory"),
        (["{pelican}", "--brake", "0.5"], "--brake"),
        ([], "DESIGN"),
    ],
)
def test_refusals(
    arguments: list[str],
    message: str,
    files: dict[str, Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("")
    filled = [each.format(pelican=files["pelican"], taken=taken) for each in arguments]
    assert main(["turn", *filled]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert message in printed.err
    assert len(printed.err.splitlines()) == 1
    assert taken.read_text() == ""


def test_hanging_that_leaves_no_glide_is_told(
    reference_text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rigged at 6 deg the reference design would tuck with a payload that swings."""
    path = tmp_path / "tucks.yaml"
    path.write_text(reference_text.replace("hooks: stiff", "hooks: one point"), encoding="utf-8")
    assert main(["turn", str(path)]) == 2
    printed = capsys.readouterr()
    assert (printed.out, len(printed.err.splitlines())) == ("", 1)
    assert "no stable steady glide" in printed.err
    assert "try less rigging angle" in printed.err
