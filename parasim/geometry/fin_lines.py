"""Tabs along the lower edge of the stabilisers, and the risers that their lines run to."""

import numpy as np

from parasim.config.design import Design
from parasim.geometry.airfoil import lower_surface
from parasim.geometry.canopy import Canopy
from parasim.geometry.risers import riser_of_row
from parasim.geometry.seams import STABILISER_FRONT
from parasim.rotations import FloatArray


def fin_places(design: Design, canopy: Canopy) -> dict[str, float]:
    """Each tab's place over tip chord, behind the leading edge; none without lines to the stabilisers. [-]"""
    spec, stabiliser = design.canopy.stabilisers, canopy.stabiliser
    if spec is None or stabiliser is None:
        return {}
    front, rear = STABILISER_FRONT, STABILISER_FRONT + stabiliser.chord / (canopy.root_chord * canopy.taper)
    return {name: front + place * (min(rear, 1.0) - front) for name, place in spec.rows.items()}


def fin_tabs(canopy: Canopy, places: FloatArray) -> FloatArray:
    """Points of the lower edges of both stabilisers, hanging flat in the planes of the tip ribs.

    Parameters
    ----------
    canopy : Canopy
        With stabilisers.
    places : ndarray, shape (n,)
        Over tip chord, behind the leading edge. [-]

    Returns
    -------
    ndarray, shape (n, 2, 3)
        Left and right, body axes. [m]
    """
    assert canopy.stabiliser is not None
    tip = np.array([-canopy.half_arc, canopy.half_arc])
    edge = canopy.point(
        tip[None], places[:, None], np.asarray(lower_surface(canopy.outline, places))[:, None]
    )
    return np.asarray(edge - canopy.stabiliser.height * canopy.outward(tip))


def riser_of_fin_row(design: Design, canopy: Canopy) -> dict[str, int]:
    """Tab to `FRONT` or `REAR`: as the design has it, else that of the row nearest along the tip chord."""
    spec, of_row = design.canopy.stabilisers, riser_of_row(design)
    rows = design.lines.rows
    found = {}
    for name, place in fin_places(design, canopy).items():
        nearest = min(rows, key=lambda row: abs(rows[row] - place))
        named = None if spec is None or spec.front_rows is None else int(name not in spec.front_rows)
        found[name] = of_row[nearest] if named is None else named
    return found
