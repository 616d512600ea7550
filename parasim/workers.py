"""Chunks of work spread over threads, processes or a cluster; a chunk whose worker dies is done again.

A chunk is done by ``work(job, chunk)``, which depends on nothing else; so it does not matter who does it,
when or how often, and the results are put together by chunk. The job goes to each process once.
"""

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, TypeVar

from parasim.errors import OptionError, SolverError
from parasim.files import uninterrupted

Pool = Literal["threads", "processes"]
Part = TypeVar("Part")
Result = TypeVar("Result")
Work = Callable[[Any, Part], Result]

TRIES = 3
"""Times that the workers may die without one chunk done in between."""

CONNECT_TIMEOUT = 3.0
"""To reach the cluster. [s]"""

CLUSTER_PATIENCE = 10.0
"""For the cluster to answer, to show a worker, or to come back. Our choice. [s]"""

FROZEN_AFTER = 600.0
"""Without one chunk done, after which worker processes count as frozen; one takes seconds. Our choice. [s]"""

WORKER_MEMORY = 4e8
"""Main memory that a worker process takes, memory for its work included. Our choice. [bytes]"""

WATCH_INTERVAL = 1.0
"""At which a worker looks whether the main process is still there. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Workers:
    """Who does the work.

    Attributes
    ----------
    count : int
        Of threads or processes on this machine; one does it in place.
    pool : {"threads", "processes"}
        Of what kind they are.
    cluster : str or None
        Address of a cluster's scheduler, in place of both.
    """

    count: int
    pool: Pool
    cluster: str | None = None


def default_count() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def free_memory() -> float:
    """Main memory that could be had now; infinite where the system does not say. [bytes]"""
    try:
        lines = Path("/proc/meminfo").read_text().splitlines()
        (found,) = (line.split()[1] for line in lines if line.startswith("MemAvailable:"))
        return 1024.0 * float(found)
    except (OSError, ValueError):
        return float("inf")


def within_means(workers: Workers) -> tuple[Workers, str]:
    """As many worker processes as there are cores and memory for, and a word if they are fewer than asked."""
    if workers.pool != "processes" or workers.cluster is not None:
        return workers, ""
    by_memory = max(1.0, free_memory() // WORKER_MEMORY)
    most = int(min(by_memory, default_count()))
    if workers.count <= most:
        return workers, ""
    reason = "free memory" if by_memory < default_count() else "cores"
    return replace(
        workers, count=most
    ), f"--workers: {most} in place of {workers.count}, for want of {reason}."


def each_done(
    work: Work[Part, Result], job: Any, parts: Sequence[Part], workers: Workers
) -> Iterator[tuple[Part, Result]]:
    """Parts and their results, as they get done.

    Parameters
    ----------
    work : callable
        Of the job and a part; a function of a module, so that it can be sent.
    job : object
        What all parts share.
    parts : sequence
        Each can be a key.
    workers : Workers
        Who does it.

    Raises
    ------
    SolverError
        When workers keep dying.
    OptionError
        When the cluster cannot be reached.
    """
    left, tries = list(parts), 0
    rounds = _round_of(workers)
    while left:
        before = len(left)
        try:
            for part, result in rounds(work, job, tuple(left), workers):
                left.remove(part)
                yield part, result
        except _WorkersDiedError as error:
            tries = 0 if len(left) < before else tries + 1
            if tries >= TRIES:
                raise SolverError(
                    f"the workers died {TRIES} times without getting one of {len(left)} chunks done "
                    f"({error}); use fewer workers if memory ran short"
                ) from None


class _WorkersDiedError(Exception):
    """Some worker died; what was not handed out yet is still to be done."""


def _round_of(workers: Workers) -> Callable[..., Iterator[tuple[Any, Any]]]:
    if workers.cluster is not None:
        return _on_cluster
    if workers.count == 1:
        return _in_place
    return _in_threads if workers.pool == "threads" else _in_processes


def _in_place(
    work: Work[Part, Result], job: Any, parts: Sequence[Part], workers: Workers
) -> Iterator[tuple[Part, Result]]:
    for part in parts:
        yield part, work(job, part)


def _in_threads(
    work: Work[Part, Result], job: Any, parts: Sequence[Part], workers: Workers
) -> Iterator[tuple[Part, Result]]:
    from joblib import Parallel, delayed

    pool = Parallel(n_jobs=workers.count, backend="threading", return_as="generator_unordered")
    yield from pool(delayed(_pair)(work, job, part) for part in parts)


def _in_processes(
    work: Work[Part, Result], job: Any, parts: Sequence[Part], workers: Workers
) -> Iterator[tuple[Part, Result]]:
    from joblib import Parallel, delayed
    from joblib.externals.loky.process_executor import BrokenProcessPool

    pool = Parallel(
        n_jobs=workers.count, backend="loky", return_as="generator_unordered", timeout=FROZEN_AFTER,
        initializer=_receive, initargs=(job, os.getpid()),
    )  # fmt: skip
    try:
        with deaf_to_interruptions():
            done = pool(delayed(_pair_here)(work, part) for part in parts)
        yield from done
    except BrokenProcessPool as error:
        raise _WorkersDiedError(str(error).splitlines()[0]) from None
    except (TimeoutError, multiprocessing.TimeoutError):
        raise _WorkersDiedError(f"frozen: nothing done within {FROZEN_AFTER:g} s") from None


@contextmanager
def deaf_to_interruptions() -> Iterator[None]:
    """Start worker processes that Ctrl-C does not reach, from their first line on; the main one ends them.

    A process begins with the signals blocked that the thread blocks which starts it. Ctrl-C reaches all
    processes of a terminal, and one that is hit while it still imports would print a traceback. In the main
    process it waits: half-way through a start joblib would lose it in an error of its own.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing.resource_tracker import ensure_running

    from joblib.externals.loky.backend import resource_tracker

    # Both come with the first worker; started among them, they would let interruptions in again.
    ensure_running()
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        with uninterrupted():  # blocked in this thread only, and another's would count here
            yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


_received: list[Any] = []


def _receive(job: Any, main: int) -> None:
    """Keep the job in a worker process, which ends when the main process does, however that ends."""
    _received[:] = [job]
    threading.Thread(target=_end_with, args=(main,), daemon=True).start()


def _end_with(main: int) -> None:
    while os.getppid() == main:
        time.sleep(WATCH_INTERVAL)
    os._exit(1)


def _pair_here(work: Work[Part, Result], part: Part) -> tuple[Part, Result]:
    return part, work(_received[0], part)


def _pair(work: Work[Part, Result], job: Any, part: Part) -> tuple[Part, Result]:
    return part, work(job, part)


def _on_cluster(
    work: Work[Part, Result], job: Any, parts: Sequence[Part], workers: Workers
) -> Iterator[tuple[Part, Result]]:
    """Hand all parts to a scheduler, which itself moves those of a dead worker to another."""
    import pickle

    try:
        from distributed import Client
        from distributed.comm.core import CommClosedError
        from distributed.scheduler import KilledWorker
    except ImportError:
        raise OptionError('--cluster: needs another package; pip install "parasim[cluster]"') from None
    client = _client(str(workers.cluster), Client)
    part_of: dict[Any, Part] = {}
    try:
        # A task of its own: were it only sent, it would be gone with the worker that holds it.
        shared = client.submit(pickle.loads, pickle.dumps(job), pure=False)
        part_of = {client.submit(work, shared, part, pure=False): part for part in parts}
        while part_of:
            for future in _next_done(client, list(part_of), str(workers.cluster)):
                yield part_of.pop(future), future.result()
    except KilledWorker as error:
        raise _WorkersDiedError(str(error).splitlines()[0]) from None
    except (CommClosedError, CancelledError):
        # It went between two looks.
        raise _gone(str(workers.cluster), "went away", len(part_of)) from None
    finally:
        _within(CLUSTER_PATIENCE, lambda: client.close(timeout=CONNECT_TIMEOUT))


def _client(address: str, kind: Any) -> Any:
    """Client of a scheduler that answers and has workers.

    Raises
    ------
    OptionError
        If it does not.
    """
    given = f'--cluster: given "{address}"'
    tried = _within(CLUSTER_PATIENCE, lambda: kind(address, timeout=CONNECT_TIMEOUT, set_as_default=False))
    if not isinstance(tried, kind):
        raise OptionError(
            f"{given}, no scheduler answers there ({type(tried).__name__}); "
            'give its address, such as "tcp://127.0.0.1:8786"'
        )
    client: Any = tried
    waited = _within(2 * CLUSTER_PATIENCE, lambda: client.wait_for_workers(1, timeout=0.8 * CLUSTER_PATIENCE))
    if isinstance(waited, Exception):
        _within(CONNECT_TIMEOUT, lambda: client.close(timeout=CONNECT_TIMEOUT))
        raise OptionError(f"{given}, the scheduler has no workers; start one there: dask worker {address}")
    return client


def _next_done(client: Any, futures: list[Any], address: str) -> list[Any]:
    """Futures that are done, at least one.

    Raises
    ------
    SolverError
        If the scheduler is gone, or has lost all its workers, for too long.
    """
    last_seen = time.monotonic()
    while True:
        done = [future for future in futures if future.status in ("finished", "error")]
        if done:
            return done
        if any(future.status in ("cancelled", "lost") for future in futures) or client.status != "running":
            problem = "went away"
        elif not client.scheduler_info(n_workers=-1).get("workers"):
            problem = "has lost all its workers"
        else:
            problem, last_seen = "", time.monotonic()
        if problem and time.monotonic() - last_seen > CLUSTER_PATIENCE:
            raise _gone(address, problem, len(futures))
        time.sleep(0.05)


def _gone(address: str, problem: str, left: int) -> SolverError:
    return SolverError(
        f'--cluster: the scheduler at "{address}" {problem}, with {left} chunks still to do; those done are '
        "kept with --out: start it again, and add --resume"
    )


def _within(seconds: float, action: Callable[[], Any]) -> Any:
    """What an action gives or the exception that it ends with, TimeoutError if it takes too long."""
    found: list[Any] = [TimeoutError()]

    def act() -> None:
        try:
            found[0] = action()
        except Exception as error:
            found[0] = error

    thread = threading.Thread(target=act, daemon=True)
    thread.start()
    thread.join(seconds)
    return found[0]
