"""Fixtures that any test may ask for."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from parasim.config.design import Design
from parasim.config.loader import load_design
from tests import kept_answers

REFERENCE = Path(__file__).resolve().parent / "data" / "reference.yaml"
CONFIGS = Path(__file__).resolve().parents[1] / "configs"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
"""A browser, for tests of pages; None where there is none, and then they are left out and say so."""

# The same examples in every run, unless HYPOTHESIS_PROFILE is "wander": a change is judged by itself.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("wander", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))

kept_answers.share()


@pytest.fixture(autouse=True)
def _answers_of_a_changed_program(request: pytest.FixtureRequest) -> Iterator[None]:
    """Whoever changes the program neither gets nor leaves answers that others share."""
    kept_answers.KEPT.sharing = "monkeypatch" not in request.fixturenames
    yield
    kept_answers.KEPT.sharing = True


@pytest.fixture(scope="session")
def configs() -> Path:
    """Directory of the demonstration designs."""
    return CONFIGS


@pytest.fixture(scope="session")
def heron() -> Design:
    """The demonstration design of the documentation; read-only, so one copy serves all."""
    return load_design(CONFIGS / "heron.yaml")


@pytest.fixture(scope="session")
def reference_text() -> str:
    """A design file that nobody tunes, to be spoilt by tests of bad input."""
    return REFERENCE.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def reference() -> Design:
    """The design in that file."""
    return load_design(REFERENCE)
