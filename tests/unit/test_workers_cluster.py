"""A real cluster of two worker processes on this machine, one of them killed while it works.

It runs in an interpreter of its own, as a person's would: the cluster's threads and event loops are not left
behind in the one that tests.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from parasim.workers import Workers, each_done

pytestmark = pytest.mark.slow

PARTS = list(range(16))
ROOT = Path(__file__).parents[3]


def slow_square(job: str, part: int) -> tuple[int, int]:
    """Take a moment; the first worker to come to part 4 is killed there."""
    mark = Path(job)
    if part == 4 and not mark.exists():
        mark.write_text(str(os.getpid()))
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.02)
    return part * part, os.getpid()


def run(mark: str) -> None:
    """Do all parts on a cluster and print who did what."""
    from distributed import LocalCluster

    settings = {"host": "127.0.0.1", "silence_logs": 50, "dashboard_address": "127.0.0.1:0"}
    with LocalCluster(n_workers=2, threads_per_worker=1, **settings) as cluster:
        team = Workers(count=1, pool="threads", cluster=cluster.scheduler_address)
        found = list(each_done(slow_square, mark, PARTS, team))
    print(json.dumps({"found": found, "own": os.getpid()}))


def test_a_killed_worker_loses_and_doubles_nothing(tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    mark = tmp_path / "killed"
    done = subprocess.run(
        [sys.executable, __file__, str(mark)],
        capture_output=True, text=True, timeout=120, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    found = [(part, square, pid) for part, (square, pid) in told["found"]]
    assert Counter(part for part, _, _ in found) == Counter(PARTS)
    assert {part: square for part, square, _ in found} == {part: part * part for part in PARTS}
    done_by = {part: pid for part, _, pid in found}
    assert told["own"] not in done_by.values()
    assert done_by[4] != int(mark.read_text())


ALONE = """
import sys, time
from distributed import LocalCluster
if __name__ == "__main__":
    settings = dict(host="127.0.0.1", silence_logs=50, dashboard_address="127.0.0.1:0")
    cluster = LocalCluster(n_workers=int(sys.argv[1]), threads_per_worker=1, **settings)
    print(cluster.scheduler_address, flush=True)
    time.sleep(120)
"""


def waits(job: int, part: int) -> int:
    if part:
        time.sleep(60)
    return part


@pytest.mark.parametrize(("count", "told"), [(0, "the scheduler has no workers"), (1, "went away")])
def test_a_scheduler_without_workers_or_one_that_dies_is_told(count: int, told: str) -> None:
    pytest.importorskip("distributed")
    code = (
        "import sys\nfrom parasim.errors import ParasimError\n"
        "from parasim.workers import Workers, each_done\n"
        "from tests.unit.test_workers_cluster import waits\n"
        "try:\n    team = Workers(count=1, pool='threads', cluster=sys.argv[1])\n"
        "    for each in each_done(waits, 0, [0, 1], team): print('done', flush=True)\n"
        "except ParasimError as error:\n    print(error)\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    pipes = {"cwd": ROOT, "env": environment, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
    with subprocess.Popen([sys.executable, "-c", ALONE, str(count)], text=True, **pipes) as scheduler:
        try:
            address = scheduler.stdout.readline().strip()
            with subprocess.Popen([sys.executable, "-c", code, address], text=True, **pipes) as client:
                first = client.stdout.readline()
                if count:
                    assert first == "done\n"
                    scheduler.kill()
                began = time.monotonic()
                text = (first if not count else "") + client.communicate(timeout=60)[0]
                assert time.monotonic() - began < 20
        finally:
            scheduler.kill()
    assert told in text
    assert text.count("\n") == 1


if __name__ == "__main__":
    run(sys.argv[1])
