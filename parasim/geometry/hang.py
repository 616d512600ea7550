"""How the canopy hangs when its lines are not as designed: the pose that best fits all their lengths.

The canopy keeps its shape and the chord stays along x, so what is left is where it sits over the riser ends,
fore and aft and up and down: two unknowns, one equation for every line at a riser end. A canopy that hangs
unevenly left and right is not rolled here; the difference is only counted.

Front and rear riser ends stay on a payload that may also pitch to the canopy: a third unknown. One row or
cascade to each riser does not hold it; there the load decides, which `parasim.dynamics.suspension.statics`
works out, and here the payload is taken to keep its pitch to the chord. The rigging angle is then that of the
line from the payload's centre of mass, which the pitch of the payload moves, to the quarter chord.
"""

from collections.abc import Mapping
from math import atan2, pi

import numpy as np

from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import LineSet
from parasim.geometry.rigging import Rigging
from parasim.geometry.risers import pitch_matrix
from parasim.rotations import FloatArray

STEPS = 30
SETTLED = 1e-11
"""Shift at which the pose counts as found. [m]"""


def pose_of_changed_lines(line_set: LineSet, canopy: Canopy, change: Mapping[str, float]) -> Rigging:
    """Pose that a canopy takes when some lines are longer or shorter than designed.

    Parameters
    ----------
    line_set : LineSet
        As designed.
    canopy : Canopy
        In the pose that `line_set` gives it.
    change : mapping
        Label of a piece to its added length. Brake lines do not hold the pose. [m]

    Returns
    -------
    Rigging
        Least squares over all lines at the riser ends, a cascade counting as one by the load-weighted mean of
        its branches; its misfit is the largest that is left.

    Notes
    -----
    Gauss-Newton, the joints of cascades in balance at every step.
    """
    shift = np.zeros(3)
    for _ in range(STEPS):
        misfit, slope = _misfits(line_set, shift, change)
        step = -np.linalg.lstsq(slope, misfit, rcond=None)[0]
        shift = shift + step
        if float(np.abs(step).max()) < SETTLED:
            break
    misfit, _ = _misfits(line_set, shift, change)
    over_ends = canopy.quarter_chord[[0, 2]] + shift[:2]
    load = (pitch_matrix(float(shift[2])) @ line_set.load_point)[[0, 2]]
    x, z = over_ends - load
    return Rigging(
        line_length=float(np.hypot(*over_ends)),
        rigging_angle=atan2(-x, -z),
        misfit=float(np.abs(misfit).max()),
    )


def rigging_slopes(line_set: LineSet, canopy: Canopy) -> dict[str, float]:
    """How much each line alone turns the canopy when it grows: label to rigging angle over length. [rad/m]

    The same least squares, for small changes.
    """
    _, slope = _misfits(line_set, np.zeros(3), {})
    x, _, z = canopy.quarter_chord - line_set.load_point
    turned = pitch_matrix(pi / 2) @ np.diag([1.0, 0.0, 1.0]) @ line_set.load_point
    by_place = np.array([z, -x]) / (x**2 + z**2)
    by_shift = by_place @ np.array([[1.0, 0.0, -turned[0]], [0.0, 1.0, -turned[2]]])
    by_misfit = -by_shift @ np.linalg.pinv(slope)
    slopes = {line.label: 0.0 for line in line_set.brakes}
    for hold, by_hold in zip(line_set.holds, by_misfit, strict=True):
        for line, ratio in zip(hold.lines, hold.tension_ratio, strict=True):
            slopes[line.label] = float(by_hold * ratio)
    return slopes


def _misfits(
    line_set: LineSet, shift: FloatArray, change: Mapping[str, float]
) -> tuple[FloatArray, FloatArray]:
    """Misfit of every hold, and its slope by the unknowns, shape (n_holds, 3).

    `shift` is the canopy's forward and down [m], and its pitch against the riser ends [rad], all seen from
    the canopy: the ends turn about the confluence.
    """
    found = []
    turn = pitch_matrix(float(shift[2]))
    held = float(_pitch_is_held(line_set))
    quarter = held * pitch_matrix(float(shift[2]) + pi / 2) @ np.diag([1.0, 0.0, 1.0])
    for hold in line_set.holds:
        moved = np.array([shift[0], 0.0, shift[1]]) - (turn @ hold.start - hold.start)
        misfit, slope = hold.misfit(moved, change)
        found.append((misfit, np.array([slope[0], slope[2], -slope @ quarter @ hold.start])))
    return np.array([misfit for misfit, _ in found]), np.array([slope for _, slope in found])


def _pitch_is_held(line_set: LineSet) -> bool:
    """Whether front and rear risers hold the payload's pitch: one of them by more than one row or cascade."""
    groups = {(tuple(hold.start), hold.lines[0].rows) for hold in line_set.holds}
    return len(groups) > len(line_set.riser_ends) > 2
