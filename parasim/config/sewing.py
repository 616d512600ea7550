"""Sewing: what turns the shape of the canopy into pieces of cloth to cut."""

from typing import Annotated, Literal

from parasim.config.base import Spec, length_between, percent_between


class SewingSpec(Spec):
    """How the pieces are cut; all may be left out. The defaults are common practice, no source.

    `seam_allowance` goes round every seam, `hem` along trailing edge, inlet and other free edges. `panel`:
    a piece of skin spans a half cell (rib to rib) or a cell (loaded rib to loaded rib). `billow` is the
    width added for the bulge between ribs, over the half cell's width, at mid-chord; left out, it follows
    from the arc. `patch` is the width of the reinforcement at a line tab, nought for none. `cloth_width` is
    that of the bolt.
    """

    seam_allowance: Annotated[float, length_between(3.0, 40.0, "mm")] = 0.010
    hem: Annotated[float, length_between(3.0, 60.0, "mm")] = 0.015
    panel: Literal["half cell", "cell"] = "half cell"
    billow: Annotated[float, percent_between(0.0, 10.0)] | None = None
    notch_spacing: Annotated[float, length_between(20.0, 500.0, "mm")] = 0.100
    patch: Annotated[float, length_between(0.0, 200.0, "mm")] = 0.040
    cloth_width: Annotated[float, length_between(0.3, 5.0)] = 1.5
