"""``parasim learn`` prints, writes and refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from parasim.config.loader import load_design
from tests.texts import flowing

FLOWN = Path(__file__).parents[1] / "data/flown.yaml"


def test_text_and_files(run: Any, configs: Path, capsys: Any) -> None:
    before = (configs / "heron.yaml").read_bytes()
    assert run("learn", configs / "heron.yaml", FLOWN, "--out", "out") == 0
    printed = capsys.readouterr()
    assert printed.out.startswith("heron, fitted to 6 measurements on 2 flights")
    assert "caution: Local rules" in printed.out
    assert sorted(path.name for path in Path("out").iterdir()) == [
        "heron_fitted.yaml", "heron_flight_sheet.pdf", "heron_learn.json", "heron_learn.png",
        "heron_learn_flown.csv", "heron_learn_numbers.csv", "heron_notes.yaml",
    ]  # fmt: skip
    assert (configs / "heron.yaml").read_bytes() == before
    fitted = load_design("out/heron_fitted.yaml")
    assert fitted.calibration.moment_shift.source == "fitted to 2 flights"
    assert run("glide", "out/heron_fitted.yaml") == 0
    assert "Calibration: fitted to 2 flights: 9 numbers; else default." in flowing(capsys.readouterr().out)


def test_the_fitted_design_is_not_written_over(run: Any, configs: Path, capsys: Any) -> None:
    assert run("learn", configs / "heron.yaml", FLOWN, "--out", "out", "--quiet") == 0
    capsys.readouterr()
    kept = Path("out/heron_fitted.yaml").read_bytes()
    assert run("learn", "out/heron_fitted.yaml", FLOWN, "--out", "out") == 2
    printed = capsys.readouterr()
    assert (
        printed.err == "parasim: --out: out/heron_fitted.yaml is the design itself; give another directory\n"
    )
    assert Path("out/heron_fitted.yaml").read_bytes() == kept
    assert run("learn", "out/heron_fitted.yaml", FLOWN) == 0
    printed = capsys.readouterr()
    assert "would count twice" in flowing(printed.err)


@pytest.mark.parametrize(("units", "width"), [("metric", 595), ("imperial", 612)])
def test_the_sheet_without_notes(run: Any, configs: Path, capsys: Any, units: str, width: int) -> None:
    """A4 is 595 points wide, letter 612 (ISO 216, ANSI Y14.1, from memory)."""
    assert run("learn", configs / "wren.yaml", "--units", units, "--out", "out") == 0
    assert capsys.readouterr().out.startswith("wren: ")
    assert not Path("out/wren_fitted.yaml").exists()
    document = pypdfium2.PdfDocument("out/wren_flight_sheet.pdf")
    assert document[0].get_size()[0] == pytest.approx(width, abs=1)
    text = " ".join(flowing(page.get_textpage().get_text_bounded()) for page in document)
    for words in (
        "Clock: the logger",
        "Zero height",
        "A timed descent, brakes released",
        "Caution: ",
        "measured",
    ):
        assert words in text
    assert "..." in Path("out/wren_notes.yaml").read_text(encoding="utf-8")


def test_json_alone_on_stdout(run: Any, configs: Path, capsys: Any) -> None:
    assert run("learn", configs / "heron.yaml", FLOWN, "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["parasim"]["command"] == "learn"
    assert len(found["measurements"]) == 6


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("flights:\n  - name: a\n    measured: [{sink: 3 kg, error: 1 m/s}]\n", "measured.0.sink: given"),
        ("flights: 3\n", "flights: given 3, not a list"),
        (
            "flights:\n  - name: a\n    mass: 0.08 kg\n    by_hand: [{height_lost: 9, in: 3}]\n",
            "mass: given 0.08",
        ),
    ],
)
def test_bad_notes_are_a_line(
    run: Any, configs: Path, tmp_path: Path, capsys: Any, text: str, told: str
) -> None:
    (tmp_path / "bad.yaml").write_text(text, encoding="utf-8")
    assert run("learn", configs / "heron.yaml", "bad.yaml", "--out", "out") == 2
    printed = capsys.readouterr()
    assert printed.err.startswith("bad.yaml")
    assert told in printed.err
    assert len(printed.err.splitlines()) == 1
    assert printed.out == ""
    assert not Path("out").exists()


def test_no_notes_file_is_a_line(run: Any, configs: Path, capsys: Any) -> None:
    assert run("learn", configs / "heron.yaml", "none.yaml") == 2
    assert "none.yaml: no such file" in capsys.readouterr().err


def test_the_same_notes_twice_are_a_line(run: Any, configs: Path, capsys: Any) -> None:
    assert run("learn", configs / "heron.yaml", FLOWN, FLOWN) == 2
    printed = capsys.readouterr()
    assert "already in flown.yaml: it would count twice" in printed.err
    assert len(printed.err.splitlines()) == 1
