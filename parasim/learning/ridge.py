"""How far a number may be, found by walking: the others follow it where a fit says that they hang together.

The curvature at the likeliest numbers says how fast a fit gets worse beside them. Where it gets worse faster
on one side, as with swings that hardly die away, or where another hill stands near, a number may be farther
than that. So each is moved step by step, the others along the ridge with it, and what is left is weighed.
Source: [Tarantola2005] for the likelihood; that a ridge is straight, but for what costs no flight, is our
choice.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from parasim.learning.fit import CORE, LOST, Posterior, huber
from parasim.rotations import FloatArray

STEPS = (0.75, 1.5, 2.25, 3.0, 4.5, 6.75, 10.0, 15.0, 22.5, 34.0)
"""Places on a ridge to either side. Our choice. [deviations of the fit]"""

FAR, FARTHEST = 9.0, 3.0
"""Squares more, or deviations of the prior off, where a walk ends: three deviations of a normal. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ridges:
    """What was found on the ridges of the first numbers.

    Attributes
    ----------
    spread : ndarray, shape (count,)
        Root of the mean square about the likeliest; no less than the fit's, for a straight walk leaves ridges
        that bend, and at most the prior's. [deviations of the prior]
    best : ndarray, shape (n,)
        The likeliest place on any of them. [deviations of the prior]
    gain : float
        By how much its squares are fewer than those of the fit. [-]
    """

    spread: FloatArray
    best: FloatArray
    gain: float


def walk(
    found: Posterior, residuals: Callable[[FloatArray], FloatArray], count: int, quick: np.ndarray
) -> Ridges:
    """Walk along the ridges of a fit.

    Parameters
    ----------
    found : Posterior
        The fit.
    residuals : callable
        From numbers, shape (n,), to residuals, shape (n_data,). [deviations]
    count : int
        How many of the numbers, the first ones, are walked along.
    quick : ndarray of int
        Those that are fitted anew at every place, once: those whose residuals cost next to nothing.
    """
    rigid = np.linalg.inv(np.linalg.cholesky(found.prior.hang))
    columns = found.slopes[:, quick]

    def squares(z: FloatArray) -> tuple[float, FloatArray]:
        rows = residuals(found.prior.numbers(z))
        return float(huber(rows**2)[0].sum() + ((rigid @ z) ** 2).sum()), rows

    def followed(z: FloatArray) -> tuple[float, FloatArray]:
        """Squares, and where: there, or with what is quick fitted anew."""
        here, rows = squares(z)
        if np.abs(rows).max() >= LOST:
            return here, z
        weight = np.where(np.abs(rows) <= CORE, 1.0, CORE / np.maximum(np.abs(rows), CORE))
        stiff = (columns.T * weight) @ columns + np.eye(len(quick))
        moved = z.copy()
        moved[quick] -= np.linalg.solve(stiff, columns.T @ (weight * rows) + z[quick])
        return min((here, z), (squares(moved)[0], moved), key=lambda pair: pair[0])

    top = followed(found.z)
    best, spread = top, []
    for k in range(count):
        ridge = found.covariance[:, k] / found.covariance[k, k]
        offs, less = [0.0], [top[0]]
        for off in (side * step * found.spread[k] for side in (-1, 1) for step in STEPS):
            if (less[-1] > top[0] + FAR and off * offs[-1] > 0) or abs(off) > FARTHEST:
                continue
            place = followed(found.z + off * ridge)
            best = min(best, place, key=lambda pair: pair[0])
            offs.append(off)
            less.append(place[0])
        spread.append(_spread(np.array(offs), np.array(less)))
    wider = np.minimum(np.maximum(spread, found.spread[:count]), 1.0)
    return Ridges(spread=wider, best=best[1], gain=top[0] - best[0])


def _spread(offs: FloatArray, less: FloatArray) -> float:
    """Root of the mean square of places, likely as their squares say."""
    order = np.argsort(offs)
    offs, likely = offs[order], np.exp(-0.5 * (less - less.min()))[order]
    return float(np.sqrt(np.trapezoid(likely * offs**2, offs) / np.trapezoid(likely, offs)))
