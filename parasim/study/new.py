"""A starter design: a first canopy that glides, by the model, as slowly as asked for."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, radians

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.design import Design
from parasim.config.loader import parse_design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import OptionError, ParasimError, plain
from parasim.flight.glide import GLIDE_FACTORS, model_window
from parasim.flight.landing import landing_figures
from parasim.flight.opening.opening import opening
from parasim.flight.release.release import packed_height, plan_limits
from parasim.flight.trim import Trim, find_trims
from parasim.flight.uncertainty import Bands, flying_bands
from parasim.study.hand_formula import Box, StarterSize, proportioned, size_canopy
from parasim.study.size import area_at
from parasim.study.starter import DROP_HEIGHTS, starter_text
from parasim.units import System, show

FIRST_GLIDE = 2.5
"""Glide ratio that the hand formula begins with. Common practice, no source. [-]"""

FIRST_RIGGING = 0.0
"""Rigging angle about which the model's window is looked for, and which is written if there is none. [rad]"""

RIGGING_ROUNDING = radians(0.5)

ROUNDS = 2
"""How often the canopy is sized anew by the model: its rigging, mass and area depend on each other."""

BAND_ROUNDS = 4
"""How often the sink is set anew for its whole band to keep the one asked for: slower, the band is wider."""

BAND_ROOM = 0.995
"""Part of the sink asked for that the high end is put at, for lengths are rounded. [-] Our choice."""

HEIGHT_ROUNDS = 4
"""How often the height is looked for: from higher up a wider circle is planned."""

HEIGHT_ROOM = 1.02
"""Height written over that wanted, so that it is kept when a figure moves a little. [-] Our choice."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Starter(Answer):
    """Answer to `parasim new`.

    Attributes
    ----------
    name : str
        Of the design.
    size : StarterSize
        Its canopy.
    vehicle : Vehicle
        As the file has it.
    trim : Trim
        Its steady glide.
    bands : Bands
        Of its sink [m/s] and energy [J].
    is_box_guessed : bool
        Whether the payload's box was not given.
    asked : float
        The sink asked for; that of `size` is lower where the whole band is to keep it. [m/s]
    whole_band : bool
        Whether the high end of the sink's band keeps it.
    content : str
        Design file, YAML.
    file : str
        Where it was written; empty if it was not.
    """

    REPORT = "parasim.report.new:NewReport"

    name: str
    size: StarterSize
    vehicle: Vehicle
    trim: Trim
    bands: Bands
    is_box_guessed: bool
    asked: float
    whole_band: bool
    content: str
    file: str = ""

    @property
    def design(self) -> Design:
        """As the file has it."""
        return self.vehicle.design

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        found = [*self.design.warnings(), *self.bands.caveats("steady glide")]
        if not self.whole_band and abs(self.trim.sink / self.asked - 1) > SINK_MISSED:
            found.append(
                Caveat(
                    "It sinks at {found}, not at {asked}: no canopy of this kind does.", "fails",
                    found=(self.trim.sink, "speed"), asked=(self.asked, "speed"),
                )
            )  # fmt: skip
        return tuple(found)


SINK_MISSED = 0.05
"""Part of the sink asked for by which it may be missed, lengths being rounded. [-]"""


def new(
    name: str,
    *,
    mass: float,
    sink: float,
    box: Sequence[float] | None = None,
    units: System = "metric",
    whole_band: bool = False,
) -> Starter:
    """A starter design for a payload.

    Parameters
    ----------
    name : str
        Of the design.
    mass : float
        Of the payload. [kg]
    sink : float
        Wanted with the brakes released in still air. [m/s]
    box : sequence of three floats, optional
        The payload's: fore-aft, across, upright; else guessed from its mass. [m]
    units : {"metric", "imperial"}
        In which the file is written.
    whole_band : bool
        Whether the high end of the sink's band is to be at most `sink`, in place of its middle to be there.

    Raises
    ------
    OptionError
        If the name is no plain name, the canopy would be far too small or too large to sew, or no sink was
        found whose whole band keeps the one asked for.
    TrimError
        If there is no steady glide.
    """
    check_name(name)
    given: Box | None = None if box is None else (box[0], box[1], box[2])
    if whole_band:
        size, rigging = _sized_for_band(name, mass, sink, given, units)
    else:
        size, rigging = _sized(name, mass, sink, given, units)
    height = drop_height(_vehicle(name, size, rigging, units), units)
    vehicle = _vehicle(name, size, rigging, units, height)
    trim = find_trims(vehicle, modes=False).chosen
    size = replace(size, canopy_mass=vehicle.mass - mass, glide_ratio=trim.glide_ratio)
    return Starter(
        name=name, size=size, vehicle=vehicle, trim=trim, bands=_bands(vehicle), is_box_guessed=box is None,
        asked=sink, whole_band=whole_band,
        content=starter_text(name, size, rigging, units=units, height=height),
    )  # fmt: skip


def _sized(name: str, mass: float, sink: float, box: Box | None, units: System) -> tuple[StarterSize, float]:
    """Canopy whose middle of the band sinks so, and its rigging angle [rad]."""
    size = size_canopy(payload_mass=mass, sink=sink, glide_ratio=FIRST_GLIDE, box=box, system=units)
    rigging = FIRST_RIGGING
    for _ in range(ROUNDS):
        vehicle = _vehicle(name, size, rigging, units)
        window = model_window(vehicle)
        rigging = FIRST_RIGGING if window is None else _rounded(sum(window) / 2)
        found = area_at(vehicle.design, rigging, "sink", sink)
        if found is None or found.trim is None:
            break
        size = proportioned(
            payload_mass=mass, canopy_mass=found.mass - mass, sink=sink,
            glide_ratio=found.trim.glide_ratio, area=found.area, box=box, system=units,
        )  # fmt: skip
    return size, rigging


def _sized_for_band(
    name: str, mass: float, limit: float, box: Box | None, units: System
) -> tuple[StarterSize, float]:
    """As `_sized`, for the high end of the sink's band to be at most the limit [m/s]."""
    sink, high = limit, limit
    for _ in range(BAND_ROUNDS):
        try:
            size, rigging = _sized(name, mass, sink, box, units)
        except OptionError as error:
            if sink == limit:
                raise
            raise OptionError(
                f"--whole-band: {str(error).removeprefix('--sink: ')}, or leave --whole-band out"
            ) from None
        high = _bands(_vehicle(name, size, rigging, units)).figures["sink"].high
        if high <= limit:
            return size, rigging
        sink *= BAND_ROOM * limit / high
    asked, reached = (show(speed, "speed", units) for speed in (limit, high))
    raise OptionError(
        f"--whole-band: after {BAND_ROUNDS} rounds the high end of the band is {reached}, over the {asked} "
        "asked for: ask for another sink, or leave --whole-band out"
    )


def _bands(vehicle: Vehicle) -> Bands:
    return flying_bands(vehicle, build_ranges(vehicle.design, GLIDE_FACTORS), landing_figures)


def check_name(name: str) -> None:
    """Refuse names that are no file names.

    Raises
    ------
    OptionError
        Saying what would do.
    """
    if not re.fullmatch(r"\w[\w .()+-]{0,59}", name):
        shown = plain(name)[:60]
        raise OptionError(f'NAME: given "{shown}", not a plain name; use letters and digits, such as lark')


def drop_height(vehicle: Vehicle, units: System = "metric") -> float:
    """Height above ground, in round steps, high enough for `opening` and for the plan of `release`. [m]

    Let go packed, what the opening takes is lost before the plan begins. Where the model finds no opening or
    no plan, the least that a file is given: those commands say why.
    """
    height, step = DROP_HEIGHTS[units]
    for _ in range(HEIGHT_ROUNDS):
        try:
            opened = opening(vehicle, release_height=height, speeds=np.zeros(0))
            plan = plan_limits(vehicle, height)
        except ParasimError:
            return height
        wanted = packed_height(opened, plan) or plan.lowest
        if HEIGHT_ROOM * wanted <= height:
            break
        height = step * ceil(HEIGHT_ROOM * wanted / step)
    return height


def _vehicle(
    name: str, size: StarterSize, rigging: float, units: System, height: float | None = None
) -> Vehicle:
    text = starter_text(name, size, rigging, units=units, height=height)
    return assemble(parse_design(text, name=name))


def _rounded(rigging: float) -> float:
    return RIGGING_ROUNDING * round(rigging / RIGGING_ROUNDING)
