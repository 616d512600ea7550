"""Where the nose is open to let the air in."""

from dataclasses import dataclass
from math import tan
from typing import Literal

import numpy as np

from parasim.config.canopy import InletSpec
from parasim.errors import DesignError, Mistake
from parasim.geometry.airfoil import lower_surface, upper_surface
from parasim.rotations import FloatArray

InletKind = Literal["flush", "open"]

FURTHEST_LIP = 0.45
"""Place of an upper lip up to which a cut is looked for, over chord. [-] Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inlet:
    """The opening in the nose, the same in every cell.

    Attributes
    ----------
    kind : {"flush", "open"}
        A slot cut in the lower nose, or the whole nose cut off along a straight line.
    height : float
        Over chord: of a flush slot along its cut, of an open nose as seen from ahead, across the chord line.
        [-]
    upper_lip, lower_lip : float
        Where the ribs' upper and lower edge begin, over chord from the leading edge. [-]
    overhang : float
        How far the upper skin reaches ahead of the ribs' upper lip, over chord. [-]
    """

    kind: InletKind
    height: float
    lower_lip: float
    upper_lip: float = 0.0
    overhang: float = 0.0

    @property
    def skin_front(self) -> float:
        """Where the upper skin begins, over chord. [-]"""
        return self.upper_lip - self.overhang


def build_inlet(spec: InletSpec, outline: FloatArray) -> Inlet:
    """Opening of a section.

    A flush slot is cut from the leading edge backwards along the lower surface until it has its height. An
    open nose is cut off straight, at the cut angle to the chord line, where the cut is as high as wanted; or
    from lip to lip.

    Raises
    ------
    DesignError
        When no such cut fits into the nose, or the upper skin would reach beyond it.
    """
    if spec.kind == "flush":
        height, lower = spec.height or 0.0, outline[int(np.argmin(outline[:, 0])) :]
        distance = np.maximum.accumulate(np.hypot(*(lower - lower[0]).T))
        lip = float(np.interp(height, distance, lower[:, 0]))
        return Inlet(kind="flush", height=height, lower_lip=lip)
    if spec.upper_lip is not None and spec.lower_lip is not None:
        upper, lip = spec.upper_lip, spec.lower_lip
        height = float(upper_surface(outline, upper) - lower_surface(outline, lip))
    else:
        height = spec.height or 0.0
        upper = _upper_lip(spec, outline, height)
        lip = upper + height / tan(spec.cut_angle)
    if spec.overhang > upper:
        raise DesignError(
            Mistake(
                key="canopy.inlet.overhang",
                given=f"{100 * spec.overhang:.1f} %",
                problem=f"the upper lip lies only {100 * upper:.1f} % of the chord behind the leading edge",
                hint=f"use up to {100 * upper:.1f} %, or a higher or steeper cut",
            )
        )
    return Inlet(kind="open", height=height, upper_lip=upper, lower_lip=lip, overhang=spec.overhang)


def _upper_lip(spec: InletSpec, outline: FloatArray, height: float) -> float:
    """Foremost upper lip from which a cut at the angle wanted is as high as wanted."""
    from scipy.optimize import brentq

    back = height / tan(spec.cut_angle)

    def spare(x: float) -> float:
        return float(upper_surface(outline, x) - lower_surface(outline, max(x + back, 0.0))) - height

    places = np.linspace(max(0.0, -back), FURTHEST_LIP, 91)
    found = [spare(float(x)) for x in places]
    if found[0] >= 0.0:
        return float(places[0])
    wide = next((i for i, value in enumerate(found) if value >= 0.0), None)
    if wide is None:
        raise DesignError(
            Mistake(
                key="canopy.inlet.height",
                given=f"{100 * height:.1f} %",
                problem=f"no cut at {np.degrees(spec.cut_angle):.0f} deg is so high in this section",
                hint="use a lower or steeper one, or a thicker section",
            )
        )
    return float(brentq(spare, places[wide - 1], places[wide], xtol=1e-9))
