"""The payload: its mass, its box and its drag."""

from typing import Annotated, Literal

from parasim.config.base import (
    Spec,
    area_between,
    length_between,
    mass_between,
    number_between,
    percent_between,
)

BOX_DRAG_COEFFICIENT = {"rigid": 1.05, "soft": 0.8}
"""Drag coefficient on width x height. [-]

Rigid: a cube with a face to the wind, 1.05. Source: [Hoerner1965] ch. 3. Soft (a bag with rounded edges):
0.8, common practice, no source.
"""

Edge = Annotated[float, length_between(0.01, 3.0)]


class JointSpec(Spec):
    """How the payload hangs at the confluence; left out, it is rigid with the canopy.

    It swings freely fore and aft. Sideways it may only lean against the riser spread: `roll_stiffness` is the
    torque by angle there; left out, it follows from the weight and the spread. It twists against the lines:
    `twist_stiffness` likewise. `damping` is the share of critical damping of each. [N m/rad], [-]
    """

    roll_stiffness: Annotated[float, number_between(0.0, 1e4)] | None = None
    twist_stiffness: Annotated[float, number_between(0.0, 1e4)] | None = None
    damping: Annotated[float, percent_between(0.0, 100.0)] = 0.05


class PayloadSpec(Spec):
    """What hangs below the canopy. Box edges are fore-aft, across and upright."""

    mass: Annotated[float, mass_between(0.05, 20.0)]
    size: tuple[Edge, Edge, Edge]
    kind: Literal["rigid", "soft"] = "rigid"
    drag_area: Annotated[float, area_between(0.0, 2.0)] | None = None
    joint: JointSpec | None = None

    @property
    def drag_area_or_default(self) -> float:
        """Drag coefficient times frontal area; from the box when it is not given. [m²]"""
        if self.drag_area is not None:
            return self.drag_area
        return BOX_DRAG_COEFFICIENT[self.kind] * self.size[1] * self.size[2]
