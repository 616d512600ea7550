"""The risers: where the payload's hooks are in the nominal pose, and where the lines meet over them.

With one hook a side all rows of that side meet in one riser end, and the two ends lie left and right of the
confluence. With front and rear hooks each side has a front and a rear riser; the confluence is the mean of
the four upper ends.

In the nominal pose the payload's upright runs from the confluence to the quarter chord of the centre rib, so
that payload axes are canopy axes turned nose-up by the rigging angle, and each riser stands upright over its
hook. So with four hooks the rigging angle is the nose-down angle of the chord against the payload.
"""

from math import cos, sin

import numpy as np

from parasim.config.design import Design
from parasim.geometry.canopy import Canopy
from parasim.rotations import FloatArray

FRONT, REAR = 0, 1


def pitch_matrix(angle: float) -> FloatArray:
    """Payload components to canopy components, shape (3, 3), for a payload so much nose-up of it. [rad]

    Examples
    --------
    >>> from math import pi
    >>> pitch_matrix(pi / 2).round().tolist()  # nose up: payload x points out of the canopy, -z
    [[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]]
    """
    c, s = cos(angle), sin(angle)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def nominal_pitch(design: Design, canopy: Canopy) -> float:
    """Payload nose-up of the canopy in the nominal pose: with four hooks the rigging angle, else 0. [rad]

    With one hook a side the payload is free to pitch, and stiffly held it is drawn along the canopy's axes.
    """
    return canopy.rigging_angle if design.payload.suspension.four_hooks else 0.0


def hook_spacing(design: Design) -> float:
    """Front hooks ahead of the rear ones; zero without such. [m]"""
    return design.payload.suspension.front_place - design.payload.suspension.rear_place


def hook_middle(design: Design, canopy: Canopy) -> FloatArray:
    """The point H that payload axes start from, in the nominal pose: shape (3,), canopy axes. [m]

    The confluence; with front and rear hooks their middle, a mean riser length below the confluence.
    """
    if not design.payload.suspension.four_hooks:
        return np.zeros(3)
    below = float(np.mean(design.riser_lengths))
    return pitch_matrix(nominal_pitch(design, canopy)) @ np.array([0.0, 0.0, below])


def load_point(design: Design, canopy: Canopy) -> FloatArray:
    """Point of the payload that the load hangs on in the nominal pose: shape (3,), canopy axes. [m]

    The confluence; with front and rear hooks, below it at the height of the payload's centre of mass.
    """
    suspension = design.payload.suspension
    upright = pitch_matrix(nominal_pitch(design, canopy))[:, 2]
    below = suspension.hook_height if suspension.four_hooks else 0.0
    return hook_middle(design, canopy) + below * upright


def hooks(design: Design) -> FloatArray:
    """Where risers are hooked to the payload, from H, payload axes: rows as in `riser_ends`. [m]

    Without front and rear hooks: straight below the riser ends, at the height of the payload's top.
    """
    half = design.lines.riser.spread / 2
    if not design.payload.suspension.four_hooks:
        return np.array([[0.0, side * half, design.lines.riser.length] for side in (-1, 1)])
    ahead = hook_spacing(design) / 2
    return np.array([[x, side * half, 0.0] for x in (ahead, -ahead) for side in (-1, 1)])


def riser_ends(design: Design, canopy: Canopy) -> FloatArray:
    """Upper ends of the risers, canopy axes: shape (2, 3), left and right; with four hooks (4, 3). [m]

    Four: front left, front right, rear left, rear right.
    """
    lengths = np.repeat(design.riser_lengths, 2)
    ends = hooks(design) - lengths[:, None] * [0.0, 0.0, 1.0]
    return hook_middle(design, canopy) + ends @ pitch_matrix(nominal_pitch(design, canopy)).T


def riser_of_row(design: Design) -> dict[str, int]:
    """Row to `FRONT` or `REAR`; all `FRONT` where a side has one riser."""
    suspension = design.payload.suspension
    front = design.lines.rows if suspension.front_rows is None else suspension.front_rows
    return {row: FRONT if row in front else REAR for row in design.lines.rows}
