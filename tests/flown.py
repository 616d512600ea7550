"""Invented flights with a known truth, and sensors that log them with noise."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.signal import lfilter

from parasim.logs.fixes import Fixes
from parasim.rotations import FloatArray

GROUND = 412.0
"""Height of the invented field above sea level. [m]"""


@dataclass(frozen=True)
class Flight:
    """Truth: a canopy that glides straight, circles, glides on and lands, in a steady wind.

    Straight, then ``turns`` circles at ``turn_rate`` [rad/s], then straight on; ``rest`` on the ground at the
    end and ``wait`` at rest before the release, in the air.
    """

    speed: float = 7.4
    sink: float = 3.04
    wind: tuple[float, float] = (1.0, 2.5)
    turn_rate: float = np.radians(28.0)
    turns: float = 4.0
    straight: tuple[float, float] = (20.0, 25.0)
    heading: float = 0.7
    wait: float = 10.0
    rest: float = 15.0
    turn_sink: float | None = None
    roll_in: float = 1.0
    flare: float = 0.0
    fall: float = 0.0
    """Time of free fall before the canopy flies. [s]"""
    gust: float = 0.0
    """Standard deviation of each component of gusts that last for 3 s. [m/s]"""
    seed: int = 0
    step: float = 0.01
    time: FloatArray = field(init=False)
    north: FloatArray = field(init=False)
    east: FloatArray = field(init=False)
    height: FloatArray = field(init=False)
    velocity: FloatArray = field(init=False)
    circling: tuple[float, float] = field(init=False)

    def __post_init__(self) -> None:
        turning = self.turns * 2 * np.pi / abs(self.turn_rate)
        air = self.fall + self.straight[0] + turning + self.straight[1]
        total = self.wait + air + self.rest
        time = np.arange(0.0, total, self.step)
        after = time - self.wait
        start = self.fall + self.straight[0]
        end = start + turning
        blend = np.clip((after - start) / self.roll_in, 0, 1) * np.clip((end - after) / self.roll_in, 0, 1)
        heading = self.heading + np.cumsum(self.turn_rate * blend) * self.step
        flying = (after >= 0) & (after < air)
        dive = np.clip(after, 0.0, None)
        opened = np.clip((dive - self.fall) / 1.0, 0, 1) if self.fall else np.ones_like(time)
        sink = np.where(blend > 0.5, self.sink if self.turn_sink is None else self.turn_sink, self.sink)
        peak = 9.81 * self.fall
        sink = np.where(dive < self.fall, 9.81 * dive, peak * (1 - opened) + sink * opened)
        flared = np.clip((after - (air - 3.0)) / 1.5, 0, 1) * self.flare
        sink = sink - flared
        through = self.speed * opened * (dive >= self.fall)
        carried = np.where(dive < self.fall, 0.0, 1.0) * opened
        vn = (through * np.cos(heading) + self.wind[0] * carried) * flying
        ve = (through * np.sin(heading) + self.wind[1] * carried) * flying
        down = sink * flying
        if self.gust:
            rng = np.random.default_rng(self.seed)
            rough = [lasting(rng, len(time), self.gust, 1 - self.step / 3.0) for _ in range(3)]
            vn, ve, down = vn + rough[0] * flying, ve + rough[1] * flying, down + 0.5 * rough[2] * flying
        put = object.__setattr__
        put(self, "time", time)
        put(self, "north", np.cumsum(vn) * self.step)
        put(self, "east", np.cumsum(ve) * self.step)
        height = -np.cumsum(down) * self.step
        put(self, "height", height - height[-1])
        put(self, "velocity", np.array([vn, ve]))
        put(self, "circling", (self.wait + start, self.wait + end))

    def at(self, step: float) -> FloatArray:
        """Numbers of the samples that a sensor takes so often."""
        return np.arange(0, len(self.time), round(step / self.step))


def lasting(rng: np.random.Generator, n: int, sigma: float, rho: float) -> FloatArray:
    """Noise of standard deviation sigma, with correlation rho from one sample to the next."""
    white = rng.standard_normal(n) * sigma * np.sqrt(1 - rho**2)
    white[:1] /= np.sqrt(1 - rho**2)
    noise: FloatArray = lfilter([1.0], [1.0, -rho], white)
    return noise


def logged(flight: Flight, sensor: str, rng: np.random.Generator, step: float = 1.0) -> Fixes:
    """A flight as a sensor logs it.

    ``speeds``: places, and speeds with 0.2 m/s of noise, as a GNSS receiver gives them; pressure height with
    0.3 m. ``places``: places alone, which wander by 0.2 m/s of noise; pressure height with 0.3 m.
    ``igc``: places in thousandths of a minute and heights in whole metres, once a second.
    """
    at = flight.at(step)
    n = len(at)
    north, east = flight.north[at], flight.east[at]
    height = flight.height[at] + GROUND + 0.3 * rng.standard_normal(n)
    columns = {"pressure_height": height}
    wander = np.cumsum(0.2 * step * rng.standard_normal((2, n)), axis=1)
    if sensor == "igc":
        shift = rng.uniform(0.0, 2.0, 3)
        north, east = 1.852 * np.round((north + shift[0]) / 1.852), 1.26 * np.round((east + shift[1]) / 1.26)
        columns["pressure_height"] = np.round(height + shift[2])
    else:
        north, east = north + wander[0], east + wander[1]
    if sensor == "speeds":
        v_north, v_east = flight.velocity[:, at] + 0.2 * rng.standard_normal((2, n))
        columns |= {"v_north": v_north, "v_east": v_east}
    return Fixes(kind="invented", time=flight.time[at], columns=columns | {"north": north, "east": east})


def any_flight(seed: int, **settings: float) -> tuple[Flight, np.random.Generator]:
    """A flight with speeds, wind, turn rate and times drawn, and the generator for its sensors."""
    rng = np.random.default_rng(seed)
    flight = Flight(
        speed=rng.uniform(6.0, 9.0), sink=rng.uniform(1.5, 3.5),
        wind=tuple(rng.uniform(-3.0, 3.0, 2)), turns=rng.choice([2.5, 3.5, 4.5]),
        turn_rate=np.radians(rng.uniform(12.0, 45.0)) * rng.choice([-1, 1]),
        heading=rng.uniform(0.0, 6.28), straight=tuple(rng.uniform(20.0, 35.0, 2)), seed=seed,
        **settings,
    )  # fmt: skip
    return flight, rng
