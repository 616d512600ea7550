"""``--units imperial`` is complete: no metric unit in what is printed, warned of and written for people."""

from __future__ import annotations

import re

import pypdfium2
import pytest

METRIC = re.compile(r"\b\d+(?:\.\d+)? (?:mm|cm|m|km|m/s|m²|g|kg|N|J|L|kg/m³|N m|kg cm|hPa|K)\b(?![\w/])")
OF_GRAVITY = re.compile(r"\bat (?:opening )?\d+ g\b|\(2 g s\)")
LETTER, A4 = (612, 792), (595.3, 841.9)
"""[1/72 in] 8.5 x 11 in; A4 of ISO 216, from memory."""
SHEETS = {
    "lines": "line_sheet.pdf",
    "build": "build.pdf",
    "templates": "templates_{paper}.pdf",
}


def metric_in(text: str) -> list[str]:
    return METRIC.findall(OF_GRAVITY.sub("", text))


@pytest.mark.parametrize("design", ["heron", "wren", "pelican", "dipper", "kingfisher"])
@pytest.mark.parametrize("command", ["canopy", "lines", "cut", "templates", "build"])
def test_what_a_maker_reads_is_imperial(run, configs, capsys, design, command):
    assert run(command, configs / f"{design}.yaml", "--units", "imperial", "--all") == 0
    captured = capsys.readouterr()
    assert metric_in(captured.out + captured.err) == []


@pytest.mark.parametrize("command", ["glide", "drag", "drop", "opening", "landing", "turn", "servo"])
def test_so_is_what_a_flight_says(run, configs, capsys, command):
    options = ["--no-flare"] if command == "landing" else []
    assert run(command, configs / "heron.yaml", *options, "--units", "imperial", "--all") == 0
    captured = capsys.readouterr()
    assert metric_in(captured.out + captured.err) == []


def test_the_note_on_another_glide_follows_the_units(run, configs, capsys):
    """1 ft is 0.3048 m."""
    sinks = {}
    for units, unit in (("metric", "m/s"), ("imperial", "ft/s")):
        assert run("drag", configs / "heron.yaml", "--units", units) == 0
        said = " ".join(capsys.readouterr().err.split())
        sinks[units] = float(re.search(rf"another stable glide .* \(sink (\S+) {unit}\)", said).group(1))
    assert 0.3048 * sinks["imperial"] == pytest.approx(sinks["metric"], abs=0.07)


@pytest.mark.parametrize("command", SHEETS)
@pytest.mark.parametrize(("units", "paper", "size"), [("metric", "a4", A4), ("imperial", "letter", LETTER)])
def test_pages_are_on_the_paper_of_their_units(run, configs, tmp_path, command, units, paper, size):
    assert run(command, configs / "heron.yaml", "--units", units, "--out", "out") == 0
    document = pypdfium2.PdfDocument(tmp_path / "out" / f"heron_{SHEETS[command].format(paper=paper)}")
    assert all(sorted(page.get_size()) == pytest.approx(size, abs=0.1) for page in document)
    text = "\n".join(page.get_textpage().get_text_bounded() for page in document)
    if command != "templates":  # their check bars are of either system
        assert bool(metric_in(text)) is (units == "metric")


@pytest.mark.parametrize("command", ["build", "templates"])
def test_paper_that_is_asked_for_wins(run, configs, tmp_path, command):
    options = ["--paper", "a4", "--units", "imperial", "--out", "out"]
    assert run(command, configs / "heron.yaml", *options) == 0
    document = pypdfium2.PdfDocument(tmp_path / "out" / f"heron_{SHEETS[command].format(paper='a4')}")
    assert sorted(document[0].get_size()) == pytest.approx(A4, abs=0.1)


def test_a_tape_measure_has_sixteenths(run, configs, capsys):
    """1.10 m is 43 5/16 in, 0.50 m 19 11/16 in, 20 mm 13/16 in, 120 mm 4 3/4 in."""
    told = {
        "canopy": ("flat span 43 5/16 in", "root chord 19 11/16 in"),
        "build": (
            "span along the arc, bottom skin 43 5/16 in ± 3/16 in",
            "stitching to loop end 13/16 in ± 1/16",
        ),
        "cut": ("It has 4 3/4 in of length", "59 1/16 in wide"),
        "glide": ("An error of 3/16 in in the rear row", "How the payload hangs, changed by 3/8 in"),
    }
    for command, words in told.items():
        assert run(command, configs / "heron.yaml", "--units", "imperial") == 0
        said = " ".join(capsys.readouterr().out.split())
        assert all(each in said for each in words), command
