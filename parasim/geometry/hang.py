"""How the canopy hangs when its lines are not as designed: the pose that best fits all their lengths.

The canopy keeps its shape and the chord stays along x, so what is left is where it sits over the riser ends,
fore and aft and up and down: two unknowns, one equation for every line at a riser end. What differs between
left and right is taken up by itself (`unevenness`): the riser ends move aside, and the cloth twists.

Front and rear riser ends stay on a payload that may also pitch to the canopy: a third unknown. One row or
cascade to each riser does not hold it; there the load decides, which `parasim.dynamics.suspension.statics`
works out, and here the payload is taken to keep its pitch to the chord. The rigging angle is then that of the
line from the payload's centre of mass, which the pitch of the payload moves, to the quarter chord.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import atan2, pi, sin

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
    slopes = {line.label: 0.0 for line in (*line_set.fins, *line_set.brakes)}
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Unevenness:
    """What lines that differ between left and right make of a canopy.

    Attributes
    ----------
    shift : float
        Of the confluence to the right of the canopy's plane of symmetry. [m]
    roll, yaw : float
        Of what bears the riser ends against the canopy: right end down, nose right. [rad]
    twist : float
        Incidence that grows as the sine of the arc angle: nose-up at the right, nose-down at the left, over
        that sine. [rad]
    """

    shift: float
    roll: float
    yaw: float
    twist: float

    def aside(self, place: FloatArray) -> float:
        """How far a point that goes with the riser ends lies to the right of the plane of symmetry. [m]"""
        return float(self.shift - self.roll * place[2] + self.yaw * place[0])


def unevenness(line_set: LineSet, canopy: Canopy, change: Mapping[str, float]) -> Unevenness:
    """What best takes up the differences of left and right, for small ones: least squares over all holds.

    Parameters
    ----------
    line_set, canopy, change
        As for `pose_of_changed_lines`.

    Notes
    -----
    The riser ends keep their distances to each other, the cloth yields to a twist and to nothing else. What
    both sides share is left to `pose_of_changed_lines`: by symmetry neither bears on the other.
    """
    angle = canopy.rib_angle[canopy.loaded_ribs]
    quarter = canopy.point(angle, np.full_like(angle, 0.25), np.zeros_like(angle))
    misfits, slopes = [], []
    for hold in line_set.holds:
        misfit, _ = hold.misfit(np.zeros(3), change)
        foot = hold.lines[0].end if hold.is_cascade else hold.start
        along = hold.tabs - foot
        away = hold.share[:, None] * along / np.linalg.norm(along, axis=-1, keepdims=True)
        twisted = np.cross(canopy.spanwise(angle[hold.rib]), hold.tabs - quarter[hold.rib])
        ends = np.array([[0.0, 1.0, 0.0], *np.cross(np.eye(3)[[0, 2]], hold.start)])
        slopes.append([*(ends @ away.sum(axis=0)), -sin(angle[hold.rib]) * float((away * twisted).sum())])
        misfits.append(misfit)
    found = -np.linalg.lstsq(np.array(slopes), np.array(misfits), rcond=1e-6)[0]
    return Unevenness(shift=found[0], roll=found[1], yaw=found[2], twist=found[3])
