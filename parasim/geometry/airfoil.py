"""Section outlines: the families parasim knows, thickness, camber, and the trailing edge bent by brake.

An outline is an array of shape (n, 2), chord ratios x and z, from the trailing edge over the upper surface
to the leading edge and back along the lower surface. x runs from 0 at the leading edge to 1 at the trailing
edge, z is positive up, and angles of attack are measured against the x axis. For the `flat-bottomed` family
the x axis lies along the flat of the bottom skin, where a maker can lay a ruler, so its nose is a little
above z = 0.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.polynomial import chebyshev

from parasim.errors import DesignError, Mistake
from parasim.geometry.coordinates import cosine_stations, join_surfaces
from parasim.rotations import FloatArray

BEND_FRACTION = 0.30
"""Part of the chord that bends into a circular arc when the brake is pulled. [-] Our choice, no source."""

MIN_THICKNESS, MAX_THICKNESS = 0.09, 0.21
"""Thickness ratios the families are made for. [-]"""

NACA23015_THICKNESS = 0.15

_CAMBER_DEGREE = 10
_CAMBER_POINTS = 121
_CAMBER_ROUNDS = 6
_CAMBER_FRONT_ANGLE = 0.8
_CAMBER_FRONT_DEGREE = 3
_CAMBER_FIRST_ANGLE = 0.3  # theta of the first camber point, x = 0.022


def build_outline(family: str, thickness: float) -> FloatArray:
    """Outline of a section family at a thickness ratio.

    Parameters
    ----------
    family : str
        `flat-bottomed`, `reflexed`, `symmetric` or `naca23015`.
    thickness : float
        Largest thickness over chord, 0.09 to 0.21; `naca23015` is 0.15 by definition. [-]

    Returns
    -------
    ndarray, shape (241, 2)
        x and z in chords, trailing edge, upper surface, leading edge, lower surface, trailing edge.

    Raises
    ------
    DesignError
        If the family is unknown or the thickness is outside its range.

    Notes
    -----
    `flat-bottomed` and `reflexed` are shapes of our own, drawn for this project. `symmetric` is the NACA
    4-digit thickness form, `naca23015` the 5-digit section. Source: [JacobsWardPinkerton1933],
    [JacobsPinkerton1935].
    """
    check_family(family)
    if family == "naca23015" and abs(thickness - NACA23015_THICKNESS) > 1e-6:
        raise DesignError(
            Mistake(
                key="canopy.airfoil.thickness",
                given=f"{thickness:.4g}",
                problem="but naca23015 is 0.15 thick by definition",
                hint="use 15 % or choose another family",
            )
        )
    if not MIN_THICKNESS - 1e-9 <= thickness <= MAX_THICKNESS + 1e-9:
        raise DesignError(
            Mistake(
                key="canopy.airfoil.thickness",
                given=f"{thickness:.4g}",
                problem="outside the section tables",
                hint=f"use {MIN_THICKNESS:.2f} to {MAX_THICKNESS:.2f} (9 % to 21 %)",
            )
        )
    return FAMILIES[family](thickness)


def check_family(family: str) -> None:
    """Raise DesignError if there is no section family of this name."""
    if family not in FAMILIES:
        raise DesignError(
            Mistake(
                key="canopy.airfoil.family",
                given=repr(family),
                problem="not known",
                hint=f"use one of {', '.join(FAMILIES)}",
            )
        )


def _naca_half_thickness(x: FloatArray, thickness: float) -> FloatArray:
    """Half thickness of the NACA 4- and 5-digit sections. Source: [JacobsWardPinkerton1933]."""
    polynomial = 0.2969 * np.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4
    return np.asarray(5.0 * thickness * polynomial)


def _around_camber(
    x: FloatArray, z_camber: FloatArray, camber_slope: FloatArray, thickness: float
) -> FloatArray:
    """NACA thickness laid off at right angles to a camber line. Source: [JacobsWardPinkerton1933]."""
    half = _naca_half_thickness(x, thickness)
    angle = np.arctan(camber_slope)
    across, along = half * np.cos(angle), half * np.sin(angle)
    return join_surfaces(x - along, z_camber + across, x + along, z_camber - across)


def _symmetric(thickness: float) -> FloatArray:
    x = cosine_stations()
    half = _naca_half_thickness(x, thickness)
    return join_surfaces(x, half, x, -half)


def _naca23015(thickness: float) -> FloatArray:
    """NACA 230-series camber line (design lift 0.3, camber at 0.15). Source: [JacobsPinkerton1935]."""
    m, k1 = 0.2025, 15.957
    x = cosine_stations()
    front = x < m
    z = np.where(front, k1 / 6 * (x**3 - 3 * m * x**2 + m**2 * (3 - m) * x), k1 / 6 * m**3 * (1 - x))
    slope = np.where(front, k1 / 6 * (3 * x**2 - 6 * m * x + m**2 * (3 - m)), -k1 / 6 * m**3)
    return _around_camber(x, z, slope, thickness)


REFLEX_CAMBER = 0.02
"""Camber of the `reflexed` family. [-] Our choice."""

REFLEX_CROSSING = 0.875
"""Where the reflexed camber line crosses the chord: 7/8 gives no moment in thin-aerofoil theory. [-]"""


def _reflexed(thickness: float) -> FloatArray:
    """NACA thickness on the cubic camber line z = k x (1 - x)(x0 - x)."""
    x0 = REFLEX_CROSSING
    top = (1 + x0 - np.sqrt(1 - x0 + x0**2)) / 3
    k = REFLEX_CAMBER / (top * (1 - top) * (x0 - top))
    x = cosine_stations()
    z = k * x * (1 - x) * (x0 - x)
    slope = k * (x0 - 2 * (1 + x0) * x + 3 * x**2)
    return _around_camber(x, z, slope, thickness)


FLAT_START = 0.15
"""The lower surface of the `flat-bottomed` family is straight behind this chord ratio. [-] Our choice."""

FLAT_CREST = 0.28
"""Chord ratio of the greatest thickness of the `flat-bottomed` family. [-] Our choice."""

_FLAT_NOSE_POWER = 2.5
_FLAT_TRAILING_SLOPE = 2.0


def _flat_bottomed(thickness: float) -> FloatArray:
    """Flat bottom, round nose of the NACA radius, crest at FLAT_CREST; all heights grow with thickness.

    The lower surface is z = h (1 - sqrt(x / x_f))^2.5 ahead of the flat; the upper is
    z = h + a sqrt(x) + b x + c x^2 + d x^3 + e x^4, with `a` from the nose radius and the rest from
    height and level at the crest, and height and slope at the trailing edge.
    """
    t, x_f, x_m, power = thickness, FLAT_START, FLAT_CREST, _FLAT_NOSE_POWER
    a = 5 * t * 0.2969
    h = a * np.sqrt(x_f) / power
    conditions = np.array(
        [
            [x_m, x_m**2, x_m**3, x_m**4],
            [1, 2 * x_m, 3 * x_m**2, 4 * x_m**3],
            [1, 1, 1, 1],
            [1, 2, 3, 4],
        ],
    )
    wanted = [t - h - a * np.sqrt(x_m), -a / (2 * np.sqrt(x_m)), -h - a, -_FLAT_TRAILING_SLOPE * t - a / 2]
    b, c, d, e = np.linalg.solve(conditions, np.array(wanted))
    x = cosine_stations()
    upper = h + a * np.sqrt(x) + b * x + c * x**2 + d * x**3 + e * x**4
    lower = h * np.clip(1 - np.sqrt(x / x_f), 0, None) ** power
    return join_surfaces(x, np.maximum(upper, lower), x, lower)


FAMILIES: dict[str, Callable[[float], FloatArray]] = {
    "flat-bottomed": _flat_bottomed,
    "reflexed": _reflexed,
    "symmetric": _symmetric,
    "naca23015": _naca23015,
}
"""Section families and the functions that draw them, each called with the thickness ratio."""


def deflected_outline(outline: FloatArray, slope: float) -> FloatArray:
    """Outline with its trailing edge bent down by the brake.

    Parameters
    ----------
    outline : ndarray, shape (n, 2)
        Section outline of chord 1.
    slope : float
        Slope of the x axis at the trailing edge, positive down. [rad]

    Returns
    -------
    ndarray, shape (n, 2)
        Same points; those behind 1 - BEND_FRACTION carried along a circular arc, at their old distance
        from the bent x axis. The chord is no longer exactly 1.
    """
    if abs(slope) < 1e-9:
        return outline.copy()
    start, curvature = 1.0 - BEND_FRACTION, slope / BEND_FRACTION
    turned = curvature * np.clip(outline[:, 0] - start, 0.0, None)
    z = outline[:, 1]
    bent_x = start + np.sin(turned) / curvature + z * np.sin(turned)
    bent_z = -(1 - np.cos(turned)) / curvature + z * np.cos(turned)
    return np.where((turned * np.sign(slope) > 0)[:, None], np.column_stack([bent_x, bent_z]), outline)


def trailing_edge_drop(slope: FloatArray | float) -> FloatArray:
    """How far the trailing edge is below its unbraked place, in chords: l (1 - cos s) / s.

    Parameters
    ----------
    slope : float or ndarray
        Trailing-edge deflection s, positive down. [rad]
    """
    s = np.asarray(slope, dtype=np.float64)
    return np.asarray(BEND_FRACTION * np.sin(s / 2) * np.sinc(s / (2 * np.pi)))


def trailing_edge_advance(slope: FloatArray | float) -> FloatArray:
    """How far the trailing edge is ahead of its unbraked place, in chords: l (1 - sin s / s).

    Parameters
    ----------
    slope : float or ndarray
        Trailing-edge deflection s, positive down. [rad]
    """
    return np.asarray(BEND_FRACTION * (1 - np.sinc(np.asarray(slope, dtype=np.float64) / np.pi)))


def _surfaces(outline: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Upper and lower surface, both from the leading edge to the trailing edge."""
    nose = int(np.argmin(outline[:, 0]))
    return outline[nose::-1], outline[nose:]


def surface_height(surface: FloatArray, x: FloatArray | float) -> FloatArray:
    """Height at x, interpolated over sqrt(x - x_nose) so that the round nose keeps its shape."""
    x_nose = surface[0, 0]
    stations = np.sqrt(np.clip(surface[:, 0] - x_nose, 0.0, None))
    wanted = np.sqrt(np.clip(np.asarray(x, dtype=np.float64) - x_nose, 0.0, None))
    return np.asarray(np.interp(wanted, stations, surface[:, 1]))


def upper_surface(outline: FloatArray, x: FloatArray | float) -> FloatArray:
    """Height of the upper surface at chord ratio x, in chords."""
    return surface_height(_surfaces(outline)[0], x)


def lower_surface(outline: FloatArray, x: FloatArray | float) -> FloatArray:
    """Height of the lower surface at chord ratio x, in chords."""
    return surface_height(_surfaces(outline)[1], x)


def camber_line(outline: FloatArray, x: FloatArray | float) -> FloatArray:
    """Height half-way between the two surfaces at chord ratio x, in chords."""
    return np.asarray(0.5 * (upper_surface(outline, x) + lower_surface(outline, x)))


def thickness_ratio(outline: FloatArray) -> float:
    """Largest distance between the surfaces, measured across the x axis, in chords."""
    x = np.linspace(0.0, 1.0, 2001)
    return float(np.max(upper_surface(outline, x) - lower_surface(outline, x)))


def section_area(outline: FloatArray) -> float:
    """Area enclosed by the outline, in square chords."""
    x, z = outline[:, 0], outline[:, 1]
    return float(0.5 * abs(np.dot(x, np.roll(z, -1)) - np.dot(z, np.roll(x, -1))))


def camber_slope(outline: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Angles theta, x = (1 - cos theta) / 2, and dz/dx d theta of the camber line there.

    The camber line is taken half-way between the surfaces along its own normal, as the NACA sections are
    drawn, behind the round nose (x > 0.022), and carried on to the nose by a cubic through its first part.
    On the NACA 230 and 24 camber lines the angles below come within 0.1 degree of the exact integrals.
    """
    nose, tail = float(np.min(outline[:, 0])), float(0.5 * (outline[0, 0] + outline[-1, 0]))
    chord = tail - nose
    stations: FloatArray = np.cos(np.linspace(_CAMBER_FIRST_ANGLE, np.pi, _CAMBER_POINTS))
    x0 = nose + chord * 0.5 * (1 - stations)
    x, z = x0, camber_line(outline, x0)
    for _ in range(_CAMBER_ROUNDS):
        b = chebyshev.chebfit(1 - 2 * (x - nose) / chord, z, _CAMBER_DEGREE)
        rise = np.asarray(chebyshev.chebval(stations, chebyshev.chebder(b)), dtype=np.float64)
        height = np.asarray(chebyshev.chebval(stations, b), dtype=np.float64)
        x, z = _midpoints_along_normal(outline, x0, height, np.arctan(-2 * rise / chord))
    theta = np.arccos(np.clip(1 - 2 * (x - nose) / chord, -1.0, 1.0))
    front = theta < _CAMBER_FRONT_ANGLE
    carried_on = chebyshev.chebfit(np.cos(theta[front]), z[front], _CAMBER_FRONT_DEGREE)
    near_nose = np.linspace(0.0, theta[0], 21)[:-1]
    theta = np.concatenate([near_nose, theta])
    z = np.concatenate([chebyshev.chebval(np.cos(near_nose), carried_on), z])
    middle = 0.5 * (theta[1:] + theta[:-1])
    return middle, 2 * np.diff(z) / chord / np.sin(middle)


def _midpoints_along_normal(
    outline: FloatArray, x: FloatArray, z: FloatArray, angles: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points half-way between the surfaces, seen from (x, z) at right angles to the given angles."""
    shift = np.empty_like(x)
    for i, angle in enumerate(angles):
        along, up = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        sides = [side - (x[i], z[i]) for side in _surfaces(outline)]
        shift[i] = 0.5 * sum(float(np.interp(0.0, side @ along, side @ up)) for side in sides)
    return x - shift * np.sin(angles), z + shift * np.cos(angles)


def ideal_angle(outline: FloatArray) -> float:
    """Angle of attack at which the stagnation point sits at the leading edge, in radians.

    Notes
    -----
    Thin-aerofoil A0 = 0: alpha_i = (1/pi) int_0^pi (dz/dx) d theta. Source: [Theodorsen1931], written with
    Glauert's integral.
    """
    return float(np.sum(camber_slope(outline)[1]) / np.pi)
