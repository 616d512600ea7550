"""Sewing: what turns the shape of the canopy into pieces of cloth to cut; and packing it."""

from typing import Annotated, Literal

from pydantic import model_validator

from parasim.config.base import Spec, length_between, linear_density_between, percent_between
from parasim.config.quantity import InvalidValue

Edge = Annotated[float, length_between(10.0, 2000.0, "mm")]


class SewingSpec(Spec):
    """How the pieces are cut; all may be left out. The defaults are common practice, no source.

    `seam_allowance` goes round every seam, `hem` along trailing edge, inlet and other free edges. `panel`:
    a piece of skin spans a half cell (rib to rib) or a cell (loaded rib to loaded rib). `billow` is the
    width added for the bulge between ribs, over the half cell's width, at mid-chord; left out, it follows
    from the arc. `patch` is the width of the reinforcement at a line tab, zero for none. `cloth_width` is
    that of the bolt. `tape` and `thread` are their mass by length: tape strengthens the lower edge of loaded
    ribs and makes the tabs; zero leaves it out of every list.
    """

    seam_allowance: Annotated[float, length_between(3.0, 40.0, "mm")] = 0.010
    """Round every seam. Left out: 10 mm."""
    hem: Annotated[float, length_between(3.0, 60.0, "mm")] = 0.015
    """Along trailing edge, inlet and other free edges. Left out: 15 mm."""
    panel: Literal["half cell", "cell"] = "half cell"
    """Skin cut by `half cell` or by `cell`. Left out: half cell."""
    billow: Annotated[float, percent_between(0.0, 10.0)] | None = None
    """Width added for the bulge between ribs, over the half cell. Left out: from the arc."""
    notch_spacing: Annotated[float, length_between(20.0, 500.0, "mm")] = 0.100
    """Between notches that match. Left out: 100 mm."""
    patch: Annotated[float, length_between(0.0, 200.0, "mm")] = 0.040
    """Width of the reinforcement at a line tab. Left out: 40 mm."""
    cloth_width: Annotated[float, length_between(0.3, 5.0)] = 1.5
    """Of the bolt. Left out: 1.5 m."""
    tape: Annotated[float, linear_density_between(0.0, 20.0)] = 0.0015
    """Mass by length of the tape along the lower edge of loaded ribs and in the tabs; 0 for none. Left out:
    1.5 g/m."""
    thread: Annotated[float, linear_density_between(0.0, 1.0)] = 0.00003
    """Mass by length of the thread; 0 leaves it out. Left out: 0.03 g/m."""


class PackingSpec(Spec):
    """What the canopy is packed in: a round `tube` of this inner diameter, or a `tray` [width, height].

    `length` is how long it may be. `fraction` is the part of the packed volume that is solid: 25 to 40 % for
    packs made by hand. Common practice, no source.
    """

    tube: Edge | None = None
    """Inner diameter of the tube it is packed in. Leave `packing` out if there is none."""
    tray: tuple[Edge, Edge] | None = None
    """Instead: width and height of a tray, each 10 to 2000 mm."""
    length: Edge | None = None
    """Of the tube or tray. Left out: no check whether it fits."""
    fraction: Annotated[float, percent_between(5.0, 90.0)] = 0.30
    """Solid part of the packed volume. Left out: 30 %."""

    @model_validator(mode="after")
    def _one_of_both(self) -> "PackingSpec":
        if (self.tube is None) == (self.tray is None):
            raise InvalidValue(
                "needs exactly one of tube and tray",
                'write "tube: 90 mm" (inner diameter) or "tray: [120 mm, 80 mm]" (width, height)',
                given="neither" if self.tube is None else "both",
            )
        return self
