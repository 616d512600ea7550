"""What a minute of flight costs: the ensemble's compiled steps against scipy's, with the same equations.

    python -m scripts.speed_flight [--repeats 15] [--members 20]

Flies the same members of heron by each means, brakes released, and compares where they land. Times are CPU
times of one core, the minimum of the repeats: other processes disturb those minimum.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp

from parasim.config.loader import load_design, override
from parasim.config.scenario import LONGEST_FLIGHT
from parasim.dynamics.flight_rates import flight_rates, payload_point
from parasim.dynamics.runge_kutta import fly, workspace_for
from parasim.dynamics.simulate import ABSOLUTE_TOLERANCE, GUST_TOLERANCE, RELATIVE_TOLERANCE
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import release_of
from parasim.rotations import FloatArray
from parasim.scatter.ensemble import Member, ready
from parasim.scatter.ensemble_model import build_ensemble_model
from scripts.benchmark import HERON, LONG_DROP_HEIGHT

SEED = 1
Place = tuple[float, float, float]
Means = Callable[[Member, Place], FloatArray]
"""Flies a member until that point of its payload touches the ground; its last state."""


def members(n: int, *, turbulent: bool) -> tuple[list[Member], Place]:
    """Drops of heron from the height of a minute, and the point that touches first."""
    changes = {"drop.height": LONG_DROP_HEIGHT, "drop.brakes": [], "site.wind.speed": 3.0}
    if turbulent:
        changes["site.turbulence"] = {"intensity": 0.1, "seed": SEED}
    vehicle = assemble(override(load_design(HERON), changes))
    family = build_ensemble_model(
        vehicle, release_of(vehicle), varied=("wind_speed", "heading", "payload_mass")
    )
    random = np.random.default_rng(SEED)
    inputs = {
        "wind_speed": random.normal(3.0, 0.5, n),
        "heading": random.uniform(0.0, 2 * np.pi, n),
        "payload_mass": random.normal(1.2, 0.05, n),
    }
    x, y, z = family.payload_bottom.tolist()
    return [ready(family, inputs, k, k, SEED) for k in range(n)], (x, y, z)


def tolerances(member: Member) -> FloatArray:
    """Absolute ones, of the state and of the two gust coordinates."""
    return np.append(ABSOLUTE_TOLERANCE[: len(member.state) - 2], GUST_TOLERANCE)


def by_compiled(member: Member, place: Place) -> FloatArray:
    """The ensemble's steps."""
    state = member.state.copy()
    fly(
        member.flight, place, member.timed, member.by_height, state, RELATIVE_TOLERANCE, tolerances(member),
        LONGEST_FLIGHT, workspace_for(len(state), 1),
    )  # fmt: skip
    return state


def by_scipy(method: str, tighter: float = 1.0) -> Means:
    """scipy's steps with the compiled right-hand side."""

    def means(member: Member, place: Place) -> FloatArray:
        flight, moves = member.flight, member.timed
        rates = np.empty(len(member.state))

        def rate(t: float, y: FloatArray) -> FloatArray:
            flight_rates(flight, moves, len(moves), t, y, rates)
            return rates.copy()

        def touches(_: float, y: FloatArray) -> float:
            return payload_point(flight, y, place)[0]

        touches.terminal = True  # type: ignore[attr-defined]
        found = solve_ivp(
            rate, (0.0, LONGEST_FLIGHT), member.state, method=method, events=touches,
            rtol=tighter * RELATIVE_TOLERANCE, atol=tighter * tolerances(member),
        )  # fmt: skip
        return np.asarray(found.y[:, -1])

    return means


MEANS: dict[str, Means] = {
    "the ensemble's compiled steps": by_compiled,
    "scipy, LSODA, the same equations": by_scipy("LSODA"),
    "scipy, DOP853, the same equations": by_scipy("DOP853"),
}


def minimum_time(means: Means, flown: list[Member], place: Place, repeats: int) -> float:
    """CPU time of all members, the minimum of the repeats. [s]"""
    minimum = np.inf
    for _ in range(repeats):
        start = time.process_time()
        for member in flown:
            means(member, place)
        minimum = min(minimum, time.process_time() - start)
    return minimum


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--members", type=int, default=10)
    options = parser.parse_args()
    columns = []
    for turbulent in (False, True):
        flown, place = members(options.members, turbulent=turbulent)
        truth = [by_scipy("DOP853", 1e-3)(member, place) for member in flown]
        column = []
        for means in MEANS.values():
            off = max(
                np.hypot(*(means(member, place) - end)[:2]) for member, end in zip(flown, truth, strict=True)
            )
            took = minimum_time(means, flown, place, options.repeats) / len(flown)
            column.append(f"{1e3 * took:.1f} ms, {1e3 * off:.1f} mm")
        columns.append(column)
    rows = [[name, *cells] for name, *cells in zip(MEANS, *columns, strict=True)]
    print("| a minute of heron's flight | calm: time, error | turbulent: time, error |\n| --- | --- | --- |")
    for row in rows:
        print(f"| {' | '.join(row)} |")


if __name__ == "__main__":
    main()
