"""Chunks of work spread over threads, processes or a cluster; a chunk whose worker dies is done again.

A chunk is done by ``work(job, chunk)``, which depends on nothing else; so it does not matter who does it,
when or how often, and the results are put together by chunk. The job goes to each process once.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from os import cpu_count
from typing import Any, Literal, TypeVar

from parasim.errors import OptionError, SolverError

Pool = Literal["threads", "processes"]
Part = TypeVar("Part")
Result = TypeVar("Result")
Work = Callable[[Any, Part], Result]

TRIES = 3
"""Times that the workers may die without one chunk done in between."""

CONNECT_TIMEOUT = 3.0
"""To reach the cluster. [s]"""


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
    """Cores of this machine."""
    return cpu_count() or 1


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
        n_jobs=workers.count, backend="loky", return_as="generator_unordered",
        initializer=_receive, initargs=(job,),
    )  # fmt: skip
    try:
        yield from pool(delayed(_pair_here)(work, part) for part in parts)
    except BrokenProcessPool as error:
        raise _WorkersDiedError(str(error).splitlines()[0]) from None


_received: list[Any] = []


def _receive(job: Any) -> None:
    """Keep the job in a worker process."""
    _received[:] = [job]


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
        from distributed import Client, as_completed
        from distributed.scheduler import KilledWorker
    except ImportError:
        raise OptionError('--cluster: wants another package; pip install "parasim[cluster]"') from None
    assert workers.cluster is not None
    try:
        client: Any = Client(workers.cluster, timeout=CONNECT_TIMEOUT, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError) as error:
        raise OptionError(
            f'--cluster: given "{workers.cluster}", no scheduler answers there ({type(error).__name__}); '
            'give its address, such as "tcp://127.0.0.1:8786"'
        ) from None
    with client:
        # A task of its own: were it only sent, it would be gone with the worker that holds it.
        shared = client.submit(pickle.loads, pickle.dumps(job), pure=False)
        futures = client.map(work, [shared] * len(parts), list(parts), pure=False)
        part_of = dict(zip((future.key for future in futures), parts, strict=True))
        try:
            for future in as_completed(futures, loop=client.loop):  # type: ignore[no-untyped-call]
                yield part_of[future.key], future.result()
        except KilledWorker as error:
            raise _WorkersDiedError(str(error).splitlines()[0]) from None
