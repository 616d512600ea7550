"""The arced canopy: ribs along the arc, cells, areas, volume.

Body axes throughout: x forward along the centre chord line, y right, z down, origin at the confluence of
the lines. Every rib's chord line is parallel to x; the ribs fan out along a circular arc.
"""

from dataclasses import dataclass
from functools import cached_property
from math import atan2, cos, sin

import numpy as np

from parasim.config.design import Design
from parasim.errors import DesignError, Mistake
from parasim.geometry.airfoil import (
    lower_surface,
    section_area,
    thickness_ratio,
)
from parasim.geometry.inlet import Inlet, build_inlet
from parasim.geometry.rigging import QUARTER_CHORD, Rigging, build_rigging, build_section
from parasim.rotations import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Stabiliser:
    """A panel of cloth that hangs from each tip rib, in the rib's plane.

    Attributes
    ----------
    height, chord : float
        Down from the tip, and along it. [m]
    """

    height: float
    chord: float

    @property
    def area(self) -> float:
        """One side of one panel. [m²]"""
        return self.height * self.chord


@dataclass(frozen=True, kw_only=True, eq=False)
class Canopy:
    """The canopy as sewn and inflated, in the pose that the lines give it.

    Attributes
    ----------
    span : float
        Bottom-skin span along the arc, seams sewn. [m]
    root_chord, taper : float
        Chord of the centre rib [m], and tip chord over root chord [-]; linear along the arc, about a straight
        quarter-chord line.
    arc_radius : float
        Radius of the circular arc of the bottom skin. [m]
    n_cells, n_half_cells : int
        Loaded cells, and the half cells that the unloaded ribs make of them.
    outline : ndarray, shape (n, 2)
        Section from trailing edge over the upper surface and back, chord 1. [-]
    quarter_chord : ndarray, shape (3,)
        Quarter chord of the centre rib. [m]
    inlet : Inlet
        Where the nose is open.
    stabiliser : Stabiliser or None
        The panel at each tip, if any.
    crossport_area : float
        Holes of one inner rib over its chord squared. [-]
    """

    span: float
    root_chord: float
    taper: float
    arc_radius: float
    n_cells: int
    n_half_cells: int
    outline: FloatArray
    quarter_chord: FloatArray
    inlet: Inlet
    stabiliser: Stabiliser | None
    crossport_area: float

    @property
    def rigging_angle(self) -> float:
        """Nose-down angle of the chord against the line from the confluence to the quarter chord. [rad]"""
        x, _, z = self.quarter_chord
        return atan2(-x, -z)

    @property
    def mean_chord(self) -> float:
        """Flat area over flat span. [m]"""
        return self.root_chord * (1 + self.taper) / 2

    @property
    def flat_area(self) -> float:
        """Bottom-skin span times mean chord: the reference area of every coefficient. [m²]"""
        return self.span * self.mean_chord

    @property
    def aspect_ratio(self) -> float:
        """On flat span and flat area. [-]"""
        return self.span**2 / self.flat_area

    @property
    def half_arc(self) -> float:
        """Arc angle from the centre rib to the tip. [rad]"""
        return self.span / (2 * self.arc_radius)

    @property
    def projected_span(self) -> float:
        """Tip to tip, seen from above. [m]"""
        return 2 * self.arc_radius * sin(self.half_arc)

    @cached_property
    def projected_area(self) -> float:
        """Area seen from above. [m²]"""
        angle = np.linspace(-self.half_arc, self.half_arc, 401)
        return float(np.trapezoid(self.chord_at(angle) * np.cos(angle) * self.arc_radius, angle))

    @cached_property
    def mean_square_chord(self) -> float:
        """Mean over the span of the chord squared, for volumes. [m²]"""
        return self.root_chord**2 * (1 + self.taper + self.taper**2) / 3

    @property
    def n_ribs(self) -> int:
        """Loaded and unloaded ribs, tips included."""
        return self.n_half_cells + 1

    @cached_property
    def rib_angle(self) -> FloatArray:
        """Arc angle of each rib, left tip to right, shape (n_ribs,). [rad]"""
        return np.linspace(-self.half_arc, self.half_arc, self.n_ribs)

    @property
    def loaded_ribs(self) -> slice:
        """The ribs that carry lines: every one, or every second one where cells are halved."""
        return slice(None, None, self.n_half_cells // self.n_cells)

    @property
    def thickness_ratio(self) -> float:
        """Section thickness over chord. [-]"""
        return thickness_ratio(self.outline)

    @cached_property
    def volume(self) -> float:
        """Enclosed air: section areas times the paths of their centroids around the arc (Pappus). [m³]"""
        area, t = section_area(self.outline), self.taper
        mean_cubed_chord = self.root_chord**3 * (1 + t + t**2 + t**3) / 4
        outer = _centroid_height(self.outline) * mean_cubed_chord / self.arc_radius
        return area * self.span * (self.mean_square_chord + outer)

    @cached_property
    def rib_area(self) -> FloatArray:
        """Cloth of each rib, cross-ports cut out of all but the tips, shape (n_ribs,). [m²]"""
        per_square_chord = np.full(self.n_ribs, section_area(self.outline))
        per_square_chord[1:-1] -= self.crossport_area
        return per_square_chord * self.chord_at(self.rib_angle) ** 2

    def chord_at(self, arc_angle: FloatArray) -> FloatArray:
        """Chord at an arc angle [rad], same shape. [m]"""
        return self.root_chord * (1 - (1 - self.taper) * np.abs(arc_angle) / self.half_arc)

    def outward(self, arc_angle: FloatArray) -> FloatArray:
        """Unit normal of the arc, away from its centre line: shape (..., 3)."""
        zero = np.zeros_like(arc_angle)
        return np.stack([zero, np.sin(arc_angle), -np.cos(arc_angle)], axis=-1)

    def spanwise(self, arc_angle: FloatArray) -> FloatArray:
        """Unit tangent of the arc, towards the right tip: shape (..., 3)."""
        zero = np.zeros_like(arc_angle)
        return np.stack([zero, np.cos(arc_angle), np.sin(arc_angle)], axis=-1)

    def point(self, arc_angle: FloatArray, chordwise: FloatArray, height: FloatArray) -> FloatArray:
        """Place of a point of the canopy.

        Parameters
        ----------
        arc_angle : ndarray
            From the centre rib, positive to the right. [rad]
        chordwise, height : ndarray
            Section coordinates over chord: x/c from the leading edge, z/c up from the chord line. [-]

        Returns
        -------
        ndarray, shape (..., 3)
            Body axes. [m]
        """
        arc_angle, chordwise, height = np.broadcast_arrays(arc_angle, chordwise, height)
        chord = self.chord_at(arc_angle)
        radius = self.arc_radius + height * chord
        x0, y0, z0 = self.quarter_chord
        return np.stack(
            [
                x0 + (QUARTER_CHORD - chordwise) * chord,
                y0 + radius * np.sin(arc_angle),
                z0 + self.arc_radius - radius * np.cos(arc_angle),
            ],
            axis=-1,
        )

    def tabs(self, chordwise: FloatArray) -> FloatArray:
        """Line tabs on the lower surface of the loaded ribs.

        Parameters
        ----------
        chordwise : ndarray, shape (n_rows,)
            Row positions over chord. [-]

        Returns
        -------
        ndarray, shape (n_rows, n_loaded_ribs, 3)
            Body axes. [m]
        """
        angle = self.rib_angle[self.loaded_ribs]
        height = lower_surface(self.outline, chordwise)
        return self.point(angle[None, :], np.asarray(chordwise)[:, None], np.asarray(height)[:, None])


def _centroid_height(outline: FloatArray) -> float:
    """Of the section's area over its chord line. [-]"""
    (x0, z0), (x1, z1) = outline.T, np.roll(outline, -1, axis=0).T
    twice = x0 * z1 - x1 * z0
    return float(twice @ (z0 + z1) / (3 * twice.sum()))


def _check_rows(design: Design, inlet: Inlet) -> None:
    """Refuse rows whose tabs would hang in the opening."""
    mistakes = [
        Mistake(
            key=f"lines.rows.{row}",
            given=f"{100 * x:.1f} %",
            problem=f"lies in the inlet, whose lower lip is at {100 * inlet.lower_lip:.1f} % of the chord",
            hint=f"use {100 * (inlet.lower_lip + 0.0005):.1f} % or more, or a lower inlet",
        )
        for row, x in design.lines.rows.items()
        if x < inlet.lower_lip
    ]
    if mistakes:
        raise DesignError(*mistakes)


def build_canopy(design: Design, rigging: Rigging | None = None) -> Canopy:
    """Canopy of a design, posed by its lines.

    Parameters
    ----------
    design : Design
        The whole design: the pose of the canopy comes from the lines.
    rigging : Rigging, optional
        Worked out from the design unless given.
    """
    spec = design.canopy
    outline = build_section(spec.airfoil)
    inlet = build_inlet(spec.inlet, outline)
    _check_rows(design, inlet)
    rigging = rigging or build_rigging(design, outline)
    length, angle = rigging.line_length, rigging.rigging_angle
    tip_chord = spec.chord * spec.taper
    crossports, fin = spec.crossports, spec.stabilisers
    return Canopy(
        span=spec.span,
        root_chord=spec.chord,
        taper=spec.taper,
        arc_radius=spec.arc_radius or length,
        n_cells=spec.cells,
        n_half_cells=spec.half_cells or 2 * spec.cells,
        outline=outline,
        quarter_chord=np.array([-length * sin(angle), 0.0, -length * cos(angle)]),
        inlet=inlet,
        stabiliser=Stabiliser(height=fin.height, chord=fin.chord * tip_chord) if fin else None,
        crossport_area=crossports.count * np.pi * crossports.diameter**2 / 4,
    )
