"""A flight followed through given moments, by compiled functions: what a fit to logged flights flies.

Same right-hand side and steps as `parasim.dynamics.runge_kutta`; every moment ends a step. The ground is not
looked for.
"""

from math import isfinite

import numpy as np

from parasim.compiled import compiled
from parasim.dynamics.brakes.control import next_corner
from parasim.dynamics.flight_rates import JOINTED_STATES, Flight, flight_rates
from parasim.dynamics.motion import Motion
from parasim.dynamics.reach import is_overturned, is_stuck, most_airspeed, within_reach
from parasim.dynamics.runge_kutta import (
    EVALUATIONS_A_STEP,
    FIRST_STEP,
    GREATEST_CUT,
    MINIMUM_ERROR,
    SMALLEST_STEP,
    Workspace,
    all_finite,
    copy,
    keep_unit_length,
    step,
    step_error,
    step_factor,
    workspace_for,
)
from parasim.dynamics.simulate import RELATIVE_TOLERANCE, absolute_tolerances
from parasim.environment.gust import Gusts
from parasim.rotations import FloatArray

TOLERANCE = 1e-5
"""Relative tolerance; the absolute ones go with it, as those of an ensemble's member. [-]"""


@compiled
def through(
    flight: Flight,
    moves: FloatArray,
    y: FloatArray,
    times: FloatArray,
    states: FloatArray,
    rtol: float,
    atol: FloatArray,
    workspace: Workspace,
) -> int:
    """Write the state at rising moments; how many of them it came through.

    Parameters
    ----------
    flight : Flight
        Constants.
    moves : ndarray, shape (n, 4)
        Of the brakes, as for `brake_position`.
    y : ndarray, shape (n_states + 2,)
        State at time zero; holds the last one afterwards.
    times : ndarray, shape (m,)
        Rising from zero on. [s]
    states : ndarray, shape (m, n_states + 2)
        Where to.
    rtol, atol : float, ndarray
        Tolerances, relative and by slot.
    workspace : Workspace
        To work in.
    """
    k, trial = workspace.stages, workspace.trial
    time, steps, h, before = 0.0, 0, FIRST_STEP, MINIMUM_ERROR
    most = most_airspeed(flight, y)
    for sample in range(len(times)):
        while time < times[sample]:
            corner = next_corner(moves, len(moves), time, times[sample])
            felt = flight_rates(flight, moves, len(moves), time, y, k[0])
            while time < corner:
                h = min(h, corner - time)
                to_corner = h == corner - time
                felt = step(flight, moves, len(moves), time, h, y, workspace)
                steps += 1
                error = step_error(y, trial, k, h, rtol, atol)
                if not error <= 1.0:
                    h *= min(1.0, step_factor(error, 1.0)) if isfinite(error) else GREATEST_CUT
                    if h < SMALLEST_STEP or is_stuck(EVALUATIONS_A_STEP * steps, time):
                        return sample
                    continue
                copy(trial, y)
                copy(k[6], k[0])
                time = corner if to_corner else time + h
                h *= step_factor(error, before)
                before = max(error, MINIMUM_ERROR)
                if felt[3] < 0.0 or is_overturned(y) or not within_reach(flight, y, most):
                    return sample
            keep_unit_length(y, 3)
            if len(y) > JOINTED_STATES:
                keep_unit_length(y, 13)
        if not all_finite(y):
            return sample
        copy(y, states[sample])
    return len(times)


def states_at(motion: Motion, moves: FloatArray, start: FloatArray, times: FloatArray) -> FloatArray:
    """States at rising moments, shape (n_states, m); fewer columns where the flight is not followed so far.

    Parameters
    ----------
    motion : Motion
        Constants.
    moves : ndarray, shape (n, 4)
        Of the brakes, as for `brake_position`, times after the start; as they were flown.
    start : ndarray, shape (n_states,)
        At time zero.
    times : ndarray, shape (m,)
        Rising from zero on. [s]
    """
    y, count = np.append(start, (0.0, 0.0)), len(start) + 2
    atol = absolute_tolerances(len(start), TOLERANCE / RELATIVE_TOLERANCE)
    states = np.empty((len(times), count))
    flight = Flight(motion=motion, gusts=Gusts.none())
    done = through(flight, moves, y, times, states, TOLERANCE, atol, workspace_for(count, 1))
    return np.ascontiguousarray(states[:done, :-2].T)
