"""Chunks spread over threads, processes and a cluster: all done once, also when a worker dies."""

from __future__ import annotations

import os
import signal
from collections import Counter
from pathlib import Path

import pytest

from parasim.errors import OptionError, SolverError
from parasim.flight.workers import Workers, default_count, each_done

PARTS = list(range(12))
HERE = Workers(count=1, pool="threads")
THREADS = Workers(count=2, pool="threads")
PROCESSES = Workers(count=2, pool="processes")


def square(job: int, part: int) -> int:
    return job + part * part


def dies_once(job: str, part: int) -> int:
    """Kill the own process at part 5, the first time."""
    mark = Path(job)
    if part == 5 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return part * part


def dies_always(job: object, part: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return part


def fails(job: object, part: int) -> int:
    raise ValueError(f"part {part}")


@pytest.mark.parametrize("workers", [HERE, THREADS, PROCESSES], ids=["here", "threads", "processes"])
def test_every_part_is_done_once(workers: Workers) -> None:
    found = list(each_done(square, 100, PARTS, workers))
    assert Counter(part for part, _ in found) == Counter(PARTS)
    assert dict(found) == {part: 100 + part * part for part in PARTS}


def test_a_dead_process_loses_and_doubles_nothing(tmp_path: Path) -> None:
    mark = tmp_path / "died"
    found = list(each_done(dies_once, str(mark), PARTS, PROCESSES))
    assert mark.exists()
    assert Counter(part for part, _ in found) == Counter(PARTS)
    assert dict(found) == {part: part * part for part in PARTS}


def test_processes_that_keep_dying_are_given_up() -> None:
    with pytest.raises(SolverError, match="the workers died 3 times without getting one of 2 chunks done"):
        list(each_done(dies_always, None, [0, 1], PROCESSES))


@pytest.mark.parametrize("workers", [HERE, THREADS, PROCESSES], ids=["here", "threads", "processes"])
def test_a_mistake_in_the_work_is_not_swallowed(workers: Workers) -> None:
    with pytest.raises(ValueError, match="part"):
        list(each_done(fails, None, PARTS, workers))


def test_nothing_to_do() -> None:
    assert list(each_done(square, 0, [], PROCESSES)) == []


def test_a_cluster_that_is_not_there() -> None:
    nobody = Workers(count=1, pool="threads", cluster="tcp://127.0.0.1:9")
    with pytest.raises(OptionError, match="no scheduler answers there"):
        list(each_done(square, 0, PARTS, nobody))
    nonsense = Workers(count=1, pool="threads", cluster="over there")
    with pytest.raises(OptionError, match=r"--cluster: given \"over there\""):
        list(each_done(square, 0, PARTS, nonsense))


def test_as_many_as_cores() -> None:
    assert default_count() >= 1
