"""Many drops of one design, each with inputs of its own, by the equations of motion of the single drop."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from math import hypot

import numpy as np
import numpy.typing as npt

from parasim.compiled import compiled
from parasim.config.scenario import longest_drop
from parasim.dynamics.flight_rates import Flight, gust_met, payload_point
from parasim.dynamics.motion import Motion
from parasim.dynamics.retrim import retrim, write_glide
from parasim.dynamics.runge_kutta import Workspace, workspace_for
from parasim.dynamics.runge_kutta import fly as fly_one
from parasim.dynamics.simulate import RELATIVE_TOLERANCE, absolute_tolerances
from parasim.dynamics.state import ATTITUDE, PAYLOAD_ATTITUDE, VELOCITY
from parasim.environment.gust import WIND_HEIGHT, Gusts
from parasim.environment.turbulence import splines_through, turbulence_series
from parasim.environment.wind import MEASURED, WindLaw, changed_wind, mean_wind
from parasim.rotations import FloatArray, euler_from_quaternion, quaternion_product, rotation_matrix
from parasim.scatter.ensemble_model import (
    INPUTS,
    EnsembleModel,
    canopy_shift,
    flat_table,
    in_still_air,
    input_of,
    member_constants,
)

ENSEMBLE_TOLERANCE = 1e-5
"""Relative tolerance of a member's flight; the absolute ones go with it. [-]

Ten times that of the single drop: in turbulence this moves heron's landing by 4 mm, one in a hundred by 4 cm,
and saves a quarter of the time.
"""

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Landings:
    """How members of an ensemble came down, arrays of shape (n,).

    Attributes
    ----------
    north, east : ndarray
        Of the confluence at the end, from the point on the ground below the nominal release. [m]
    time_aloft : ndarray
        [s]
    ground_speed, sink : ndarray
        Of the payload over the ground, horizontal and vertical. [m/s]
    airspeed : ndarray
        Of the confluence. [m/s]
    heading : ndarray
        0 to 2 pi. [rad]
    largest_alpha, largest_beta : ndarray
        On the way, without sign, while it flew faster than 1 m/s. [rad]
    status : ndarray of int
        `LANDED` and the others of `parasim.dynamics.runge_kutta`.
    steps : ndarray of int
        Of the integrator.
    settled : ndarray of bool
        Whether a steady glide of its own was found; else it began in the design's.
    """

    north: FloatArray
    east: FloatArray
    time_aloft: FloatArray
    ground_speed: FloatArray
    sink: FloatArray
    airspeed: FloatArray
    heading: FloatArray
    largest_alpha: FloatArray
    largest_beta: FloatArray
    status: npt.NDArray[np.int8]
    steps: IntArray
    settled: npt.NDArray[np.bool_]

    def select(self, which: np.ndarray) -> "Landings":
        """Some of them, by mask or indices."""
        return Landings(**{field.name: getattr(self, field.name)[which] for field in fields(self)})

    @classmethod
    def concatenate(cls, parts: Sequence["Landings"]) -> "Landings":
        """Several groups in a row."""
        return cls(**{f.name: np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(cls)})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Member:
    """One drop made ready: a flight, its state at release, and the moves of its brakes.

    Attributes
    ----------
    flight : Flight
        Constants.
    state : ndarray, shape (n_states + 2,)
        At release.
    timed, by_height : ndarray, shape (n, 4)
        What the brakes are reported, as `parasim.dynamics.runge_kutta.fly` needs it.
    settled : bool
        Whether it begins in a steady glide of its own.
    """

    flight: Flight
    state: FloatArray
    timed: FloatArray
    by_height: FloatArray
    settled: bool


def fly(
    ensemble_model: EnsembleModel,
    inputs: Mapping[str, FloatArray],
    *,
    number: IntArray,
    seed: int,
    rtol: float = ENSEMBLE_TOLERANCE,
) -> Landings:
    """Fly members of a ensemble_model.

    Parameters
    ----------
    ensemble_model : EnsembleModel
        What they share.
    inputs : mapping of str to ndarray, shape (n,)
        Own inputs, names as in `INPUTS`; those left out are as in the design.
    number : ndarray of int, shape (n,)
        Of each member in the whole ensemble: with the seed it makes the turbulence.
    seed : int
        Of the ensemble.
    rtol : float
        Relative tolerance; the absolute ones go with it. [-]

    Raises
    ------
    ValueError
        If an input is unknown, or the ensemble_model was built without it.
    """
    n = len(number)
    members = _Members(ensemble_model, inputs, n)
    atol = absolute_tolerances(ensemble_model.n_states, rtol / RELATIVE_TOLERANCE)
    place = tuple(ensemble_model.payload_bottom.tolist())
    ends = np.empty((n, ensemble_model.n_states + 2))
    given = np.empty((n, 5))
    airspeed, settled = np.empty(n), np.empty(n, dtype=bool)
    workspace = workspace_for(ensemble_model.n_states + 2, len(ensemble_model.brakes) + 1)
    for k in range(n):
        member = members.ready(k, int(number[k]), seed, workspace)
        ends[k], settled[k] = member.state, member.settled
        given[k] = fly_one(
            member.flight,
            place,
            member.timed,
            member.by_height,
            ends[k],
            rtol,
            atol,
            longest_drop(float(members.inputs["release_height"][k])),
            workspace,
        )
        airspeed[k] = _airspeed(member.flight, given[k, 1], ends[k])
    return _landings(ensemble_model, ends.T, given.T, airspeed, settled)


def ready(
    ensemble_model: EnsembleModel, inputs: Mapping[str, FloatArray], k: int, number: int, seed: int
) -> Member:
    """One member of `fly`, made ready, to be flown by other means."""
    n = len(next(iter(inputs.values()))) if inputs else k + 1
    workspace = workspace_for(ensemble_model.n_states + 2, len(ensemble_model.brakes) + 1)
    return _Members(ensemble_model, inputs, n).ready(k, number, seed, workspace)


def member_turbulence(seed: int, number: int) -> FloatArray:
    """Turbulence that a member of an ensemble meets: samples as `turbulence_series` makes them."""
    return turbulence_series(np.random.SeedSequence(seed, spawn_key=(number,)))


class _Members:
    """Own constants of many members, each made ready in turn; the table's memory is used again."""

    def __init__(self, ensemble_model: EnsembleModel, inputs: Mapping[str, FloatArray], n: int) -> None:
        refused = sorted(set(inputs) - set(INPUTS)) + sorted(set(inputs) & ensemble_model.fixed_inputs)
        if refused:
            raise ValueError(f"the ensemble_model was not built to vary {', '.join(refused)}")
        self.ensemble_model = ensemble_model
        self.inputs = {
            name: input_of(ensemble_model.nominal, inputs, name, n) for name in ensemble_model.nominal
        }
        self.shift = canopy_shift(ensemble_model, self.inputs["rigging_angle"])
        self.constants = member_constants(ensemble_model, self.inputs["payload_mass"], self.shift)
        slopes = ensemble_model.slopes
        self.weights = np.zeros((n, len(slopes.tables)))
        for name, weight in slopes.weights.items():
            self.weights += np.outer(self.inputs[name] - ensemble_model.nominal[name], weight)
        table = ensemble_model.motion.table
        self.base = flat_table(table)
        self.blend = self.base.copy()
        self.table = table._replace(
            steady=self.blend[: table.steady.size].reshape(table.steady.shape),
            rates=self.blend[table.steady.size :].reshape(table.rates.shape),
        )

    def ready(self, k: int, number: int, seed: int, workspace: Workspace) -> Member:
        ensemble_model = self.ensemble_model
        blend(self.base, ensemble_model.slopes.tables, self.weights[k], self.blend)
        wind = self._wind(k)
        motion = ensemble_model.motion._replace(
            constants=self.constants[k], table=self.table, bodies=self._bodies(k), wind=wind
        )
        flight = Flight(motion=motion, gusts=self._gusts(k, wind, number, seed), servo=ensemble_model.servo)
        timed, by_height = self._moves(k)
        state, settled = self._start(k, motion, workspace)
        return Member(flight=flight, state=state, timed=timed, by_height=by_height, settled=settled)

    def _bodies(self, k: int) -> FloatArray:
        ensemble_model, lines = self.ensemble_model, self.ensemble_model.line_rows
        bodies = ensemble_model.motion.bodies.copy()
        nominal = ensemble_model.nominal["line_drag_coefficient"]
        bodies[lines, 6] *= self.inputs["line_drag_coefficient"][k] / nominal
        part = bodies[lines, 2] / ensemble_model.quarter_chord[2]
        bodies[lines, :3] += part[:, None] * self.shift[k]
        return bodies

    def _wind(self, k: int) -> WindLaw:
        law, nominal = self.ensemble_model.motion.wind, self.ensemble_model.nominal
        speed, comes_from = float(self.inputs["wind_speed"][k]), float(self.inputs["wind_from"][k])
        if law.law == MEASURED:
            factor = speed / nominal["wind_speed"] if nominal["wind_speed"] else 1.0
            return changed_wind(law, factor=factor, turned=comes_from - nominal["wind_from"])
        return law._replace(speed=speed, from_direction=comes_from)

    def _gusts(self, k: int, wind: WindLaw, number: int, seed: int) -> Gusts:
        ensemble_model, gusts = self.ensemble_model, self.ensemble_model.gusts
        if ensemble_model.turbulence is not None:
            intensity, deviation = ensemble_model.turbulence
            if deviation is None:
                deviation = intensity * hypot(*mean_wind(wind, WIND_HEIGHT)[:2])
            series = member_turbulence(seed, number)
            gusts = gusts._replace(deviation=deviation, splines=splines_through(series))
        if ensemble_model.gust_turns:
            turned = float(self.inputs["wind_from"][k]) - ensemble_model.nominal["wind_from"]
            c, s = np.cos(turned), np.sin(turned)
            north, east = gusts.north, gusts.east
            gusts = gusts._replace(north=float(c * north - s * east), east=float(s * north + c * east))
        return gusts

    def _moves(self, k: int) -> tuple[FloatArray, FloatArray]:
        trim = np.array([self.inputs["left_trim"][k], self.inputs["right_trim"][k]])
        timed, by_height = [(-np.inf, 0.0, *trim)], []
        for command in self.ensemble_model.brakes:
            brakes = np.clip(trim + np.array([command.left, command.right]), 0.0, 1.0)
            if command.at_time is not None:
                timed.append((command.at_time, command.over, *brakes))
            else:
                by_height.append((command.at_height or 0.0, command.over, *brakes))
        return (
            np.array(sorted(timed)).reshape(-1, 4),
            np.array(sorted(by_height, reverse=True)).reshape(-1, 4),
        )

    def _start(self, k: int, motion: Motion, workspace: Workspace) -> tuple[FloatArray, bool]:
        ensemble_model = self.ensemble_model
        height = float(self.inputs["release_height"][k])
        glide, state = ensemble_model.glide.copy(), np.empty(ensemble_model.n_states + 2)
        calm = in_still_air(motion)
        settled = retrim(calm, height, ensemble_model.inverse, glide, workspace.trial, workspace.stages[0])
        if not settled:
            glide[:] = ensemble_model.glide
        write_glide(glide, height, state)
        heading = float(self.inputs["heading"][k])
        turn = np.array([np.cos(heading / 2), 0.0, 0.0, np.sin(heading / 2)])
        state[:2] = self.inputs["release_north"][k], self.inputs["release_east"][k]
        state[ATTITUDE] = quaternion_product(turn, state[ATTITUDE])
        if ensemble_model.n_states == 20:
            state[PAYLOAD_ATTITUDE] = quaternion_product(turn, state[PAYLOAD_ATTITUDE])
        to_earth = rotation_matrix(state[ATTITUDE])
        if ensemble_model.start == "steady":
            state[VELOCITY] += np.array([*mean_wind(motion.wind, height)[:2], 0.0]) @ to_earth
        else:
            still = ensemble_model.start == "rest"
            state[VELOCITY] = 0.0 if still else ensemble_model.velocity @ to_earth
        return state, settled


@compiled
def blend(base: FloatArray, tables: FloatArray, weights: FloatArray, out: FloatArray) -> None:
    """Write a table plus changes by their weights: shapes (size,), (n, size), (n,)."""
    for i in range(len(out)):
        out[i] = base[i]
    for j in range(len(weights)):
        if weights[j] != 0.0:
            for i in range(len(out)):
                out[i] += weights[j] * tables[j, i]


def _airspeed(flight: Flight, time: float, state: FloatArray) -> float:
    """Of the confluence. [m/s]"""
    height = -float(state[2])
    north, east, _, _ = mean_wind(flight.motion.wind, height)
    gust, _, _ = gust_met(flight, time, state)
    over_ground = rotation_matrix(state[ATTITUDE]) @ state[VELOCITY]
    return float(np.linalg.norm(over_ground - (north + gust[0], east + gust[1], gust[2])))


def _landings(
    ensemble_model: EnsembleModel,
    ends: FloatArray,
    given: FloatArray,
    airspeed: FloatArray,
    settled: np.ndarray,
) -> Landings:
    # One by one: the same bits whatever members fly beside it.
    center, calm = (
        tuple(ensemble_model.swing.center.tolist()),
        Flight(motion=ensemble_model.motion, gusts=Gusts.none()),
    )
    velocity = np.array([payload_point(calm, end, center)[1] for end in np.ascontiguousarray(ends.T)]).T
    status, time, steps, alpha, beta = given
    return Landings(
        north=ends[0].copy(),
        east=ends[1].copy(),
        time_aloft=time.copy(),
        ground_speed=np.hypot(velocity[0], velocity[1]),
        sink=velocity[2],
        airspeed=airspeed,
        heading=euler_from_quaternion(ends[ATTITUDE])[2] % (2 * np.pi),
        largest_alpha=alpha.copy(),
        largest_beta=beta.copy(),
        status=status.astype(np.int8),
        steps=steps.astype(np.int64),
        settled=settled,
    )
