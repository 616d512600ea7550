"""README and the manual's pages say what the program does today: generated parts, Python, commands."""

from __future__ import annotations

import re
import sys
from math import hypot
from pathlib import Path

import pytest

from parasim.config.loader import parse_design
from parasim.environment.gust import build_gusts, turbulence_scales
from parasim.environment.wind import build_wind
from scripts import readme_tables

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
TEXTS = {path: path.read_text(encoding="utf-8") for path in readme_tables.TEXTS}
PARTS = [(path, block) for path, text in TEXTS.items() for block in readme_tables.BLOCK.finditer(text)]
LARGEST = 14_000
"""Of README and of DEVELOPERS.md: two pages to read, not a manual. [bytes]"""


def test_every_part_is_somewhere():
    assert {block["name"] for _, block in PARTS} == {*readme_tables.BLOCKS, "speed"}


@pytest.mark.parametrize("name", [name for name in readme_tables.BLOCKS if name != "files"])
def test_part_is_not_stale(name, monkeypatch):
    """The table of files takes every command; tests/house/test_json_keys.py compares it as it runs them."""
    monkeypatch.chdir(ROOT)
    fresh = readme_tables.BLOCKS[name]()
    for path, block in PARTS:
        assert block["name"] != name or readme_tables.agrees(name, block["text"], fresh), (
            f"{path.name}: run scripts/readme_tables.py; it is now\n{fresh}"
        )


def test_a_stale_part_would_be_noticed():
    block = next(found for _, found in PARTS if found["name"] == "design file")
    assert not readme_tables.same(block["text"], readme_tables.design_file().replace("1.10 m", "1.20 m"))


def test_readme_is_short():
    assert len(README.encode()) <= LARGEST


def test_python_is_short():
    code = [line for line in readme_tables.python_code().splitlines() if line.strip()]
    assert len(code) < 10


def test_wind_table_and_its_site(tmp_path):
    """The example is read as it stands; by the model near the ground gusts are up to twice as strong."""
    example = (ROOT / "parasim/manual/pages/wind.md").read_text(encoding="utf-8")
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
    assert "parasim drop configs/heron.yaml --height 60 --wind 3 --out out" in lines[0]
    assert '".[test]"' in lines[1]
    assert "-m pytest" in lines[1]


def test_nothing_is_promised():
    """We never say of a drop that it is safe or legal."""
    for path, text in TEXTS.items():
        for word in ("safe", "safely", "legal", "legally"):
            assert not re.search(rf"\b{word}\b", text, re.IGNORECASE), (path.name, word)


def test_scripts_are_importable():
    assert sys.modules["scripts.readme_tables"] is readme_tables
