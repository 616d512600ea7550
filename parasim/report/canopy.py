"""What `parasim canopy` answers."""

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from parasim.dynamics.vehicle import Vehicle
from parasim.geometry.canopy import Canopy
from parasim.geometry.lines import Line
from parasim.geometry.seams import TAB_LENGTH
from parasim.geometry.surface import lower_skin, upper_skin
from parasim.making.canopy import Geometry
from parasim.report.column import Column, Grid, Table, row_document, text_last
from parasim.report.report import Block, Report
from parasim.report.words import FLAT_AREA
from parasim.units import System, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DEFINITIONS = {
    "flat_span": "bottom-skin span along the arc, seams sewn",
    "flat_area": FLAT_AREA,
    "projected_span": "tip to tip, seen from above",
    "projected_area": "seen from above",
    "aspect_ratio": "flat span squared over flat area",
}
"""What each of these sizes means."""

REMARKS = {
    "half_arc_deg": "from centre rib to tip",
    "line_length_m": "from confluence to quarter chord",
    "rigging_angle_deg": "positive nose-down",
}
"""Said behind the printed size of that key."""

SIZES: tuple[Column[Vehicle], ...] = (
    Column(name="flat_span_m", words="flat span", kind="dimension", read=lambda v: v.canopy.span),
    Column(name="flat_area_m2", words="flat area", kind="area", read=lambda v: v.canopy.flat_area),
    Column(
        name="projected_span_m", words="projected span", kind="dimension",
        read=lambda v: v.canopy.projected_span,
    ),
    Column(
        name="projected_area_m2", words="projected area", kind="area", read=lambda v: v.canopy.projected_area
    ),
    Column(name="aspect_ratio", words="aspect ratio", kind="ratio", read=lambda v: v.canopy.aspect_ratio),
    Column(name="root_chord_m", words="root chord", kind="dimension", read=lambda v: v.canopy.root_chord),
    Column(name="mean_chord_m", words="mean chord", kind="dimension", read=lambda v: v.canopy.mean_chord),
    Column(
        name="thickness_ratio", words="thickness ratio", kind="ratio", read=lambda v: v.canopy.thickness_ratio
    ),
    Column(name="arc_radius_m", words="arc radius", kind="dimension", read=lambda v: v.canopy.arc_radius),
    Column(name="half_arc_deg", words="half arc", kind="angle", read=lambda v: v.canopy.half_arc),
    Column(name="cells", words="cells", kind="", read=lambda v: v.canopy.n_cells),
    Column(name="half_cells", words="half cells", kind="", read=lambda v: v.canopy.n_half_cells),
    Column(name="ribs", words="ribs", kind="", read=lambda v: v.canopy.n_ribs),
    Column(
        name="loaded_ribs", words="loaded ribs", kind="", read=lambda v: len(loaded_rib_numbers(v))
    ),
    Column(name="volume_m3", words="volume", kind="volume", read=lambda v: v.canopy.volume),
    Column(name="line_length_m", words="line length", kind="dimension", read=lambda v: v.rigging.line_length),
    Column(
        name="rigging_angle_deg", words="rigging angle", kind="angle", read=lambda v: v.rigging.rigging_angle
    ),
)  # fmt: skip
"""Of the canopy and its pose."""

CLOTH: tuple[Column[Canopy], ...] = (
    Column(name="upper_skin_m2", words="upper skin", kind="area", read=lambda c: upper_skin(c).total),
    Column(name="lower_skin_m2", words="lower skin", kind="area", read=lambda c: lower_skin(c).total),
    Column(name="ribs_m2", words="ribs", kind="area", read=lambda c: float(c.rib_area.sum())),
    Column(
        name="stabilisers_m2", words="stabilisers", kind="area",
        read=lambda c: 2 * c.stabiliser.area if c.stabiliser else 0.0,
    ),
)  # fmt: skip
"""Areas, without seam allowance."""


class Rib(NamedTuple):
    """A rib: number from the left tip, whether it carries lines; SI, place in body axes."""

    number: int
    loaded: bool
    angle: float
    chord: float
    area: float
    place: tuple[float, float, float]


RIB_COLUMNS: tuple[Column[Rib], ...] = (
    Column(name="rib", words="rib", kind="", read=lambda rib: rib.number),
    Column(name="loaded", words="loaded", kind="", read=lambda rib: "yes" if rib.loaded else "no"),
    Column(name="arc_angle_deg", words="arc angle", kind="angle", read=lambda rib: rib.angle),
    Column(name="chord_m", words="chord", kind="length", read=lambda rib: rib.chord),
    Column(name="cloth_area_m2", words="cloth", kind="area", read=lambda rib: rib.area),
    Column(name="quarter_chord_y_m", words="y", kind="length", read=lambda rib: rib.place[1]),
    Column(name="quarter_chord_z_m", words="z", kind="length", read=lambda rib: rib.place[2]),
)
"""Of canopy_ribs.csv: body axes, y right, z down, origin at the confluence."""


def _end(which: str, axis: int) -> Column[tuple[int, Line]]:
    return Column(
        name=f"{which}_{'xyz'[axis]}_m", words=f"{which} {'xyz'[axis]}", kind="length",
        read=lambda row: float((row[1].start if which == "lower" else row[1].end)[axis]),
    )  # fmt: skip


LINE_COLUMNS: tuple[Column[tuple[int, Line]], ...] = (
    Column(name="rib", words="rib", kind="", read=lambda row: row[0]),
    Column(name="kind", words="kind", kind="", read=lambda row: row[1].kind),
    Column(
        name="rows", words="rows", kind="",
        read=lambda row: "brake" if row[1].kind == "brake" else "".join(row[1].rows),
    ),
    Column(name="length_mm", words="length", kind="small_length", read=lambda row: row[1].length),
    *(_end(which, axis) for which in ("lower", "upper") for axis in range(3)),
)  # fmt: skip
"""Of canopy_lines.csv: straight pieces; rib 0 for a brake line; body axes, x forward, y right, z down."""

KIND_WORDS = {
    "row": "whole lines",
    "trunk": "cascade trunks",
    "branch": "cascade branches",
    "fin": "lines to the stabilisers",
    "brake": "brake line pieces",
}


class CanopyReport(Report[Geometry]):
    """Geometry, lines and masses."""

    COMMAND = "canopy"
    TOUCHED = frozenset({"canopy", "cloth", "lines", "payload", "rigging"})

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        vehicle = self.result.vehicle
        area, span = (SIZES[i].cell(vehicle, units) for i in (1, 0))
        mass = show(vehicle.mass - vehicle.design.payload.mass, "small_mass", units, digits=0)
        yield f"{self.name}: {area} of canopy, {span} along the arc, {mass} with its lines"
        yield Grid(rows=size_rows(vehicle, units))
        cloth = [
            [area.words, area.cell(vehicle.canopy, units)] for area in CLOTH if area.read(vehicle.canopy)
        ]
        yield Grid(rows=cloth, title="Cloth, without seam allowance")
        yield row_table(vehicle, units)
        yield Grid(
            rows=mass_rows(vehicle, units), title="Masses (cloth with seams; air at the site's density)"
        )

    def document(self) -> dict[str, Any]:
        """As `canopy_document`."""
        return canopy_document(self.result.vehicle)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        vehicle = self.result.vehicle
        numbers = [*loaded_rib_numbers(vehicle), 0]  # the rib of a brake line is -1
        lines = [(numbers[line.rib], line) for line in vehicle.line_set.lines]
        yield "canopy_ribs.csv", Table(columns=RIB_COLUMNS, rows=ribs(vehicle)).csv()
        yield "canopy_lines.csv", Table(columns=LINE_COLUMNS, rows=lines).csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.canopy import canopy_figure

        yield "canopy.png", canopy_figure(self.result.vehicle, units)


def canopy_document(vehicle: Vehicle) -> dict[str, Any]:
    """Geometry as plain data.

    Returns
    -------
    dict
        - ``name``; ``flat_span_m``, ``flat_area_m2``, ``projected_span_m``, ``projected_area_m2``,
          ``aspect_ratio``, and ``definitions`` of these five; ``root_chord_m``, ``mean_chord_m``,
          ``thickness_ratio``, ``arc_radius_m``, ``half_arc_deg`` (centre rib to tip); ``cells``,
          ``half_cells``, ``ribs``, ``loaded_ribs``; ``volume_m3``; ``line_length_m`` and
          ``rigging_angle_deg`` (nose-down positive).
        - ``inlet``: ``kind``, ``height_mm`` (at the root), ``area_m2`` (all cells).
        - ``cloth``: ``upper_skin_m2``, ``lower_skin_m2``, ``ribs_m2``, ``stabilisers_m2``, without seam
          allowance.
        - ``row_lengths_mm``: row to straight lengths, riser end to bottom skin, one for each
          of ``loaded_rib_numbers`` (ribs counted from 1 at the left tip). ``line_pieces``: kind to number;
          ``total_line_length_m``.
        - ``mass_budget_kg``: part to mass; ``mass_kg``; ``enclosed_air_kg`` and ``apparent_mass_kg``
          (``forward``, ``sideways``, ``upright``, without the enclosed air), at ``air_density_kg_m3`` of the
          site's ground.
        - ``caveats``: sentences.
    """
    canopy, lines = vehicle.canopy, vehicle.line_set
    density = vehicle.atmosphere.density(vehicle.ground_height)
    return {
        "name": vehicle.design.name,
        **row_document(SIZES, vehicle),
        "definitions": DEFINITIONS,
        "inlet": {
            "kind": canopy.inlet.kind,
            "height_mm": 1e3 * canopy.inlet.height * canopy.root_chord,
            "area_m2": canopy.inlet.height * canopy.flat_area,
        },
        "cloth": row_document(CLOTH, canopy),
        "loaded_rib_numbers": loaded_rib_numbers(vehicle),
        "row_lengths_mm": {row: [1e3 * float(x) for x in lengths] for row, lengths in lines.straight.items()},
        "line_pieces": line_pieces(vehicle),
        "total_line_length_m": lines.total_length,
        "mass_budget_kg": {item.name: item.properties.mass for item in vehicle.items},
        "mass_kg": vehicle.mass,
        "air_density_kg_m3": density,
        "enclosed_air_kg": density * float(vehicle.enclosed_matrix[0, 0]),
        "apparent_mass_kg": {
            name: density * float(vehicle.air_matrix[i, i])
            for i, name in enumerate(("forward", "sideways", "upright"))
        },
        "caveats": list(vehicle.caveats),
    }


def loaded_rib_numbers(vehicle: Vehicle) -> list[int]:
    """Numbers of the ribs that carry lines, counted from 1 at the left tip."""
    return list(range(1, vehicle.canopy.n_ribs + 1)[vehicle.canopy.loaded_ribs])


def line_pieces(vehicle: Vehicle) -> dict[str, int]:
    """Number of pieces of each kind of line there is."""
    return dict(Counter(line.kind for line in vehicle.line_set.lines))


def ribs(vehicle: Vehicle) -> list[Rib]:
    """From the left tip."""
    canopy, loaded = vehicle.canopy, set(loaded_rib_numbers(vehicle))
    place = canopy.point(canopy.rib_angle, np.array(0.25), np.array(0.0))
    chord = canopy.chord_at(canopy.rib_angle)
    return [
        Rib(
            number=i + 1,
            loaded=i + 1 in loaded,
            angle=float(canopy.rib_angle[i]),
            chord=float(chord[i]),
            area=float(canopy.rib_area[i]),
            place=tuple(place[i].tolist()),
        )
        for i in range(canopy.n_ribs)
    ]


def size_rows(vehicle: Vehicle, system: System) -> list[list[str]]:
    """Sizes with their definitions, and the inlet."""
    canopy, inlet = vehicle.canopy, vehicle.canopy.inlet
    rows = []
    for size in SIZES:
        remark = REMARKS.get(size.name) or DEFINITIONS.get(size.name.rpartition("_")[0], "")
        remark = remark or DEFINITIONS.get(size.name, "")
        rows.append([size.words, size.cell(vehicle, system) + (f" ({remark})" if remark else "")])
    height = show(inlet.height * canopy.root_chord, "tape_length", system)
    area = show(inlet.height * canopy.flat_area, "area", system)
    rows.append(["inlet", f"{inlet.kind}, {height} high at the root, {area} in all"])
    return text_last(rows)


def row_table(vehicle: Vehicle, system: System) -> Table[tuple[int, dict[str, float]]]:
    """Straight length of each row on each loaded rib."""
    straight = vehicle.line_set.straight
    rib: Column[tuple[int, dict[str, float]]] = Column(
        name="rib", words="rib", kind="", read=lambda row: row[0]
    )
    pieces = ", ".join(f"{count} {KIND_WORDS[kind]}" for kind, count in line_pieces(vehicle).items())
    total = show(vehicle.line_set.total_length, "run", system, digits=1)
    return Table(
        columns=(rib, *(_length_of(row) for row in straight)),
        rows=[
            (number, {row: float(lengths[i]) for row, lengths in straight.items()})
            for i, number in enumerate(loaded_rib_numbers(vehicle))
        ],
        title="Straight length of each row, riser end to bottom skin (tab of "
        f"{show(TAB_LENGTH, 'tape_length', system)} included), under tension; ribs counted from the left tip",
        note=f"{pieces}; {total} in all, tabs included, without knots and loops. To cut and tie: "
        "parasim lines",
    )


def _length_of(row: str) -> Column[tuple[int, dict[str, float]]]:
    return Column(name=f"{row}_mm", words=row, kind="tape_length", read=lambda given: given[1][row])


def mass_rows(vehicle: Vehicle, system: System) -> list[list[str]]:
    """Mass budget, and the air that moves along."""
    document = canopy_document(vehicle)
    masses = {
        **document["mass_budget_kg"],
        "all that has weight": document["mass_kg"],
        "air enclosed": document["enclosed_air_kg"],
        **{f"apparent mass, {way}": mass for way, mass in document["apparent_mass_kg"].items()},
    }
    return [[name, show(mass, "small_mass", system)] for name, mass in masses.items()]
