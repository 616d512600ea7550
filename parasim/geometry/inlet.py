"""Where the nose is open to let the air in."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from parasim.config.canopy import InletSpec
from parasim.rotations import FloatArray

InletKind = Literal["flush", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Inlet:
    """The opening in the nose, the same in every cell.

    Attributes
    ----------
    kind : {"flush", "open"}
        A slot cut in the lower nose, or the whole nose cut off.
    height : float
        Of the opening over chord. [-]
    lower_lip : float
        Where the lower skin begins, over chord from the leading edge. [-]
    """

    kind: InletKind
    height: float
    lower_lip: float


def build_inlet(spec: InletSpec, outline: FloatArray) -> Inlet:
    """Cut from the leading edge backwards along the lower surface until the opening has its height."""
    leading_edge = int(np.argmin(outline[:, 0]))
    lower = outline[leading_edge:]
    distance = np.maximum.accumulate(np.hypot(*(lower - lower[0]).T))
    return Inlet(
        kind=spec.kind,
        height=spec.height,
        lower_lip=float(np.interp(spec.height, distance, lower[:, 0])),
    )
