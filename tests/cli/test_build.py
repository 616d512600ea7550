"""``parasim build``: text, files, JSON, and refusals in one line."""

from __future__ import annotations

import json
import re

import pypdfium2
import pytest

OUT = {"heron_build.md", "heron_build.json", "heron_build.pdf"}


def test_it_writes_everything(run, configs, tmp_path, capsys):
    assert run("build", configs / "heron.yaml", "--out", "sheet", "--paper", "letter") == 0
    assert {path.name for path in (tmp_path / "sheet").iterdir()} == OUT
    captured = capsys.readouterr()
    said = captured.out
    assert said.startswith("heron: 25 steps to build it")
    assert "[ ] 1. Cut all pieces" in said
    assert "By hand: Bottom skin at ribs 1 to 15, the last 42 mm" in said
    assert "steady glide: sink" in said
    assert said.count("caution:") == 3
    assert "model: " in captured.err
    markdown = (tmp_path / "sheet" / "heron_build.md").read_text(encoding="utf-8")
    assert markdown.count("- [ ] **") == 25
    assert "| 01L-A+B and 15R-A+B | 446 mm | ± 2 mm |  |" in markdown
    document = pypdfium2.PdfDocument(tmp_path / "sheet" / "heron_build.pdf")
    assert document[0].get_size() == pytest.approx((612, 792))
    assert f"page 1 of {len(document)}" in document[0].get_textpage().get_text_range()


def test_json_agrees_with_the_other_commands(run, configs, capsys):
    def document(command: str) -> dict:
        assert run(command, configs / "heron.yaml", "--json") == 0
        return json.loads(capsys.readouterr().out)

    built, lines, glide = document("build"), document("lines"), document("glide")
    steps = {step["key"]: step for step in built["steps"]}
    finished = {line["label"]: line["finished_mm"] for line in lines["lines"]}
    for figure in steps["check_lines"]["figures"]:
        for label in figure["what"].split(" and "):
            assert figure["expected_mm"] == pytest.approx(finished.pop(label), abs=0.001)
    assert not finished
    longer = {(d["rib"], one["row"]): one["longer_mm"] for d in lines["differentials"] for one in d["others"]}
    told = [f for f in steps["check_rigging"]["figures"] if "longer than" in f["what"]]
    for figure in told:
        rib, row = re.match(r"ribs (\d+) and \d+: (\w+) longer", figure["what"]).groups()
        assert figure["expected_mm"] == pytest.approx(longer[int(rib), row], abs=0.001)
    high = {figure["what"]: figure for figure in built["rungs"][-1]["figures"]}
    assert high["steady glide: sink"]["expected_m_s"] == pytest.approx(glide["sink_m_s"])
    assert high["steady glide: glide ratio"]["glide_ratio"] == pytest.approx(glide["glide_ratio"])
    assert high["steady glide: sink"]["low_m_s"] == pytest.approx(glide["bands"]["sink_m_s"]["low"])
    mass = next(f for f in steps["weigh_all"]["figures"] if f["what"].startswith("all-up"))
    assert mass["expected_kg"] == pytest.approx(glide["mass_kg"])
    assert built["cautions"]
    assert built["caveats"]


def test_every_step_names_steps_before_it(run, configs, capsys):
    assert run("build", configs / "pelican.yaml", "--json") == 0
    document = json.loads(capsys.readouterr().out)
    done: list[str] = []
    for step in document["steps"]:
        assert set(step["after"]) <= set(done)
        done.append(step["key"])
    assert "stabilisers" in done
    assert [one["key"] for one in document["checklists"]] == ["pre_pack", "pre_drop", "after_landing"]


def test_imperial_and_nothing_written_without_out(run, configs, tmp_path, capsys):
    assert run("build", configs / "wren.yaml", "--units", "imperial") == 0
    said = capsys.readouterr().out
    assert "Drop from 66 ft" in said
    assert "± 1/16 in" in said
    assert not re.search(r"\d mm\b", said)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--paper", "a3"), "a3"),
        (("--out", "taken"), "taken is a file"),
        (("--units", "feet"), "feet"),
        (("--steps", "3"), "--steps"),
    ],
)
def test_bad_options_take_one_line(run, configs, tmp_path, capsys, options, told):
    (tmp_path / "taken").write_text("a file")
    assert run("build", configs / "wren.yaml", *options) == 2
    captured = capsys.readouterr()
    assert told in captured.err
    assert captured.err.count("\n") == 1
    assert not captured.out
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "count: 2, diameter: 7 %",
            "count: 9, diameter: 9 %",
            "bad.yaml: canopy.crossports: given 9 of 29 mm",
        ),
        ("mass: 0.35 kg", "mass: 0.35 m", "bad.yaml:10: payload.mass"),
    ],
)
def test_a_design_that_cannot_be_built_is_refused(run, configs, tmp_path, capsys, old, new, told):
    text = (configs / "wren.yaml").read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "bad.yaml").write_text(text.replace(old, new), encoding="utf-8")
    assert run("build", "bad.yaml", "--out", "sheet") == 2
    captured = capsys.readouterr()
    assert captured.err.startswith(told)
    assert captured.err.count("\n") == 1
    assert not (tmp_path / "sheet").exists()


def test_help_has_an_example(run, capsys):
    assert run("build", "--help") == 0
    assert "Example: parasim build" in capsys.readouterr().out
