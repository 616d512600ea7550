"""How near the compiled flights come to the same motion in C, and how far they leave scipy behind.

    python -m scripts.speed_limit [--repeats 15] [--members 20]

Flies the same members by each means, in turns, hands up, and compares where they land. Times are CPU times of
one core, the least of the repeats, scaled to a flight of a minute: other processes disturb those least. Needs
gcc.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from parasim.config.loader import load_design, override
from parasim.dynamics.flight_rates import flight_rates, payload_point
from parasim.dynamics.runge_kutta import fly as fly_one
from parasim.dynamics.runge_kutta import room_for
from parasim.dynamics.simulate import LONGEST_FLIGHT, RELATIVE_TOLERANCE
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import release_of
from parasim.flight.ensemble import Member, fly, ready
from parasim.flight.family import Family, build_family
from parasim.rotations import FloatArray
from scripts import plain_c
from scripts.benchmark import HERON, LONG_DROP_HEIGHT, machine, markdown
from scripts.plain_numpy import Cross, cross_written_out, fly_plain

SEED = 1
VARIED = ("wind_speed", "heading", "payload_mass")
TURBULENCE = {"intensity": 0.1, "seed": SEED}

SAME, ALIKE = 1e-9, 1e-4
"""How well landing points must agree, over the way from release: of the same steps, and of other steps at
the same tolerance. In turbulence the latter go by millimetres."""

AGAINST_C, AGAINST_NUMPY = 2.0, 200.0
"""What we ask for: at most so many times what C takes, at least so many times quicker than plain numpy."""

C = f"C, gcc {' '.join(plain_c.OPTIONS[0])}"
ALONE = "compiled Python, the flight alone"
WHOLE = "compiled Python, `fly` with all that a member costs"
PLAIN = "scipy RK45, plain numpy"

Means = Callable[[int], FloatArray]
"""Flies one member, and tells its last state."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """Members of a family, each in all the forms that it is flown in."""

    family: Family
    inputs: dict[str, FloatArray]
    members: list[Member]

    @property
    def place(self) -> tuple[float, ...]:
        return tuple(self.family.payload_bottom.tolist())


def build_case(n: int, *, turbulent: bool) -> Case:
    """Drops of heron from the height of a minute."""
    changes = {"drop.height": LONG_DROP_HEIGHT, "drop.brakes": [], "site.wind.speed": 3.0}
    if turbulent:
        changes["site.turbulence"] = TURBULENCE
    vehicle = assemble(override(load_design(HERON), changes))
    family = build_family(vehicle, release_of(vehicle), varied=VARIED)
    random = np.random.default_rng(SEED)
    inputs = {
        "wind_speed": random.normal(3.0, 0.5, n),
        "heading": random.uniform(0.0, 2 * np.pi, n),
        "payload_mass": random.normal(1.2, 0.05, n),
    }
    members = [ready(family, inputs, k, k, SEED) for k in range(n)]
    return Case(family=family, inputs=inputs, members=members)


def by_compiled(case: Case) -> Means:
    """The compiled flight alone."""
    room = room_for(plain_c.N_STATES, 1)

    def means(k: int) -> FloatArray:
        member, state = case.members[k], case.members[k].state.copy()
        fly_one(
            member.flight,
            case.place,
            member.timed,
            member.by_height,
            state,
            RELATIVE_TOLERANCE,
            plain_c.TOLERANCES,
            LONGEST_FLIGHT,
            room,
        )
        return state

    return means


def by_c(case: Case, directory: Path, options: Sequence[str]) -> Means:
    """The C version."""
    library = plain_c.PlainC(directory, options)
    prepared = [plain_c.Prepared(member, case.place) for member in case.members]
    return lambda k: library.fly(prepared[k])[0]


def by_scipy(case: Case, method: str) -> Means:
    """scipy's steps with the compiled right-hand side."""
    rates, room = np.empty(plain_c.N_STATES), None

    def means(k: int) -> FloatArray:
        member = case.members[k]
        flight, moves = member.flight, member.timed

        def rate(t: float, y: FloatArray) -> FloatArray:
            flight_rates(flight, moves, len(moves), t, y, rates, room)
            return rates.copy()

        def touches(_: float, y: FloatArray) -> float:
            return payload_point(flight, y, case.place)[0]

        touches.terminal = True
        found = solve_ivp(
            rate,
            (0.0, LONGEST_FLIGHT),
            member.state,
            method=method,
            rtol=RELATIVE_TOLERANCE,
            atol=plain_c.TOLERANCES,
            events=touches,
        )
        return found.y[:, -1]

    return means


def by_numpy(case: Case, method: str, cross: Cross) -> Means:
    """scipy's steps with plain numpy."""
    tolerances: Any = {"rtol": RELATIVE_TOLERANCE, "atol": plain_c.TOLERANCES}
    return lambda k: fly_plain(case.members[k], case.place, method=method, cross=cross, **tolerances)


def least_times(actions: dict[str, Callable[[], object]], repeats: dict[str, int]) -> dict[str, float]:
    """CPU time of each action, the least of its repeats; the actions take turns. [s]"""
    least = dict.fromkeys(actions, np.inf)
    for turn in range(max(repeats.values())):
        for name, action in actions.items():
            if turn < repeats[name]:
                start = time.process_time()
                action()
                least[name] = min(least[name], time.process_time() - start)
    return least


def measure(case: Case, repeats: int, directory: Path) -> dict[str, tuple[float, float]]:
    """Milliseconds for each minute of flight, and how far off the landing point is, by means."""
    n, few = len(case.members), min(2, len(case.members))
    compiled = by_compiled(case)
    quick = {f"C, gcc {' '.join(options)}": by_c(case, directory, options) for options in plain_c.OPTIONS}
    quick[ALONE] = compiled
    slow = {
        "scipy LSODA, compiled right-hand side": by_scipy(case, "LSODA"),
        "scipy RK45, compiled right-hand side": by_scipy(case, "RK45"),
        PLAIN: by_numpy(case, "RK45", np.cross),
        "scipy LSODA, plain numpy": by_numpy(case, "LSODA", np.cross),
        "scipy RK45, plain numpy, vector products written out": by_numpy(case, "RK45", cross_written_out),
    }
    landings = fly(case.family, case.inputs, number=np.arange(n), seed=SEED, rtol=RELATIVE_TOLERANCE)
    actions = {name: flies(means, n) for name, means in quick.items()}
    actions |= {name: flies(means, few) for name, means in slow.items()}
    actions[WHOLE] = lambda: fly(
        case.family, case.inputs, number=np.arange(n), seed=SEED, rtol=RELATIVE_TOLERANCE
    )
    repeats_of = {name: max(1, repeats // 5) if name in slow else repeats for name in actions}
    least = least_times(actions, repeats_of)
    aloft = {name: landings.time_aloft[: few if name in slow else n].sum() for name in least}
    off = {name: furthest_off(case, means, compiled, n) for name, means in quick.items()}
    off |= {name: furthest_off(case, means, compiled, few) for name, means in slow.items()}
    ends = np.array([compiled(k)[:2] for k in range(n)])
    off[WHOLE] = float(np.abs(np.column_stack([landings.north, landings.east]) - ends).max())
    return {name: (60e3 * least[name] / aloft[name], off[name]) for name in least}


def flies(means: Means, n: int) -> Callable[[], object]:
    """Flies the first members."""
    return lambda: [means(k) for k in range(n)]


def furthest_off(case: Case, means: Means, compiled: Means, n: int) -> float:
    """Greatest distance from the compiled flight's landing point, over the way from release."""
    off = []
    for k in range(n):
        start, end = case.members[k].state[:3], compiled(k)[:3]
        off.append(np.linalg.norm(means(k)[:3] - end) / np.linalg.norm(end - start))
    return float(max(off))


def require_agreement(told: dict[str, tuple[float, float]]) -> None:
    """Stop where a means lands elsewhere: then its time says nothing."""
    for name, (_, off) in told.items():
        allowed = SAME if name in (C, WHOLE) else ALIKE
        if not off <= allowed:
            raise SystemExit(f"{name}: lands {off:.1e} of the way off, allowed is {allowed:.0e}")


def table(told: dict[str, tuple[float, float]]) -> str:
    """In Markdown, with the ratios."""
    c, alone = told[C][0], told[ALONE][0]
    order = sorted(told, key=lambda name: told[name][0])
    rows = [
        [name, f"{ms:.2f}" if ms < 100 else f"{ms:.0f}", f"{ms / c:.2f}", f"{ms / alone:.2f}", f"{off:.0e}"]
        for name, (ms, off) in ((name, told[name]) for name in order)
    ]
    heads = [
        "means",
        "ms for a minute",
        "over C -O3",
        "over compiled Python",
        "landing point off, of the way",
    ]
    return markdown(rows, heads)


def verdict(told: dict[str, tuple[float, float]]) -> str:
    """What we asked for."""
    alone = told[ALONE][0]
    whole = told[WHOLE][0]
    c, plain = told[C][0], told[PLAIN][0]

    best = min(ms for name, (ms, _) in told.items() if "plain numpy" in name)

    def met(good: bool) -> str:
        return "met" if good else "missed"

    return (
        f"Asked for: within {AGAINST_C:g} times of C -O3: flight alone {alone / c:.2f} times, "
        f"{met(alone <= AGAINST_C * c)}; with all that a member costs {whole / c:.2f} times, "
        f"{met(whole <= AGAINST_C * c)}. At least {AGAINST_NUMPY:g} times quicker than scipy with plain "
        f"numpy: {plain / whole:.0f} times with all that a member costs, "
        f"{met(plain >= AGAINST_NUMPY * whole)}; than the best of plain numpy {best / whole:.0f} times."
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=15)
    parser.add_argument("--members", type=int, default=20)
    arguments = parser.parse_args()
    if not plain_c.has_compiler():
        raise SystemExit("speed_limit.py needs gcc")
    with tempfile.TemporaryDirectory() as directory:
        for turbulent in (False, True):
            told = measure(
                build_case(arguments.members, turbulent=turbulent), arguments.repeats, Path(directory)
            )
            print(f"\n{'In turbulence' if turbulent else 'Without turbulence'}:\n\n{table(told)}\n")
            print(verdict(told))
            require_agreement(told)
    print(
        f"\n{machine()}; CPU time of one core, least of {arguments.repeats} repeats (scipy: fewer) of "
        f"{arguments.members} drops (scipy: 2) from {LONG_DROP_HEIGHT:g} m, hands up, wind 3 m/s, in turns; "
        f"load {os.getloadavg()[0]:.1f}."
    )


if __name__ == "__main__":
    main()
