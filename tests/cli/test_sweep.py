"""``parasim sweep`` prints, writes, searches and refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from parasim.config.loader import load_design
from parasim.study.outputs import OUTPUTS
from tests.texts import flowing

SPAN = ("--vary", "canopy.span=1..1.2 m")
TWO = (*SPAN, "--vary", "lines.rigging_angle=-3..2 deg")


def rows(path: str) -> list[dict[str, str]]:
    with open(path, newline="") as file:
        return list(csv.DictReader(file))


def test_one_key(run: Any, configs: Path, capsys):
    assert (
        run("sweep", configs / "heron.yaml", *SPAN, "--points", 3, "--limit", "glide>=3.4", "--out", "out")
        == 0
    )
    printed = capsys.readouterr()
    assert "heron: 3 designs over canopy.span" in flowing(printed.out)
    assert "as the file has it: canopy.span 1.1 m" in flowing(printed.out)
    assert "limit, asked for: glide >= 3.40 (+ kept, x not)" in flowing(printed.out)
    assert printed.out.count("caution: ") == 3
    assert "Nothing but canopy.span changes" in flowing(printed.err)
    assert sorted(path.name for path in Path("out").iterdir()) == [
        "heron_sweep.csv",
        "heron_sweep.json",
        "heron_sweep.png",
    ]
    read = rows("out/heron_sweep.csv")
    assert list(read[0]) == ["canopy_span_m", "sink_m_s", "glide", "remark"]
    assert [float(row["canopy_span_m"]) for row in read] == [1.0, 1.1, 1.2]
    assert all(row["remark"] == "" for row in read)
    document = json.loads(Path("out/heron_sweep.json").read_text())
    assert [float(row["sink_m_s"]) for row in read] == pytest.approx(
        [design["outputs"]["sink_m_s"] for design in document["designs"]]
    )


def test_a_design_is_that_of_the_single_command(run: Any, configs: Path, capsys):
    """The figure of `parasim glide`, to the last digit."""
    assert run("sweep", configs / "heron.yaml", "--vary", "canopy.span=1.1,1.2 m", "--json",
               "--show", "sink,glide,landing_energy") == 0  # fmt: skip
    own = json.loads(capsys.readouterr().out)["designs"][0]["outputs"]
    assert run("landing", configs / "heron.yaml", "--no-flare", "--json") == 0
    landing = json.loads(capsys.readouterr().out)
    assert own["sink_m_s"] == landing["sink_m_s"]
    still = next(a for a in landing["arrivals"] if a["way"] == "brakes released" and a["wind_m_s"] == 0)
    assert own["landing_energy_j"] == pytest.approx(still["energy_j"], abs=1e-3)
    assert own["glide"] == pytest.approx(landing["forward_speed_m_s"] / landing["sink_m_s"])


def test_two_keys_and_imperial(run: Any, configs: Path, capsys):
    arguments = ("--points", 2, "--show", "sink,tuck_margin", "--units", "imperial", "--out", "out")
    assert run("sweep", configs / "heron.yaml", *TWO, *arguments) == 0
    assert "ft/s" in capsys.readouterr().out
    names = {path.name for path in Path("out").iterdir()}
    assert names == {f"heron_sweep{end}" for end in (".csv", ".json", "_sink.png", "_tuck_margin.png")}
    read = rows("out/heron_sweep.csv")
    assert [float(row["lines_rigging_angle_deg"]) for row in read] == [-3.0, 2.0, -3.0, 2.0]


def test_gaps_are_told_counted_and_written(run: Any, configs: Path, capsys):
    vary = ("--vary", "lines.row_lengths.A=530..590 mm", "--points", 4, "--out", "out")
    assert run("sweep", configs / "wren.yaml", *vary) == 0
    printed = capsys.readouterr()
    assert printed.out.count("no figure") == 4
    assert "no sink, glide for 2 of 4 designs (570 mm, 590 mm): lines.row_lengths: the rows" in flowing(
        printed.err
    )
    read = rows("out/wren_sweep.csv")
    assert [row["sink_m_s"] == "" for row in read] == [False, False, True, True]
    assert "the rows rig the canopy" in read[3]["remark"]
    gaps = json.loads(Path("out/wren_sweep.json").read_text())["gaps"]
    assert [(gap["output"], gap["count"]) for gap in gaps] == [("sink", 2), ("glide", 2)]


def test_search(run: Any, configs: Path, capsys):
    arguments = (
        "--minimum",
        "landing_energy",
        "--limit",
        "area<=0.55 m^2",
        "--show",
        "sink",
        "--evaluations",
        20,
        "--out",
        "out",
    )
    assert run("sweep", configs / "heron.yaml", *TWO, *arguments) == 0
    printed = capsys.readouterr()
    assert "heron: least landing energy found is" in flowing(printed.out)
    assert "+ binds" in flowing(printed.out)
    assert "caution: " in flowing(printed.out)
    assert "lines.rigging_angle lies at the low edge of its range" in flowing(printed.err)
    best = load_design("out/heron_sweep_best.yaml")
    document = json.loads(Path("out/heron_sweep.json").read_text())
    assert best.canopy.span == document["best"]["settings"]["canopy_span_m"]
    assert best.canopy.flat_area <= 0.55
    assert document["checks"][0]["binds"]
    assert {row["key"]: row["edge"] for row in document["ranges"]}["lines.rigging_angle"] == "low"
    assert (
        Path("out/heron_sweep_best.yaml")
        .read_text()
        .startswith("# Written by parasim sweep from heron.yaml: minimum")
    )
    assert run("glide", "out/heron_sweep_best.yaml", "--json") == 0
    again = json.loads(capsys.readouterr().out)
    assert again["sink_m_s"] == document["best"]["outputs"]["sink_m_s"]


def test_nothing_feasible(run: Any, configs: Path, capsys):
    arguments = ("--maximum", "glide", "--limit", "sink<=1 m/s", "--evaluations", 12, "--out", "out")
    assert run("sweep", configs / "heron.yaml", *SPAN, *arguments) == 0
    printed = capsys.readouterr()
    assert "no design here keeps all limits; furthest from being kept is sink <= 1.00 m/s" in flowing(
        printed.out
    )
    assert not Path("out/heron_sweep_best.yaml").exists()
    assert json.loads(Path("out/heron_sweep.json").read_text())["furthest"] == "sink"


REFUSED = [
    (["--vary", "canopy.spam=1..2 m"], '--vary: given "canopy.spam", no such key; did you mean canopy.span?'),
    (["--vary", "canopy.span=1..9 m"], '--vary canopy.span: given "9 m", too large; use 0.2 to 5 m'),
    (["--vary", "canopy.cells=5..6"], "--vary canopy.cells: no end of it goes with the rest of the file"),
    ([*SPAN, "--show", "sinc"], '--show: given "sinc", no such output; did you mean sink'),
    ([*SPAN, "--limit", "sink<3 kg"], "--limit sink: given"),
    ([*SPAN, "--minimum", "speed"], '--minimum: given "speed", no such output; did you mean'),
    ([*SPAN, "--minimum", "sink", "--maximum", "glide"], "--minimum, --maximum: given both"),
    ([*SPAN, "--points", "1"], "--points: given 1; use 2 to 101"),
    ([*SPAN, "--workers", "0"], "--workers: given 0; use 1 to 64"),
    ([*SPAN, "--evaluations", "50"], "--evaluations: belongs to a search"),
    (
        ["--vary", "canopy.span=1,1.2 m", "--minimum", "sink"],
        "--vary canopy.span: given a list; give a range",
    ),
    ([*SPAN, *SPAN], "--vary canopy.span: given twice"),
    ([], "Missing option '--vary'"),
]


@pytest.mark.parametrize(("options", "told"), REFUSED, ids=[" ".join(options[-2:]) for options, _ in REFUSED])
def test_refusals(options: list[str], told: str, run: Any, configs: Path, capsys):
    assert run("sweep", configs / "heron.yaml", "--out", "out", *options) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith(f"parasim: {told}")
    assert printed.err.count("\n") == 1
    assert not Path("out").exists()


def test_rigging_angle_against_row_lengths(run: Any, configs: Path, capsys):
    assert run("sweep", configs / "wren.yaml", "--vary", "lines.rigging_angle=3..9 deg") == 2
    assert "wren.yaml fixes the rigging by lines.row_lengths" in capsys.readouterr().err


def test_outputs_are_listed_when_one_is_unknown(run: Any, configs: Path, capsys):
    assert run("sweep", configs / "heron.yaml", *SPAN, "--show", "zzz") == 2
    told = capsys.readouterr().err
    assert all(name in told for name in OUTPUTS)
