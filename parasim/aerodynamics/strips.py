"""Loads on the canopy, strip by strip: section polars coupled to the vortex lattice.

Every strip's effective angle of attack is such that the lift of its section polar there is the lift that the
lattice gives it. Newton's method finds the angles of all strips together. Lift acts
across the strip's local flow, profile and induced drag along it, sideslip and rotation included.

Past stall a lattice of attached vortices means less and less: between `ATTACHED` and `SEPARATED` angles of
the flow it is faded out, and strips then answer to their geometric angle alone.
"""

from dataclasses import dataclass, replace
from math import radians

import numpy as np

from parasim.aerodynamics.lattice import CHORDWISE_PANELS, Lattice, influence, trefftz_wash
from parasim.aerodynamics.section import SectionPolar
from parasim.rotations import FloatArray

ATTACHED, SEPARATED = radians(24), radians(40)
"""Angle of attack up to which the lattice counts in full, and from which it does not count at all. [rad]"""

SIDE_ATTACHED, SIDE_SEPARATED = radians(32), radians(55)
"""The same for sideslip. [rad]"""

NEWTON_STEPS = 20
RISE = 0.2
"""Least lift slope of the polar in the search for effective angles. [1/rad]"""
SEARCH = radians(60)
"""Range of effective angles searched. [rad]"""
STEP_LIMIT = radians(6)
"""Longest step of an effective angle. [rad]"""
TOLERANCE = 1e-4
"""Mismatch of effective angles at which a state counts as settled. [rad]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flow:
    """Motion of the canopy through the air, per unit airspeed.

    Attributes
    ----------
    alpha, beta : ndarray, shape (n_flows,)
        Angle of attack and sideslip of the body's velocity. [rad]
    rotation : ndarray, shape (n_flows, 3)
        Body rates over airspeed: roll right, pitch up, yaw right. [rad/m]
    """

    alpha: FloatArray
    beta: FloatArray
    rotation: FloatArray

    @classmethod
    def steady(cls, alpha: FloatArray, beta: FloatArray | float = 0.0) -> "Flow":
        """Without rotation; alpha and beta broadcast and are flattened."""
        alpha, beta = np.broadcast_arrays(np.asarray(alpha, float), np.asarray(beta, float))
        return cls(alpha=alpha.ravel(), beta=beta.ravel(), rotation=np.zeros((alpha.size, 3)))

    @property
    def wind(self) -> FloatArray:
        """Unit vector of the air's motion past the origin, shape (n_flows, 3)."""
        ca, sa, cb, sb = np.cos(self.alpha), np.sin(self.alpha), np.cos(self.beta), np.sin(self.beta)
        return -np.stack([ca * cb, sb, sa * cb], axis=-1)

    def wind_at(self, point: FloatArray) -> FloatArray:
        """Air's motion past points of the canopy, over airspeed: (n_points, 3) to (n_flows, n_points, 3)."""
        return self.wind[:, None] - np.cross(self.rotation[:, None], point[None])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripLoads:
    """What the strips carry, over half density times airspeed squared.

    Attributes
    ----------
    lift, profile_drag, induced_drag : ndarray, shape (n_flows, n_brakes, n_strips, 3)
        Forces, body axes. [m²]
    moment : ndarray, shape (n_flows, n_brakes, n_strips, 3)
        About each strip's own quarter chord. [m³]
    effective_alpha, cl : ndarray, shape (n_flows, n_brakes, n_strips)
        Of the section. [rad], [-]
    converged : ndarray of bool, shape (n_flows, n_brakes)
        Whether every strip met its polar.
    """

    lift: FloatArray
    profile_drag: FloatArray
    induced_drag: FloatArray
    moment: FloatArray
    effective_alpha: FloatArray
    cl: FloatArray
    converged: np.ndarray

    @property
    def force(self) -> FloatArray:
        """Lift and drag together, same shape. [m²]"""
        return self.lift + self.profile_drag + self.induced_drag


def _fade(angle: FloatArray, full: float, none: float) -> FloatArray:
    """1 up to `full`, 0 from `none`, smooth between."""
    t = np.clip((none - np.abs(angle)) / (none - full), 0, 1)
    return t * t * (3 - 2 * t)


def rising_polar(polar: SectionPolar) -> SectionPolar:
    """Polar whose lift never falls with angle of attack: past its peaks it holds them, with a slight rise.

    A lattice coupled to sections whose lift falls has several answers or none, and narrow tip strips find the
    worst of them. The strips' effective angles are therefore sought with this polar, and the loads then
    taken from the true one: past stall the downwash is that of sections that have kept their lift.
    """
    slight = RISE * polar.alpha[None]
    middle = int(np.argmin(np.abs(polar.alpha)))
    up = np.maximum.accumulate(polar.cl[:, middle:] - slight[:, middle:], axis=1)
    down = np.minimum.accumulate((polar.cl - slight)[:, middle::-1], axis=1)[:, ::-1]
    return replace(polar, cl=np.concatenate([down[:, :-1], up], axis=1) + slight)


def strip_loads(
    lattice: Lattice,
    polar: SectionPolar,
    flow: Flow,
    slope: FloatArray,
    *,
    rising: SectionPolar | None = None,
) -> StripLoads:
    """Loads of every strip in every flow, at every brake setting.

    Parameters
    ----------
    lattice : Lattice
        Of n_strips.
    polar : SectionPolar
        The section of every strip.
    flow : Flow
        n_flows motions through the air.
    slope : ndarray, shape (n_brakes, n_strips)
        Trailing-edge slope of each strip at each brake setting. [rad]
    rising : SectionPolar, optional
        `rising_polar` of the section, if at hand.
    """
    strips = lattice.strips
    rising = rising or rising_polar(polar)
    wind = flow.wind_at(strips.quarter_chord)
    across = np.einsum("fsk,sk->fs", wind, strips.outward)
    along = np.einsum("fsk,sk->fs", wind, strips.chordwise)
    in_plane = np.hypot(across, along)
    geometric_alpha = np.arctan2(across, along)
    attached = _fade(flow.alpha, ATTACHED, SEPARATED) * _fade(flow.beta, SIDE_ATTACHED, SIDE_SEPARATED)
    effective_alpha = np.repeat(geometric_alpha[:, None], len(slope), axis=1)
    converged = np.ones(effective_alpha.shape[:2], dtype=bool)
    wash = np.zeros((len(attached), strips.n_strips, strips.n_strips))
    coupled = attached > 0
    if coupled.any():
        part = Flow(alpha=flow.alpha[coupled], beta=flow.beta[coupled], rotation=flow.rotation[coupled])
        weight = attached[coupled, None, None]
        found, converged[coupled] = _effective_alpha(lattice, rising, part, in_plane[coupled], slope)
        effective_alpha[coupled] = weight * found + (1 - weight) * effective_alpha[coupled]
        wash[coupled] = weight * trefftz_wash(strips, part.wind)
    cl, cd, cm = polar.coefficients(effective_alpha, slope[None])
    return _assemble(lattice, flow, wind, in_plane, wash, effective_alpha, (cl, cd, cm), converged)


def _effective_alpha(
    lattice: Lattice, polar: SectionPolar, flow: Flow, in_plane: FloatArray, slope: FloatArray
) -> tuple[FloatArray, np.ndarray]:
    """Effective angle of attack of every strip, and which states converged.

    In terms of the strips' lift the lattice says: effective angle = geometric part - downwash matrix times lift.
    """
    chord = lattice.strips.chord
    n_strips = len(chord)
    circulation = -np.linalg.inv(influence(lattice, flow.wind))
    by_row = circulation.reshape(len(circulation), CHORDWISE_PANELS, n_strips, -1).sum(axis=1)
    panel_wind = flow.wind_at(lattice.control)
    panel_across = np.einsum("fpk,pk->fp", panel_wind, lattice.normal)
    # Strip lift coefficient 2 circulation / (speed chord): of the bare chord surface, and per unit incidence.
    scale = 2 / (in_plane * chord)
    bare = scale * np.einsum("fsp,fp->fs", by_row, panel_across)
    by_strip = by_row.reshape(len(circulation), n_strips, CHORDWISE_PANELS, n_strips).sum(axis=2)
    per_incidence = np.linalg.inv(scale[..., None] * by_strip * in_plane[:, None, :])
    downwash = per_incidence - np.eye(n_strips) / (2 * np.pi)
    geometric = np.einsum("fst,ft->fs", per_incidence, bare)
    shape = (len(circulation), len(slope), n_strips)
    state = _Coupling(
        polar=polar,
        geometric=np.broadcast_to(geometric[:, None], shape).reshape(-1, n_strips),
        downwash=np.repeat(downwash, len(slope), axis=0),
        slope=np.broadcast_to(slope[None], shape).reshape(-1, n_strips),
    )
    alpha, settled = state.solve()
    return alpha.reshape(shape), settled.reshape(shape[:2])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Coupling:
    """Effective angles that meet the polar and the lattice at once, n states of n_strips.

    sin(alpha) = geometric - downwash cl(alpha, slope)
    """

    polar: SectionPolar
    geometric: FloatArray
    downwash: FloatArray
    slope: FloatArray

    def solve(self) -> tuple[FloatArray, np.ndarray]:
        """Newton's method, each state until it has settled."""
        alpha = np.arcsin(np.clip(0.5 * self.geometric, -0.9, 0.9))
        off = np.arange(len(alpha))
        settled = np.zeros(len(alpha), dtype=bool)
        for _ in range(NEWTON_STEPS):
            alpha[off], mismatch = self._step(alpha[off], off)
            arrived = mismatch < TOLERANCE
            settled[off[arrived]] = True
            off = off[~arrived]
            if not len(off):
                break
        return alpha, settled

    def _step(self, alpha: FloatArray, part: np.ndarray) -> tuple[FloatArray, FloatArray]:
        """Next angles, and by how much (in angle) the present ones miss."""
        downwash = self.downwash[part]
        cl, gradient = self.polar.lift_and_slope(alpha, self.slope[part])
        miss = np.sin(alpha) - self.geometric[part] + np.einsum("nst,nt->ns", downwash, cl)
        jacobian = downwash * gradient[:, None, :]
        index = np.arange(alpha.shape[1])
        jacobian[:, index, index] += np.cos(alpha)
        step = np.linalg.solve(jacobian, miss[..., None])[..., 0]
        moved = alpha - np.clip(step, -STEP_LIMIT, STEP_LIMIT)
        return np.clip(moved, -SEARCH, SEARCH), np.abs(miss).max(axis=-1)


def _assemble(
    lattice: Lattice,
    flow: Flow,
    wind: FloatArray,
    in_plane: FloatArray,
    wash: FloatArray,
    effective_alpha: FloatArray,
    coefficients: tuple[FloatArray, FloatArray, FloatArray],
    converged: np.ndarray,
) -> StripLoads:
    strips = lattice.strips
    cl, cd, cm = coefficients
    area = strips.chord * strips.width
    circulation = cl * (0.5 * in_plane * strips.chord)[:, None]
    lift_direction = np.cross(wind, strips.spanwise)
    lift = (2 * circulation * strips.width)[..., None] * lift_direction[:, None]
    speed = np.linalg.norm(wind, axis=-1)
    profile = (cd * (area * speed)[:, None])[..., None] * wind[:, None]
    induced_wash = np.einsum("fst,fbt->fbs", wash, circulation)
    induced = (circulation * induced_wash * strips.width)[..., None] * flow.wind[:, None, None]
    # Steady pitching bends the flow along the chord: thin-aerofoil moment -pi/8 q c/V about the quarter chord.
    turning = np.einsum("fk,sk->fs", flow.rotation, strips.spanwise) * strips.chord / np.maximum(in_plane, 1e-6)
    still = _fade(flow.alpha, ATTACHED, SEPARATED)[:, None]
    bending = cm - (np.pi / 8 * turning * still)[:, None]
    moment = (bending * (in_plane**2 * area * strips.chord)[:, None])[..., None] * strips.spanwise
    return StripLoads(
        lift=lift,
        profile_drag=profile,
        induced_drag=induced,
        moment=moment,
        effective_alpha=effective_alpha,
        cl=cl,
        converged=converged,
    )
