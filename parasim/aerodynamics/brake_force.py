"""Force in the brake lines, from the air load on the bent tail of the section.

The line works against the air: what it does over a small pull is what the air undoes over the bend that the
pull makes. So the force follows from the air load, weighted with how far each part of the tail moves, and
from how fast the trailing edge turns with pull, summed over the strips that the brake bends.

No force measured on canopies of this size has been published that we know of. Theory takes the tail for a
thin, smooth, attached section; a cloth tail bulges and separates. `HINGE_FACTOR_RANGE` says how far we trust
it.
"""

from functools import lru_cache

import numpy as np

from parasim.aerodynamics.model import AeroModel
from parasim.aerodynamics.section import SectionPolar
from parasim.aerodynamics.section_extension import ARC_AS_FLAP, FLAP_EFFECTIVENESS
from parasim.aerodynamics.strips import Flow
from parasim.geometry.airfoil import BEND_FRACTION
from parasim.rotations import FloatArray

HINGE_FACTOR_RANGE = (0.5, 2.0)
"""Plausible true force over the computed one. [-] Our judgement, no source."""

PLAIN_FLAP, BEND = 1, 2
"""How far the tail falls, from where it begins on: along a straight line, along a parabola (a small arc)."""

PULL_STEP = 0.02
"""Part of the travel over which the turning of the trailing edge is differenced. [-]"""

_TERMS = 150
_STATIONS = 1000


@lru_cache(maxsize=16)
def tail_moment_slopes(fraction: float, shape: int) -> tuple[float, float]:
    """Moment coefficient of the tail's air load, per radian of incidence and of trailing-edge deflection.

    Parameters
    ----------
    fraction : float
        Part of the chord that moves, E. [-]
    shape : int
        `PLAIN_FLAP` or `BEND`.

    Returns
    -------
    (float, float)
        b1, b2, negative where the air pushes the tail back up. [1/rad]

    Notes
    -----
    The tail falls by E c xi^n / n for each radian of slope at the trailing edge, xi from 0 where it begins to
    1 at the end, n the shape. The moment is minus the integral of the load times that fall, over q E^2 c^2 of
    unit span: for n = 1 the hinge moment of a plain flap. The load of a thin section is q times
    4 [A0 (1 + cos t) / sin t + sum A_k sin k t], x/c = (1 - cos t) / 2, with A0 = alpha - (1/pi) int dz/dx
    dt and A_k = (2/pi) int dz/dx cos k t dt. Source: [Glauert1926].
    """
    E, n = fraction, shape
    t = (np.arange(_STATIONS) + 0.5) * np.pi / _STATIONS
    step = np.pi / _STATIONS
    xi = np.clip(((1 - np.cos(t)) / 2 - (1 - E)) / E, 0, None)
    fall = xi**n / n * np.sin(t) / 2 / E  # with dx = sin t dt / 2
    slope = -np.where(xi > 0, xi ** (n - 1), 0.0)  # dz/dx for a trailing edge sloping down by 1
    k = np.arange(1, _TERMS + 1)[:, None]
    A0 = -slope.mean()
    A = 2 * (slope * np.cos(k * t)).mean(axis=1)
    by_incidence = 4 * (1 + np.cos(t)) / np.sin(t)
    by_slope = A0 * by_incidence + 4 * A @ np.sin(k * t)
    return -float(by_incidence @ fall) * step, -float(by_slope @ fall) * step


def effective_slope(slope: FloatArray | float) -> FloatArray:
    """Trailing-edge deflection that would make the same load if flow stayed attached, same shape. [rad]

    Notes
    -----
    The share of thin-flap lift that plain flaps reach, `FLAP_EFFECTIVENESS`, falling evenly from 1 at no
    deflection; beyond the last of them the load rises no more. Taken over from lift to the load of the tail:
    our choice, unvalidated.
    """
    return np.asarray(np.interp(ARC_AS_FLAP * np.asarray(slope), *_attached_flap()) / ARC_AS_FLAP)


@lru_cache(maxsize=1)
def _attached_flap() -> tuple[FloatArray, FloatArray]:
    """Plain-flap angles, and those that would lift as much if flow stayed attached. [rad]"""
    angles, shares = np.array([(0.0, 1.0), *FLAP_EFFECTIVENESS]).T
    fine = np.linspace(0, angles[-1], 161)
    reached = np.maximum.accumulate(fine * np.interp(fine, angles, shares))
    return np.radians(fine), np.radians(reached)


def tail_moment(alpha: FloatArray | float, slope: FloatArray | float) -> FloatArray:
    """Moment coefficient of a bent tail, on q E^2 c^2 of unit span; negative pushes it back up.

    Parameters
    ----------
    alpha : float or ndarray
        Angle of attack over that of zero lift. [rad]
    slope : float or ndarray
        Of the trailing edge, positive down; past attached flow as `effective_slope` has it. [rad]
    """
    b1, b2 = tail_moment_slopes(BEND_FRACTION, BEND)
    return np.asarray(b1 * np.asarray(alpha) + b2 * effective_slope(slope))


def zero_lift(polar: SectionPolar) -> float:
    """Angle of attack at which an unbraked section does not lift. [rad]"""
    near = np.abs(polar.alpha) < np.radians(12.5)
    return float(np.interp(0.0, polar.cl[0, near], polar.alpha[near]))


def brake_line_forces(model: AeroModel, flow: Flow, left: FloatArray, right: FloatArray) -> FloatArray:
    """Force in the main brake line of each side, below its branches.

    Parameters
    ----------
    model : AeroModel
        The canopy.
    flow : Flow
        n_flows motions.
    left, right : ndarray, shape (n_brakes,)
        Brakes as fractions of full travel. [-]

    Returns
    -------
    ndarray, shape (n_flows, n_brakes, 2)
        Left and right, over half density and airspeed squared; never negative, as lines do not push. [m²]

    Notes
    -----
    F = -sum q (E c)^2 w C ds/dp over the strips of the side: w width, C `tail_moment`, ds/dp the turning of
    the trailing edge with pull. Angle of attack counts up to the section's stall. Past the longest pull that
    the bend can take up the force stays about what it was there. Left out: friction in rings
    (`parasim.flight.servo.ring` adds it), the weight of the line, and the air inside, which a bend squeezes
    (some 5 % of the force at 15 % thickness, by our estimate).
    """
    strips = model.lattice.strips
    left, right = (np.asarray(side, dtype=np.float64) for side in (left, right))
    wind = flow.wind_at(strips.quarter_chord)
    in_plane = (wind * strips.outward).sum(axis=-1) ** 2 + (wind * strips.chordwise).sum(axis=-1) ** 2
    limit = model.polar.stall_alpha - zero_lift(model.polar)
    alpha = model.effective_alpha(flow, left, right) - zero_lift(model.polar)
    slope = model.brakes.strip_deflections(left, right)
    load = tail_moment(np.clip(alpha, -limit, limit), slope[None])
    scale = in_plane * (BEND_FRACTION * strips.chord) ** 2 * strips.width
    turning = np.stack(_turning(model, left, right), axis=-1)  # (n_brakes, n_strips, 2)
    force = -np.einsum("fs,fbs,bsk->fbk", scale, load, turning)
    return np.maximum(force, 0.0)


def _turning(model: AeroModel, left: FloatArray, right: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Turning of each strip's trailing edge with left and with right pull, (n_brakes, n_strips). [rad/m]"""
    brakes, rest = model.brakes, np.zeros_like(left)
    largest_share = max(float(brakes.right.max()), 1e-9)
    longest = (brakes.reachable / largest_share + brakes.free_play) / brakes.travel - PULL_STEP
    step = 2 * PULL_STEP * brakes.travel

    def differenced(left: FloatArray, right: FloatArray, d_left: float, d_right: float) -> FloatArray:
        left, right = np.minimum(left, longest), np.minimum(right, longest)
        more = brakes.strip_deflections(left + d_left, right + d_right)
        less = brakes.strip_deflections(left - d_left, right - d_right)
        return (more - less) / step

    return differenced(left, rest, PULL_STEP, 0.0), differenced(rest, right, 0.0, PULL_STEP)
