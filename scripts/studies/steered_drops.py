"""Drops that steer by the plan of `parasim release`; wind, heading, height and canopy are not as planned.

Run as `python -m scripts.studies.steered_drops [DROPS] [turn]`: for each demonstration design the share that
lands near the target, let go anywhere in the ring that is advised, and the distance within which nine of ten
land. Wind, heading and height are spread as by default in a design's `scatter`, but the heading is any; the
canopy's glide lies anywhere within its ranges; with `turn`, so does what its brakes do.
"""

import sys
from math import atan2, pi
from pathlib import Path

import numpy as np

from parasim.config.loader import load_design
from parasim.config.scatter import ScatterSpec
from parasim.dynamics.steered import fly_steered
from parasim.dynamics.vehicle import assemble
from parasim.flight.drop import Release
from parasim.flight.glide import GLIDE_FACTORS
from parasim.flight.release.release import ReleasePoint, flare_moves, left_turns, release
from parasim.flight.release.steering import EVERY, Pilot, brake_curve
from parasim.flight.turn.turn import TURN_FACTORS
from parasim.mass.inventory import payload_bottom
from parasim.rotations import FloatArray
from parasim.scatter.ensemble import ready
from parasim.scatter.ensemble_model import build_ensemble_model
from parasim.scatter.inputs import Input, over_range

CONFIGS = Path(__file__).resolve().parents[2] / "configs"
WEATHER = ("wind_speed", "wind_from", "release_height")


def distances(
    point: ReleasePoint, number: int, *, seed: int = 1, factors: tuple[str, ...] = GLIDE_FACTORS
) -> FloatArray:
    """Distances from the target at which drops from the ring land, infinite where they do not. [m]"""
    vehicle, plan = point.vehicle, point.plan
    nominal = Release(
        height=point.height, start="steady", heading=atan2(plan.into[1], plan.into[0]),
        velocity=np.zeros(3), brakes=tuple(vehicle.design.drop.brakes),
    )  # fmt: skip
    names = (*WEATHER, "heading", "release_north", "release_east", *factors)
    model = build_ensemble_model(vehicle, nominal, varied=names)
    rng, spec = np.random.default_rng(seed), ScatterSpec()
    spreads = {name: getattr(spec, name) for name in WEATHER}
    spreads |= {name: over_range(vehicle.design, name) for name in factors}
    inputs = {
        name: Input(name=name, nominal=model.nominal[name], spread=spread).values(rng.random(number))
        for name, spread in spreads.items()
    }
    away, bearing = plan.box * np.sqrt(rng.random(number)), 2 * pi * rng.random(number)
    inputs["release_north"] = plan.release[0] + away * np.cos(bearing)
    inputs["release_east"] = plan.release[1] + away * np.sin(bearing)
    inputs["heading"] = 2 * pi * rng.random(number)
    curve, bottom = brake_curve(left_turns(vehicle)), tuple(payload_bottom(vehicle.design).tolist())
    last = flare_moves(vehicle, plan.final_height)
    found = []
    for k in range(number):
        member = ready(model, inputs, k, k, seed)
        pilot = Pilot(plan=plan, curve=curve)
        flown = fly_steered(member.flight, member.state, bottom, pilot, every=EVERY, last=last)
        found.append(np.hypot(flown.end.north, flown.end.east) if flown.landed else np.inf)
    return np.array(found)


def main() -> None:
    """Print a line for each design."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    factors = tuple(dict.fromkeys((*GLIDE_FACTORS, *(TURN_FACTORS if "turn" in sys.argv else ()))))
    for path in sorted(CONFIGS.glob("*.yaml")):
        point = release(assemble(load_design(path)))
        far = distances(point, number, factors=factors)
        near, most = 100 * np.mean(far <= point.radius), np.quantile(far, 0.9)
        print(f"{path.stem:<10} {near:.0f} % within {point.radius:g} m; 9 of 10 within {most:.0f} m")


if __name__ == "__main__":
    main()
