"""Paths and names that DEVELOPERS.md and README tell of are there."""

from __future__ import annotations

import re
from pathlib import Path

from parasim.references import REFERENCES

ROOT = Path(__file__).parents[2]
FILES = (ROOT / "DEVELOPERS.md", ROOT / "README.md", *sorted((ROOT / "parasim/manual/pages").glob("*.md")))
TEXTS = {path.name: path.read_text(encoding="utf-8") for path in FILES}
PATH = re.compile(r"`((?:\.ci|configs|parasim|scripts|tests)/[\w./-]*)`")


def test_paths_are_there():
    named = [(name, path) for name, text in TEXTS.items() for path in PATH.findall(text)]
    assert len(named) > 50
    assert [(name, path) for name, path in named if not (ROOT / path).exists()] == []


def test_a_missing_path_would_be_noticed():
    found = PATH.findall("see `parasim/nowhere.py`, `parasim glide` and `out/`")
    assert found == ["parasim/nowhere.py"]
    assert not (ROOT / found[0]).exists()


def test_many_paths_are_named():
    assert len(set(PATH.findall("".join(TEXTS.values())))) > 40


def test_it_is_short():
    assert len(TEXTS["DEVELOPERS.md"].encode()) <= 14_000


def test_sources_are_listed():
    named = set(re.findall(r"\[([A-Z]\w+\d{4})\]", "".join(TEXTS.values())))
    assert named
    assert named <= set(REFERENCES)


def test_layers_are_those_of_the_contract():
    told = TEXTS["DEVELOPERS.md"].split("```text\n")[1].split("```")[0]
    told = [line.split("   ")[0].strip() for line in told.splitlines()]
    contract = (ROOT / "pyproject.toml").read_text(encoding="utf-8").split("layers = [")[1].split("]")[0]
    layers = [re.sub(r"[()]", "", layer) for layer in re.findall(r'"([^"]+)"', contract)]
    assert told == layers
