"""Sewing: what turns the shape of the canopy into pieces of cloth to cut; and packing it."""

from collections.abc import Mapping
from math import hypot, pi
from typing import Annotated, Any, Literal

from pydantic import model_validator

from parasim.config.base import (
    Spec,
    density_between,
    length_between,
    linear_density_between,
    percent_between,
)
from parasim.config.quantity import InvalidValue

Edge = Annotated[float, length_between(10.0, 2000.0, "mm")]
_ROOM = 1e-9


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
    """What the canopy is packed in: a round `tube` of this inner diameter or a `tray` [width, height]; a bag.

    `bag` is the diameter of a round bag, `bag_box` [width, height] of one with corners; left out, the bag is
    as wide as the tube or tray. One of the four is needed; a bag has to go into the tube or tray. `length` is
    how long the pack may be. `density` is the mass of all that is packed, bag and pilot chute too, over the
    volume it takes: 200 to 250 kg/m^3 for packs made by hand. Common practice, no source.
    """

    tube: Edge | None = None
    """Inner diameter of the tube it is packed in. Leave `packing` out if there is none."""
    tray: tuple[Edge, Edge] | None = None
    """Instead: width and height of a tray, each 10 to 2000 mm."""
    bag: Edge | None = None
    """Diameter of a round bag, full. Left out: by `bag_box`, or as wide as the tube or tray."""
    bag_box: tuple[Edge, Edge] | None = None
    """Instead: width and height of a bag with corners, full, each 10 to 2000 mm."""
    length: Edge | None = None
    """Of the tube or tray, else of the bag. Left out: no check whether it fits."""
    density: Annotated[float, density_between(50.0, 900.0)] | None = None
    """Of the pack, as measured; its range is wide in proportion. Left out: 225 kg/m^3, 200 to 250."""

    @model_validator(mode="before")
    @classmethod
    def _old_fraction(cls, content: Any) -> Any:
        if isinstance(content, Mapping) and "fraction" in content:
            raise InvalidValue(
                "no longer a key: packs are counted by their density",
                "remove it, or write density, such as 225 kg/m^3 (mass of cloth, lines and bag over volume)",
                key="fraction",
                given="",
            )
        return content

    @property
    def container(self) -> str:
        """The word for what it is packed in."""
        return "tube" if self.tube is not None else "tray" if self.tray is not None else "bag"

    @property
    def has_bag(self) -> bool:
        """Whether a bag is given by its size."""
        return self.bag is not None or self.bag_box is not None

    @property
    def section(self) -> float:
        """Of the pack, across: that of its bag, else of the tube or tray. [m²]"""
        if isinstance(self._across, tuple):
            return self._across[0] * self._across[1]
        return pi * self._across**2 / 4

    @property
    def girth(self) -> float:
        """Once round the pack. [m]"""
        return 2 * sum(self._across) if isinstance(self._across, tuple) else pi * self._across

    @property
    def _across(self) -> float | tuple[float, float]:
        return next(size for size in (self.bag, self.bag_box, self.tube, self.tray) if size is not None)

    @model_validator(mode="after")
    def _one_of_each(self) -> "PackingSpec":
        if self.tube is not None and self.tray is not None:
            raise InvalidValue(
                "needs one of tube and tray",
                'write "tube: 90 mm" (inner diameter) or "tray: [120 mm, 80 mm]" (width, height)',
                given="both",
            )
        if self.bag is not None and self.bag_box is not None:
            raise InvalidValue(
                "needs one of bag and bag_box",
                'write "bag: 80 mm" (diameter) or "bag_box: [110 mm, 70 mm]" (width, height)',
                given="both",
            )
        if not self.has_bag and self.tube is None and self.tray is None:
            raise InvalidValue(
                "needs one of tube, tray, bag and bag_box",
                'write "tube: 90 mm" (inner diameter), or "bag: 80 mm" where there is only a bag',
                given="none of them",
            )
        return self

    @model_validator(mode="after")
    def _bag_goes_in(self) -> "PackingSpec":
        if not self.has_bag or self.container == "bag":
            return self
        bag = self.bag_box or (self.bag or 0.0, self.bag or 0.0)
        if self.tray is not None:
            fits = all(
                side <= room + _ROOM for side, room in zip(sorted(bag), sorted(self.tray), strict=True)
            )
        else:
            fits = (hypot(*bag) if self.bag_box else bag[0]) <= (self.tube or 0.0) + _ROOM
        if not fits:
            raise InvalidValue(
                f"does not go into the {self.container}",
                f"use a smaller bag, or a larger {self.container}",
                key="bag_box" if self.bag_box else "bag",
            )
        return self
