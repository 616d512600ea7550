"""The one place where the parts meet: from a design to a vehicle that can fly."""

from dataclasses import dataclass, replace
from math import degrees, sqrt

import numpy as np

from parasim.aerodynamics.drag import Bodies, SkinCondition, join, line_bodies, payload_body
from parasim.aerodynamics.factors import Factors, build_factors
from parasim.aerodynamics.model import AeroModel, build_aero_model, recalibrated
from parasim.aerodynamics.section import (
    TRUSTED_SLOPE,
    SectionPolar,
    build_section_polar,
    build_section_polar_from_coordinates,
)
from parasim.caveats import Caveat
from parasim.config.design import Design
from parasim.dynamics.suspension.statics import hook_path
from parasim.dynamics.suspension.swing import Swing
from parasim.environment.atmosphere import GRAVITY, Atmosphere, build_atmosphere
from parasim.environment.wind import Wind, build_wind
from parasim.geometry.canopy import Canopy, build_canopy
from parasim.geometry.lines import LineSet, build_lines
from parasim.geometry.rigging import Rigging, build_rigging, build_section
from parasim.mass.air import apparent_mass
from parasim.mass.inventory import MassItem, enclosed_air, mass_items, payload_center, payload_place
from parasim.mass.properties import MassProperties, total
from parasim.rotations import FloatArray

REFERENCE_FORCE_COEFFICIENT = 0.55
"""Resultant coefficient taken for the reference airspeed alone (Reynolds number, leakage). Our choice. [-]"""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Vehicle:
    """Everything about a design that its flight depends on.

    Attributes
    ----------
    design : Design
        What it was assembled from.
    rigging, canopy, line_set
        Its geometry.
    items : tuple of MassItem
        Mass budget.
    solid : MassProperties
        All that has weight, about the confluence.
    air_matrix : ndarray, shape (6, 6)
        Apparent mass per unit density about the confluence: momentum by velocity through the air.
    enclosed_matrix : ndarray, shape (6, 6)
        Of the air inside, per unit density: it moves with the canopy, whatever the wind.
    model : AeroModel
        The canopy's aerodynamics.
    bodies : Bodies
        Lines and payload.
    swing : Swing
        Where the payload hangs, by its pitch.
    reference : SkinCondition
        Airspeed and density at which Reynolds number and leakage are taken.
    reynolds : float
        On mean chord, at the reference. [-]
    atmosphere, wind, ground_height
        The site; ground height above sea level. [m]
    """

    design: Design
    rigging: Rigging
    canopy: Canopy
    line_set: LineSet
    items: tuple[MassItem, ...]
    solid: MassProperties
    air_matrix: FloatArray
    enclosed_matrix: FloatArray
    model: AeroModel
    bodies: Bodies
    swing: Swing
    reference: SkinCondition
    reynolds: float
    atmosphere: Atmosphere
    wind: Wind
    ground_height: float

    def __repr__(self) -> str:
        """Of which design it is."""
        return f"<Vehicle of {self.design.name}>"

    @property
    def mass(self) -> float:
        """All that has weight. [kg]"""
        return self.solid.mass

    @property
    def weight(self) -> float:
        """[N]"""
        return self.mass * GRAVITY

    @property
    def wing_loading(self) -> float:
        """Weight over flat area. [N/m²]"""
        return self.weight / self.canopy.flat_area

    @property
    def caveats(self) -> tuple[str, ...]:
        """Models used beyond the range of their sources, as sentences."""
        found = list(self.model.polar.caveats)
        brakes = self.model.brakes
        trusted = (
            float(np.interp(TRUSTED_SLOPE, brakes.deflection, brakes.pull)) + brakes.free_play
        ) / brakes.travel
        if trusted < 1:
            found.append(
                Caveat(
                    f"Beyond {100 * trusted:.0f} % of travel a brake bends the trailing edge more than "
                    f"{degrees(TRUSTED_SLOPE):.0f} deg: past the section tables, by plain-flap laws, "
                    "unvalidated.",
                    about="brakes",
                )
            )
        if brakes.travel - brakes.free_play > brakes.reachable:
            found.append(
                Caveat(
                    "Brake travel beyond {reach} bends the trailing edge no further in this model.",
                    about="brakes",
                    reach=(brakes.reachable + brakes.free_play, "small_length"),
                )
            )
        if self.rigging.misfit > 0.002:
            found.append(
                Caveat(
                    "The row lengths contradict each other by up to {misfit}; the pose is the best fit.",
                    "fails",
                    misfit=(self.rigging.misfit, "small_length"),
                )
            )
        return tuple(found)


def assemble(design: Design, *, factors: Factors | None = None, rigging: Rigging | None = None) -> Vehicle:
    """Assemble a vehicle.

    Parameters
    ----------
    design : Design
        A design file's content.
    factors : Factors, optional
        Instead of the design's calibration.
    rigging : Rigging, optional
        Instead of the design's pose.
    """
    outline = build_section(design.canopy.airfoil)
    rigging = rigging or build_rigging(design, outline)
    canopy = build_canopy(design, rigging)
    line_set = build_lines(design, canopy)
    items = mass_items(design, canopy, line_set)
    solid = total(item.properties for item in items)
    atmosphere = build_atmosphere(design.site)
    reference = reference_condition(design, solid.mass, canopy, atmosphere)
    viscosity = atmosphere.viscosity(design.site.ground_height)
    reynolds = reference.air_density * reference.airspeed * canopy.mean_chord / viscosity
    factors = factors or build_factors(design)
    return Vehicle(
        design=design,
        rigging=rigging,
        canopy=canopy,
        line_set=line_set,
        items=items,
        solid=solid,
        air_matrix=apparent_mass(canopy, np.zeros(3)),
        enclosed_matrix=enclosed_air(canopy).matrix,
        model=_aero_model(design, canopy, line_set, reynolds, factors, reference),
        bodies=build_bodies(design, canopy, line_set, factors),
        swing=build_swing(design, canopy, line_set),
        reference=reference,
        reynolds=reynolds,
        atmosphere=atmosphere,
        wind=build_wind(design.site),
        ground_height=design.site.ground_height,
    )


def with_factors(vehicle: Vehicle, factors: Factors) -> Vehicle:
    """The same vehicle under another calibration."""
    design, canopy = vehicle.design, vehicle.canopy
    polar = section_polar(design, vehicle.reynolds)
    return replace(
        vehicle,
        model=recalibrated(vehicle.model, canopy, polar, factors, vehicle.reference),
        bodies=build_bodies(design, canopy, vehicle.line_set, factors),
    )


def in_wind(vehicle: Vehicle, wind: Wind, *, deeper: float = 0.0) -> Vehicle:
    """The same vehicle in another wind, over ground that lies lower by so much. [m]"""
    return replace(vehicle, wind=wind, ground_height=vehicle.ground_height - deeper)


def _aero_model(
    design: Design,
    canopy: Canopy,
    line_set: LineSet,
    reynolds: float,
    factors: Factors,
    reference: SkinCondition,
) -> AeroModel:
    brakes = design.brakes
    return build_aero_model(
        canopy,
        section_polar(design, reynolds),
        factors,
        reference,
        brake_span=brakes.span_fraction,
        brake_shares=brakes.shares or (1.0,) * brakes.branches,
        brake_travel=brakes.travel,
        brake_free_play=design.free_play,
        riser_end=line_set.brake_ends[1],
    )


def section_polar(design: Design, reynolds: float) -> SectionPolar:
    """Bare section of a design at a Reynolds number."""
    airfoil = design.canopy.airfoil
    if airfoil.coordinates is not None:
        return build_section_polar_from_coordinates(airfoil.coordinates, reynolds)
    assert airfoil.family is not None
    assert airfoil.thickness is not None
    return build_section_polar(family=airfoil.family, thickness=airfoil.thickness, reynolds=reynolds)


def build_swing(design: Design, canopy: Canopy, line_set: LineSet) -> Swing:
    """Where the payload hangs, by its pitch: below the confluence, or where its four hooks let it."""
    center = payload_center(design)
    if not design.payload.suspension.four_hooks:
        return Swing(center=center)
    path = hook_path(design, canopy, line_set)
    return Swing(center=center, pitch=path.theta, place=path.place)


def build_bodies(design: Design, canopy: Canopy, line_set: LineSet, factors: Factors) -> Bodies:
    """Lines and payload of a design."""
    return join(
        line_bodies(line_set, factors.line_drag_coefficient),
        payload_body(payload_place(design, canopy), design.payload.drag_area_or_default),
    )


def reference_condition(design: Design, mass: float, canopy: Canopy, atmosphere: Atmosphere) -> SkinCondition:
    """Flight near the ground at a typical resultant coefficient."""
    density = atmosphere.density(design.site.ground_height)
    pressure = mass * GRAVITY / (canopy.flat_area * REFERENCE_FORCE_COEFFICIENT)
    return SkinCondition(
        airspeed=sqrt(2 * pressure / density),
        air_density=density,
        permeability=design.canopy.cloth.permeability,
    )
