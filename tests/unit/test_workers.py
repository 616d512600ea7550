"""Chunks spread over threads, processes and a cluster: all done once, also when a worker dies."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from parasim import workers as module
from parasim.errors import OptionError, SolverError
from parasim.workers import Workers, default_count, each_done, within_means

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


def freezes_once(job: str, part: int) -> int:
    mark = Path(job)
    if part == 5 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGSTOP)
    return part * part


def test_a_frozen_process_is_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FROZEN_AFTER", 4.0)
    monkeypatch.setattr(module, "TRIES", 10)  # on a busy machine workers may take longer than that to begin
    mark = tmp_path / "frozen"
    found = list(each_done(freezes_once, str(mark), PARTS, PROCESSES))
    assert mark.exists()
    assert Counter(part for part, _ in found) == Counter(PARTS)


def hears(job: object, part: int) -> bool:
    return signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, [])


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="signals of POSIX")
def test_an_interruption_reaches_the_main_process_alone() -> None:
    """Blocked when a worker begins, so that one hit while it imports prints no traceback."""
    assert dict(each_done(hears, None, [0, 1], PROCESSES)) == {0: False, 1: False}
    assert hears(None, 0)


KILLED = """
import os, sys, time
from tests.unit.test_workers import PROCESSES, tells
from parasim.workers import each_done
list(each_done(tells, sys.argv[1], [0, 1], PROCESSES))
"""


def tells(job: str, part: int) -> None:
    (Path(job) / str(os.getpid())).touch()
    time.sleep(60)


def test_worker_processes_end_with_a_killed_main_one(tmp_path: Path) -> None:
    root = Path(__file__).parents[3]
    environment = {**os.environ, "PYTHONPATH": str(root)}
    with subprocess.Popen([sys.executable, "-c", KILLED, str(tmp_path)], cwd=root, env=environment) as main:
        while not (pids := [int(path.name) for path in tmp_path.iterdir()]) and main.poll() is None:
            time.sleep(0.05)
        main.kill()
    assert pids
    for _ in range(1000):  # they look once a second, or later on a busy machine
        if not any(alive(pid) for pid in pids):
            return
        time.sleep(0.05)
    pytest.fail("a worker went on for 50 s")


def alive(pid: int) -> bool:
    """Whether a process is there and no mere entry of one that ended."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_no_more_processes_than_cores_and_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "default_count", lambda: 4)
    monkeypatch.setattr(module, "free_memory", lambda: 1e12)
    many = Workers(count=500, pool="processes")
    team, word = within_means(many)
    assert team.count == 4
    assert word == "--workers: 4 in place of 500, for want of cores."
    monkeypatch.setattr(module, "free_memory", lambda: 2.5 * module.WORKER_MEMORY)
    team, word = within_means(many)
    assert team.count == 2
    assert word == "--workers: 2 in place of 500, for want of free memory."
    assert within_means(THREADS) == (THREADS, "")


def test_a_mute_port_is_no_scheduler() -> None:
    with socket.create_server(("127.0.0.1", 0)) as mute:
        team = Workers(count=1, pool="threads", cluster=f"tcp://127.0.0.1:{mute.getsockname()[1]}")
        began = time.monotonic()
        with pytest.raises(OptionError, match="no scheduler answers there"):
            list(each_done(square, 0, PARTS, team))
    assert time.monotonic() - began < 20


def test_a_cluster_that_is_not_there() -> None:
    nobody = Workers(count=1, pool="threads", cluster="tcp://127.0.0.1:9")
    with pytest.raises(OptionError, match="no scheduler answers there"):
        list(each_done(square, 0, PARTS, nobody))
    nonsense = Workers(count=1, pool="threads", cluster="over there")
    with pytest.raises(OptionError, match=r"--cluster: given \"over there\""):
        list(each_done(square, 0, PARTS, nonsense))


def test_as_many_as_cores() -> None:
    assert default_count() >= 1
