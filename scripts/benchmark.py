"""How long things take and how much memory they need, as a table for README.

    python scripts/benchmark.py [--repeats 5]

Times are medians. Commands are timed cold: a new interpreter each, from start to exit, files and pictures
written. Memory is the largest resident set of such a process.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))
HERON = ROOT / "configs" / "heron.yaml"

LONG_DROP_HEIGHT = 160.0
"""Release height from which heron takes about a minute to come down. [m]"""

TARGETS = {
    "import parasim": 0.3,
    "parasim glide, cold": 3.0,
    "parasim drop, cold": 1.5,
    "parasim scatter, 2000 drops in turbulence, cold": 5.0,
    "table of coefficients": 0.15,
    "trim": 0.06,
    "drop of a minute, brakes released": 0.5,
}
"""What we ask for. [s]"""
LARGEST_MEMORY = 300.0
"""What we ask for. [MB]"""


def median_time(action: Callable[[], object], repeats: int) -> float:
    """Of several runs. [s]"""
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def run_fresh(code: str) -> tuple[float, float]:
    """Wall time of a new interpreter that runs the code [s], and its largest resident set [MB]."""
    start = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    _, status, usage = os.wait4(child.pid, 0)
    taken = time.perf_counter() - start
    assert child.stderr is not None
    message = child.stderr.read().decode()
    child.stderr.close()
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        raise SystemExit(message)
    return taken, usage.ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


def import_times(repeats: int) -> dict[str, float]:
    """Of the import itself, without the start of the interpreter."""
    code = "import time; t = time.perf_counter(); import parasim; print(time.perf_counter() - t)"
    taken = [
        float(
            subprocess.run(
                [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
            ).stdout
        )
        for _ in range(repeats)
    ]
    return {"import parasim": statistics.median(taken)}


def command_costs(repeats: int) -> tuple[dict[str, float], dict[str, float]]:
    """Time and memory of commands, each in a process of its own, with and without their files."""
    times, memories = {}, {}
    with tempfile.TemporaryDirectory() as directory:
        rough = Path(directory) / "rough.yaml"
        rough.write_text(HERON.read_text().replace("\nsite:\n", "\nsite:\n  turbulence: {}\n"))
        out = ["--out", f"{directory}/out"]
        for name, arguments in (
            ("parasim glide", ["glide", str(HERON)]),
            ("parasim glide and its files", ["glide", str(HERON), *out]),
            ("parasim drop", ["drop", str(HERON)]),
            ("parasim drop and its files", ["drop", str(HERON), *out]),
            ("parasim scatter, 2000 drops in turbulence", ["scatter", str(rough), "--drops", "2000"]),
        ):
            command = ["parasim", *arguments]
            code = f"import sys; sys.argv = {command!r}; from parasim.__main__ import run; sys.exit(run())"
            runs = [run_fresh(code) for _ in range(repeats)]
            times[f"{name}, cold"] = statistics.median(taken for taken, _ in runs)
            kind = " ".join(command[:2])
            memories[kind] = max([memories.get(kind, 0.0), *(memory for _, memory in runs)])
    return times, memories


def inner_times(repeats: int) -> tuple[dict[str, float], list[str]]:
    """Of the pieces, warm; and how long the drops last."""
    import numpy as np

    from parasim import assemble, drop, find_trims, load_design, override
    from parasim.aerodynamics.model import build_aero_table

    design = load_design(HERON)
    vehicle = assemble(design)
    changes = {"drop.height": LONG_DROP_HEIGHT, "drop.brakes": [], "site.wind.speed": 3.0}
    brakes_released = assemble(override(design, changes))
    turning = assemble(override(design, {**changes, "drop.brakes": ["3s: L 0.3 R 0 over 1s"]}))
    _ = vehicle.model.table, brakes_released.model.table, turning.model.table
    drops = {
        "drop of a minute, brakes released": brakes_released,
        "drop from there, one brake at 30 %": turning,
    }
    lasted = [f"{name}: {drop(flown).time_aloft:.0f} s aloft" for name, flown in drops.items()]
    actions: dict[str, Callable[[], object]] = {
        "assemble": lambda: assemble(design),
        "table of coefficients": lambda: build_aero_table(vehicle.model),
        "trim": lambda: find_trims(assemble(design), modes=False),
        **{name: (lambda flown=flown: drop(flown)) for name, flown in drops.items()},
    }
    assert np.isfinite(vehicle.mass)
    return {name: median_time(action, repeats) for name, action in actions.items()}, lasted


def machine() -> str:
    """Processor, number of cores, system, Python."""
    try:
        lines = Path("/proc/cpuinfo").read_text().splitlines()
        processor = next(line.split(":")[1].strip() for line in lines if line.startswith("model name"))
    except (OSError, StopIteration):
        processor = platform.processor() or platform.machine()
    return f"{processor}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}"


def shown(name: str, seconds: float) -> list[str]:
    """Row of the table: what, how long, what is asked for."""
    wanted = TARGETS.get(name)
    if wanted is None:
        return [name, duration(seconds), ""]
    return [name, duration(seconds), f"under {duration(wanted)}{'' if seconds < wanted else ', missed'}"]


def duration(seconds: float) -> str:
    """In ms or s.

    >>> duration(0.0123), duration(2.5)
    ('12 ms', '2.5 s')
    """
    return f"{1e3 * seconds:.0f} ms" if seconds < 0.9995 else f"{seconds:.1f} s"


def markdown(rows: list[list[str]], heads: list[str]) -> str:
    """Rows as a table of Markdown."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines)


def measure(repeats: int) -> str:
    """The whole table and the notes below it, in Markdown."""
    cold, memories = command_costs(repeats)
    warm, lasted = inner_times(repeats)
    times = {**import_times(repeats), **cold, **warm}
    rows = [shown(name, seconds) for name, seconds in times.items()]
    rows += [
        [f"memory of {name}, at most", f"{memory:.0f} MB", f"under {LARGEST_MEMORY:.0f} MB"]
        for name, memory in memories.items()
    ]
    load = f"load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    notes = (
        f"{machine()}; medians of {repeats}, memory the largest; {load} at the end. "
        + "; ".join(lasted)
        + "."
    )
    return f"{markdown(rows, ['what', 'measured', 'asked for'])}\n\n{notes}"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=5)
    print(measure(parser.parse_args().repeats))


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    main()
