"""Keys of JSON documents and heads of CSV files: the unit is in the name, and README explains each key."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import command_names, main

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SECTION = README[README.index("## JSON and CSV") :]

UNITS = "m mm m2 m3 kg s m_s deg rad_s per_s n n_m n_m2 kg_m3 j w a percent fraction"
UNIT = re.compile(f"_({UNITS.replace(' ', '|')})$")
WITHOUT_UNIT = {
    "reynolds", "glide_ratio", "lift_coefficient", "drag_coefficient", "counts", "aspect_ratio",
    "thickness_ratio", "cells", "half_cells", "ribs", "loaded_ribs", "loaded_rib_numbers", "line_pieces",
    "rib", "causes",
}  # fmt: skip
"""Plain numbers and counts, and what stands below them."""
TEXT_HEADS = {"item", "kind", "rows", "loaded"}
"""Columns of text or of yes and no."""
ARGUMENTS = {"new": ["lark", "--mass", "0.8 kg", "--sink", "3 m/s", "--out"]}


@pytest.fixture(scope="module")
def results(tmp_path_factory) -> dict[str, Path]:
    """Directory of every command, with its files and the document it prints."""
    return {command: tmp_path_factory.mktemp(command) for command in command_names()}


@pytest.fixture(params=command_names())
def command(request, results, capsys) -> tuple[str, dict[str, Any], Path]:
    name, directory = request.param, results[request.param]
    kept = directory / "stdout"
    if not kept.exists():
        out = directory / "files"
        arguments = (
            [*ARGUMENTS[name], str(out)]
            if name in ARGUMENTS
            else [str(ROOT / "configs/pelican.yaml"), "--out", str(out)]
        )
        assert main([name, *arguments, "--json"]) == 0
        kept.write_text(capsys.readouterr().out, encoding="utf-8")
    return name, json.loads(kept.read_text(encoding="utf-8")), directory / "files"


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


def test_json_keys_carry_their_unit(command):
    name, document, _ = command
    assert unknown(document) == set(), name


def test_csv_heads_carry_their_unit(command):
    _, _, directory = command
    for path in directory.glob("*.csv") if directory.is_dir() else ():
        with path.open(newline="", encoding="utf-8") as file:
            heads = next(csv.reader(file))
        assert [head for head in heads if not has_unit(head) and head not in TEXT_HEADS] == [], path.name


def test_a_key_without_unit_would_be_noticed():
    assert unknown({"sink": 3.0, "bands": {"sink_m_s": {"low": 2.0}}}) == {("sink",)}
    assert unknown({"points": [{"speed_m_s": 1.0}, {"speed": 1.0}]}) == {("points", "speed")}


def keys(value: Any) -> Iterator[str]:
    """All keys, but for those that are data: names of ribs, parts and factors."""
    if isinstance(value, dict):
        for key, below in value.items():
            yield key
            if key not in {"causes", "row_lengths_mm", "line_pieces", "mass_budget_kg", "definitions"}:
                yield from keys(below)
    elif isinstance(value, list):
        for entry in value:
            yield from keys(entry)


def explained(name: str) -> set[str]:
    """Keys in README's table for a command, with those of all commands."""
    words = set()
    for head in ("All commands:", f"`parasim {name}`:"):
        assert head in SECTION, f"README has no table of the keys of parasim {name}"
        table = SECTION.split(head, 1)[1].strip().split("\n\n")[0]
        words |= set(re.findall(r"`(\w+)`", table))
    return words


def test_readme_explains_every_key(command):
    name, document, _ = command
    known = explained(name) | (explained("drag") if name == "glide" else set())
    assert set(keys(document)) - known == set()
