"""What `parasim new` answers."""

from collections.abc import Iterator
from typing import Any

from parasim.report.column import Column, Grid, row_document
from parasim.report.report import Block, Report
from parasim.study.new import Starter
from parasim.units import System, show, show_range

COLUMNS: tuple[Column[Starter], ...] = (
    Column(name="area_m2", words="flat area", kind="area", read=lambda s: s.design.canopy.flat_area),
    Column(name="span_m", words="span", kind="dimension", read=lambda s: s.size.span),
    Column(name="chord_m", words="chord", kind="dimension", read=lambda s: s.size.chord),
    Column(name="cells", words="cells", kind="", read=lambda s: s.size.cells),
    Column(name="line_length_m", words="line length", kind="dimension", read=lambda s: s.size.line_length),
    Column(
        name="rigging_angle_deg", words="rigging, nose-down", kind="angle",
        read=lambda s: s.vehicle.rigging.rigging_angle,
    ),
    Column(
        name="canopy_mass_kg", words="canopy with its lines", kind="mass", read=lambda s: s.size.canopy_mass
    ),
    Column(
        name="drop_height_m", words="height of the drop", kind="length", digits=0,
        read=lambda s: s.design.drop.height,
    ),
    Column(name="sink_m_s", words="sink", kind="speed", read=lambda s: s.trim.sink),
    Column(name="airspeed_m_s", words="airspeed", kind="speed", read=lambda s: s.trim.airspeed),
    Column(name="glide_ratio", words="glide ratio", kind="ratio", read=lambda s: s.trim.glide_ratio),
)  # fmt: skip
"""Of the canopy in the file, and of its glide with the brakes released."""


class NewReport(Report[Starter]):
    """A starter design and where it stands."""

    COMMAND = "new"

    @property
    def name(self) -> str:
        """As `Report.name`."""
        return self.result.name

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        starter, sink = self.result, self.result.bands.figures["sink"]
        area, asked = (
            show(starter.design.canopy.flat_area, "area", units), show(starter.asked, "speed", units)
        )  # fmt: skip
        kept = f", no faster than {asked} over its whole band" if starter.whole_band else ""
        yield (
            f"{starter.name}: a first canopy for {show(starter.size.payload_mass, 'mass', units)}, flat area "
            f"{area}, sinks at {show(sink.value, 'speed', units)} "
            f"({show_range(sink.low, sink.high, 'speed', units)}){kept}, landing at "
            f"{show(starter.trim.airspeed, 'speed', units)} in still air"
        )
        box = " x ".join(show(edge, "tape_length", units) for edge in starter.size.box)
        yield Grid(
            rows=[
                *([each.words, each.cell(starter, units)] for each in COLUMNS),
                ["payload's box", box],
            ],
            note="The box is a guess from the mass: --box gives yours." if starter.is_box_guessed else "",
        )
        if sink.high > starter.asked:
            yield (
                f"The {asked} asked for is met in the middle of the band, not at its high end: --whole-band "
                "sizes the canopy to stay under it there too."
            )
        if starter.file:
            yield f"wrote {starter.file}; next: parasim glide {starter.file}"

    def document(self) -> dict[str, Any]:
        """As `new_document`."""
        return new_document(self.result)


def new_document(starter: Starter) -> dict[str, Any]:
    """Starter design as plain data.

    Returns
    -------
    dict
        - `name`; `file`: the starter file written, or null; `box_m` of the payload, `box_guessed`.
        - Of the canopy in it and its glide: `COLUMNS`; `bands` of `sink_m_s`: `low`, `high`.
        - `whole_band`: whether the high end of that band is at most the sink asked for; `caveats`: sentences.
    """
    sink = starter.bands.figures["sink"]
    return {
        "name": starter.name,
        "file": starter.file or None,
        **row_document(COLUMNS, starter),
        "bands": {"sink_m_s": {"low": sink.low, "high": sink.high}},
        "whole_band": starter.whole_band,
        "box_m": list(starter.size.box),
        "box_guessed": starter.is_box_guessed,
        "caveats": list(starter.caveats),
    }
