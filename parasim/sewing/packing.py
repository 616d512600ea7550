"""How small the canopy packs with lines, bag and pilot chute, and what all that weighs. SI throughout.

The flight model leaves bag and pilot chute out: once open they trail behind the canopy, or stay behind.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi, sqrt

from parasim.config.design import Design
from parasim.config.opening import BAG_DRAG
from parasim.units import System, show, show_range

USUAL_DENSITY = 225.0
"""Of a pack made by hand, taken when the design does not say. [kg/m³] Common practice, no source."""

DENSITY_RANGE = (200.0 / 225.0, 250.0 / 225.0)
"""Over the density taken: 200 to 250 kg/m³ of the usual one. [-] Common practice, no source."""

SEAM_CLOTH = 1.15
"""Cloth of a bag or a pilot chute over its finished area. [-] Our choice, no source."""

CHUTE_DRAG_COEFFICIENT = 0.75
"""Of a flat round canopy on its cloth area. [-] Source: [Knacke1992], from memory, unverified. The pack's own
drag is left with the pilot chute's, which makes it a little too large."""

CHUTE_LINES = 8
"""Of a pilot chute, each as long as its diameter. Common practice, no source."""

BRIDLE = 0.5
"""From the pilot chute to the bag, over the length of the canopy's lines. [-] Our choice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """How small it packs.

    Attributes
    ----------
    canopy, lines, bag, pilot_chute : float
        Mass of each; tape and thread are with the canopy, zero for what there is none of. [kg]
    density : float
        Likely, of all of it packed. [kg/m³]
    container : str
        What it is packed in: "tube", "tray", "bag", or empty if the design does not say.
    section : float or None
        Of the pack, across. [m²]
    room : float or None
        Length that it may have. [m]
    """

    canopy: float
    lines: float
    bag: float
    pilot_chute: float
    density: float
    container: str = ""
    section: float | None = None
    room: float | None = None

    @property
    def mass(self) -> float:
        """Of all that is packed. [kg]"""
        return self.canopy + self.lines + self.bag + self.pilot_chute

    @property
    def density_range(self) -> tuple[float, float]:
        """Loose, and pressed. [kg/m³]"""
        return self.density * DENSITY_RANGE[0], self.density * DENSITY_RANGE[1]

    @property
    def volume(self) -> float:
        """Packed. [m³]"""
        return self.mass / self.density

    @property
    def volume_range(self) -> tuple[float, float]:
        """Pressed, and loose. [m³]"""
        loose, pressed = self.density_range
        return self.mass / pressed, self.mass / loose

    @property
    def length(self) -> float | None:
        """Of the pack. [m]"""
        return None if self.section is None else self.volume / self.section

    @property
    def length_range(self) -> tuple[float, float] | None:
        """Of the pack, pressed, and loose. [m]"""
        if self.section is None:
            return None
        pressed, loose = self.volume_range
        return pressed / self.section, loose / self.section

    @property
    def filled(self) -> float | None:
        """Packed length over the room for it. [-]"""
        return None if self.length is None or self.room is None else self.length / self.room


def packed(design: Design, masses: Mapping[str, float]) -> Packed:
    """How small the canopy packs.

    Parameters
    ----------
    design : Design
        For what it is packed in, how it opens, and its cloth and line.
    masses : mapping
        Part to mass, without the payload; all but "lines" counts as canopy. [kg]
    """
    packing, opening = design.packing, design.opening
    density = USUAL_DENSITY if packing is None or packing.density is None else packing.density
    chute = pilot_chute_mass(design) if opening.pack == "bag" else 0.0
    inside = sum(masses.values()) + chute
    has_bag = opening.pack == "bag" or (packing is not None and packing.has_bag)
    lines = masses.get("lines", 0.0)
    return Packed(
        canopy=sum(masses.values()) - lines,
        lines=lines,
        bag=bag_mass(design, inside / density) if has_bag else 0.0,
        pilot_chute=chute,
        density=density,
        container="" if packing is None else packing.container,
        section=None if packing is None else packing.section,
        room=None if packing is None else packing.length,
    )


def bag_mass(design: Design, volume: float) -> float:
    """Cloth of a bag round a volume, bottom and flap too: as wide as given, else as long as wide. [kg]"""
    packing = design.packing
    if packing is not None:
        area = packing.girth * volume / packing.section + 2 * packing.section
    else:
        area = 1.5 * pi * (4 * volume / pi) ** (2 / 3)
    return SEAM_CLOTH * design.canopy.cloth.areal_weight * area


def pilot_chute_mass(design: Design) -> float:
    """Of a flat round one of the canopy's cloth and line, with the drag area of `opening`. [kg]"""
    drag_area = design.opening.drag_area
    if drag_area is None:
        drag_area = BAG_DRAG * design.canopy.flat_area
    area = drag_area / CHUTE_DRAG_COEFFICIENT
    length = CHUTE_LINES * sqrt(4 * area / pi) + BRIDLE * (design.lines.length or design.canopy.span)
    return SEAM_CLOTH * design.canopy.cloth.areal_weight * area + design.lines.linear_density * length


def packed_words(found: Packed, system: System) -> list[str]:
    """What is packed, and how small, in sentences."""
    parts = [
        f"{name} {show(mass, 'small_mass', system)}"
        for name, mass in (
            ("canopy", found.canopy), ("lines", found.lines), ("bag", found.bag),
            ("pilot chute", found.pilot_chute),
        )
        if mass
    ]  # fmt: skip
    volume = show_range(*found.volume_range, "pack_volume", system)
    density = show_range(*found.density_range[::-1], "pack_density", system)
    said = [
        f"Packed: {show(found.mass, 'small_mass', system)} ({', '.join(parts)}), {volume} "
        f"at {density} (packed by hand: "
        "common practice, no source). Bag and pilot chute are estimated: weigh them. The flight model leaves "
        "them out."
    ]
    if found.length_range is None:
        return [*said, "Give packing.tube, tray, bag or bag_box to see the length it takes there."]
    length = show_range(*found.length_range, "tape_length", system)
    said.append(f"In its {found.container}: {length} long.")
    if found.filled is not None:
        room = show(found.room, "tape_length", system)
        said.append(f"It has {room} of length, likely {100 * found.filled:.0f} % of it filled.")
    return said
