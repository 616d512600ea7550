"""The manual: every key has its meaning, the schema holds for what is accepted, every page can be read."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import yaml

from parasim.cli.main import command_names, main
from parasim.config.design import Design
from parasim.errors import OptionError
from parasim.manual import PAGES, contents, page, topics
from parasim.manual.html import manual_html
from parasim.manual.json_keys import COMMANDS
from parasim.manual.keys import keys
from parasim.manual.schema import design_schema
from tests.house.test_no_dead_keys import leaves

jsonschema = pytest.importorskip("jsonschema", reason="general-purpose validator of JSON Schema")


def test_every_key_is_explained():
    """Calibration keys stand for their value, low and high; entries of lists for the list."""
    told = {key.name for key in keys() if key.meaning}
    for key in leaves(Design):
        key = re.sub(r"^(calibration\.\w+|opening\.filling_constant)\..*", r"\1", key)
        key = re.sub(r"^scatter\.late$", "scatter.late.delay", key)
        parts = re.sub(r"^(drop\.brakes)\..*", r"\1", key).split(".")
        assert any(".".join(parts[:n]) in told for n in range(len(parts), 0, -1)), key


def test_limits_are_those_of_the_program():
    limits = {key.name: key.limits for key in keys()}
    assert limits["canopy.span"] == "0.2 to 5 m"
    assert limits["canopy.cells"] == "3 to 31"
    assert limits["payload.kind"] == "rigid, soft"
    assert limits["calibration.lift_factor"] == "0.92, 0.8 to 1"
    assert limits["calibration.inlet_drag_factor"] == "flush 0.1, 0 to 0.15; open 0.5, 0.3 to 0.7"
    assert sum(bool(text) for text in limits.values()) > 100


@pytest.mark.parametrize("name", ["heron", "wren", "pelican", "dipper", "kingfisher"])
def test_shipped_designs_keep_the_schema(configs: Path, name: str) -> None:
    document = yaml.safe_load((configs / f"{name}.yaml").read_text(encoding="utf-8"))
    schema = design_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema)
    for broken in (document | {"canpoy": {}}, {**document, "canopy": {**document["canopy"], "cells": [7]}}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(broken, schema)


def test_the_schema_says_what_keys_mean() -> None:
    schema = design_schema()
    span = schema["$defs"]["CanopySpec"]["properties"]["span"]
    assert span["description"] == "Of the bottom skin, along the arc, seams sewn. (0.2 to 5 m)"


@pytest.mark.parametrize("topic", topics())
def test_every_page_can_be_read(topic: str) -> None:
    text = page(topic)
    assert len(text) > 400
    assert "<!--" not in text
    assert f"parasim manual {topic}" in contents()


def test_pages_are_those_of_the_directory() -> None:
    folder = Path(__file__).parents[3] / "parasim/manual/pages"
    assert {path.stem for path in folder.glob("*.md")} == set(PAGES)


def test_documents_are_those_of_the_commands() -> None:
    assert {*COMMANDS, "adjust", "manual"} == set(command_names())


def test_sources_of_a_command() -> None:
    """Canopies fill by [Knacke1992] in `opening` alone; templates are drawn without a flight."""
    assert "Knacke1992" in page("sources", "opening")
    assert "Knacke1992" not in page("sources", "glide")
    assert "DormandPrince1980" in page("sources", "scatter")
    assert "DormandPrince1980" not in page("sources", "templates")


def test_a_term_is_explained_and_names_the_pages_that_use_it_most() -> None:
    said = page("stall").splitlines()
    assert said[1].startswith("- **stall**: beyond an angle of attack")
    assert said[-1].startswith("More of it: parasim manual flight")
    assert page("rigging", "angle").startswith("- **rigging angle**: of the chord")


@pytest.mark.parametrize("word", ["weigh", "weighed", "weighing", "weight"])
def test_who_weighed_something_is_led_to_the_notes(word: str) -> None:
    said = " ".join(page(word).split())
    assert "`as_built: {finished_mass: {mass: 95 g, error: 1 g}}`" in said
    assert '"The canopy as it is" in `parasim manual learn`' in said
    assert "## The canopy as it is" in page("learn")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nope"], "not a topic"),
        (["fligth"], "not a topic and no term; did you mean flight?"),
        (["keys", "nope"], "no key of the design file"),
        (["json", "nope"], "not a command"),
        (["sources", "nope"], "not a command"),
        (["wind", "x"], "has no parts"),
        (["schema", "x"], "has no parts"),
    ],
)
def test_mistakes_are_one_line(arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["manual", *arguments]) == 2
    printed = capsys.readouterr()
    assert said in printed.err
    assert printed.err.count("\n") == 1
    assert printed.out == ""
    with pytest.raises(OptionError):
        page(*arguments)


def test_it_is_printed_and_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["manual", "keys", "canopy.span", "--out", str(tmp_path)]) == 0
    assert "| `canopy.span` | 0.2 to 5 m |" in capsys.readouterr().out
    assert json.loads((tmp_path / "parasim_design.schema.json").read_text())["title"] == "Design"
    assert (tmp_path / "parasim_manual.html").read_text() == manual_html()


class _Loads(HTMLParser):
    """What a page would load from elsewhere."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, Any]]) -> None:
        self.found += [(tag, str(value)) for name, value in attrs if name in {"src", "href"}]


def test_the_html_stands_alone() -> None:
    loads = _Loads()
    loads.feed(manual_html())
    assert {value[0] for _, value in loads.found} == {"#"}
    assert {tag for tag, _ in loads.found} == {"a"}
