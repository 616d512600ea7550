"""What `parasim build` answers."""

from __future__ import annotations

from pathlib import Path

import pytest

from parasim.config.loader import load_design
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import CAUTIONS
from parasim.making.build import Build, build
from tests.texts import flowing
from tests.unit.report.sheets import check_answer


@pytest.fixture(scope="module")
def found(configs: Path) -> Build:
    return build(assemble(load_design(configs / "wren.yaml")))


def test_it_keeps_to_the_shape_of_all_answers(found: Build) -> None:
    check_answer(found)


def test_text_has_every_step_rung_and_item(found: Build) -> None:
    text, document = found.text(), found.to_dict()
    for number, step in enumerate(document["steps"], start=1):
        assert f"[ ] {number}. {step['title'][:40]}" in text
    assert all(f"Test ladder: {rung['title']}" in text for rung in document["rungs"])
    items = sum(len(one["items"]) for one in document["checklists"])
    doing = sum(len(rung[key]) for rung in document["rungs"] for key in ("do", "measure", "stop"))
    assert text.count("[ ] ") == len(document["steps"]) + items + doing


def test_figures_in_text_and_markdown_are_the_same(found: Build) -> None:
    files = dict(found.report.others("metric"))
    assert list(files) == ["build.md", "build.pdf"]
    markdown, text = str(files["build.md"]), found.report.text(every=True)
    figures = [figure for step in found.pages("metric").steps for figure in step.figures]
    assert figures
    for figure in figures:
        assert f"| {figure.name} | {figure.shown('metric')} |" in markdown
        assert any(
            line.startswith(figure.name) and figure.shown("metric") in line for line in text.splitlines()
        )
    assert markdown.count(f"**Caution: {CAUTIONS[0]}**") == 3


def test_design_file_is_named_in_the_checklist(found: Build) -> None:
    assert "parasim lines wren.yaml --measured FILE" in flowing(found.text())
