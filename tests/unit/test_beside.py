"""Work in another process: what comes of it, what does not, and that nothing of it stays."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from parasim import beside
from parasim.beside import Helper
from tests.unit.test_workers import alive

ROOT = Path(__file__).parents[2]


@pytest.fixture
def helper() -> Iterator[Helper]:
    """A helper, wherever this runs."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(beside, "default_count", lambda: 2)
        patch.setattr(beside, "free_memory", lambda: 1e12)
        started = Helper("tests.unit.test_beside")
    assert started.there
    yield started
    started.close()


def counts(most: int) -> Iterator[Any]:
    print("what is printed goes nowhere")
    yield from ((number, os.getpid()) for number in range(most))


def fails(most: int) -> Iterator[Any]:
    yield from range(most)
    raise ValueError("no more")


def much(mark: str) -> Iterator[Any]:
    yield bytes(1_000_000)
    Path(mark).touch()
    yield len(mark)


def sleeps(mark: str) -> Iterator[Any]:
    (Path(mark) / str(os.getpid())).touch()
    time.sleep(60)
    yield 0


def test_results_come_in_their_order_from_elsewhere(helper: Helper) -> None:
    helper.ask(counts, 3)
    found = list(helper.results())
    assert [number for number, _ in found] == [0, 1, 2]
    assert os.getpid() not in {process for _, process in found}


def test_work_goes_on_while_nobody_reads(helper: Helper, tmp_path: Path) -> None:
    """A pipe holds less than the first result."""
    mark = tmp_path / "on"
    helper.ask(much, str(mark))
    for _ in range(2000):
        if mark.exists():
            break
        time.sleep(0.02)
    assert mark.exists()
    assert list(helper.results()) == [bytes(1_000_000), len(str(mark))]


def test_of_work_that_fails_comes_what_was_done(helper: Helper) -> None:
    helper.ask(fails, 2)
    assert list(helper.results()) == [0, 1]


def test_of_a_helper_that_is_gone_comes_nothing(helper: Helper) -> None:
    helper.close()
    helper.ask(counts, 3)
    assert list(helper.results()) == []


def test_nothing_comes_of_what_cannot_be_imported() -> None:
    helper = Helper("tests.unit.no_such_module")
    helper.ask(counts, 3)
    assert list(helper.results()) == []
    helper.close()


@pytest.mark.parametrize(("name", "has"), [("default_count", 1), ("free_memory", 1e8)])
def test_no_helper_without_a_core_and_memory_for_it(
    name: str, has: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(beside, name, lambda: has)
    helper = Helper("tests.unit.test_beside")
    assert not helper.there
    helper.ask(counts, 3)
    assert list(helper.results()) == []
    helper.close()


KILLED = """
import sys, time
from parasim import beside
from tests.unit.test_beside import sleeps
beside.default_count = lambda: 2
helper = beside.Helper("tests.unit.test_beside")
helper.ask(sleeps, sys.argv[1])
time.sleep(60)
"""
"""As a script is written: with no guard about what starts the helper."""


def test_it_ends_with_a_killed_main_process(tmp_path: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen([sys.executable, "-c", KILLED, str(tmp_path)], cwd=ROOT, env=environment) as main:
        while not (marks := list(tmp_path.iterdir())) and main.poll() is None:
            time.sleep(0.05)
        main.kill()
    (pid,) = (int(mark.name) for mark in marks)
    for _ in range(1000):
        if not alive(pid):
            return
        time.sleep(0.05)
    pytest.fail("it went on for 50 s")
