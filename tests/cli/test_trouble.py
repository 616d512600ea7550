"""``parasim trouble`` lists, answers, writes and refuses."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from parasim.flight.trouble.symptom import SYMPTOMS

METRIC = re.compile(r"\d (mm|cm²|m/s|m|g|kg|N)\b")


def test_without_a_symptom_it_lists_them(run: Any, configs: Path, capsys):
    assert run("trouble", configs / "heron.yaml", "--out", "out") == 0
    printed = capsys.readouterr().out
    rows = printed.splitlines()
    for symptom in SYMPTOMS:
        assert sum(row.startswith(f"{symptom.name}  ") for row in rows) == 1, symptom.name
    assert max(map(len, rows)) <= 100
    assert [path.name for path in Path("out").iterdir()] == ["heron_trouble.json"]


def test_a_turn_in_words_and_files(run: Any, configs: Path, capsys):
    asked = ("trouble", configs / "heron.yaml", "turns", "left", "2", "deg/s", "--out", "out")
    assert run(*asked) == 0
    printed = capsys.readouterr()
    first = " ".join(printed.out.partition("\n\n")[0].split())
    begins, _, size = first.partition(" most likely from: ")
    assert begins == "heron turns left 2.0 deg/s"
    assert re.search(r", \d+ \S+ \(\d+ to \d+ \S+; [\d.]+ times the likely\)", size)
    rows = printed.out.splitlines()
    assert max(map(len, rows)) <= 100
    listed = [row for row in rows if re.match(r"[ \d]\d  ", row)]
    assert len(listed) >= 12
    assert all(row.endswith(("computed", "practice")) for row in listed)
    details = printed.out[printed.out.index("\n1. ") :]
    assert details.count("  measure: ") == details.count("  do: ") == len(listed)
    assert details.count("  COMPUTED: ") + details.count("  COMMON PRACTICE") == len(listed)
    assert "not by less than 60 mm" in " ".join(details.split())
    assert "A cause found here is a candidate, computed, not flown" in " ".join(details.split())
    assert "file lacks: Brake lift, brake drag and yaw damping were set by one second-hand" in printed.err
    assert not re.search(r"\bsafe|\blegal", printed.out + printed.err)
    names = ["heron_trouble.json", "heron_trouble.md", "heron_trouble.png"]
    assert sorted(path.name for path in Path("out").iterdir()) == names
    saved = json.loads(Path("out/heron_trouble.json").read_text())
    assert saved["symptom"] == "turns left 2.0 deg/s"
    assert saved["figure"]["figure_deg_per_s"]["level"] == pytest.approx(2.0)
    times = [check["times"] for check in saved["checks"] if check["plausible"] and not check["doubt"]]
    assert times == sorted(times)
    assert Path("out/heron_trouble.md").read_text().count("- [ ] ") == len(listed)


@pytest.mark.parametrize("symptom", ["dives 10 ft/s", "opens hard", "one side collapses", "will not flare"])
def test_imperial_is_complete(run: Any, configs: Path, capsys, symptom):
    assert run("trouble", configs / "dipper.yaml", symptom, "--units", "imperial") == 0
    printed = capsys.readouterr()
    for line in printed.out.splitlines():
        assert not METRIC.search(line), line
    assert re.search(r"\d (in|ft/s|kt|lbf|oz)\b", printed.out)
    assert max(map(len, (printed.out + printed.err).splitlines())) <= 100


def test_the_first_line_alone(run: Any, configs: Path, capsys):
    assert run("trouble", configs / "heron.yaml", "rocks in pitch", "--quiet") == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert printed.startswith(
        "heron rocks in pitch by no single error of the sizes sought: look first for gusts"
    )


def test_the_first_sentence_and_the_list_agree(run: Any, configs: Path, capsys):
    """What no likely error does: the first of the list first, and the other cause with its number."""
    assert run("trouble", configs / "heron.yaml", "turns left 10 deg/s") == 0
    printed = capsys.readouterr().out
    first = " ".join(printed.partition("\n\n")[0].split())
    listed = dict(re.findall(r"^(\d+)\. (.*)$", printed, flags=re.MULTILINE))
    assert first.startswith(
        f"heron turns left 10.0 deg/s: look first for {listed['1']}; no error computed does"
    )
    number, cause = re.search(r"nearest is number (\d+), ([^,]*), \d+ cm²", first).groups()
    assert listed[number] == cause


@pytest.mark.parametrize(
    ("symptom", "told"),
    [
        ("wobbles", "not a symptom known here; use turns left, turns right, dives, hangs back, rocks, "),
        ("turns", "could be several; use turns left, turns right"),
        ("turns left 10", '10 of what? write "turns left 10 deg/s", or "turns left 36 s" for the time of'),
        ("turns left 10 kg", "10 kg is a mass; use a turn rate"),
        ("one side collapses 2 m", "takes no amount"),
        ("dives 1 m/s", "heron has 1.92 m/s (6.3 ft/s) as designed; give more than that"),
    ],
)
def test_mistakes_are_one_line(run: Any, configs: Path, capsys, symptom, told):
    assert run("trouble", configs / "heron.yaml", symptom, "--out", "out") == 2
    printed = capsys.readouterr()
    assert printed.err.startswith("parasim: SYMPTOM: given ")
    assert told in printed.err
    assert len(printed.err.splitlines()) == 1
    assert printed.out == ""
    assert not Path("out").exists()
