"""What an hour of flight costs: drops of heron from 10 and 30 km, as `parasim drop` flies them.

    python -m scripts.speed_high

Each is flown twice in this process, and the second time counts: machine code is there and files are read, but
the design is assembled and tabulated anew. CPU times of one core; in brackets the time by the clock, which
other processes lengthen.
"""

from __future__ import annotations

import time

from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import Drop, drop
from parasim.report.drop import DropReport
from scripts.benchmark import HERON

CASES: dict[str, dict[str, object]] = {
    "10 km, calm": {"drop.height": "10 km", "site.wind": None},
    "10 km, wind law": {"drop.height": "10 km"},
    "10 km, wind law and turbulence": {"drop.height": "10 km", "site.turbulence": {"seed": 1}},
    "30 km, calm": {"drop.height": "30 km", "site.wind": None},
}


def flown(changes: dict[str, object]) -> tuple[Drop, float, float]:
    """A drop with the brakes released, its CPU time and its time by the clock. [s]"""
    design = override(load_design(HERON), {"drop.brakes": [], **changes})
    cpu, clock = time.process_time(), time.perf_counter()
    found = drop(assemble(design))
    return found, time.process_time() - cpu, time.perf_counter() - clock


def main() -> None:
    """Fly and print."""
    for name, changes in CASES.items():
        flown(changes)
        found, cpu, clock = flown(changes)
        size = sum(len(text) for _, text in DropReport(found).tables()) / 1e6
        print(
            f"{name}: {found.time_aloft / 60:.0f} min aloft, {cpu:.2f} s ({clock:.2f} s), "
            f"{found.trajectory.evaluations} evaluations, {len(found.track.time)} rows, {size:.1f} MB of CSV"
        )


if __name__ == "__main__":
    main()
