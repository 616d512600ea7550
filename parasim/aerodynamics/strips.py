"""Loads on the canopy, strip by strip: section polars coupled to the vortex lattice.

Every strip's effective angle of attack is such that the lift of its section polar there is the lift that the
lattice gives it. Newton's method finds the angles of all strips together. Lift acts
across the strip's local flow, profile and induced drag along it, sideslip and rotation included.

Past stall a lattice of attached vortices means less and less: between `ATTACHED` and `SEPARATED` angles of
the flow it is faded out, and strips then answer to their geometric angle alone.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import radians

import numpy as np

from parasim.aerodynamics.coupling import settle
from parasim.aerodynamics.lattice import CHORDWISE_PANELS, Lattice, influence, trefftz_downwash
from parasim.aerodynamics.section import SectionPolar
from parasim.aerodynamics.section_extension import SLOPE_STEP
from parasim.rotations import FloatArray

ATTACHED, SEPARATED = radians(24), radians(40)
"""Angle of attack up to which the lattice counts in full, and from which it does not count at all. [rad]"""

SIDE_ATTACHED, SIDE_SEPARATED = radians(32), radians(55)
"""The same for sideslip. [rad]"""

RISE = 0.2
"""Minimum lift slope of the polar in the search for effective angles. [1/rad]"""
PANEL_ARMS = (np.arange(CHORDWISE_PANELS) + 0.25) / CHORDWISE_PANELS - 0.25
"""Of the bound vortices behind the quarter chord, over chord. [-]"""
CAMBER_SHAPE = np.where(np.arange(CHORDWISE_PANELS) < CHORDWISE_PANELS - 1, 0.0, 1.0)
"""Incidence that camber adds to each panel: all of it at the rear, where brakes bend the section. [-]"""


def _camber_in_two_dimensions() -> tuple[float, float]:
    """Lift and moment coefficients that unit `CAMBER_SHAPE` gives the panels of an endless strip. [1/rad]"""
    bound = (np.arange(CHORDWISE_PANELS) + 0.25) / CHORDWISE_PANELS
    control = (np.arange(CHORDWISE_PANELS) + 0.75) / CHORDWISE_PANELS
    downwash = 1 / (2 * np.pi * (control[:, None] - bound[None, :]))
    circulation = np.linalg.solve(downwash, CAMBER_SHAPE)
    return 2 * float(circulation.sum()), -2 * float(PANEL_ARMS @ circulation)


CAMBER_LIFT, CAMBER_MOMENT = _camber_in_two_dimensions()


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
        if not self.rotation.any():
            return np.repeat(self.wind[:, None], len(point), axis=1)
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
    deflection: FloatArray,
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
    deflection : ndarray, shape (n_brakes, n_strips)
        Trailing-edge deflection of each strip at each brake setting. [rad]
    rising : SectionPolar, optional
        `rising_polar` of the section, if at hand.
    """
    found = effective_angles(lattice, flow, deflection, rising or rising_polar(polar))
    cl, cd, cm = polar.coefficients(found.alpha, deflection[None])
    return _assemble(lattice, flow, found, (cl, cd, cm + found.delta_cm))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EffectiveAngles:
    """What strips meet of a flow.

    Attributes
    ----------
    wind : ndarray, shape (n_flows, n_strips, 3)
        Air's motion past the quarter chords, over airspeed. [-]
    in_plane : ndarray, shape (n_flows, n_strips)
        Part of it across the span. [-]
    alpha, delta_cm : ndarray, shape (n_flows, n_brakes, n_strips)
        Effective angles [rad]; moment coefficients about the quarter chord over those of the sections [-].
    converged : ndarray of bool, shape (n_flows, n_brakes)
        Which states met their polars.
    far_downwash : ndarray, shape (n_flows, n_strips, n_strips)
        As of `trefftz_downwash`, faded out with the lattice. [1/m]
    """

    wind: FloatArray
    in_plane: FloatArray
    alpha: FloatArray
    delta_cm: FloatArray
    converged: np.ndarray
    far_downwash: FloatArray


def effective_angles(
    lattice: Lattice, flow: Flow, deflection: FloatArray, rising: SectionPolar
) -> EffectiveAngles:
    """Effective angles of every strip in every flow, at every brake setting; given as to `strip_loads`."""
    strips = lattice.strips
    wind = flow.wind_at(strips.quarter_chord)
    across = np.einsum("fsk,sk->fs", wind, strips.outward)
    along = np.einsum("fsk,sk->fs", wind, strips.chordwise)
    in_plane = np.hypot(across, along)
    geometric_alpha = np.arctan2(across, along)
    attached = _fade(flow.alpha, ATTACHED, SEPARATED) * _fade(flow.beta, SIDE_ATTACHED, SIDE_SEPARATED)
    effective_alpha = np.repeat(geometric_alpha[:, None], len(deflection), axis=1)
    delta_cm = np.zeros_like(effective_alpha)
    converged = np.ones(effective_alpha.shape[:2], dtype=bool)
    far_downwash = np.zeros((len(attached), strips.n_strips, strips.n_strips))
    coupled = attached > 0
    if coupled.any():
        part = Flow(alpha=flow.alpha[coupled], beta=flow.beta[coupled], rotation=flow.rotation[coupled])
        weight = attached[coupled, None, None]
        answers = _answers(lattice, *(each.tobytes() for each in (part.alpha, part.beta, part.rotation)))
        settled = _settle(answers, rising, deflection)
        delta_cm[coupled] = weight * settled.delta_cm
        effective_alpha[coupled] = weight * settled.alpha + (1 - weight) * effective_alpha[coupled]
        converged[coupled] = settled.converged
        far_downwash[coupled] = weight * answers.far_downwash
    return EffectiveAngles(
        wind=wind,
        in_plane=in_plane,
        alpha=effective_alpha,
        delta_cm=delta_cm,
        converged=converged,
        far_downwash=far_downwash,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Settled:
    """Strips in balance with the lattice.

    Attributes
    ----------
    alpha, delta_cm : ndarray, shape (n_flows, n_brakes, n_strips)
        Effective angles [rad]; moment coefficients about the quarter chord over those of the sections [-].
    converged : ndarray of bool, shape (n_flows, n_brakes)
        Which states met their polars.
    """

    alpha: FloatArray
    delta_cm: FloatArray
    converged: np.ndarray


def _settle(answers: "_Answers", polar: SectionPolar, deflection: FloatArray) -> _Settled:
    """Strips in balance with the lattice.

    A strip enters the lattice as an incidence increment d on all of its panels and a camber k of
    `CAMBER_SHAPE`. In two dimensions that gives cl = 2 pi (sin(alpha) + d) + `CAMBER_LIFT` k, and cm =
    `CAMBER_MOMENT` k about the quarter chord, so k follows from the section's moment and d from its lift.
    The lattice then says what lift and moment come of them on this canopy: near a tip the flow round the
    edge relieves both, and moves lift forward.
    """
    lift, moment = answers.lift, answers.moment
    n_flows, n_strips = lift.bare.shape
    shape = (n_flows, len(deflection), n_strips)
    alpha, cl, section = np.empty(shape), np.empty(shape), np.empty(shape)
    alpha[:] = np.arcsin(np.clip(0.5 * answers.geometric, -0.9, 0.9))[:, None]
    converged = np.zeros(shape[:2])
    settle(
        polar.cl, polar.cm, SLOPE_STEP, answers.geometric, answers.downwash, answers.by_moment,
        np.array(deflection), alpha, cl, section, converged, np.empty((n_strips, n_strips + 1)),
    )  # fmt: skip
    camber = section / CAMBER_MOMENT
    increment = cl / (2 * np.pi) - np.sin(alpha) - CAMBER_LIFT / (2 * np.pi) * camber
    return _Settled(
        alpha=alpha,
        delta_cm=moment.bare[:, None]
        + np.einsum("fst,fbt->fbs", moment.by_increment, increment)
        + np.einsum("fst,fbt->fbs", moment.by_camber, camber)
        - section,
        converged=converged == 1.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Answer:
    """A coefficient of every strip, as the lattice has it.

    Attributes
    ----------
    bare : ndarray, shape (n_flows, n_strips)
        Of the bare chord surface. [-]
    by_increment, by_camber : ndarray, shape (n_flows, n_strips, n_strips)
        By incidence increment and camber of each strip. [1/rad]
    """

    bare: FloatArray
    by_increment: FloatArray
    by_camber: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Answers:
    """What the lattice makes of some flows, whatever the section.

    Attributes
    ----------
    lift, moment : _Answer
        The moment about each strip's quarter chord.
    geometric : ndarray, shape (n_flows, n_strips)
    downwash, by_moment : ndarray, shape (n_flows, n_strips, n_strips)
        As for `settle`. [-], [rad], [-]
    far_downwash : ndarray, shape (n_flows, n_strips, n_strips)
        As of `trefftz_downwash`. [1/m]
    """

    lift: _Answer
    moment: _Answer
    geometric: FloatArray
    downwash: FloatArray
    by_moment: FloatArray
    far_downwash: FloatArray


@lru_cache(maxsize=16)  # a canopy drawn again with other factors meets the same few sets of flows
def _answers(lattice: Lattice, alpha: bytes, beta: bytes, rotation: bytes) -> _Answers:
    flow = Flow(
        alpha=np.frombuffer(alpha), beta=np.frombuffer(beta), rotation=np.frombuffer(rotation).reshape(-1, 3)
    )
    strips = lattice.strips
    n_strips = strips.n_strips
    wind = flow.wind_at(strips.quarter_chord)
    in_plane = np.hypot(*(np.einsum("fsk,sk->fs", wind, way) for way in (strips.outward, strips.chordwise)))
    circulation = -np.linalg.inv(influence(lattice, flow.wind))
    panel_wind = flow.wind_at(lattice.control)
    panel_across = np.einsum("fpk,pk->fp", panel_wind, lattice.normal).reshape(-1, CHORDWISE_PANELS, n_strips)
    circulation = circulation.reshape(-1, CHORDWISE_PANELS, n_strips, CHORDWISE_PANELS, n_strips)
    # Lift coefficient is 2 circulation / (speed chord); the moment is that with the panels' arms.
    scale = 2 / (in_plane * strips.chord)

    def answer(matrix: FloatArray) -> _Answer:
        by_panel = scale[:, :, None, None] * matrix * in_plane[:, None, None, :]
        return _Answer(
            bare=scale * np.einsum("fsqt,fqt->fs", matrix, panel_across),
            by_increment=by_panel.sum(axis=2),
            by_camber=np.einsum("fsqt,q->fst", by_panel, CAMBER_SHAPE),
        )

    lift = answer(circulation.sum(axis=1))
    per_lift, identity = np.linalg.inv(lift.by_increment), np.eye(n_strips)  # increments by lift [rad]
    return _Answers(
        lift=lift,
        moment=answer(np.einsum("r,frsqt->fsqt", -PANEL_ARMS, circulation)),
        geometric=np.einsum("fst,ft->fs", per_lift, lift.bare),
        downwash=per_lift - identity / (2 * np.pi),
        by_moment=(per_lift @ lift.by_camber - CAMBER_LIFT / (2 * np.pi) * identity) / CAMBER_MOMENT,
        far_downwash=trefftz_downwash(strips, flow.wind),
    )


def _assemble(
    lattice: Lattice,
    flow: Flow,
    found: EffectiveAngles,
    coefficients: tuple[FloatArray, FloatArray, FloatArray],
) -> StripLoads:
    strips, wind, in_plane = lattice.strips, found.wind, found.in_plane
    cl, cd, cm = coefficients
    area = strips.chord * strips.width
    circulation = cl * (0.5 * in_plane * strips.chord)[:, None]
    lift_direction = np.cross(wind, strips.spanwise)
    lift = (2 * circulation * strips.width)[..., None] * lift_direction[:, None]
    speed = np.linalg.norm(wind, axis=-1)
    profile = (cd * (area * speed)[:, None])[..., None] * wind[:, None]
    induced_downwash = np.einsum("fst,fbt->fbs", found.far_downwash, circulation)
    induced = (circulation * induced_downwash * strips.width)[..., None] * flow.wind[:, None, None]
    moment = (cm * (in_plane**2 * area * strips.chord)[:, None])[..., None] * strips.spanwise
    return StripLoads(
        lift=lift,
        profile_drag=profile,
        induced_drag=induced,
        moment=moment,
        effective_alpha=found.alpha,
        cl=cl,
        converged=found.converged,
    )
