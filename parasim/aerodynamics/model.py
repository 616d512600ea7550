"""The canopy's six coefficients at any condition, and tables of them.

Coefficients are in body axes, over half density, airspeed squared and flat area: forces CX forward, CY right,
CZ down; moments about the confluence, Cl right wing down over span, Cm nose up over mean chord, Cn nose right
over span. Canopy only: lines and payload are bodies with a place of their own (`parasim.aerodynamics.drag`).
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from parasim.aerodynamics.brakes import BrakeShape, build_brake_shape
from parasim.aerodynamics.drag import SKIN_ITEMS, SkinCondition
from parasim.aerodynamics.factors import Factors
from parasim.aerodynamics.fins import Fins, build_fins, fin_forces
from parasim.aerodynamics.lattice import Lattice, build_lattice
from parasim.aerodynamics.section import SectionPolar
from parasim.aerodynamics.strips import Flow, StripLoads, effective_angles, rising_polar, strip_loads
from parasim.aerodynamics.table import AeroTable
from parasim.geometry.canopy import Canopy
from parasim.geometry.surface import cosine_strips
from parasim.rotations import FloatArray

N_STRIPS = 12
RATE_STEP = 0.02
"""Non-dimensional rate by which the rate derivatives are differenced. [-]"""

_ALPHA_BACKWARDS = (-180, -150, -120, -90, -70, -50, -40, -30, -20)
_ALPHA_FLYING = (-15, -10, -7.5, -5, -2.5, 0, 2.5, 5, 7.5, 10, 12.5, 15, 17.5, 20, 22.5, 25, 30)
_ALPHA_FALLING = (35, 40, 50, 60, 75, 90, 105, 120, 150, 180)
ALPHA_KNOTS = np.radians([*_ALPHA_BACKWARDS, *_ALPHA_FLYING, *_ALPHA_FALLING])
BETA_KNOTS = np.radians([0, 6, 14, 30, 55, 90])
BRAKE_KNOTS = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
SMALL_SIDESLIP = np.radians([0.0, 4.0])


@dataclass(frozen=True, kw_only=True, eq=False)
class AeroModel:
    """The canopy as the air sees it.

    Attributes
    ----------
    lattice : Lattice
        Of the chord surface.
    polar : SectionPolar
        Calibrated, skin drag items included.
    rising : SectionPolar
        The same made to rise for ever, for the search of effective angles.
    fins : Fins
        Tip ribs and stabilisers.
    brakes : BrakeShape
        From pull to trailing-edge deflection.
    skin_drag : dict of str to float
        Each skin item's part of the polar's drag, on flat area. [-]
    area, span, chord : float
        Flat area [m²], flat span and mean chord [m].
    center : ndarray, shape (3,)
        Where the calibrated side force acts: mean quarter chord. [m]
    factors : Factors
        Calibration.
    """

    lattice: Lattice
    polar: SectionPolar
    rising: SectionPolar
    fins: Fins
    brakes: BrakeShape
    skin_drag: dict[str, float]
    area: float
    span: float
    chord: float
    center: FloatArray
    factors: Factors

    @property
    def lengths(self) -> FloatArray:
        """Reference length of each moment and rate: span, chord, span. [m]"""
        return np.array([self.span, self.chord, self.span])

    @cached_property
    def table(self) -> AeroTable:
        """Coefficients over angle of attack, sideslip and both brakes."""
        return build_aero_table(self)

    @cached_property
    def straight_table(self) -> AeroTable:
        """The same for little sideslip: quicker to build, for both brakes pulled alike."""
        return build_aero_table(self, beta=SMALL_SIDESLIP)

    @cached_property
    def released_table(self) -> AeroTable:
        """The same for brakes at rest: quick to build, for small disturbances."""
        return build_aero_table(self, beta=SMALL_SIDESLIP, brake=np.zeros(1))

    @cached_property
    def trim_table(self) -> AeroTable:
        """As the table with the brakes released but without rates: quicker still, for steady flight."""
        return build_aero_table(self, beta=SMALL_SIDESLIP, brake=np.zeros(1), rates=False)

    def loads(self, flow: Flow, left: FloatArray, right: FloatArray) -> StripLoads:
        """Strip loads in every flow at every pair of brakes (fractions of travel, shape (n_brakes,))."""
        slope = self.brakes.strip_deflections(left, right)
        return strip_loads(self.lattice, self.polar, flow, slope, rising=self.rising)

    def effective_alpha(self, flow: Flow, left: FloatArray, right: FloatArray) -> FloatArray:
        """As in the loads, without these. [rad]"""
        slope = self.brakes.strip_deflections(left, right)
        return effective_angles(self.lattice, flow, slope, self.rising).alpha

    def coefficients(
        self, flow: Flow, left: FloatArray, right: FloatArray, *, loads: StripLoads | None = None
    ) -> FloatArray:
        """Six coefficients in every flow at every pair of brakes.

        Parameters
        ----------
        flow : Flow
            n_flows motions.
        left, right : ndarray, shape (n_brakes,)
            Brakes as fractions of full travel. [-]
        loads : StripLoads, optional
            Of the same flows and brakes, if known already.

        Returns
        -------
        ndarray, shape (n_flows, n_brakes, 6)
            CX, CY, CZ, Cl, Cm, Cn. [-]
        """
        loads = loads or self.loads(flow, left, right)
        strip_force = loads.force
        force = strip_force.sum(axis=2)
        moment = (np.cross(self.lattice.strips.quarter_chord, strip_force) + loads.moment).sum(axis=2)
        on_fins = fin_forces(self.fins, flow)
        added_force, added_moment = self._calibrated(flow)
        force = force + (on_fins.sum(axis=1) + added_force)[:, None]
        moment = moment + (np.cross(self.fins.center, on_fins).sum(axis=1) + added_moment)[:, None]
        return np.concatenate([force / self.area, moment / (self.area * self.lengths)], axis=-1)

    def _calibrated(self, flow: Flow) -> tuple[FloatArray, FloatArray]:
        """Force and moment of the calibrated side force and damping, as `fin_forces` scales them."""
        side = self.factors.side_force_slope * self.area * np.sin(flow.beta) * np.cos(flow.beta)
        force = np.zeros((len(side), 3))
        force[:, 1] = side
        damping = np.array([self.factors.roll_damping, 0.0, self.factors.yaw_damping])
        couple = damping * flow.rotation * self.area * self.span**2 / 2
        return force, np.cross(self.center, force) + couple


def calibrated_polar(polar: SectionPolar, factors: Factors, skin_drag: float) -> SectionPolar:
    """Polar with the factors applied to lift, brake increments, moment and drag."""
    cl = polar.cl[:1] + factors.brake_lift_factor * (polar.cl - polar.cl[:1])
    cd = polar.cd[:1] + factors.brake_drag_factor * (polar.cd - polar.cd[:1])
    cm = polar.cm[:1] + factors.brake_lift_factor * (polar.cm - polar.cm[:1])
    return replace(
        polar,
        cl=factors.lift_factor * cl,
        cd=np.maximum(cd, polar.cd[:1] / 2) + skin_drag,
        cm=cm + factors.moment_shift,
    )


def build_aero_model(
    canopy: Canopy,
    polar: SectionPolar,
    factors: Factors,
    condition: SkinCondition,
    *,
    brake_span: float,
    brake_shares: tuple[float, ...],
    brake_travel: float,
    brake_free_play: float,
    riser_end: FloatArray,
    n_strips: int = N_STRIPS,
) -> AeroModel:
    """Aerodynamic model of a canopy.

    Parameters
    ----------
    canopy, polar, factors, condition
        Shape, bare section, calibration, reference flight.
    brake_span, brake_travel, brake_free_play : float
        Braked outer part of each half span [-]; full pull and the slack in it [m].
    brake_shares : tuple of float
        Part of the pull that reaches each branch of the brake fan, inner to outer. [-]
    riser_end : ndarray, shape (3,)
        Of the right side. [m]
    n_strips : int
        Across the span.
    """
    strips = cosine_strips(canopy, n_strips)
    return AeroModel(
        lattice=build_lattice(strips),
        **_by_factors(canopy, polar, factors, condition),
        fins=build_fins(canopy),
        brakes=build_brake_shape(
            canopy,
            strips,
            span_fraction=brake_span,
            shares=brake_shares,
            travel=brake_travel,
            free_play=brake_free_play,
            riser_end=riser_end,
        ),
        area=canopy.flat_area,
        span=canopy.span,
        chord=canopy.mean_chord,
        center=np.average(strips.quarter_chord, axis=0, weights=strips.chord * strips.width),
    )


def recalibrated(
    model: AeroModel, canopy: Canopy, polar: SectionPolar, factors: Factors, condition: SkinCondition
) -> AeroModel:
    """The model of the same canopy with another bare section, calibration or reference flight."""
    return replace(model, **_by_factors(canopy, polar, factors, condition))


def _by_factors(
    canopy: Canopy, polar: SectionPolar, factors: Factors, condition: SkinCondition
) -> dict[str, Any]:
    """Fields of a model that calibration, section and reference flight decide."""
    skin_drag = {name: item(canopy, factors, condition) for name, item in SKIN_ITEMS.items()}
    calibrated = calibrated_polar(polar, factors, sum(skin_drag.values()))
    return {
        "polar": calibrated, "rising": rising_polar(calibrated), "skin_drag": skin_drag, "factors": factors
    }  # fmt: skip


MIRROR = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])
"""Signs of the six coefficients when left and right change places."""


def build_aero_table(
    model: AeroModel,
    *,
    alpha: FloatArray = ALPHA_KNOTS,
    beta: FloatArray = BETA_KNOTS,
    brake: FloatArray = BRAKE_KNOTS,
    rates: bool = True,
) -> AeroTable:
    """Tabulate a model.

    Parameters
    ----------
    model : AeroModel
        What to tabulate.
    alpha, beta : ndarray
        Knots; beta from 0 up, mirrored for the other side. [rad]
    brake : ndarray
        Knots from zero up at even steps. [-]
    rates : bool
        Whether to work out the rate derivatives; else they are zero.
    """
    n_alpha, n_beta, n_brake = len(alpha), len(beta), len(brake)
    left, right = (b.ravel() for b in np.meshgrid(brake, brake, indexing="ij"))
    flow = Flow.steady(alpha[:, None], beta[None, :])
    loads = model.loads(flow, left, right)
    half = model.coefficients(flow, left, right, loads=loads)
    half = half.reshape(n_alpha, n_beta, n_brake, n_brake, 6)
    mirrored = MIRROR * half[:, :0:-1].transpose(0, 1, 3, 2, 4)
    return AeroTable(
        alpha=alpha,
        beta=np.concatenate([-beta[:0:-1], beta]),
        brake=brake,
        steady=np.concatenate([mirrored, half], axis=1),
        rates=rate_derivatives(model, alpha) if rates else np.zeros((n_alpha, 6, 3)),
        area=model.area,
        span=model.span,
        chord=model.chord,
        unconverged=int((~loads.converged).sum()),
    )


def rate_derivatives(model: AeroModel, alpha: FloatArray) -> FloatArray:
    """Derivatives of the six coefficients by roll, pitch and yaw rate, without sideslip and brake.

    Parameters
    ----------
    model : AeroModel
        Whose.
    alpha : ndarray, shape (n_alpha,)
        [rad]

    Returns
    -------
    ndarray, shape (n_alpha, 6, 3)
        By p b/2V, q c/2V, r b/2V, by central differences. [1/rad]
    """
    step = np.diag(2 * RATE_STEP / model.lengths)
    rotation = np.concatenate([step, -step])
    n_alpha = len(alpha)
    flow = Flow(
        alpha=np.repeat(alpha, 6), beta=np.zeros(6 * n_alpha), rotation=np.tile(rotation, (n_alpha, 1))
    )
    free = np.zeros(1)
    found = model.coefficients(flow, free, free).reshape(n_alpha, 2, 3, 6)
    return ((found[:, 0] - found[:, 1]) / (2 * RATE_STEP)).transpose(0, 2, 1)


def calibrated_table(model: AeroModel, name: str, like: AeroTable) -> AeroTable:
    """What one unit of a factor of side force or damping adds to a table: exact, for it is linear in them.

    Parameters
    ----------
    model : AeroModel
        Whose.
    name : str
        ``side_force_slope``, ``yaw_damping`` or ``roll_damping``.
    like : AeroTable
        Table that it is added to.
    """
    nothing = replace(model.factors, side_force_slope=0.0, yaw_damping=0.0, roll_damping=0.0)
    unit = replace(model, factors=replace(nothing, **{name: 1.0}))

    def added(flow: Flow) -> FloatArray:
        force, moment = unit._calibrated(flow)
        return np.concatenate([force / model.area, moment / (model.area * model.lengths)], axis=-1)

    n_alpha = len(like.alpha)
    steady = added(Flow.steady(like.alpha[:, None], like.beta[None, :])).reshape(n_alpha, -1, 1, 1, 6)
    rates = np.zeros((n_alpha, 6, 3))
    for i, rotation in enumerate(np.diag(2 / model.lengths)):
        turning = Flow(alpha=like.alpha, beta=np.zeros(n_alpha), rotation=np.tile(rotation, (n_alpha, 1)))
        rates[:, :, i] = added(turning)
    return replace(like, steady=np.broadcast_to(steady, like.steady.shape).copy(), rates=rates)
