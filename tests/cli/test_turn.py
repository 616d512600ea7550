"""The command turn."""

import json
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture(scope="module")
def heron_file(configs: Path) -> Path:
    return configs / "heron.yaml"


def test_text_json_and_files(run: Any, heron_file: Path, capsys):
    assert run("turn", heron_file, "--out", "out") == 0
    printed = capsys.readouterr()
    assert "Right brake, steady" in printed.out
    assert "Left brake, steady" in printed.out
    assert "calibration, not validation" in printed.out + printed.err
    found = json.loads((Path("out") / "turn.json").read_text(encoding="utf-8"))
    assert found["parasim"]["command"] == "turn"
    assert found["cautions"]
    names = {path.name for path in Path("out").iterdir()}
    assert names == {"turn.json", "turn.csv", "turn_step.csv", "turn.png", "turn_step.png"}
    assert all((Path("out") / name).stat().st_size > 500 for name in names)


def test_bad_input(run: Any, heron_file: Path, capsys):
    assert run("turn", heron_file, "--units", "furlongs") == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert run("turn", "nowhere.yaml") == 2
    assert "nowhere.yaml" in capsys.readouterr().err
