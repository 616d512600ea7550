"""The payload: its mass, its box and its drag."""

from typing import Annotated, Any, Literal

from pydantic import model_validator

from parasim.config.base import (
    Spec,
    area_between,
    length_between,
    mass_between,
)
from parasim.config.quantity import InvalidValue
from parasim.config.suspension import SuspensionSpec, refuse_old_joint

BOX_DRAG_COEFFICIENT = {"rigid": 1.05, "soft": 0.8}
"""Drag coefficient on width x height. [-]

Rigid: a cube with a face to the wind, 1.05. Source: [Hoerner1965] ch. 3. Soft (a bag with rounded edges):
0.8, common practice, no source.
"""

Edge = Annotated[float, length_between(0.01, 3.0)]


class CenterOfMassSpec(Spec):
    """Where the payload's centre of mass lies, from the middle of its box: forward and up positive. [m]"""

    forward: Annotated[float, length_between(-1.0, 1.0)] = 0.0
    """Of the payload's centre of mass, from the middle of its box. Left out: 0."""
    up: Annotated[float, length_between(-1.0, 1.0)] = 0.0
    """The same, upwards. Left out: 0."""


class PayloadSpec(Spec):
    """What hangs below the canopy. Box edges are fore-aft, across and upright."""

    mass: Annotated[float, mass_between(0.05, 20.0)]
    """All that hangs below the lines."""
    size: tuple[Edge, Edge, Edge]
    """Length fore-aft, width, height of its box."""
    kind: Literal["rigid", "soft"] = "rigid"
    """`rigid` or `soft` (a bag with rounded edges); sets the drag of the box. Left out: rigid."""
    drag_area: Annotated[float, area_between(0.0, 2.0)] | None = None
    """Drag coefficient times frontal area. Left out: width times height times 1.05, or 0.8 for a soft
    one."""
    center_of_mass: CenterOfMassSpec = CenterOfMassSpec()
    suspension: SuspensionSpec = SuspensionSpec()

    @model_validator(mode="before")
    @classmethod
    def _no_joint(cls, content: Any) -> Any:
        return refuse_old_joint(content)

    @model_validator(mode="after")
    def _center_inside(self) -> "PayloadSpec":
        for key, place, edge in (
            ("forward", self.center_of_mass.forward, self.size[0]),
            ("up", self.center_of_mass.up, self.size[2]),
        ):
            if abs(place) > edge / 2:
                raise InvalidValue(
                    "lies outside the box",
                    f"use {-edge / 2:.3g} to {edge / 2:.3g} m",
                    key=f"center_of_mass.{key}",
                )
        return self

    @property
    def drag_area_or_default(self) -> float:
        """Drag coefficient times frontal area; from the box when it is not given. [m²]"""
        if self.drag_area is not None:
            return self.drag_area
        return BOX_DRAG_COEFFICIENT[self.kind] * self.size[1] * self.size[2]
