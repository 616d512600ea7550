"""How small the canopy and its lines pack. SI throughout."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import pi

from parasim.config.design import Design
from parasim.config.lines import Fibre
from parasim.config.sewing import PackingSpec

PACKING_RANGE = (0.25, 0.40)
"""Solid part of what is packed by hand, from loose to pressed. [-] Common practice, no source."""

USUAL_FRACTION = PackingSpec.model_fields["fraction"].default
"""Taken when the design does not say. [-]"""

CLOTH_FIBRE_DENSITY = 1140.0
"""Nylon. [kg/m³] Handbook value from memory, unverified."""

LINE_FIBRE_DENSITY: dict[Fibre, float] = {
    "polyester": 1380.0,
    "aramid": 1440.0,
    "uhmwpe": 970.0,
    "nylon": 1140.0,
}
"""[kg/m³] Handbook values from memory, unverified."""

USUAL_FIBRE: Fibre = "polyester"
"""Of the lines, when the design does not say."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """How small it packs.

    Attributes
    ----------
    cloth_volume, line_volume : float
        Solid; tape and thread are with the cloth. [m³]
    fraction : float
        Solid part of the packed volume. [-]
    line_fibre : str
        As given by the design, or taken.
    container : str
        What it is packed in: "tube", "tray", or empty if the design does not say.
    section : float or None
        Of the container, across. [m²]
    room : float or None
        Length of the container. [m]
    """

    cloth_volume: float
    line_volume: float
    fraction: float
    line_fibre: Fibre
    container: str = ""
    section: float | None = None
    room: float | None = None

    @property
    def solid(self) -> float:
        """Without air. [m³]"""
        return self.cloth_volume + self.line_volume

    @property
    def volume(self) -> float:
        """Packed. [m³]"""
        return self.solid / self.fraction

    @property
    def volume_range(self) -> tuple[float, float]:
        """Pressed, and loose: by `PACKING_RANGE`. [m³]"""
        loose, pressed = PACKING_RANGE
        return self.solid / pressed, self.solid / loose

    @property
    def length(self) -> float | None:
        """In the container. [m]"""
        return None if self.section is None else self.volume / self.section

    @property
    def length_range(self) -> tuple[float, float] | None:
        """In the container, pressed, and loose. [m]"""
        if self.section is None:
            return None
        pressed, loose = self.volume_range
        return pressed / self.section, loose / self.section

    @property
    def filled(self) -> float | None:
        """Packed length over that of the container. [-]"""
        return None if self.length is None or self.room is None else self.length / self.room


def packed(design: Design, masses: Mapping[str, float]) -> Packed:
    """How small the canopy packs.

    Parameters
    ----------
    design : Design
        For what it is packed in, and the material of the lines.
    masses : mapping
        Part to mass, without the payload; all but "lines" counts as cloth. [kg]
    """
    packing, fibre = design.packing, design.lines.material or USUAL_FIBRE
    lines = masses.get("lines", 0.0)
    alone = Packed(
        cloth_volume=(sum(masses.values()) - lines) / CLOTH_FIBRE_DENSITY,
        line_volume=lines / LINE_FIBRE_DENSITY[fibre],
        fraction=USUAL_FRACTION if packing is None else packing.fraction,
        line_fibre=fibre,
    )
    if packing is None:
        return alone
    if packing.tube is not None:
        section, container = pi * packing.tube**2 / 4, "tube"
    else:
        assert packing.tray is not None  # the design gives one or the other
        section, container = packing.tray[0] * packing.tray[1], "tray"
    return replace(alone, container=container, section=section, room=packing.length)
