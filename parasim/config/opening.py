"""Opening from a packed state: how it is packed and released, how it fills, what its tabs hold."""

from typing import Annotated, Literal

from pydantic import model_validator

from parasim.config.base import (
    Spec,
    angle_between,
    area_between,
    force_between,
    number_between,
    percent_between,
    speed_between,
    time_between,
)
from parasim.config.calibration import CalibratedNumber, Range, number_reader
from parasim.config.quantity import InvalidValue

Pack = Literal["bag", "loose", "static line"]
"""In a bag behind a small pilot chute; folded and let go; pulled open by a line to the carrier."""

BAG_DRAG = 0.02
"""Drag area of a bag with its pilot chute over flat area, if the file has none. Our choice. [-]"""

FILLING_CONSTANT = Range(6.0, 3.0, 14.0, 0.5, 100.0)
"""Filling distance over nominal diameter, without slider. For small ram-air canopies no published value is
known to us; the range is that of larger canopies of several kinds. From memory, unverified. [-]"""


class ReefingSpec(Spec):
    """Filling is held at a part of the full drag area for a time once it got there, then goes on."""

    area: Annotated[float, percent_between(2.0, 95.0)]
    """Of the full drag area, at which filling is held. Leave `reefing` out if there is none."""
    time: Annotated[float, time_between(0.0, 60.0)]
    """How long it is held."""


class OpeningSpec(Spec):
    """How the canopy opens; all may be left out. Defaults are common practice, no source, unless said.

    `release_speed` is that of the payload through the air as it is let go, `release_angle` its path below the
    horizon; `delay` is the fall until the pack opens (by the kind of pack if left out). `drag_area` is that
    of pack and pilot chute, or of the loose canopy, behind the payload. `line_stiffness` is the tension of
    one line over its stretch as a ratio: hang a weight on it and measure; left out, it follows from
    `lines.material`. `filling_constant` is a number or a mapping with value, low and high; drag area grows
    with time to the power of `growth_exponent`. `opening_factor` is the handbook's peak over steady drag at
    constant speed; `height_factor` what the height needed is multiplied by.
    """

    release_speed: Annotated[float, speed_between(0.0, 60.0)] = 0.0
    """Through the air, as the packed canopy is let go. Left out: at rest. All of `opening` may be left
    out."""
    release_angle: Annotated[float, angle_between(0.0, 90.0)] = 0.0
    """Of the path below the horizon then. Left out: level."""
    pack: Pack = "bag"
    """`bag` behind a small pilot chute, `loose`, or `static line`. Left out: bag."""
    delay: Annotated[float, time_between(0.0, 60.0)] | None = None
    """Fall until the pack opens. Left out: 1 s for a bag, 0.5 s loose; not with a static line."""
    drag_area: Annotated[float, area_between(0.0005, 5.0)] | None = None
    """Of pack and pilot chute behind the payload. Left out: 2 % of the flat area, 6 % loose; not with a
    static line."""
    line_stiffness: Annotated[float, force_between(10.0, 1e5)] | None = None
    """Tension of one line over its stretch as a ratio. Left out: by `lines.material`."""
    filling_constant: Annotated[CalibratedNumber, number_reader(FILLING_CONSTANT)] = (
        FILLING_CONSTANT.as_number()
    )
    """Filling distance over nominal diameter: a number, 0.5 to 100, or `{value:, low:, high:}`. Left out: 6
    (3 to 14), unverified at this size."""
    growth_exponent: Annotated[float, number_between(0.5, 6.0)] = 2.0
    """Of the drag area by time. Left out: 2."""
    slider: bool = False
    """`true` with one: filling takes 2.5 times as long. Left out: none."""
    reefing: ReefingSpec | None = None
    opening_factor: Annotated[float, number_between(1.0, 5.0)] = 1.8
    """Handbook's peak over steady drag at constant speed. Left out: 1.8, from memory."""
    tab_strength: Annotated[float, force_between(5.0, 20000.0)] | None = None
    """Of a line tab. Left out: 60 N, without source; pull one."""
    height_factor: Annotated[float, number_between(1.0, 10.0)] = 2.0
    """Minimum release height over the height lost. Left out: 2."""

    @model_validator(mode="after")
    def _consistent(self) -> "OpeningSpec":
        if self.slider and self.reefing is not None:
            raise InvalidValue(
                "a slider and reefing at once are not modelled", "keep one of them", key="reefing", given=""
            )
        if self.pack == "static line":
            for name in ("delay", "drag_area"):
                if getattr(self, name) is not None:
                    raise InvalidValue(
                        "does not go with a static line, which pulls at once", "remove it", key=name
                    )
        return self
