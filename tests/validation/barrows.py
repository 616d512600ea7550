"""Barrows' formulas for the apparent mass of an arced wing, per unit of air density: a check, not in use."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np

from parasim.rotations import FloatArray, Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class ApparentMass:
    """Apparent mass of a canopy per unit of air density.

    The apparent mass differs from axis to axis, and sideways motion feels it at another height than
    fore-and-aft motion does. Positions are measured from the middle of the centre rib's chord, in axes
    parallel to the body's (x forward, y right, z down).

    Parameters
    ----------
    m11, m22, m33 : float
        Apparent mass for motion along x, y and z. [m³]
    I11, I22, I33 : float
        Apparent moment of inertia for rotation about x through the roll centre, about y through the pitch
        centre, and about z through both. [m⁵]
    roll_centre : float
        z of the point at which `m22` acts; positive below the centre rib. [m]
    pitch_centre : float
        z of the point at which `m11` acts; positive below the centre rib. [m]
    """

    m11: float
    m22: float
    m33: float
    I11: float
    I22: float
    I33: float
    roll_centre: float
    pitch_centre: float

    def matrix(self, reference_point: Vector) -> FloatArray:
        """Apparent mass matrix for a motion that is told at any point fixed to the canopy.

        Parameters
        ----------
        reference_point : ndarray, shape (3,)
            The point, from the middle of the centre rib's chord in body axes (x forward, y right, z down).
            [m]

        Returns
        -------
        ndarray, shape (6, 6)
            Symmetric, for the velocity of the reference point relative to the air and the angular velocity
            (u, v, w, p, q, r) in body axes. Blocks: [m³], [m⁴], [m⁵]. Times the air density and that
            velocity it gives the momentum and the moment of momentum of the air about the reference point.

        Notes
        -----
        A canopy that is alike left and right, and taken as alike fore and aft of mid-chord, gives the air the
        kinetic energy

            T/ρ = ½ [m11 u(PC)² + m22 v(RC)² + m33 w(PC)² + I11 p² + I22 q² + I33 r²]

        where u(PC) and w(PC) are velocity components of the pitch centre and v(RC) that of the roll centre.
        Each is linear in ξ = (u, v, w, p, q, r): with x, y, z the place of a centre from the reference
        point,

            u(PC) = u + q z − r y,   v(RC) = v + r x − p z,   w(PC) = w + p y − q x.

        These lines, and below them p, q and r themselves, make a matrix A, and the Hessian of T by ξ is
        Aᵀ diag(m11 … I33) A: symmetric and never negative whatever the numbers. Its off-diagonal blocks
        carry the coupling of v with p through the roll centre and of u and w with q through the pitch
        centre.

        Lengthwise both centres lie at mid-chord, as for a flat plate; camber and the nose being thicker
        than the tail shift them by a little that is left out. Source: [Barrows2002] and
        [LissamanBrown1993].
        """
        reference = np.asarray(reference_point, dtype=np.float64)
        x, y, z_roll = np.array([0.0, 0.0, self.roll_centre]) - reference
        z_pitch = self.pitch_centre - reference[2]
        A = np.eye(6)
        A[:3, 3:] = [[0.0, z_pitch, -y], [-z_roll, 0.0, x], [y, -x, 0.0]]
        D = np.array([self.m11, self.m22, self.m33, self.I11, self.I22, self.I33])
        matrix: FloatArray = A.T @ (D[:, np.newaxis] * A)
        return matrix


def flat_wing_apparent_mass(*, span: float, chord: float, thickness: float) -> ApparentMass:
    """Apparent mass of a flat rectangular wing, per unit of air density.

    Parameters
    ----------
    span : float
        [m]
    chord : float
        Mean chord. [m]
    thickness : float
        Greatest thickness of the section. [m]

    Returns
    -------
    ApparentMass
        Both centres at the middle of the centre chord.

    Notes
    -----
    With A = span/chord and S = span chord: m11 = 0.85 π t² b/4, m22 = π t² c/4, m33 = A/(1+A) π c² b/4,
    I11 = 0.055 A/(1+A) b S², I22 = 0.0308 A/(1+A) c³ S, I33 = 0.055 b³ t². Source: [Barrows2002].

    The correction A/(1+A) is rough. Against a potential-flow solution for a thin rectangular plate of aspect
    ratio 2 (1; 3) m33 reads 12 % (14; 10) low, I11 13 % (37; 3) high and I22 8 % (24; 0) low:
    test_potential_flow_added_mass.py.
    """
    b, c, t = span, chord, thickness
    A, S = b / c, b * c
    k = A / (1.0 + A)
    return ApparentMass(
        m11=0.85 * pi * t**2 * b / 4.0,
        m22=pi * t**2 * c / 4.0,
        m33=k * pi * c**2 * b / 4.0,
        I11=0.055 * k * b * S**2,
        I22=0.0308 * k * c**3 * S,
        I33=0.055 * b**3 * t**2,
        roll_centre=0.0,
        pitch_centre=0.0,
    )


def arced_wing_apparent_mass(
    *, span: float, chord: float, thickness: float, arc_radius: float
) -> ApparentMass:
    """Apparent mass of a rectangular wing bent to a circular arc, tips down, per unit of air density.

    Parameters
    ----------
    span : float
        Span along the arc. [m]
    chord : float
        Mean chord. [m]
    thickness : float
        Greatest thickness of the section. [m]
    arc_radius : float
        Radius of the arc. [m]

    Returns
    -------
    ApparentMass

    Notes
    -----
    Source: [Barrows2002], in whose axes z counts down from the centre of the arc; here both centres are
    moved to the middle of the centre chord, which lies at -r. Half arc angle Θ = b/2r, arc height over span
    h* = r (1 - cos Θ)/b, flat-wing values with subscript f:

        z_PC = -r sin Θ/Θ,   z_RC = z_PC m_f22 / (m_f22 + I_f11/r²),
        m11 = (1 + 8/3 h*²) m_f11,   m22 = (r² m_f22 + I_f11)/z_PC²,   m33 = m_f33,
        I11 = ((z_PC - z_RC)/z_PC)² r² m_f22 + (z_RC/z_PC)² I_f11,   I22 = I_f22,   I33 = (1 + 8 h*²) I_f33.

    The roll centre lies on the same side of the arc centre as the pitch centre, for then a roll about the arc
    centre only slides the wing along itself, I11 + m22 z_RC² = r² m_f22, and a roll about the pitch centre is
    that of the flat wing, I11 + m22 (z_PC - z_RC)² = I_f11.

    The second is an assumption, and the weak one: against a potential-flow solution for a thin plate of
    aspect ratio 2.2 bent to a half angle of 42°, m22 reads 46 % high (31 % at 2.5 and 36°); m33 0.5 % high,
    I22 8 % high, the roll centre right within 0.3 % of r:
    test_potential_flow_added_mass.py.
    """
    flat = flat_wing_apparent_mass(span=span, chord=chord, thickness=thickness)
    r = arc_radius
    theta = span / (2.0 * r)
    h = r * (1.0 - cos(theta)) / span
    z_PC = -r * sin(theta) / theta
    z_RC = z_PC * flat.m22 / (flat.m22 + flat.I11 / r**2)
    return ApparentMass(
        m11=(1.0 + 8.0 / 3.0 * h**2) * flat.m11,
        m22=(r**2 * flat.m22 + flat.I11) / z_PC**2,
        m33=flat.m33,
        I11=((z_PC - z_RC) / z_PC) ** 2 * r**2 * flat.m22 + (z_RC / z_PC) ** 2 * flat.I11,
        I22=flat.I22,
        I33=(1.0 + 8.0 * h**2) * flat.I33,
        roll_centre=z_RC + r,
        pitch_centre=z_PC + r,
    )
