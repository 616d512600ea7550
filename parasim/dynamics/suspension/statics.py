"""Statics of front and rear hooks: where the payload hangs below the canopy at every pitch between the two.

Risers and lines only pull, joints and riser ends go where the pulls balance, and the canopy is rigid. For a
payload held at a pitch theta to the canopy (nose-up positive), the middle H of its hooks comes to rest where

    sum V(stretch) - W p . H

is minimum: V is the energy of a line, W the payload's weight, and p the payload's own upright, pointing down.
In flight the load line passes near it, for the payload hangs freely below its hooks and its drag is small.
The energy of a line that only pulls is convex in the places of its ends, so the least energy is single.

Energy of a line: k e²/2 past its straight length, k = EA/L, but eased in over the first `TAKE_UP` of stretch,
since loops, knots and tape settle before they carry. It makes the pull's slope continuous.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from parasim.config.design import Design
from parasim.geometry.canopy import Canopy
from parasim.geometry.line_stock import BRAID_STIFFNESS, FIBRES, build_line_stock
from parasim.geometry.lines import Line, LineSet
from parasim.geometry.risers import (
    hook_middle,
    hook_spacing,
    hooks,
    nominal_pitch,
    pitch_matrix,
)
from parasim.rotations import FloatArray
from parasim.units import GRAVITY

REACH = 1.2
"""Pitch either way of the nominal one that a path covers. [rad]"""

STEP = 0.01
"""Between the pitches of a path. [rad]"""

TAKE_UP = 2e-3
"""Stretch over which a line eases in: what loops and knots settle by. Our choice, the size of a tying error
(1 to 2 mm is common practice, no source). [m]"""

RISER_STIFFNESS = 2e4
"""Tension over strain of a riser of tape. Our choice, no source; lines give far more. [N]"""

SHORTEST_RISER = 1e-3
"""Below it the lines are taken to meet in the hook itself. [m]"""

SLACK_SHARE = 1e-3
"""Part of all load under which a row counts as slack. Our choice. [-]"""

NEWTON_STEPS = 400
BALANCED = 1e-7
"""Force left over at any joint, over the load, at which a pose counts as found. [-]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class HookPath:
    """Where the payload hangs at every pitch, under a load of its weight along its own upright.

    Attributes
    ----------
    theta : ndarray, shape (n,)
        Payload nose-up of the canopy, uniform. [rad]
    nominal : float
        Of the pose that the lines are cut for. [rad]
    place : ndarray, shape (n, 2)
        x and z, canopy axes, that a joint without stretch would need so that the load feels the same: H less
        the energy of the stretch over the load, along the pull. Its slope along the pull is `load_ahead`. [m]
    stretched : ndarray, shape (n, 2)
        x and z of H itself. [m]
    front, rear : ndarray, shape (n,)
        Pull of the front and the rear risers along the payload's upright over the load; they add to one. [-]
    spacing : float
        Of the hooks. [m]
    rows : tuple of str
        Front to rear.
    row_share : ndarray, shape (n, n_rows)
        Summed tension of each row at its tabs over the load. [-]
    """

    theta: FloatArray
    nominal: float
    place: FloatArray
    stretched: FloatArray
    front: FloatArray
    rear: FloatArray
    spacing: float
    rows: tuple[str, ...]
    row_share: FloatArray

    @property
    def load_ahead(self) -> FloatArray:
        """How far ahead of H the load must pass for each pitch, shape (n,). [m]"""
        return (self.front - self.rear) * self.spacing / 2

    @cached_property
    def slack(self) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Whether each row hangs slack, shape (n, n_rows)."""
        return self.row_share < SLACK_SHARE


def hook_path(design: Design, canopy: Canopy, line_set: LineSet) -> HookPath:
    """Place of a payload on front and rear hooks at every pitch.

    Parameters
    ----------
    design, canopy, line_set
        With front and rear hooks; lines as they are cut.

    Raises
    ------
    ArithmeticError
        When a pose is not found, which a convex energy does not do.
    """
    nominal = nominal_pitch(design, canopy)
    n = round(REACH / STEP)
    theta: FloatArray = np.asarray(nominal + STEP * np.arange(-n, n + 1), dtype=np.float64)
    rig = _build_rig(design, canopy, line_set)
    rest = rig.rest(theta, _downs(theta))
    return HookPath(
        theta=theta,
        nominal=nominal,
        place=rest.hook - (rest.energy / rig.load)[:, None] * _downs(theta)[:, [0, 2]],
        stretched=rest.hook,
        front=rest.front,
        rear=rest.rear,
        spacing=hook_spacing(design),
        rows=rig.rows,
        row_share=rest.row_share,
    )


def _downs(theta: FloatArray) -> FloatArray:
    """The payload's upright, downwards, shape (n, 3), canopy axes."""
    return np.stack([np.sin(theta), np.zeros_like(theta), np.cos(theta)], axis=-1)


def _turned(theta: FloatArray, point: FloatArray) -> FloatArray:
    """A point of the payload from H, shape (n, 3), canopy axes. [m]"""
    return np.array([pitch_matrix(float(angle)) @ point for angle in theta])


@dataclass(frozen=True, kw_only=True, eq=False)
class _Rest:
    """Poses found: n of them; names as in `HookPath`, energy of the stretch. [J]"""

    hook: FloatArray
    energy: FloatArray
    front: FloatArray
    rear: FloatArray
    row_share: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class _Rig:
    """Right half of risers and lines, n_members pieces, over n unknowns: x and z of H, then the joints.

    Attributes
    ----------
    map : ndarray, shape (n_members, 3, n)
        Unknowns to upper end less lower end.
    fixed : ndarray, shape (n_members, 3)
        What the tabs give to that. [m]
    foot : ndarray, shape (n_members,)
        Index into `hook` where a lower end is hooked in, else -1.
    hook : ndarray, shape (2, 3)
        Front and rear hook from H, payload axes. [m]
    straight, stiffness : ndarray, shape (n_members,)
        [m], [N/m]
    start : ndarray, shape (n,)
        The unknowns in the nominal pose. [m]
    load : float
        Of both halves. [N]
    rows : tuple of str
        Front to rear.
    in_row : ndarray, shape (n_rows, n_members)
        One for the lines that reach the tabs of a row.
    """

    map: FloatArray
    fixed: FloatArray
    foot: np.ndarray[tuple[int, ...], np.dtype[np.int_]]
    hook: FloatArray
    straight: FloatArray
    stiffness: FloatArray
    start: FloatArray
    load: float
    rows: tuple[str, ...]
    in_row: FloatArray

    def rest(self, theta: FloatArray, down: FloatArray) -> _Rest:
        """Poses of least energy at pitches, shape (n,), under the load along `down`, shape (n, 3).

        Newton's method, all pitches at once, each step shortened until the energy falls.
        """
        given = self._given(theta)
        pull = np.zeros((len(theta), len(self.start)))
        pull[:, :2] = 0.5 * self.load * down[:, [0, 2]]
        x = np.tile(self.start, (len(theta), 1))
        for _ in range(NEWTON_STEPS):
            energy, force, hessian = self._terms(x, given)
            slope = force - pull
            if float(np.abs(slope).max()) < BALANCED * self.load:
                break
            x = self._moved(x, given, pull, energy, slope, _downhill(slope, hessian))
        else:
            raise ArithmeticError("the lines of front and rear hooks come to no balance")
        return self._found(x, given, down)

    def _given(self, theta: FloatArray) -> FloatArray:
        """What tabs and pitch give to upper less lower ends, shape (n, n_members, 3). [m]"""
        at = np.stack([_turned(theta, hook) for hook in (*self.hook, np.zeros(3))], axis=1)
        return np.asarray(self.fixed - at[:, self.foot])

    def _ends(self, x: FloatArray, given: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Direction and stretch of every member."""
        along = np.einsum("mix,nx->nmi", self.map, x) + given
        length = np.maximum(np.linalg.norm(along, axis=-1), 1e-9)
        return along / length[..., None], length - self.straight

    def _energy(self, stretch: FloatArray) -> FloatArray:
        """Of all members, shape (n,). [J]"""
        e = np.maximum(stretch, 0.0)
        eased = np.where(e < TAKE_UP, e**3 / (6 * TAKE_UP), e**2 / 2 - e * TAKE_UP / 2 + TAKE_UP**2 / 6)
        return np.asarray(eased @ self.stiffness)

    def _tension(self, stretch: FloatArray) -> FloatArray:
        """Shape (n, n_members). [N]"""
        e = np.maximum(stretch, 0.0)
        return np.asarray(self.stiffness * np.where(e < TAKE_UP, e**2 / (2 * TAKE_UP), e - TAKE_UP / 2))

    def _terms(self, x: FloatArray, given: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Energy, its slope and its curvature by the unknowns."""
        u, stretch = self._ends(x, given)
        tension = self._tension(stretch)
        along = self.stiffness * np.clip(stretch / TAKE_UP, 0.0, 1.0)
        across = tension / (stretch + self.straight)
        each = (along - across)[..., None, None] * u[..., :, None] * u[..., None, :]
        each += across[..., None, None] * np.eye(3)
        n, m = stretch.shape
        flat = self.map.reshape(3 * m, -1)
        bent = np.einsum("nmij,mjx->nmix", each, self.map, optimize=True).reshape(n, 3 * m, -1)
        return self._energy(stretch), (tension[..., None] * u).reshape(n, -1) @ flat, flat.T @ bent

    def _moved(
        self,
        x: FloatArray,
        given: FloatArray,
        pull: FloatArray,
        energy: FloatArray,
        slope: FloatArray,
        step: FloatArray,
    ) -> FloatArray:
        """After a step, halved where the energy would not fall."""
        before = energy - np.sum(pull * x, axis=-1)
        falls = np.sum(slope * step, axis=-1)
        size = np.ones(len(x))
        for _ in range(40):
            new = x + size[:, None] * step
            after = self._energy(self._ends(new, given)[1]) - np.sum(pull * new, axis=-1)
            worse = after > before + 1e-4 * size * falls + 1e-14 * self.load
            if not worse.any():
                break
            size = np.where(worse, size / 2, size)
        return np.asarray(x + size[:, None] * step)

    def _found(self, x: FloatArray, given: FloatArray, down: FloatArray) -> _Rest:
        u, stretch = self._ends(x, given)
        tension = self._tension(stretch)
        lift = -2 * tension * np.einsum("nmi,ni->nm", u, down) / self.load
        front, rear = (lift[:, self.foot == i].sum(axis=-1) for i in range(2))
        return _Rest(
            hook=x[:, :2],
            energy=2 * self._energy(stretch),
            front=front,
            rear=rear,
            row_share=2 * tension @ self.in_row.T / self.load,
        )


def _downhill(slope: FloatArray, hessian: FloatArray) -> FloatArray:
    """Newton's step; what no line holds stays nearly where it is."""
    n = hessian.shape[-1]
    stiff = np.trace(hessian, axis1=-2, axis2=-1) / n
    held = hessian + (1e-8 * stiff + 1e-3)[:, None, None] * np.eye(n)
    return np.asarray(-np.linalg.solve(held, slope[..., None])[..., 0])


def _build_rig(design: Design, canopy: Canopy, line_set: LineSet) -> _Rig:
    """Right half of the rigging: both lines of a centre rib's pair are mirror images, so one is in it."""
    right = [line for hold in line_set.holds if hold.side == "R" for line in hold.lines]
    lengths, at_hook = design.riser_lengths, hooks(design)[[1, -1]]
    riser_tops = line_set.riser_ends[[1, -1]]
    places: list[FloatArray] = []
    index: dict[tuple[float, ...], tuple[int, int]] = {}  # lower end to (joint, hook); -1 for neither
    for i, (length, top) in enumerate(zip(lengths, riser_tops, strict=True)):
        meets = length < SHORTEST_RISER
        index[tuple(top)] = (-1, i) if meets else (len(places), -1)
        if not meets:
            places.append(top)
    for line in right:
        if line.kind == "trunk":
            index[tuple(line.end)] = (len(places), -1)
            places.append(line.end)
    members = _Members(index=index, n=2 + 3 * len(places))
    for i, (length, top) in enumerate(zip(lengths, riser_tops, strict=True)):
        if length >= SHORTEST_RISER:
            members.add_riser(i, top, length)
    stiffness = _line_stiffness(design)
    for line in right:
        members.add_line(line, stiffness)
    middle = hook_middle(design, canopy)
    rows = tuple(design.lines.rows)
    return _Rig(
        map=np.array(members.map),
        fixed=np.array(members.fixed),
        foot=np.array(members.foot),
        hook=at_hook,
        straight=np.array(members.straight),
        stiffness=np.array(members.stiffness),
        start=np.concatenate([middle[[0, 2]], *places]),
        load=design.payload.mass * GRAVITY,
        rows=rows,
        in_row=np.array([[float(row == held) for held in members.row] for row in rows]),
    )


class _Members:
    """Members as they are gathered; columns of the unknowns as in `_Rig`."""

    def __init__(self, *, index: dict[tuple[float, ...], tuple[int, int]], n: int) -> None:
        self.index, self.n = index, n
        self.map: list[FloatArray] = []
        self.fixed: list[FloatArray] = []
        self.foot: list[int] = []
        self.straight: list[float] = []
        self.stiffness: list[float] = []
        self.row: list[str] = []

    def add_riser(self, hook: int, top: FloatArray, length: float) -> None:
        """Riser from a hook to its upper end."""
        joint, _ = self.index[tuple(top)]
        self._add(joint=joint, fixed=np.zeros(3), below=-1, hook=hook)
        self.straight.append(length)
        self.stiffness.append(RISER_STIFFNESS / length)
        self.row.append("")

    def add_line(self, line: Line, stiffness: float) -> None:
        """Piece of line; `stiffness` is tension over strain. [N]"""
        joint, _ = self.index[tuple(line.end)] if line.kind == "trunk" else (-1, -1)
        below, hook = self.index[tuple(line.start)]
        self._add(joint=joint, fixed=np.zeros(3) if joint >= 0 else line.end, below=below, hook=hook)
        self.straight.append(line.length)
        self.stiffness.append(stiffness / line.length)
        self.row.append("" if line.kind == "trunk" else line.rows[0])

    def _add(self, *, joint: int, fixed: FloatArray, below: int, hook: int) -> None:
        columns = np.zeros((3, self.n))
        if joint >= 0:
            columns[:, 2 + 3 * joint : 5 + 3 * joint] += np.eye(3)
        if below >= 0:
            columns[:, 2 + 3 * below : 5 + 3 * below] -= np.eye(3)
        if hook >= 0:
            columns[0, 0] = columns[2, 1] = -1.0
        self.map.append(columns)
        self.fixed.append(fixed)
        self.foot.append(hook)


def _line_stiffness(design: Design) -> float:
    """Tension over strain of the line; of polyester where the design does not give its material. [N]"""
    given = build_line_stock(design.lines).stiffness
    if given is not None:
        return given
    return BRAID_STIFFNESS * FIBRES["polyester"].modulus * design.lines.linear_density
