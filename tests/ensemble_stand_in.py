"""Stands in for the compiled core in tests of what is built around it: straight glides in a uniform wind.

Its landings have a closed form, so the statistics around it can be checked; it is no model of a parafoil.
"""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

AIRSPEED, SINK, HANG = 9.0, 2.5, 0.3


@dataclass(frozen=True, kw_only=True, eq=False)
class EnsembleModel:
    height: float
    heading: float
    wind_speed: float
    wind_from: float
    gusts: float = 0.0
    pause: float = 0.0
    fail_above: float = float("inf")
    die_at: int = -1
    note: str = ""
    start: str = "steady"


@dataclass(frozen=True, kw_only=True, eq=False)
class Landings:
    north: Any
    east: Any
    time_aloft: Any
    ground_speed: Any
    sink: Any
    airspeed: Any
    heading: Any
    largest_alpha: Any
    largest_beta: Any
    status: Any
    steps: Any
    settled: Any

    def select(self, mask: Any) -> Landings:
        return Landings(**{field.name: getattr(self, field.name)[mask] for field in fields(self)})


def build_ensemble_model(vehicle: Any, release: Any, *, varied: Any) -> EnsembleModel:
    wind = vehicle.wind
    return EnsembleModel(
        height=release.height,
        heading=release.heading,
        wind_speed=wind.speed,
        wind_from=wind.from_direction,
        start=release.start,
    )


def fly(ensemble_model: EnsembleModel, inputs: Mapping[str, Any], *, number: Any, seed: int) -> Landings:
    n = len(number)
    if ensemble_model.pause:
        time.sleep(ensemble_model.pause)
    if ensemble_model.die_at in number and not Path(ensemble_model.note).exists():
        Path(ensemble_model.note).touch()
        os._exit(1)

    def value(name: str, nominal: float) -> Any:
        return inputs.get(name, np.full(n, nominal))

    height = value("release_height", ensemble_model.height)
    heading, airspeed = value("heading", ensemble_model.heading), AIRSPEED * value("lift_factor", 1.0) ** -0.5
    sink = SINK * (1 + 10 * value("moment_shift", 0.0)) * (value("payload_mass", 1.2) / 1.2) ** 0.5
    speed, direction = (
        value("wind_speed", ensemble_model.wind_speed),
        value("wind_from", ensemble_model.wind_from),
    )
    gusts = np.array([np.random.default_rng([seed, int(k)]).normal(0, 1, 2) for k in number]).reshape(n, 2).T
    duration = (height - HANG) / sink
    velocity = np.array(
        [
            airspeed * np.cos(heading) - speed * np.cos(direction) + ensemble_model.gusts * gusts[0],
            airspeed * np.sin(heading) - speed * np.sin(direction) + ensemble_model.gusts * gusts[1],
        ]
    )
    status = np.where(height <= HANG, 4, np.where(height > ensemble_model.fail_above, 2, 0)).astype(np.int8)
    north, east = (
        value("release_north", 0.0) + velocity[0] * duration,
        value("release_east", 0.0) + velocity[1] * duration,
    )
    return Landings(
        north=np.where(status == 2, np.nan, north), east=np.where(status == 2, np.nan, east),
        time_aloft=duration, ground_speed=np.hypot(*velocity),
        sink=sink, airspeed=np.hypot(airspeed, sink), heading=heading % (2 * np.pi),
        largest_alpha=np.full(n, 0.1), largest_beta=np.zeros(n), status=status, steps=np.full(n, 10),
        settled=np.ones(n, bool),
    )  # fmt: skip
