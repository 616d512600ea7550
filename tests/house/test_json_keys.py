"""Keys of JSON documents and heads of CSV files: the unit is in the name, the manual explains each key."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import command_names, main
from parasim.manual import page
from parasim.manual.json_keys import json_page
from parasim.scatter.ensemble_model import FACTORS
from scripts import readme_tables

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
SECTION = f"\n{json_page()}\n"
FILES = [line.strip("| ").split(" | ") for line in page("files").splitlines() if line.startswith("| `")]

UNITS = "m mm in yd m2 m3 kg s m_s deg rad_s per_s mm_per_deg_s n n_m n_m2 g g_m g_m2 kg_m3 j w a percent"
UNIT = re.compile(f"_({UNITS.replace(' ', '|')}|fraction|count|counts)$")
WITHOUT_UNIT = {
    *("reynolds", "glide_ratio", "lift_coefficient", "drag_coefficient", "counts", "aspect_ratio"),
    *("thickness_ratio", "cells", "half_cells", "ribs", "loaded_ribs", "loaded_rib_numbers", "line_pieces"),
    "rulers",  # each has its own unit beside its figures
    "mach",
    *("rib", "causes", "count", "piece_count", "mirrored", "places", "mirrored_places", "turns", "times"),
    *(
        "descents_simulated",
        "forward_reserve",
        "margin",
        "margin_low",
        "wanted_margin",
        "scale",
        "hinge_factor",
        "dynamic_factor",
    ),
    *("filling_constant", "constant_speed_factor", "ballistic_parameter"),
    *("opening_factor", "glide", "knot_efficiency", "row_share", "asked_share", "center_of_pressure"),
    *("chordwise_left", "junction_residual", "number", "tabs"),
    *("correlation", "residual_over_error", "moved_deviations", "ground_glide_ratio"),
    *("before", "before_low", "before_high", "fitted", "fitted_low", "fitted_high", "flown", "error"),
    *("low_glide_ratio", "high_glide_ratio", "glide_ratio_error"),
    *("seed", "rank", "partial_rank", "chance_rank"),
    *FACTORS,
}
"""Plain numbers and counts, and what stands below them; a load in g is in weights of what lands."""
TEXT_HEADS = {
    *("part", "where", "specification"),
    *("calibration", "flight", "measured", "unit", "name", "at_most", "basis", "verdict"),
    *("outcome", "status"),
    *(
        "item",
        "kind",
        "rows",
        "loaded",
        "stable",
        "stalled",
        "way",
        "course",
        "backwards",
        "label",
        "holds",
        "remark",
        "line",
        "measure_under",
    ),
    *(
        "piece",
        "title",
        "margins_kept",
        "sink_verdict",
        "ground_speed_verdict",
        "energy_verdict",
        "load_verdict",
    ),
}
"""Columns of text or of yes and no."""
OF_DATA = {
    *("causes", "row_lengths_mm", "line_pieces", "mass_budget_kg", "definitions", "row_share", "asked_share"),
    *("longer_mm", "times", "edges_mm", "highest", "settings", "outputs", "reasons"),
    *("best_outputs", "reached_outputs", "failed_counts", "spreads"),
    *("how", "refused", "counts"),
}
"""Keys below which the keys are names of ribs, rows, parts or factors."""
PELICAN = str(ROOT / "configs/pelican.yaml")
ARGUMENTS = {
    "learn": [str(ROOT / "configs/heron.yaml"), str(ROOT / "tests/data/flown.yaml"), "--out"],
    "new": ["lark", "--mass", "0.8 kg", "--sink", "3 m/s", "--out"],
    "scatter": [PELICAN, "--drops", "300", "--at", "47.1, 11.2", "--out"],
    "size": [PELICAN, "--sink", "2.5 m/s", "--out"],
    "track": [str(ROOT / "configs/heron_log.csv"), "--design", str(ROOT / "configs/heron.yaml"), "--out"],
    "sweep": [PELICAN, "--vary", "canopy.span=55..65 in", "--points", "2", "--out"],
    "trouble": [PELICAN, "turns left", "--out"],
}
QUOTED = {"glide": ("drag",), "landing": ("flare",)}
"""Commands whose documents hold those of others."""


@pytest.fixture
def command(request, tmp_path, capsys) -> tuple[str, dict[str, Any], Path]:
    """Name of a command, the document it prints, and the directory with its files."""
    name, out = request.param, tmp_path / "files"
    arguments = [*ARGUMENTS[name], str(out)] if name in ARGUMENTS else [PELICAN, "--out", str(out)]
    assert main([name, *arguments, "--json"]) == 0
    return name, json.loads(capsys.readouterr().out), out


def numbers(value: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Paths of all numbers; entries of lists count as the list."""
    if isinstance(value, dict):
        for key, below in value.items():
            yield from numbers(below, (*path, key))
    elif isinstance(value, list):
        for entry in value:
            yield from numbers(entry, path)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path


def has_unit(name: str) -> bool:
    return name in WITHOUT_UNIT or bool(UNIT.search(name))


def unknown(document: dict[str, Any]) -> set[tuple[str, ...]]:
    return {path for path in numbers(document) if not any(map(has_unit, path))}


def faulty_heads(path: Path) -> list[str]:
    """Heads of a CSV file without a unit, or that stand there twice."""
    with path.open(newline="", encoding="utf-8") as file:
        heads = next(csv.reader(file))
    beside = {"value", "low", "high", "limit"} if "unit" in heads else set()
    return [
        head
        for head in heads
        if (not has_unit(head) and head not in TEXT_HEADS | beside) or heads.count(head) > 1
    ]


@pytest.mark.parametrize(
    "command", [name for name in command_names() if name not in ("adjust", "manual")], indirect=True
)
def test_keys_and_heads_carry_their_unit_and_the_manual_tells_them(command):
    """All in one, since each command is run anew for every test, and some take seconds."""
    name, document, directory = command
    assert unknown(document) == set()
    known = set().union(*map(explained, (name, *QUOTED.get(name, ()))))
    assert set(keys(document)) - known == set(), f"not in the manual: keys of parasim {name}"
    if directory.is_dir():
        assert {path.name: faulty_heads(path) for path in directory.glob("*.csv")} == {
            path.name: [] for path in directory.glob("*.csv")
        }
        fresh = readme_tables.file_rows(name, directory)
        told = [row for row in FILES if row[1] == f"`parasim {name}`"]
        assert told == fresh, "run scripts/readme_tables.py"


def test_a_key_without_unit_would_be_noticed():
    assert unknown({"sink": 3.0, "bands": {"sink_m_s": {"low": 2.0}}}) == {("sink",)}
    assert unknown({"points": [{"speed_m_s": 1.0}, {"speed": 1.0}]}) == {("points", "speed")}


def keys(value: Any) -> Iterator[str]:
    """All keys, but for those that are data: names of ribs, parts and factors."""
    if isinstance(value, dict):
        for key, below in value.items():
            yield key
            if key not in OF_DATA:
                yield from keys(below)
    elif isinstance(value, list):
        for entry in value:
            yield from keys(entry)


def explained(name: str) -> set[str]:
    """Keys that the manual tells of for a command, with those of all commands."""
    words = set()
    for head in ("All commands:", f"`parasim {name}`:"):
        assert f"\n{head}\n" in SECTION, f"the manual tells no keys of parasim {name}"
        told = re.split(r"\n(?:`parasim \w+`:|Files in the directory)", SECTION.split(f"\n{head}\n", 1)[1])[0]
        words |= set(re.findall(r"`(\w+)`", told))
    return words
