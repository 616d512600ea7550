"""`parasim scatter` over a stand-in for the compiled core: options, files, units, refusals, interruption."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import main
from parasim.cli.output import Output
from parasim.flight.drop import CAUTIONS
from parasim.scatter import ensemble, ensemble_model
from parasim.scatter.ensemble_model import FACTORS
from parasim.scatter.inputs import FLIGHT_INPUTS
from tests import ensemble_stand_in
from tests.texts import flowing

ROOT = Path(__file__).parents[2]
FILES = {
    "landings.csv", "scatter.json", "scatter_map.png", "scatter_landing.png", "scatter_sensitivity.png",
}  # fmt: skip
MAPS = {"footprint.geojson", "footprint.kml"}


@pytest.fixture(autouse=True)
def core(monkeypatch: pytest.MonkeyPatch) -> None:
    """The stand-in, in place of the compiled core."""
    monkeypatch.setattr(ensemble_model, "build_ensemble_model", ensemble_stand_in.build_ensemble_model)
    monkeypatch.setattr(ensemble, "fly", ensemble_stand_in.fly)


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Empty pictures, which take most of the time, where they are not what is tested."""
    monkeypatch.setattr(Output, "add_figure", lambda self, name, figure: self.add(name, b""))


def run(configs: Path, *options: str, name: str = "heron") -> int:
    return main(["scatter", str(configs / f"{name}.yaml"), "--workers", "1", *options])


def document(capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


@pytest.mark.parametrize("name", ["heron", "wren", "pelican"])
def test_document_and_files(
    request: pytest.FixtureRequest,
    name: str,
    configs: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    if name != "heron":
        request.getfixturevalue("undrawn")
    assert (
        run(configs, "--drops", "300", "--at", "47.1, 11.2", "--json", "--out", str(tmp_path), name=name) == 0
    )
    found = document(capsys)
    assert {path.name for path in tmp_path.iterdir()} == {f"{name}_{file}" for file in FILES | MAPS}
    assert found["cautions"] == list(CAUTIONS)
    assert found["complete"]
    assert found["drops_flown_count"] == 300
    assert sum(each["count"] for each in found["outcomes"]) == 300
    assert [each["level_percent"] for each in found["footprint"]["regions"]] == [50, 90, 99]
    assert found["figures"]["sink_m_s"]["p5"] < found["figures"]["sink_m_s"]["p95"]
    rows = list(csv.DictReader((tmp_path / f"{name}_landings.csv").read_text().splitlines()))
    assert len(rows) == 300 - sum(found["failed_counts"].values())
    assert {row["outcome"] for row in rows} <= {"opened", "late", "too late", "unopened"}
    assert len(found["spreads"]) == len(FLIGHT_INPUTS) + len(FACTORS)


def test_same_seed_same_bytes(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = []
    for workers in ("1", "3"):
        assert run(configs, "--drops", "450", "--workers", workers, "--json") == 0
        told.append(capsys.readouterr().out)
    assert told[0] == told[1]


def test_text_in_both_units(configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = ["--target", "0 m, -150 m", "--radius", "30 m", "--sobol", "8"]
    assert run(configs, "--drops", "300", *target) == 0
    printed = capsys.readouterr()
    assert all(f"caution: {caution}" in flowing(printed.out) for caution in CAUTIONS)
    assert "come down within 30 m of it" in flowing(printed.out)
    assert "Sobol indices" in printed.out
    assert "influence (-1 to +1)" in printed.out
    assert "not measured" in flowing(printed.err)
    assert run(configs, "--drops", "300", *target, "--units", "imperial") == 0
    assert "come down within 98 ft of it" in flowing(capsys.readouterr().out)


@pytest.mark.usefixtures("undrawn")
def test_no_position_no_maps(configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(configs, "--drops", "120", "--out", str(tmp_path)) == 0
    assert {path.name for path in tmp_path.iterdir()} == {f"heron_{file}" for file in FILES}
    assert "No GeoJSON and no KML: the site has no position" in flowing(capsys.readouterr().err)


@pytest.mark.usefixtures("undrawn")
def test_failed_members_are_saved_and_can_be_replayed(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = ensemble_stand_in.build_ensemble_model

    def failing(*arguments: Any, **named: Any) -> Any:
        from dataclasses import replace

        return replace(real(*arguments, **named), fail_above=65.0)

    monkeypatch.setattr(ensemble_model, "build_ensemble_model", failing)
    assert run(configs, "--drops", "200", "--out", str(tmp_path)) == 0
    assert "drops did not land" in flowing(capsys.readouterr().err)
    rows = list(csv.DictReader((tmp_path / "heron_failed.csv").read_text().splitlines()))
    assert rows
    assert {row["status"] for row in rows} == {"motion not finite"}
    row = rows[0]
    assert row["north_m"] == ""
    assert run(configs, "--replay", row["number"], "--json") == 0
    found = document(capsys)
    for key in ("release_height_m", "heading_deg", "payload_mass_kg", "left_trim_fraction", "lift_factor"):
        assert found["inputs"][key] == pytest.approx(float(row[key]), abs=1e-5)
    assert found["touchdown"]["sink_m_s"] > 1
    assert run(configs, "--replay", row["number"]) == 0
    said = capsys.readouterr().out
    assert f"drop number {row['number']} of seed 1: opened" in said
    assert "member" not in said


@pytest.mark.usefixtures("undrawn")
def test_replay_of_one_that_falls(configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(configs, "--drops", "600", "--out", str(tmp_path)) == 0
    capsys.readouterr()
    rows = list(csv.DictReader((tmp_path / "heron_landings.csv").read_text().splitlines()))
    row = next(row for row in rows if row["outcome"] == "unopened")
    assert run(configs, "--replay", row["number"], "--json") == 0
    found = document(capsys)
    assert found["outcome"] == "unopened"
    for key in ("sink_m_s", "ground_speed_m_s", "north_m", "time_aloft_s"):
        assert found["touchdown"][key] == pytest.approx(float(row[key]), abs=1e-4)
    late = next(row for row in rows if row["outcome"] == "late")
    assert run(configs, "--replay", late["number"], "--json") == 0
    found = document(capsys)
    assert found["glide_begins_with"]["release_height_m"] < found["inputs"]["release_height_m"]


REFUSED = [
    (["--at", "47.1"], '--at: given "47.1", not two numbers'),
    (["--at", "97.1, 3"], "--at: given"),
    (["--at", "north, 3"], "--at: given"),
    (["--target", "5 m"], '--target: given "5 m", not two numbers'),
    (["--target", "5 kg, 3 m"], '--target: given "5 kg", a mass'),
    (["--radius", "5 m"], "--radius: near to what? add --target"),
    (["--target", "0, 0", "--radius", "0 m"], '--radius: given "0 m", too small'),
    (["--sobol", "100"], '--sobol: given "100", not a power of two'),
    (["--height", "60 kg"], '--height: given "60 kg", a mass'),
    (["--drops", "0"], "Invalid value for '--drops'"),
    (["--pool", "slaves"], "Invalid value for '--pool'"),
    (["--cluster", "tcp://127.0.0.1:9"], '--cluster: given "tcp://127.0.0.1:9", no scheduler answers'),
]


@pytest.mark.parametrize(("options", "told"), REFUSED, ids=[" ".join(options) for options, _ in REFUSED])
def test_refusals(
    options: list[str], told: str, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(configs, "--drops", "10", *options, "--out", str(tmp_path / "out")) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith(f"parasim: {told}")
    assert printed.err.count("\n") == 1
    assert not list(tmp_path.glob("out/*.*"))


def test_resume_wants_something_to_resume(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(configs, "--drops", "10", "--resume") == 2
    assert "--resume: needs --out" in capsys.readouterr().err
    assert run(configs, "--drops", "10", "--resume", "--out", str(tmp_path)) == 2
    assert "--resume: nothing to go on with" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


STOPS = """
import signal, sys, threading
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell that runs tests behind it has it ignored
from dataclasses import replace
from parasim.cli.main import main
from parasim.scatter import ensemble, ensemble_model
from tests import ensemble_stand_in as core
ensemble_model.build_ensemble_model = core.build_ensemble_model
def fly(model, inputs, *, number, seed):
    if number.min() >= 400:
        threading.Event().wait()  # for the interrupt, however long the machine takes to send it
    return core.fly(model, inputs, number=number, seed=seed)
ensemble.fly = fly
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.usefixtures("undrawn")
def test_interrupted_and_resumed(configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A real interrupt from outside: what is done is written as partial, and a resumed run completes it."""
    out = tmp_path / "out"
    arguments = [
        "scatter",
        str(configs / "heron.yaml"),
        "--drops",
        "1200",
        "--workers",
        "1",
        "--out",
        str(out),
    ]
    with subprocess.Popen(
        [sys.executable, "-c", STOPS, *arguments], cwd=ROOT, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as process:  # fmt: skip
        parts = out / "scatter_parts"
        while len(list(parts.glob("*.npz"))) < 4 and process.poll() is None:
            time.sleep(0.05)
        process.send_signal(signal.SIGINT)
        try:
            printed, told = process.communicate(timeout=60)
        finally:
            process.kill()  # one that did not heed it would be waited for without end
    assert process.returncode == 130
    assert "parasim: interrupted:" in told
    assert "add --resume" in told
    assert printed.startswith("PARTIAL: heron")
    partial = json.loads((out / "heron_scatter.json").read_text())
    assert not partial["complete"]
    assert partial["drops_flown_count"] == 400
    assert any(caveat.startswith("Partial: ") for caveat in partial["caveats"])
    assert run(configs, "--drops", "1200", "--seed", "2", "--resume", "--out", str(out)) == 2
    assert "belong to another run (seed differ)" in capsys.readouterr().err
    assert run(configs, "--drops", "1200", "--resume", "--out", str(out)) == 0
    assert not parts.exists()
    assert run(configs, "--drops", "1200", "--out", str(tmp_path / "whole")) == 0
    assert (out / "heron_landings.csv").read_bytes() == (
        tmp_path / "whole" / "heron_landings.csv"
    ).read_bytes()


def test_help_shows_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["scatter", "--help"]) == 0
    assert "Example: parasim scatter" in capsys.readouterr().out
