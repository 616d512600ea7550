"""Names that a script needs, and answers that a prompt can show."""

from __future__ import annotations

from pathlib import Path

import pytest

import parasim

QUESTIONS = (
    "build", "canopy", "card", "cut", "drag", "drop", "flare", "glide", "landing", "learn", "lines",
    "opening", "release", "scatter", "servo", "size", "summary", "sweep", "templates", "track", "trouble",
    "turn",
)  # fmt: skip


@pytest.mark.parametrize("name", QUESTIONS)
def test_questions_are_functions_under_the_word_of_the_command(name: str) -> None:
    assert callable(getattr(parasim, name))
    assert getattr(parasim, name).__name__ == name
    assert name in dir(parasim)


def test_answers_are_one_line_at_a_prompt(configs: Path) -> None:
    vehicle = parasim.assemble(parasim.load_design(configs / "heron.yaml"))
    assert repr(vehicle) == "<Vehicle of heron>"
    assert repr(parasim.glide(vehicle)) == "<Glide of heron>"
    assert repr(parasim.drop(vehicle)) == "<Drop of heron>"
    assert repr(parasim.landing(vehicle, flared=False)) == "<Landing of heron>"
