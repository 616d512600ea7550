"""Logged flights flown again at any calibration, each some hundredths of a second."""

import numpy as np

from parasim.dynamics.sampled import states_at
from parasim.learning.path import Aloft, Path
from parasim.learning.predictor import Predictor
from parasim.mass.inventory import payload_center
from parasim.rotations import FloatArray


def fly_again(
    predictor: Predictor,
    path: Path,
    numbers: FloatArray,
    moments: int | None = None,
    *,
    delay: float = 0.0,
) -> Aloft | None:
    """A logged flight in still air at a calibration; None where it does not come so far.

    Parameters
    ----------
    predictor : Predictor
        Built with the path's condition.
    path : Path
        What was logged.
    numbers : ndarray, shape (n_numbers,)
        The calibration.
    moments : int, optional
        How many are flown; all if left out.
    delay : float
        By which the brakes move later than logged. [s]
    """
    begun = predictor.begun(path.condition, numbers)
    if begun is None:
        return None
    body, start, vehicle = begun
    start[2] = path.middle - path.height[0]
    time, moves = path.time[:moments], path.moves.copy()
    moves[:, 0] += delay
    states = states_at(body.motion, moves, start, time)
    if states.shape[1] < len(time):
        return None
    place, velocity = body.payload(states, payload_center(vehicle.design))
    return Aloft(place=np.asarray(place), velocity=np.asarray(velocity))
