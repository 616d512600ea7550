"""README says what the program does today: its generated parts, its Python, its keys and their limits."""

from __future__ import annotations

import re
import sys
from math import hypot
from pathlib import Path
from typing import Any

import pytest

from parasim.config.base import Quantity
from parasim.config.calibration import DEFAULTS, INLET_DRAG
from parasim.config.design import Design
from parasim.config.loader import parse_design
from parasim.environment.gust import build_gusts, turbulence_scales
from parasim.environment.wind import build_wind
from scripts import readme_tables
from tests.house.test_no_dead_keys import leaves, spec_within

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DESIGN_FILE = README[README.index("## The design file") : README.index("## From Python")]
ROWS = [re.split(r"\s*\|\s*", line)[1:-1] for line in DESIGN_FILE.splitlines() if line.startswith("|")]
KEY_ROWS = {row[0].strip("`"): row for row in ROWS if row[0].startswith("`")}


def test_every_part_is_there():
    found = [block["name"] for block in readme_tables.BLOCK.finditer(README)]
    assert sorted(found) == sorted([*readme_tables.BLOCKS, "speed"])


@pytest.mark.parametrize("name", [name for name in readme_tables.BLOCKS if name != "files"])
def test_part_is_not_stale(name, monkeypatch):
    """The table of files takes every command; tests/house/test_json_keys.py compares it as it runs them."""
    monkeypatch.chdir(ROOT)
    block = next(found for found in readme_tables.BLOCK.finditer(README) if found["name"] == name)
    fresh = readme_tables.BLOCKS[name]()
    assert readme_tables.agrees(name, block["text"], fresh), (
        f"run scripts/readme_tables.py; it is now\n{fresh}"
    )


def test_a_stale_part_would_be_noticed():
    block = next(found for found in readme_tables.BLOCK.finditer(README) if found["name"] == "design file")
    assert not readme_tables.same(block["text"], readme_tables.design_file().replace("1.10 m", "1.20 m"))


def test_python_is_short():
    code = [line for line in readme_tables.python_code().splitlines() if line.strip()]
    assert len(code) < 10


def test_every_key_is_explained():
    """Calibration keys stand for their value, low and high; entries of lists for the list."""
    wanted = set()
    for key in leaves(Design):
        calibrated = re.sub(r"^(calibration\.\w+|opening\.filling_constant)\..*", r"\1", key)
        wanted.add(re.sub(r"^(drop\.brakes)\..*", r"\1", calibrated))
    assert wanted - set(KEY_ROWS) == set()


def quantity_at(key: str) -> Quantity | None:
    """Mark of a key with limits; None where it has none of its own."""
    spec: Any = Design
    *parents, last = key.split(".")
    for part in parents:
        spec = spec_within(field_of(spec, part).annotation)
    info = field_of(spec, last)
    marks = [mark for mark in info.metadata if isinstance(mark, Quantity)]
    marks += [
        mark
        for mark in getattr(info.annotation, "__args__", ())
        for mark in getattr(mark, "__metadata__", ())
    ]
    return next((mark for mark in marks if isinstance(mark, Quantity)), None)


def field_of(spec: Any, name: str) -> Any:
    return next(info for field, info in spec.model_fields.items() if (info.alias or field) == name)


LIMITED = [key for key in KEY_ROWS if not key.startswith("calibration.")]


@pytest.mark.parametrize("key", LIMITED)
def test_limits_are_those_of_the_program(key):
    mark = quantity_at(key)
    assert KEY_ROWS[key][1] == (mark.limits() if mark else "")


def test_limits_were_looked_at():
    assert sum(bool(KEY_ROWS[key][1]) for key in LIMITED) > 25


@pytest.mark.parametrize("name", [*DEFAULTS, "inlet_drag_factor"])
def test_calibration_is_that_of_the_program(name):
    kinds = INLET_DRAG if name == "inlet_drag_factor" else {"": DEFAULTS[name]}
    defaults = ", ".join(f"{usual.value:g} {kind}".strip() for kind, usual in kinds.items())
    ranges = ", ".join(f"{usual.low:g} to {usual.high:g}" for usual in kinds.values())
    assert KEY_ROWS[f"calibration.{name}"][1:3] == [defaults, ranges]


def test_wind_table_and_its_site(tmp_path):
    """The example is read as it stands; by the model near the ground gusts are up to twice as strong."""
    example = DESIGN_FILE[DESIGN_FILE.index("### Wind over height") :]
    table, site = (re.findall(rf"```{kind}\n(.*?)```", example, re.DOTALL) for kind in ("csv", "yaml"))
    (tmp_path / "wind.csv").write_text(table[0])
    heron = (ROOT / readme_tables.HERON).read_text(encoding="utf-8")
    text = re.sub(r"^site:\n(  .*\n)+", lambda _: site[0], heron, flags=re.MULTILINE)
    design = parse_design(text, directory=tmp_path)
    wind, gusts = build_wind(design.site), build_gusts(design.site, 8.0)
    assert hypot(*wind.velocity(10.0)) == pytest.approx(3.0)
    assert gusts.falls == 1
    assert gusts.deviation == pytest.approx(0.1 * hypot(*wind.velocity(6.096)))
    assert 1.9 < turbulence_scales(0.0)[2] < 2.0


def test_the_two_commands_of_set_up():
    """One runs the main job, one the tests; each makes its own environment in the same line."""
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv .venv && ")]
    assert len(lines) == 2
    assert "parasim glide configs/heron.yaml --out out" in lines[0]
    assert "parasim drop configs/heron.yaml --from 60 --wind 3 --out out" in lines[0]
    assert '".[test]"' in lines[1]
    assert "-m pytest" in lines[1]


def test_nothing_is_promised():
    """We never say of a drop that it is safe or legal."""
    for word in ("safe", "safely", "legal", "legally"):
        assert not re.search(rf"\b{word}\b", README, re.IGNORECASE), word


def test_scripts_are_importable():
    assert sys.modules["scripts.readme_tables"] is readme_tables
