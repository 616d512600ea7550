"""Plain wings and an ideal section, for comparing the lattice with theory."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from parasim.aerodynamics.lattice import build_lattice
from parasim.aerodynamics.section import SectionPolar
from parasim.aerodynamics.strips import Flow, StripLoads, strip_loads
from parasim.geometry.airfoil import build_outline
from parasim.geometry.canopy import Canopy
from parasim.geometry.inlet import Inlet
from parasim.geometry.surface import Strips, cosine_strips
from parasim.rotations import FloatArray

FLAT = 1e5
"""Arc radius of a wing that is flat for all we can tell. [m]"""


def plain_canopy(*, span: float, chord: float, arc_radius: float = FLAT, taper: float = 1.0) -> Canopy:
    """Canopy without stabilisers whose centre quarter chord is the origin."""
    return Canopy(
        span=span,
        root_chord=chord,
        taper=taper,
        arc_radius=arc_radius,
        n_cells=7,
        n_half_cells=14,
        outline=build_outline("symmetric", 0.12),
        quarter_chord=np.zeros(3),
        inlet=Inlet(kind="flush", height=0.0, lower_lip=0.0),
        stabiliser=None,
        crossport_area=0.0,
    )


def elliptic_strips(*, span: float, root_chord: float, n_strips: int) -> Strips:
    """Flat wing with a straight quarter-chord line and an elliptic chord, a thousandth left at the tip."""
    strips = cosine_strips(plain_canopy(span=span, chord=root_chord), n_strips)
    half_arc = span / (2 * FLAT)

    def chord(angle: FloatArray) -> FloatArray:
        return root_chord * np.sqrt(np.maximum(1 - (angle / half_arc) ** 2, 1e-6))

    edge_quarter = strips.edge_lead - np.array([0.25 * root_chord, 0.0, 0.0])
    along = np.array([1.0, 0.0, 0.0])
    edge_chord = chord(strips.edge_angle)[:, None]
    return replace(
        strips,
        chord=chord(strips.arc_angle),
        edge_lead=edge_quarter + 0.25 * edge_chord * along,
        edge_trail=edge_quarter - 0.75 * edge_chord * along,
    )


def ideal_polar() -> SectionPolar:
    """Thin plate in ideal flow: cl = 2 pi sin(alpha), no drag, no moment about the quarter chord."""
    alpha = np.radians(np.arange(-180.0, 181.0))
    deflection = np.radians(np.arange(0.0, 121.0, 5.0))
    cl = np.tile(2 * np.pi * np.sin(alpha), (len(deflection), 1))
    zero = np.zeros_like(cl)
    return SectionPolar(
        alpha=alpha,
        deflection=deflection,
        cl=cl,
        cd=zero,
        cm=zero.copy(),
        reynolds=1e6,
        trusted_alpha=(-np.pi, np.pi),
        stall_alpha=np.pi / 2,
    )


def loads(strips: Strips, flow: Flow, polar: SectionPolar | None = None) -> StripLoads:
    """Loads without brake."""
    return strip_loads(build_lattice(strips), polar or ideal_polar(), flow, np.zeros((1, strips.n_strips)))


def wind_axes(strips: Strips, flow: Flow, polar: SectionPolar | None = None, *, area: float) -> FloatArray:
    """Lift, drag and side force (along body y) coefficients, shape (n_flows, 3)."""
    force = loads(strips, flow, polar).force[:, 0].sum(axis=1) / area
    ca, sa = np.cos(flow.alpha), np.sin(flow.alpha)
    lift = force[:, 0] * sa - force[:, 2] * ca
    drag = np.einsum("fk,fk->f", force, flow.wind)
    return np.stack([lift, drag, force[:, 1]], axis=-1)


def lift_slope(strips: Strips, *, area: float, at: float = 0.0, step: float = np.radians(0.5)) -> float:
    """By central difference about an angle of attack. [1/rad]"""
    low, high = wind_axes(strips, Flow.steady(np.array([at - step, at + step])), area=area)[:, 0]
    return float(high - low) / (2 * step)
