"""The canopy: planform, arc, cells, airfoil, inlets, stabilisers, crossports and cloth."""

from collections.abc import Mapping
from itertools import pairwise
from math import radians
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from parasim.config.base import (
    Spec,
    angle_between,
    areal_weight_between,
    file_beside,
    length_between,
    percent_between,
    permeability_between,
    whole_between,
)
from parasim.config.lines import RowName
from parasim.config.quantity import InvalidValue

Family = Literal["flat-bottomed", "reflexed", "symmetric", "naca23015"]
NACA23015_THICKNESS = 0.15
_THICKNESS_SLACK = 1e-6


class AirfoilSpec(Spec):
    """The rib section: a family with its thickness, or a file of coordinates."""

    family: Family | None = None
    """`flat-bottomed`, `reflexed`, `symmetric` or `naca23015`."""
    thickness: Annotated[float, percent_between(5.0, 30.0)] | None = None
    """In chord; the tables hold 9 to 21 %."""
    coordinates: Path | None = None
    """Instead of the two above: a coordinate file, as seen from the design file (needs the extra `sections`,
    once for each new section)."""

    @field_validator("coordinates", mode="before")
    @classmethod
    def _find_file(cls, given: object, info: ValidationInfo) -> Path | None:
        """Take the path from beside the design file, and refuse a missing one."""
        if given is None:
            return None
        return file_beside(given, info, "the path of a coordinate file, such as section.dat")

    @model_validator(mode="after")
    def _one_way(self) -> "AirfoilSpec":
        if (self.family is None) == (self.coordinates is None):
            raise InvalidValue(
                "needs exactly one of family and coordinates",
                "write {family: flat-bottomed, thickness: 15 %} or {coordinates: section.dat}",
                given="both" if self.family else "neither",
            )
        if self.coordinates is not None and self.thickness is not None:
            raise InvalidValue("the coordinates fix the thickness", "leave thickness out", key="thickness")
        if self.family == "naca23015":
            if self.thickness is None:
                object.__setattr__(self, "thickness", NACA23015_THICKNESS)
            elif abs(self.thickness - NACA23015_THICKNESS) > _THICKNESS_SLACK:
                raise InvalidValue(
                    "naca23015 is 15 % thick", "leave thickness out or use another family", key="thickness"
                )
        elif self.family is not None and self.thickness is None:
            raise InvalidValue(
                "missing", "add the thickness in chord, such as thickness: 15 %", key="thickness", given=""
            )
        return self


class InletSpec(Spec):
    """The opening at the nose: flush with the section, or the nose cut off; heights and places in chord."""

    kind: Literal["flush", "open"]
    """`flush`, a slot cut along the section, or `open`, the whole nose cut off straight."""
    height: Annotated[float, percent_between(0.5, 20.0)] | None = None
    """In chord: of a flush slot along its cut; of an open nose as seen from ahead, across the chord line.
    Left out: by the lips."""
    cut_angle: Annotated[float, angle_between(25.0, 120.0)] = radians(60.0)
    """Of an open nose: its cut against the chord line; under 90 deg the lower lip lies behind the upper. Left
    out: 60 deg, common practice, no source."""
    upper_lip: Annotated[float, percent_between(0.0, 40.0)] | None = None
    """Of an open nose, in place of height and angle: where the rib's upper edge begins, behind the leading
    edge."""
    lower_lip: Annotated[float, percent_between(0.0, 45.0)] | None = None
    """Likewise its lower edge."""
    overhang: Annotated[float, percent_between(0.0, 20.0)] = 0.0
    """Of an open nose: how far the upper skin reaches ahead of the upper lip. Left out: 0."""

    @model_validator(mode="after")
    def _fits(self) -> "InletSpec":
        lips = [key for key in ("upper_lip", "lower_lip") if getattr(self, key) is not None]
        if self.kind == "flush":
            for key in ("upper_lip", "lower_lip", "cut_angle", "overhang"):
                if key in self.model_fields_set:
                    raise InvalidValue("belongs to an open nose", "remove it or use kind: open", key=key)
        if len(lips) == 1:
            missing = "lower_lip" if lips == ["upper_lip"] else "upper_lip"
            raise InvalidValue("missing beside the other lip", "add it, in chord", key=missing, given="")
        if lips and (self.height is not None or "cut_angle" in self.model_fields_set):
            key = "height" if self.height is not None else "cut_angle"
            raise InvalidValue("the lips fix the cut", "leave it out, or the lips", key=key)
        if not lips and self.height is None:
            raise InvalidValue("missing", "add it, such as height: 4 %", key="height", given="")
        return self


class StabiliserSpec(Spec):
    """Cloth fins below the two end ribs: height [m], and chord as a ratio of the tip chord."""

    height: Annotated[float, length_between(0.005, 1.0)]
    """Of the cloth fins below the tips. Leave `stabilisers` out for none."""
    chord: Annotated[float, percent_between(10.0, 100.0)]
    """In tip chord."""
    rows: Mapping[RowName, Annotated[float, percent_between(0.0, 100.0)]] = Field(default={}, max_length=4)
    """Lines from the fin's lower edge to the riser ends: name of each tab, and its place from the fin's
    front to its rear, such as `{S: 50 %}`. Left out: no lines."""
    front_rows: tuple[RowName, ...] | None = None
    """Those of them that run to the front risers, with front and rear hooks. Left out: each goes with the
    row of lines nearest to it along the chord."""

    @model_validator(mode="after")
    def _in_order(self) -> "StabiliserSpec":
        for (before, x), (row, y) in pairwise(self.rows.items()):
            if y <= x:
                raise InvalidValue(
                    f"row {row} does not lie behind row {before}",
                    "write them front to rear",
                    key="rows",
                    given="",
                )
        for row in self.front_rows or ():
            if row not in self.rows:
                raise InvalidValue(
                    f"there is no row {row}", f"use {', '.join(self.rows) or 'rows first'}", key="front_rows"
                )
        return self


class CrossportSpec(Spec):
    """Holes in each inner rib, so that the cells share their pressure; diameter in chord."""

    count: Annotated[int, whole_between(0, 20)]
    """Holes in each inner rib, 0 to 20."""
    diameter: Annotated[float, percent_between(0.0, 20.0)]
    """In chord."""


class ClothSpec(Spec):
    """The cloth: mass by area, and air let through at 125 Pa (half an inch of water)."""

    areal_weight: Annotated[float, areal_weight_between(5.0, 300.0)]
    """Mass by area."""
    permeability: Annotated[float, permeability_between(0.0, 500.0)]
    """Air let through at 125 Pa, half an inch of water."""


class CanopySpec(Spec):
    """The canopy. Span runs along the arc of the bottom skin, seams sewn; chord is the root chord."""

    span: Annotated[float, length_between(0.2, 5.0)]
    """Of the bottom skin, along the arc, seams sewn."""
    chord: Annotated[float, length_between(0.1, 3.0)]
    """Of the centre rib, along the chord line."""
    taper: Annotated[float, percent_between(30.0, 100.0)] = 1.0
    """Tip chord over root chord. Left out: 1."""
    cells: Annotated[int, whole_between(3, 31)]
    """Cells between loaded ribs, 3 to 31."""
    half_cells: Annotated[int, whole_between(3, 62)] | None = None
    """Spaces between all ribs: `cells`, or twice that with an unloaded rib in each. Left out: twice."""
    arc_radius: Annotated[float, length_between(0.1, 50.0)] | None = None
    """Of the arc of the bottom skin. Left out: the line length, as equal lines give."""
    airfoil: AirfoilSpec
    inlet: InletSpec
    stabilisers: StabiliserSpec | None = None
    crossports: CrossportSpec
    cloth: ClothSpec

    @property
    def half_cells_or_default(self) -> int:
        """Number of spaces between ribs, unloaded ribs counted; twice the cells when not given."""
        return 2 * self.cells if self.half_cells is None else self.half_cells

    @property
    def mean_chord(self) -> float:
        """Mean chord of the straight taper. [m]"""
        return 0.5 * self.chord * (1.0 + self.taper)

    @property
    def flat_area(self) -> float:
        """Bottom-skin span along the arc times mean chord. [m²]"""
        return self.span * self.mean_chord

    @property
    def aspect_ratio(self) -> float:
        """Flat span over mean chord. [-]"""
        return self.span / self.mean_chord

    @model_validator(mode="after")
    def _fits(self) -> "CanopySpec":
        if self.half_cells not in (None, self.cells, 2 * self.cells):
            raise InvalidValue(
                f"the canopy has {self.cells} cells",
                f"use {self.cells} or {2 * self.cells}, or leave it out",
                key="half_cells",
            )
        thickness = self.airfoil.thickness
        if thickness is not None and self.crossports.diameter >= thickness:
            raise InvalidValue(
                f"the rib is only {thickness:.1%} thick",
                "use holes smaller than the thickness of the rib",
                key="crossports.diameter",
            )
        if thickness is not None and (self.inlet.height or 0.0) >= thickness:
            raise InvalidValue(
                f"the rib is only {thickness:.1%} thick",
                "use an inlet lower than the rib is thick",
                key="inlet.height",
            )
        return self
