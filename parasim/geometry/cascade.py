"""Where the lines of a cascade join: the joint of a trunk of given length and its branches, in balance.

Loaded, a joint moves until the pulls of its branches add up to one along the trunk. With the branches' shares
of the load given, that is where the sum of load times branch length is smallest, the trunk's end swinging
round its lower end: the least energy of the loads. Two branches and a trunk then obey Lami's theorem
(textbook statics).
"""

import numpy as np

from parasim.rotations import FloatArray

NEWTON_STEPS = 60
SETTLED = 1e-12
"""Change of direction at which the joint counts as found. [rad]"""


def junction(*, start: FloatArray, tabs: FloatArray, load: FloatArray, height: float) -> FloatArray:
    """Where a cascade joins.

    The trunk is `height` of the way to the load-weighted mean of the tabs long, and its branches balance.

    Parameters
    ----------
    start : ndarray, shape (..., 3)
        Lower end of the trunk. [m]
    tabs : ndarray, shape (n_rows, ..., 3)
        Upper ends of the branches. [m]
    load : ndarray, shape (n_rows,)
        Share of each, any scale. [-]
    height : float
        0 at the lower end, 1 at the tabs. [-]

    Returns
    -------
    ndarray, shape (..., 3)
        [m]

    Examples
    --------
    Two equal branches to tabs 2 m up, 3 m to either side, and a trunk of 1 m: the joint lies in the middle.

    >>> tabs = np.array([[-3.0, 0, 2], [3.0, 0, 2]])
    >>> junction(start=np.zeros(3), tabs=tabs, load=np.ones(2), height=0.5).tolist()
    [0.0, 0.0, 1.0]
    """
    mean_tab = np.tensordot(load / load.sum(), tabs, axes=1)
    trunk = height * np.linalg.norm(mean_tab - start, axis=-1)
    return balanced_joint(start=start, tabs=tabs, load=load, trunk=trunk)


def balanced_joint(
    *, start: FloatArray, tabs: FloatArray, load: FloatArray, trunk: FloatArray | float
) -> FloatArray:
    """Joint at the end of a trunk of given length where the branches balance.

    Parameters
    ----------
    start, tabs, load
        As in `junction`.
    trunk : ndarray, shape (...)
        Length of the trunk. [m]

    Returns
    -------
    ndarray, shape (..., 3)
        [m]

    Notes
    -----
    Newton's method on the sphere round `start`, halved where a step would raise the energy. The least energy
    is single while every tab lies beyond the sphere.
    """
    share = load / load.sum()
    reach = np.asarray(trunk, dtype=np.float64)[..., None]
    direction = _unit(np.tensordot(share, tabs, axes=1) - start)
    for _ in range(NEWTON_STEPS):
        step = _newton_step(start, tabs, share, reach, direction)
        energy = _energy(tabs, share, start + reach * direction)
        for _ in range(30):
            moved = _unit(direction + step)
            worse = _energy(tabs, share, start + reach * moved) > energy * (1 + 1e-14)
            if not worse.any():
                break
            step = np.where(worse[..., None], step / 2, step)
        direction = moved
        if float(np.abs(step).max(initial=0.0)) < SETTLED:
            break
    return start + reach * direction


def imbalance(*, start: FloatArray, joint: FloatArray, tabs: FloatArray, load: FloatArray) -> FloatArray:
    """Pull of the branches across the trunk, over their total load: zero at a balanced joint.

    Parameters
    ----------
    start, tabs, load
        As in `junction`.
    joint : ndarray, shape (..., 3)
        [m]

    Returns
    -------
    ndarray, shape (...)
        [-]
    """
    pull = _pull(tabs, load / load.sum(), joint)
    along = _unit(joint - start)
    return np.asarray(np.linalg.norm(pull - np.sum(pull * along, axis=-1, keepdims=True) * along, axis=-1))


def trunk_load(*, start: FloatArray, joint: FloatArray, tabs: FloatArray, load: FloatArray) -> FloatArray:
    """Pull of the branches along the trunk, over their load, shape (...): under 1, as they spread. [-]"""
    return np.asarray(np.sum(_pull(tabs, load / load.sum(), joint) * _unit(joint - start), axis=-1))


def _pull(tabs: FloatArray, share: FloatArray, joint: FloatArray) -> FloatArray:
    return np.asarray(np.tensordot(share, _unit(tabs - joint), axes=1))


def _energy(tabs: FloatArray, share: FloatArray, joint: FloatArray) -> FloatArray:
    return np.asarray(np.tensordot(share, np.linalg.norm(tabs - joint, axis=-1), axes=1))


def _newton_step(
    start: FloatArray, tabs: FloatArray, share: FloatArray, reach: FloatArray, direction: FloatArray
) -> FloatArray:
    """Change of direction towards balance, across the direction."""
    branch = tabs - (start + reach * direction)
    length = np.maximum(np.linalg.norm(branch, axis=-1), 1e-9)
    u = branch / length[..., None]
    identity = np.eye(3)
    pull = np.tensordot(share, u, axes=1)
    along = np.sum(pull * direction, axis=-1)
    across = identity - direction[..., :, None] * direction[..., None, :]
    bend = np.einsum("i,i...,i...jk->...jk", share, 1 / length, identity - u[..., :, None] * u[..., None, :])
    # A trunk that is pushed (along < 0) has no stable joint; the magnitude keeps the step downhill.
    stiffness = across @ (reach[..., None] * bend) @ across + np.abs(along)[..., None, None] * across
    stiffness = stiffness + identity - across
    sideways = np.einsum("...jk,...k->...j", across, pull)
    return np.asarray(np.linalg.solve(stiffness + 1e-12 * identity, sideways[..., None])[..., 0])


def _unit(vector: FloatArray) -> FloatArray:
    return np.asarray(vector / np.maximum(np.linalg.norm(vector, axis=-1, keepdims=True), 1e-12))
