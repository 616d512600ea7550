"""A canopy rigged so low that some such canopies do not glide: every command with bands says how many."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import Any

import pytest

from parasim.flight import uncertainty

DRAWN = 12
COMMANDS = ("turn", "flare", "landing --no-flare", "build")
"""Not `size`, which answers for the middle of the model's window where the file's rigging lies outside it."""


@pytest.fixture(scope="module")
def low(configs: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Heron at 3 deg, where the nose-down end of the range of moment shift has no glide."""
    text = (configs / "heron.yaml").read_text(encoding="utf-8")
    path = tmp_path_factory.mktemp("designs") / "low.yaml"
    path.write_text(text.replace("rigging_angle: -1 deg", "rigging_angle: 3 deg"), encoding="utf-8")
    return path


@pytest.fixture(autouse=True)
def _few_canopies(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(uncertainty, "DRAWS", DRAWN)


@pytest.mark.parametrize("command", COMMANDS)
def test_how_many_do_not_glide_is_told(command: str, run: Any, low: Path, capsys: pytest.CaptureFixture[str]):
    name, *options = shlex.split(command)
    assert run(name, low, *options, "--json") == 0
    printed = capsys.readouterr()
    document = json.loads(printed.out)
    assert "moment_shift" in document["bands_lost"]
    lost = document["no_glide_fraction"] * DRAWN
    assert lost == pytest.approx(round(lost))
    assert 1 <= lost < DRAWN / 2  # the glide as designed flies, so most that are near it do
    told = f"{100 * document['no_glide_fraction']:.2g} of 100 have none"
    assert any(told in caveat and "moment shift" in caveat for caveat in document["caveats"])


def test_it_is_printed(run: Any, low: Path, capsys: pytest.CaptureFixture[str]):
    assert run("landing", low, "--no-flare") == 0
    printed = capsys.readouterr()
    assert "of 100 have none, and the bands are those of the others" in printed.err + printed.out
