"""What `parasim cut` answers: the cut and shopping list."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from parasim.drawing.svg import svg_text
from parasim.report.column import Column, Table, picked
from parasim.report.lines import PART_WORDS
from parasim.report.report import Block, Report
from parasim.sewing.cut_list import (
    CAUTIONS,
    SPARE,
    TAPE_RULE,
    THREAD_RULE,
    BudgetLine,
    CutList,
    Purchase,
    Run,
)
from parasim.sewing.nesting import Placement
from parasim.sewing.packing import Packed, packed_words
from parasim.sewing.pieces import Piece
from parasim.units import System, label, show, show_range

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from parasim.plotting.cut import Shape


class Part(NamedTuple):
    """A template, and the mass of all its pieces. [kg]"""

    piece: Piece
    mass: float


PART_COLUMNS: tuple[Column[Part], ...] = (
    Column(name="number", words="number", kind="", read=lambda part: part.piece.number),
    Column(name="piece", words="piece", kind="", read=lambda part: part.piece.name),
    Column(name="title", words="part", kind="", read=lambda part: part.piece.title),
    Column(name="kind", words="kind", kind="", read=lambda part: part.piece.kind),
    Column(name="count", words="cut", kind="", read=lambda part: part.piece.count),
    Column(
        name="mirrored", words="mirrored", kind="", read=lambda part: part.piece.mirrored,
        show=lambda n: f"{n or '-'}",
    ),
    Column(
        name="length_mm", words="length", kind="tape_length",
        read=lambda part: 1e-3 * float(part.piece.size[0]),
    ),
    Column(
        name="width_mm", words="width", kind="tape_length",
        read=lambda part: 1e-3 * float(part.piece.size[1]),
    ),
    Column(
        name="cut_area_m2", words="cloth", kind="area", read=lambda part: 1e-6 * part.piece.cut_area
    ),
    Column(name="mass_g", words="mass", kind="small_mass", read=lambda part: part.mass),
)  # fmt: skip
"""Sizes and area of one, with allowances; mass of all. Mirrored ones are in the count."""

PRINTED = picked(PART_COLUMNS, "title", "count", "length_mm", "width_mm", "cut_area_m2", "mass_g")

NEEDED: Column[Purchase] = Column(
    name="needed_m", words="needed", kind="run", read=lambda bought: bought.needed
)
BUY_COLUMNS: tuple[Column[Purchase], ...] = (
    Column(
        name="to_buy_m", words="to buy", kind="", read=lambda bought: bought.metres,
        show=lambda length: f"{length:.1f} m",
    ),
    Column(
        name="to_buy_yd", words="to buy", kind="", read=lambda bought: bought.yards,
        show=lambda length: f"{length:.2f} yd",
    ),
)  # fmt: skip
"""As it is sold in either system; printed is that of the units asked for."""


class Length(NamedTuple):
    """Line by type, tape and seams by place; pieces of one length, None where they have none. [m]"""

    item: str
    where: str
    pieces: int | None
    length: float


LENGTH_COLUMNS: tuple[Column[Length], ...] = (
    Column(name="item", words="item", kind="", read=lambda row: row.item),
    Column(name="where", words="where", kind="", read=lambda row: row.where),
    Column(name="count", words="pieces", kind="", read=lambda row: row.pieces),
    Column(name="length_m", words="length", kind="run", read=lambda row: row.length),
)
PLACE: Column[Length] = Column(
    name="place", words="line and tape", kind="", read=lambda row: f"{row.item}: {row.where}"
)

MASS_COLUMNS: tuple[Column[BudgetLine], ...] = (
    Column(name="part", words="mass of", kind="", read=lambda line: line.part),
    Column(name="pieces_g", words="by the pieces", kind="small_mass", read=lambda line: line.pieces),
    Column(
        name="simulated_g", words="in the flight model", kind="small_mass", read=lambda line: line.simulated
    ),
)


class CutReport(Report[CutList]):
    """What to buy and cut, and what it weighs."""

    COMMAND = "cut"
    CAUTIONS = CAUTIONS
    TOUCHED = frozenset({"canopy", "cloth", "lines"})

    @property
    def name(self) -> str:
        """As `Report.name`."""
        return self.result.design.name

    def failures(self, units: System) -> list[str]:
        """A pack that is too long for its container, at the loose end of the range."""
        packed = self.result.packed
        if packed.length_range is None or packed.room is None or packed.length_range[1] <= packed.room:
            return []
        length = show_range(*packed.length_range, "tape_length", units)
        room = show(packed.room, "tape_length", units)
        return [f"packed it takes {length}, its {packed.container} has {room}"]

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        cut = self.result
        yield f"{self.name}: {finding(cut, units)}"
        yield f"{rows_sentence(cut, units)} Colours are yours to choose."
        yield Table(
            columns=PRINTED, rows=parts(cut), title="Parts, allowances included; cloth of one, mass of all"
        )
        what: Column[Purchase] = Column(
            name="what",
            words="item",
            kind="",
            read=lambda bought: f"{bought.item}, {specification(cut, bought.item, units)}",
        )
        yield Table(
            columns=(what, NEEDED, *picked(BUY_COLUMNS, f"to_buy_{label('run', units)}")), rows=cut.shopping,
            title=f"To buy, with {100 * SPARE:.0f} % to spare",
            note=f"Assumed: {TAPE_RULE}.\nAssumed: {THREAD_RULE}.\n{by_weight(cut, units)}",
        )  # fmt: skip
        lengths = [*lines_of(cut), *runs("tape", cut.tape, units)]
        yield Table(columns=(PLACE, *picked(LENGTH_COLUMNS, "count", "length_m")), rows=lengths)
        whole = BudgetLine(part="all", pieces=cut.mass, simulated=cut.simulated_mass)
        yield Table(
            columns=MASS_COLUMNS, rows=(*cut.budget, whole),
            note="Without the payload. By the outlines of the pieces; beside it, by the geometry that flies.",
        )  # fmt: skip
        yield "\n".join(packed_words(cut.packed, units))

    def document(self) -> dict[str, Any]:
        """As `cut_document`."""
        return cut_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        for name, table in part_tables(self.result).items():
            yield f"cut_{name}.csv", table.csv()

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """As `Report.figures`."""
        from parasim.plotting.cut import nest_figure

        nest = self.result.nest
        yield (
            "cut_nest.png",
            nest_figure(
                [shape(self.result, placement) for placement in nest.placements],
                width=1e-3 * nest.width,
                length=1e-3 * nest.length,
                title=f"{self.name}: {finding(self.result, units)}",
                note="Numbers as in the list of parts; m: mirrored. Letters on patches: their row.",
                system=units,
            ),
        )

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """The nest at full size."""
        drawings = self.result.nest.drawings(self.name, units)
        yield "cut_nest.svg", svg_text(drawings, title=f"{self.name}: nest, true size")


def cut_document(cut: CutList) -> dict[str, Any]:
    """Cut and shopping list as plain data.

    Returns
    -------
    dict
        - `name`; `piece_count`; `parts`: `PART_COLUMNS` of each; number as in the picture of the nest.
        - `cloth`: `width_m`, nested `length_m`, `efficiency_percent` (area inside the cut lines over that of
          the cloth), `rows_length_m` if laid in rows instead, `areal_weight_g_m2`.
        - `shopping`: `item`, `specification` (words), `needed_m`, `BUY_COLUMNS` of each; `spare_percent`
          in what is to buy.
        - `lengths`: `LENGTH_COLUMNS` of each; `tape_rule` and `thread_rule` in words; `tabs` to sew in.
        - `mass_budget`: `MASS_COLUMNS` of each; `mass_kg` by the pieces and `simulated_mass_kg`, both
          without payload.
        - `packed`: `mass_g`, of which `canopy_g`, `lines_g`, `bag_g`, `pilot_chute_g`; `density_kg_m3`,
          `loose_kg_m3`, `pressed_kg_m3`; `volume_m3`, `low_m3`, `high_m3`; `container` (tube, tray, bag or
          empty), `length_mm`, `low_mm`, `high_mm`, `room_mm`, `filled_percent`.
        - `cautions` and `caveats`: sentences.
    """
    cloth, tables = cut.design.sewing, part_tables(cut)
    return {
        "name": cut.design.name,
        "piece_count": cut.templates.n_pieces,
        "parts": tables["parts"].document(),
        "cloth": {
            "width_m": cloth.cloth_width,
            "length_m": 1e-3 * cut.nest.length,
            "efficiency_percent": 100 * cut.nest.efficiency,
            "rows_length_m": cut.templates.cloth_length,
            "areal_weight_g_m2": 1e3 * cut.design.canopy.cloth.areal_weight,
        },
        "shopping": tables["shopping"].document(),
        "spare_percent": 100 * SPARE,
        "lengths": tables["lengths"].document(),
        "tape_rule": TAPE_RULE,
        "thread_rule": THREAD_RULE,
        "tabs": cut.tabs,
        "mass_budget": tables["mass"].document(),
        "mass_kg": cut.mass,
        "simulated_mass_kg": cut.simulated_mass,
        "packed": packed_document(cut.packed),
        "cautions": list(CAUTIONS),
        "caveats": list(cut.caveats),
    }


def part_tables(cut: CutList) -> dict[str, Table[Any]]:
    """Its tables by the names of their CSV files."""
    lengths = [*lines_of(cut), *runs("tape", cut.tape), *runs("seam", cut.seams)]
    item: Column[Purchase] = Column(name="item", words="item", kind="", read=lambda bought: bought.item)
    specified: Column[Purchase] = Column(
        name="specification", words="", kind="", read=lambda bought: specification(cut, bought.item, "metric")
    )
    return {
        "parts": Table(columns=PART_COLUMNS, rows=parts(cut)),
        "shopping": Table(columns=(item, specified, NEEDED, *BUY_COLUMNS), rows=cut.shopping),
        "lengths": Table(columns=LENGTH_COLUMNS, rows=lengths),
        "mass": Table(columns=MASS_COLUMNS, rows=cut.budget),
    }


def rows_sentence(cut: CutList, units: System) -> str:
    """What to buy of cloth, nested and laid in rows."""
    rows = replace(_cloth(cut), needed=cut.templates.cloth_length)
    buy = _to_buy(units)
    return (
        f"Buy {buy.cell(_cloth(cut), units)} of cloth to cut it so, spare included, or "
        f"{buy.cell(rows, units)} to lay the pieces in rows, as the templates are "
        f"({NEEDED.cell(rows, units)})."
    )


def _cloth(cut: CutList) -> Purchase:
    return next(bought for bought in cut.shopping if bought.item == "cloth")


def _to_buy(units: System) -> Column[Purchase]:
    return next(column for column in BUY_COLUMNS if column.name == f"to_buy_{label('run', units)}")


def parts(cut: CutList) -> list[Part]:
    """Every template."""
    areal_weight = 1e-6 * cut.design.canopy.cloth.areal_weight
    return [
        Part(piece=piece, mass=areal_weight * piece.count * piece.cut_area) for piece in cut.templates.pieces
    ]


def specification(cut: CutList, item: str, system: System) -> str:
    """What to ask for in the shop, in words."""
    design, sewing = cut.design, cut.design.sewing
    words = {
        "cloth": (
            f"{show(design.canopy.cloth.areal_weight, 'areal_weight', system)}, "
            f"{show(sewing.cloth_width, 'dimension', system)} wide"
        ),
        "line": (
            f"{show(design.lines.diameter, 'small_length', system, digits=1 if system == 'metric' else 3)}, "
            f"{show(design.lines.linear_density, 'linear_density', system)}, "
            f"{design.lines.material or 'material not given'}"
        ),
        "tape": show(sewing.tape, "linear_density", system),
        "thread": show(sewing.thread, "linear_density", system),
    }
    return words[item]


USUAL_TAPE = 0.010
"""Width. Common practice, no source. [m]"""


def by_weight(cut: CutList, system: System) -> str:
    """What tape and thread go by: neither width nor kind is assumed.

    Tex are grams a kilometre. Source: [ISO1144]
    """
    tex = 1e6 * cut.design.sewing.thread
    return (
        "Tape and thread go by their weight, not by width or kind: weigh a length of yours and write "
        f"sewing.tape and sewing.thread. Tape of {show(USUAL_TAPE, 'small_length', system)} is usual: common "
        f"practice, no source. The thread's weight is tex {tex:.0f}."
    )


def lines_of(cut: CutList) -> list[Length]:
    """Line by type; upper parts that are cut with lower ones are in those."""
    return [
        Length(
            item="line",
            where="brakes" if total.kind == "brake" else f"{total.group}, {PART_WORDS[total.kind]}",
            pieces=total.count,
            length=total.cut,
        )
        for total in cut.line_sheet.totals
        if total.count
    ]


def runs(item: str, given: Sequence[Run], system: System = "metric") -> list[Length]:
    """Tape or seams by place."""
    return [
        Length(
            item=item,
            where=run.where + (f" of {show(run.each, 'tape_length', system)}" if run.each else ""),
            pieces=run.count or None,
            length=run.length,
        )
        for run in given
    ]


def finding(cut: CutList, system: System) -> str:
    """How much cloth the nest takes."""
    nest = cut.nest
    length, width = show(1e-3 * nest.length, "run", system), show(1e-3 * nest.width, "dimension", system)
    pieces, used = cut.templates.n_pieces, 100 * nest.efficiency
    bought = _to_buy(system).cell(_cloth(cut), system)
    return (
        f"{pieces} pieces nest on {length} of cloth {width} wide, {used:.0f} % of it used: buy {bought}, "
        "spare included"
    )


def shape(cut: CutList, placement: Placement) -> "Shape":
    """A placed piece as it is drawn."""
    from parasim.plotting.cut import Shape

    piece = placement.piece
    skin = piece.name.split()[0] if piece.kind == "panel" else ""
    (x, y), room = placement.heart
    mirrored = "m" if placement.mirrored else ""
    return Shape(
        outline=1e-3 * placement.outline,
        holes=tuple(1e-3 * hole for hole in placement.holes),
        kind=f"{skin} {piece.kind}".strip(),
        text=piece.name.split()[-1] if piece.kind == "patch" else f"{piece.number}{mirrored}",
        middle=(1e-3 * x, 1e-3 * y),
        room=1e-3 * room,
    )


def packed_document(packed: Packed) -> dict[str, Any]:
    """How small it packs, as plain data; keys as in `cut_document`."""
    low, high = packed.volume_range
    loose, pressed = packed.density_range
    short, long = packed.length_range or (None, None)
    filled = packed.filled
    return {
        "mass_g": 1e3 * packed.mass,
        "canopy_g": 1e3 * packed.canopy,
        "lines_g": 1e3 * packed.lines,
        "bag_g": 1e3 * packed.bag,
        "pilot_chute_g": 1e3 * packed.pilot_chute,
        "density_kg_m3": packed.density,
        "loose_kg_m3": loose,
        "pressed_kg_m3": pressed,
        "volume_m3": packed.volume,
        "low_m3": low,
        "high_m3": high,
        "container": packed.container,
        "length_mm": _in_mm(packed.length),
        "low_mm": _in_mm(short),
        "high_mm": _in_mm(long),
        "room_mm": _in_mm(packed.room),
        "filled_percent": None if filled is None else 100 * filled,
    }


def _in_mm(length: float | None) -> float | None:
    return None if length is None else 1e3 * length
