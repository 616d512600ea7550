"""What a drop costs when many are flown, how much memory that takes, and how long compiling does.

    python -m scripts.speed_ensemble [--maximum 100000] [--out DIR]

Drops of heron in turbulence, with the spreads that `parasim scatter` takes where the design tells none. Every
row is a process of its own, so that its largest resident set is its own, too. With --out the costs are drawn.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from scripts.benchmark import HERON, ROOT, machine, markdown

COUNTS = (10, 100, 1_000, 10_000, 100_000)
COMPARED = 2_000
"""Drops by which threads and processes are compared."""

CHANGES = {"site.turbulence": {"intensity": 0.1, "seed": 1}}


@dataclass(frozen=True, kw_only=True)
class Cost:
    """Of one run in a process of its own.

    Attributes
    ----------
    drops, workers : int
    pool : str
    start_cpu, start_wall : float
        From the start of the process until members can fly: imports, aerodynamics, compiling. [s]
    cpu, wall : float
        Of flying all members; of all workers. [s]
    results : float
        Of what is reported of the members. [MB]
    memory : float
        Largest resident set of the process, its workers' not counted. [MB]
    """

    drops: int
    workers: int
    pool: str
    start_cpu: float
    start_wall: float
    cpu: float
    wall: float
    results: float
    memory: float

    @property
    def each(self) -> float:
        """CPU time of a drop. [ms]"""
        return 1e3 * self.cpu / self.drops


def cpu_time() -> float:
    """Of this process and the children that have ended. [s]"""
    return sum(
        usage.ru_utime + usage.ru_stime
        for usage in (resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN))
    )


def run_here(drops: int, workers: int, pool: str, began: float) -> Cost:
    """Fly in this process. `began` is the wall clock at its start. [s]"""
    from parasim.config.loader import load_design, override
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.drop import release_of
    from parasim.scatter.scatter import build_plan, fly_all
    from parasim.workers import Workers

    vehicle = assemble(override(load_design(HERON), CHANGES))
    plan = build_plan(vehicle, release_of(vehicle), seed=1)
    fly_all(plan, 1, Workers(count=1, pool="threads"))
    start_cpu, start_wall = cpu_time(), time.time() - began
    start = time.perf_counter()
    members = fly_all(plan, drops, Workers(count=workers, pool=pool))
    wall = time.perf_counter() - start
    if workers > 1 and pool == "processes":
        from joblib.externals.loky import get_reusable_executor

        get_reusable_executor().shutdown(wait=True)
    largest = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    arrays = [value for value in asdict(members).values() if hasattr(value, "nbytes")]
    arrays += members.inputs.values()
    return Cost(
        drops=drops,
        workers=workers,
        pool=pool,
        start_cpu=start_cpu,
        start_wall=start_wall,
        cpu=cpu_time() - start_cpu,
        wall=wall,
        results=sum(array.nbytes for array in arrays) / 1e6,
        memory=largest / (1e6 if sys.platform == "darwin" else 1e3),
    )


def run_fresh(drops: int, *, workers: int = 1, pool: str = "threads", cache: str | None = None) -> Cost:
    """Fly in a new process; `cache` is where it keeps compiled code, if not where it always does."""
    environment = {name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"}
    if cache is not None:
        environment["PARASIM_CACHE"] = cache
    arguments = ["--child", str(drops), str(workers), pool, repr(time.time())]
    found = subprocess.run(
        [sys.executable, "-m", "scripts.speed_ensemble", *arguments],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    return Cost(**json.loads(found.stdout))


def minimum(costs: list[Cost]) -> Cost:
    """The run that took the minimum CPU time."""
    return min(costs, key=lambda cost: cost.cpu)


def by_count(most: int) -> list[Cost]:
    """Costs of few and many drops on one core; the few are repeated."""
    return [
        minimum([run_fresh(drops) for _ in range(3 if drops <= 1000 else 1)])
        for drops in COUNTS
        if drops <= most
    ]


def count_table(costs: list[Cost]) -> str:
    """In Markdown. Memory is reported beyond that of the fewest drops and of the results."""
    first = costs[0]
    rows = [
        [
            f"{cost.drops:,}".replace(",", " "),
            f"{cost.each:.2f}",
            f"{cost.wall:.2f}",
            f"{cost.results:.1f}",
            f"{cost.memory:.0f}",
            f"{cost.memory - cost.results - first.memory + first.results:.0f}",
        ]
        for cost in costs
    ]
    heads = [
        "drops",
        "ms each",
        "s in all, by the clock",
        "results, MB",
        "largest resident set, MB",
        f"beyond results and that of {first.drops} drops, MB",
    ]
    return markdown(rows, heads)


def worker_table(drops: int) -> str:
    """Threads against processes, in Markdown."""
    rows = []
    for workers, pool in ((1, "threads"), (2, "threads"), (2, "processes")):
        cost = min((run_fresh(drops, workers=workers, pool=pool) for _ in range(2)), key=lambda c: c.wall)
        name = "in place" if workers == 1 else f"{workers} {pool}"
        rows.append([name, f"{cost.wall:.2f}", f"{cost.cpu:.2f}", f"{cost.cpu / cost.wall:.2f}"])
    return markdown(rows, ["workers", "s by the clock", "s of CPU", "cores busy"])


def compile_table() -> str:
    """The first run ever against later ones, until the first member has flown, in Markdown."""
    with tempfile.TemporaryDirectory() as cache:
        first = run_fresh(1, cache=cache)
        later = min((run_fresh(1, cache=cache) for _ in range(3)), key=lambda cost: cost.start_cpu)
    rows = [
        ["nothing compiled yet", f"{first.start_cpu:.1f}", f"{first.start_wall:.1f}"],
        ["compiled code kept", f"{later.start_cpu:.1f}", f"{later.start_wall:.1f}"],
        [
            "compiling, the difference",
            f"{first.start_cpu - later.start_cpu:.1f}",
            f"{first.start_wall - later.start_wall:.1f}",
        ],
    ]
    return markdown(rows, ["start until the first drop is down", "s of CPU", "s by the clock"])


def plot_costs(costs: list[Cost], path: Path) -> None:
    """Draw cost of a drop over their number."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, ax = plt.subplots(figsize=(6.5, 4.0), layout="constrained")
    ax.semilogx([cost.drops for cost in costs], [cost.each for cost in costs], "o-", color="black")
    for cost in costs:
        ax.annotate(
            f"{cost.each:.2f} ms",
            (cost.drops, cost.each),
            textcoords="offset points",
            xytext=(0, 9),
            ha="center",
        )
    lowest, highest = min(c.each for c in costs), max(c.each for c in costs)
    ax.set_ylim(0, 1.3 * highest)
    ax.margins(x=0.1)
    ax.set_xlabel("drops of a run [-]")
    ax.set_ylabel("CPU time of a drop [ms]")
    ax.set_title(
        f"From {costs[0].drops} to {costs[-1].drops:,} drops each costs {lowest:.1f} to {highest:.1f} ms"
    )
    ax.grid(visible=True, which="major", alpha=0.3)
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=150)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--maximum", type=int, default=COUNTS[-1], help="drops of the largest run")
    parser.add_argument("--out", type=Path, help="directory for the picture")
    parser.add_argument("--child", nargs=4, help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.child:
        drops, workers, pool, began = arguments.child
        print(json.dumps(asdict(run_here(int(drops), int(workers), pool, float(began)))))
        return
    run_fresh(1)
    costs = by_count(arguments.most)
    print(f"Cost of a drop, one core:\n\n{count_table(costs)}\n")
    print(f"{COMPARED} drops by several workers:\n\n{worker_table(COMPARED)}\n")
    print(f"{compile_table()}\n")
    print(
        f"{machine()}; drops of heron from its own height in turbulence; ms are CPU time, the minimum of "
        f"three runs up to 1000 drops; load {os.getloadavg()[0]:.1f}."
    )
    if arguments.out is not None:
        plot_costs(costs, arguments.out / "cost_of_a_drop.png")


if __name__ == "__main__":
    main()
