"""The rigid arced wing of the tunnel as strips for our lattice, and what the tunnel measured.

Source: Belloc (2015); geometry from a secondary source, coefficients digitised from its figures: see the
heads of tests/reference/arced_wing_*.csv.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from parasim.aerodynamics.lattice import build_lattice
from parasim.aerodynamics.section import SectionPolar, build_section_polar
from parasim.aerodynamics.strips import Flow, strip_loads
from parasim.geometry.surface import Strips
from parasim.rotations import FloatArray

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
AREA = 0.4440
"""Flat area on which the coefficients stand. [m²]"""
AIRSPEED = 40.0
VISCOSITY = 1.47e-5
"""Kinematic, at 15 degC. [m²/s]"""
SPAN = 1.705
"""Along the arc, from the stations. [m]"""
MEAN_CHORD = AREA / SPAN
REYNOLDS = AIRSPEED * MEAN_CHORD / VISCOSITY
TWIST_AXIS = 0.6
"""Where chord and twist are given, behind the leading edge over chord. [-]"""
LIFTS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7)
LINEAR = np.radians([-2.0, 9.0])
"""Angles of attack between which slope and zero-lift angle are fitted. [rad]"""


def tunnel_alpha() -> FloatArray:
    """Columns alpha [rad], CL, CD, Cm, shape (n, 4)."""
    table = np.loadtxt(REFERENCE / "arced_wing_tunnel_alpha.csv", delimiter=",", skiprows=2)
    table[:, 0] = np.radians(table[:, 0])
    return table


def tunnel_beta() -> FloatArray:
    """Columns beta [rad], CY, shape (n, 2)."""
    table = np.loadtxt(REFERENCE / "arced_wing_tunnel_beta.csv", delimiter=",", skiprows=2)
    table[:, 0] = np.radians(table[:, 0])
    return table


def tunnel_strips(n_strips: int = 24) -> Strips:
    """Strips at equal steps of the cosine angle along the arc.

    The arc is a cubic spline through the stations, chord and twist are monotone between them. Axes: origin at
    the centre of the table's heights, x forward, y right, z down.
    """
    y, z, chord, twist = np.loadtxt(REFERENCE / "arced_wing_planform.csv", delimiter=",", skiprows=3).T
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(y), np.diff(z)))])
    arc -= arc[-1] / 2
    place_y, place_z = CubicSpline(arc, y), CubicSpline(arc, z)
    chord_at, twist_at = PchipInterpolator(arc, chord), PchipInterpolator(arc, np.radians(twist))
    step = np.pi / n_strips
    edge = arc[-1] * -np.cos(step * np.arange(n_strips + 1))
    middle = arc[-1] * -np.cos(step * (np.arange(n_strips) + 0.5))

    def tangent(s: FloatArray) -> FloatArray:
        along = np.stack([0 * s, place_y(s, 1), place_z(s, 1)], axis=-1)
        return along / np.linalg.norm(along, axis=-1, keepdims=True)

    def chordwise(s: FloatArray) -> FloatArray:
        """From nose to tail: nose-up twist lowers the tail."""
        up = np.cross([1.0, 0.0, 0.0], tangent(s))
        up *= np.sign(-up[:, 2:])
        return np.cos(twist_at(s))[:, None] * [-1.0, 0.0, 0.0] - np.sin(twist_at(s))[:, None] * up

    def point(s: FloatArray, over_chord: float) -> FloatArray:
        origin = np.stack([0 * s, place_y(s), place_z(s)], axis=-1)
        return origin + ((over_chord - TWIST_AXIS) * chord_at(s))[:, None] * chordwise(s)

    outward = np.cross(tangent(middle), chordwise(middle))
    speed = np.hypot(place_y(middle, 1), place_z(middle, 1))
    return Strips(
        arc_angle=middle,
        quarter_chord=point(middle, 0.25),
        spanwise=tangent(middle),
        outward=outward * np.sign(-outward[:, 2:]),
        chordwise=chordwise(middle),
        chord=chord_at(middle),
        width=np.diff(edge) * speed,
        edge_angle=edge,
        edge_lead=point(edge, 0.0),
        edge_trail=point(edge, 1.0),
    )


def tunnel_polar(reynolds: float = REYNOLDS) -> SectionPolar:
    """NACA 23015, as shipped, without calibration."""
    return build_section_polar(family="naca23015", thickness=0.15, reynolds=reynolds)


@dataclass(frozen=True, kw_only=True, eq=False)
class WingCurves:
    """Lift and drag over angle of attack [rad], side force by sideslip [1/rad]."""

    alpha: FloatArray
    CL: FloatArray
    CD: FloatArray
    side_force_slope: float

    @property
    def line(self) -> tuple[float, float]:
        """Lift slope [1/rad] and zero-lift angle [rad] of a straight line through `LINEAR`."""
        part = (self.alpha >= LINEAR[0]) & (self.alpha <= LINEAR[1])
        slope, at_zero = np.polyfit(self.alpha[part], self.CL[part], 1)
        return float(slope), float(-at_zero / slope)

    @property
    def stall(self) -> tuple[float, float]:
        """Greatest lift, and the angle of attack there [rad]."""
        top = int(np.argmax(self.CL))
        return float(self.CL[top]), float(self.alpha[top])

    def drag_at(self, lift: float) -> float:
        """Drag coefficient at a lift coefficient below stall; nan where it never gets there."""
        top = int(np.argmax(np.diff(self.CL, append=-np.inf) < 0))
        return float(np.interp(lift, self.CL[: top + 1], self.CD[: top + 1], right=np.nan))


def measured() -> WingCurves:
    """What the tunnel read."""
    table, side = tunnel_alpha(), tunnel_beta()
    near = np.abs(side[:, 0]) <= np.radians(5)
    return WingCurves(
        alpha=table[:, 0],
        CL=table[:, 1],
        CD=table[:, 2],
        side_force_slope=float(np.polyfit(side[near, 0], side[near, 1], 1)[0]),
    )


def computed(
    strips: Strips | None = None, polar: SectionPolar | None = None, *, area: float = AREA
) -> WingCurves:
    """What our strips say, nothing calibrated."""
    strips = strips or tunnel_strips()
    polar = polar or tunnel_polar()
    lattice, free = build_lattice(strips), np.zeros((1, strips.n_strips))
    alpha = np.radians(np.arange(-6.0, 24.5, 0.5))
    flow = Flow.steady(alpha)
    force = strip_loads(lattice, polar, flow, free).force[:, 0].sum(axis=1) / area
    sideways = Flow.steady(np.zeros(2), np.radians([-4.0, 4.0]))
    side = strip_loads(lattice, polar, sideways, free).force[:, 0].sum(axis=1)[:, 1] / area
    return WingCurves(
        alpha=alpha,
        CL=force[:, 0] * np.sin(alpha) - force[:, 2] * np.cos(alpha),
        CD=np.einsum("fk,fk->f", force, flow.wind),
        side_force_slope=float(side[1] - side[0]) / np.radians(8.0),
    )
