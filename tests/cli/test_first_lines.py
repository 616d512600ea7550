"""Line one of what a maker asks says what fails, in both systems; no line is wider than a page."""

from __future__ import annotations

import re

import pytest

pytestmark = pytest.mark.slow

COMMANDS = ("canopy", "templates", "cut", "lines", "glide")
DESIGNS = ("heron", "wren", "pelican", "dipper", "kingfisher")


@pytest.mark.parametrize("design", DESIGNS)
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_nothing_is_wider_than_a_page(run, configs, capsys, design, units):
    for command in COMMANDS:
        assert run(command, configs / f"{design}.yaml", "--units", units, "--all") == 0
        captured = capsys.readouterr()
        assert not [line for line in (captured.out + captured.err).splitlines() if len(line) > 100], command


@pytest.mark.parametrize(("units", "load"), [("metric", "43 N"), ("imperial", "10 lbf")])
@pytest.mark.parametrize("command", ["lines", "build"])
def test_a_weak_tab_is_in_line_one(run, configs, capsys, command, units, load):
    assert run(command, configs / "pelican.yaml", "--units", units, "--quiet") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"tab holds 1.4 times the snatch of {load} (wanted 2)" in said.partition("NOT KEPT: ")[2]


@pytest.mark.parametrize("command", ["lines", "cut"])
def test_what_is_kept_is_no_failure(run, configs, tmp_path, capsys, command):
    """With the fibre known the snatch has no band."""
    text = (configs / "heron.yaml").read_text(encoding="utf-8")
    assert "\nlines:\n" in text
    known = text.replace("\nlines:\n", "\nlines:\n  material: polyester\n")
    (tmp_path / "known.yaml").write_text(known, encoding="utf-8")
    assert run(command, tmp_path / "known.yaml", "--quiet") == 0
    assert "NOT KEPT" not in capsys.readouterr().out


@pytest.mark.parametrize(("units", "unit"), [("metric", "mm"), ("imperial", "in")])
def test_a_pack_that_is_too_long_is_in_line_one(run, configs, tmp_path, capsys, units, unit):
    text = (configs / "heron.yaml").read_text(encoding="utf-8")
    (tmp_path / "tight.yaml").write_text(text.replace("tube: 80 mm", "tube: 40 mm"), encoding="utf-8")
    assert run("cut", "tight.yaml", "--units", units, "--quiet") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "NOT KEPT: packed it takes" in said
    assert said.endswith(f" {unit}")


@pytest.mark.parametrize(("command", "told"), [("cut", False), ("lines", False), ("build", True)])
def test_brakes_are_warned_of_only_where_they_matter(run, configs, capsys, command, told):
    assert run(command, configs / "heron.yaml") == 0
    assert ("a brake bends the trailing edge" in " ".join(capsys.readouterr().err.split())) is told


def test_people_below_come_first_wherever_something_is_dropped(run, configs, capsys):
    assert run("build", configs / "wren.yaml") == 0
    said = capsys.readouterr().out
    start = "Do not start unless nobody is below"
    assert said.count(start) == 4
    for head in ("Test ladder: Balcony", "Test ladder: Drop from 20 m", "Checklist: before a drop"):
        after = said[said.index(head) :].splitlines()
        first = next(line for line in after if line.startswith("[ ] "))
        assert start in first


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_lines_without_load_are_in_line_one(run, configs, capsys, units):
    assert run("lines", configs / "pelican.yaml", "--units", units, "--quiet") == 0
    captured = capsys.readouterr()
    said = " ".join(captured.out.split()).partition("NOT KEPT: ")[2]
    count = int(re.search(r"(\d+) lines carry next to nothing in the glide", said).group(1))
    assert f"and {count - 4} more" in " ".join(captured.err.split())


@pytest.mark.parametrize("command", ["lines", "cut"])
def test_what_is_cut_with_another_line_is_no_piece(run, configs, capsys, command):
    """kingfisher's rows A and C run through: their upper parts are cut with the lower ones."""
    assert run(command, configs / "kingfisher.yaml") == 0
    said = capsys.readouterr().out
    row = [
        line.split()
        for line in said.splitlines()
        if line.replace("line: ", "").startswith(("A ", "A, upper"))
    ]
    upper = [words for words in row if "upper" in words]
    assert [words[2:4] for words in upper] == ([["in", "lower"]] if command == "lines" else [])
