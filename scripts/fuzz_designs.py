"""Drop thousands of designs at their limits: each lands, is refused, or is given up in words.

    python scripts/fuzz_designs.py                     20 minutes on all cores
    python scripts/fuzz_designs.py --minutes 2 --seed 7
    python scripts/fuzz_designs.py --draw 1234         one draw again, with its traceback

Each draw takes a shipped design, puts one to five of its keys to a limit or anywhere between, and drops it
with brakes, gusts and a start of its own; one in `ALL_COMMANDS` goes through every command as well. A draw
fails if it raises what is not one of parasim's own errors, takes longer than `SLOWEST`, or prints a landing
with energy from nowhere. Exit code 1 if any does. Meant for the night; not part of the suite.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import numpy as np
import yaml
from joblib import Parallel, delayed

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from parasim.cli.main import main as command_line  # noqa: E402
from parasim.config.base import WholeNumber  # noqa: E402
from parasim.config.design import Design  # noqa: E402
from parasim.config.keys import all_keys, look_up  # noqa: E402
from parasim.config.loader import design_document, load_design, override  # noqa: E402
from parasim.dynamics.vehicle import assemble  # noqa: E402
from parasim.errors import FlightError, ParasimError  # noqa: E402
from parasim.flight.drop import drop  # noqa: E402

SLOWEST, SLOWEST_COMMAND = 20.0, 90.0
"""Of a drop, and of any other command. [s]"""

HIGH, SLOWEST_HIGH = 1000.0, 180.0
"""Height from which a drop may last an hour and more [m], and how long that may take [s]."""

ALL_COMMANDS = 50
"""Draws of which one goes through every command."""

COMMANDS = (
    "glide",
    "drag",
    "turn",
    "servo",
    "flare",
    "landing",
    "opening",
    "lines",
    "build",
    "canopy",
    "cut",
)
BASES = tuple(sorted((ROOT / "configs").glob("*.yaml")))
SKIPPED = ("scatter", "variants", "sweep", "calibration", "sewing", "packing", "landing", "opening", "servo")
"""Sections that a drop does not read, or that hold ranges rather than values."""


KEYS = {key: mark for key in all_keys() if key.partition(".")[0] not in SKIPPED and (mark := look_up(key)[1])}
"""Numbers of the design file, and what each may be."""


def keys_of(document: dict[str, Any], before: str = "") -> Iterator[str]:
    """Dotted keys that hold something in a design document."""
    for name, value in document.items():
        yield f"{before}{name}"
        if isinstance(value, dict):
            yield from keys_of(value, f"{before}{name}.")


def drawn(number: int, seed: int) -> dict[str, Any]:
    """Changes of one draw, and the design that they are made to under the key ``base``."""
    rng = np.random.default_rng((seed, number))
    changes: dict[str, Any] = {"base": BASES[rng.integers(len(BASES))]}
    there = set(keys_of(design_document(load_design(changes["base"]))))
    keys = [key for key in KEYS if key in there]
    for i in rng.choice(len(keys), rng.integers(1, 6), replace=False):
        mark = KEYS[keys[i]]
        value = mark.low + rng.choice([0.0, 1.0, rng.random(), rng.random()]) * (mark.high - mark.low)
        whole = isinstance(mark, WholeNumber)
        changes[keys[i]] = int(value) if whole else f"{float(value)!r} {mark.shown}".strip()
    if rng.random() < 0.5:
        hooks = rng.choice(["one point", "stiff"])
        changes["payload.suspension"] = {"hooks": str(hooks)}
    start = rng.choice(["steady", "rest", "velocity"])
    changes["drop.start"] = str(start)
    if start == "velocity":
        changes["drop.velocity"] = [f"{x:.3f} m/s" for x in rng.uniform(-60, 60, 3)]
    left, right = rng.choice([0.0, 1.0, 1.0, 0.5], 2)
    changes["drop.brakes"] = [
        f"{rng.uniform(0, 5):.3f} s: L {left} R {right} over {rng.choice([0, 0.3, 2])} s"
    ]
    if rng.random() < 0.3:
        changes["site.turbulence"] = {"deviation": f"{rng.uniform(0, 4):.2f} m/s"}
    if rng.random() < 0.3:
        changes["site.gust"] = {
            "speed": f"{rng.uniform(-20, 20):.2f} m/s", "length": f"{rng.uniform(1, 100):.1f} m",
            "direction": str(rng.choice(["along", "across", "up", "down"])),
        }  # fmt: skip
    return changes


def run(number: int, seed: int) -> tuple[int, str, float, str]:
    """Outcome of one draw in a word, its time [s], and what went wrong."""
    begun = time.monotonic()
    changes = drawn(number, seed)
    base = changes.pop("base")
    try:
        design = override(load_design(base), changes)
        with limited(SLOWEST_HIGH if design.drop.height > HIGH else SLOWEST):
            outcome = flown(design)
        took = time.monotonic() - begun
        if number % ALL_COMMANDS == 0:
            by_commands(design, number)
    except ParasimError as error:
        outcome = error.outcome if isinstance(error, FlightError) else f"refused: {type(error).__name__}"
        return number, outcome, time.monotonic() - begun, str(error)
    except Exception:
        return number, "FAILED", time.monotonic() - begun, traceback.format_exc()
    return number, outcome, took, ""


def flown(design: Design) -> str:
    """How a drop ends."""
    found = drop(assemble(design))
    if found.touchdown is None:
        return found.end.ending if found.alike else "hangs on rounding"
    if found.balance.broken:
        raise AssertionError(f"energy from nothing, printed as a landing: {found.balance}")
    if not np.isfinite(found.touchdown.speed):
        raise AssertionError(f"landing without a number: {found.touchdown}")
    return "landed"


def by_commands(design: Design, number: int) -> None:
    """Run every command; a traceback or an odd exit code is an error."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / f"draw{number}.yaml"
        file.write_text(yaml.safe_dump(design_document(design), allow_unicode=True), encoding="utf-8")
        for command in COMMANDS:
            said = io.StringIO()
            output = contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(said)
            with limited(SLOWEST_COMMAND), output[0], output[1]:
                code = command_line([command, str(file)])
            if code not in (0, 2) or "Traceback" in said.getvalue():
                raise AssertionError(f"{command}: exit code {code}: {said.getvalue()[-400:]}")


@contextlib.contextmanager
def limited(seconds: float) -> Iterator[None]:
    """Raise an error in what takes more of the processor's time than that."""

    def late(_: int, __: FrameType | None) -> None:
        raise TimeoutError(f"still at it after {seconds:g} s")

    signal.signal(signal.SIGVTALRM, late)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--seed", type=int, default=int(time.strftime("%Y%m%d")))
    parser.add_argument("--draws", type=int, default=10**9, help="at most so many")
    parser.add_argument("--draw", type=int, help="one draw again")
    arguments = parser.parse_args()
    if arguments.draw is not None:
        print(drawn(arguments.draw, arguments.seed))
        _, outcome, took, error = run(arguments.draw, arguments.seed)
        print(f"{outcome} in {took:.1f} s\n{error}")
        return int(outcome == "FAILED")
    counts: Counter[str] = Counter()
    some: dict[str, list[int]] = {}
    failed, slowest, until, first = [], (0.0, -1), time.monotonic() + 60 * arguments.minutes, 0
    cores = os.cpu_count() or 1
    with Parallel(n_jobs=cores) as pool:
        while time.monotonic() < until and first < arguments.draws:
            numbers = range(first, min(first + 50 * cores, arguments.draws))
            found = pool(delayed(run)(number, arguments.seed) for number in numbers)
            for number, outcome, took, error in found:
                counts[outcome] += 1
                some.setdefault(outcome, []).append(number)
                slowest = max(slowest, (took, number))
                if outcome == "FAILED":
                    failed.append(number)
                    print(f"draw {number} failed after {took:.1f} s:\n{error}", flush=True)
            first = numbers[-1] + 1
    print(f"seed {arguments.seed}: {sum(counts.values())} draws of {len(KEYS)} keys")
    for outcome, count in counts.most_common():
        print(f"{count:7d}  {outcome}, such as {', '.join(map(str, some[outcome][:6]))}")
    print(f"slowest: draw {slowest[1]}, {slowest[0]:.1f} s; failed: {failed or 'none'}")
    return int(bool(failed))


if __name__ == "__main__":
    sys.exit(main())
