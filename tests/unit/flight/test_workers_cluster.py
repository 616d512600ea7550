"""A real cluster of two worker processes on this machine, one of them killed while it works."""

from __future__ import annotations

import os
import signal
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from parasim.flight.workers import Workers, each_done

PARTS = list(range(16))

pytestmark = pytest.mark.filterwarnings("default")  # the library's own, of a worker that dies


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        host="127.0.0.1",
        silence_logs=50,
        dashboard_address="127.0.0.1:0",
    ) as cluster:
        yield cluster.scheduler_address


def slow_square(job: str, part: int) -> tuple[int, int]:
    """Take a moment; the first worker to come to part 4 is killed there."""
    mark = Path(job)
    if part == 4 and not mark.exists():
        mark.write_text(str(os.getpid()))
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.02)
    return part * part, os.getpid()


def test_a_killed_worker_loses_and_doubles_nothing(address: str, tmp_path: Path) -> None:
    mark = tmp_path / "killed"
    team = Workers(count=1, pool="threads", cluster=address)
    found = list(each_done(slow_square, str(mark), PARTS, team))
    killed = int(mark.read_text())
    assert Counter(part for part, _ in found) == Counter(PARTS)
    assert {part: square for part, (square, _) in found} == {part: part * part for part in PARTS}
    assert os.getpid() not in {pid for _, (_, pid) in found}
    done_by = {part: pid for part, (_, pid) in found}
    assert done_by[4] != killed
