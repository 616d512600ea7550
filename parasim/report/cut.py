"""The cut and shopping list as a document, as rows of CSV files and as rows for people."""

from collections.abc import Sequence
from typing import Any

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
from parasim.sewing.packing import PACKING_RANGE, Packed
from parasim.sewing.pieces import Piece
from parasim.units import System, show

PART_HEADS = (
    "number", "piece", "title", "kind", "count", "mirrored", "length_mm", "width_mm", "cut_area_m2", "mass_g",
)  # fmt: skip
"""Of cut_parts.csv: sizes and area of one, with allowances; mass of all. Mirrored ones are in the count."""

SHOPPING_HEADS = ("item", "specification", "needed_m", "to_buy_m", "to_buy_yd")
"""Of cut_shopping.csv."""

LENGTH_HEADS = ("item", "where", "count", "length_m")
"""Of cut_lengths.csv: line by type, tape and seams by place."""

MASS_HEADS = ("part", "pieces_g", "simulated_g")
"""Of cut_mass.csv: by the pieces, and as the flight model has it."""

LINE_KINDS = {"row": "whole", "trunk": "lower", "branch": "upper", "brake": "brake"}
"""Kinds of line in words."""


def cut_document(cut: CutList) -> dict[str, Any]:
    """Cut and shopping list as plain data.

    Returns
    -------
    dict
        - `name`; `piece_count`; `parts`: `PART_HEADS` of each; number as in the picture of the nest.
        - `cloth`: `width_m`, nested `length_m`, `efficiency_percent` (area inside the cut lines over that of
          the cloth), `rows_length_m` if laid in rows instead, `areal_weight_g_m2`.
        - `shopping`: `SHOPPING_HEADS` of each; `spare_percent` in what is to buy.
        - `lengths`: `LENGTH_HEADS` of each; `tape_rule` and `thread_rule` in words; `tabs` to sew in.
        - `mass_budget`: `MASS_HEADS` of each; `mass_kg` by the pieces and `simulated_mass_kg`, both without
          payload.
        - `packed`: `volume_m3`, `low_m3`, `high_m3`; `solid_m3` and the `solid_fraction`; `line_fibre`;
          `container` (tube, tray or empty), `length_mm`, `low_mm`, `high_mm`, `room_mm`, `filled_percent`.
        - `cautions` and `caveats`: sentences.
    """
    cloth = cut.design.sewing
    return {
        "name": cut.design.name,
        "piece_count": cut.templates.n_pieces,
        "parts": [dict(zip(PART_HEADS, row, strict=True)) for row in part_csv(cut)],
        "cloth": {
            "width_m": cloth.cloth_width,
            "length_m": 1e-3 * cut.nest.length,
            "efficiency_percent": 100 * cut.nest.efficiency,
            "rows_length_m": cut.templates.cloth_length,
            "areal_weight_g_m2": 1e3 * cut.design.canopy.cloth.areal_weight,
        },
        "shopping": [dict(zip(SHOPPING_HEADS, row, strict=True)) for row in shopping_csv(cut)],
        "spare_percent": 100 * SPARE,
        "lengths": [dict(zip(LENGTH_HEADS, row, strict=True)) for row in length_csv(cut)],
        "tape_rule": TAPE_RULE,
        "thread_rule": THREAD_RULE,
        "tabs": cut.tabs,
        "mass_budget": [dict(zip(MASS_HEADS, row, strict=True)) for row in mass_csv(cut)],
        "mass_kg": cut.mass,
        "simulated_mass_kg": cut.simulated_mass,
        "packed": _packed(cut.packed),
        "cautions": list(CAUTIONS),
        "caveats": list(cut.caveats),
    }


def _packed(packed: Packed) -> dict[str, Any]:
    low, high = packed.volume_range
    short, long = packed.length_range or (None, None)
    filled = packed.filled
    return {
        "volume_m3": packed.volume,
        "low_m3": low,
        "high_m3": high,
        "solid_m3": packed.solid,
        "solid_fraction": packed.fraction,
        "line_fibre": packed.line_fibre,
        "container": packed.container,
        "length_mm": _in_mm(packed.length),
        "low_mm": _in_mm(short),
        "high_mm": _in_mm(long),
        "room_mm": _in_mm(packed.room),
        "filled_percent": None if filled is None else 100 * filled,
    }


def _in_mm(length: float | None) -> float | None:
    return None if length is None else 1e3 * length


def part_csv(cut: CutList) -> list[list[object]]:
    """Rows under `PART_HEADS`."""
    areal_weight = cut.design.canopy.cloth.areal_weight
    return [
        [
            number,
            piece.name,
            piece.title,
            piece.kind,
            piece.count,
            piece.mirrored,
            *(round(float(side), 1) for side in piece.size),
            round(1e-6 * piece.cut_area, 6),
            round(1e-3 * areal_weight * piece.count * piece.cut_area, 3),
        ]
        for number, piece in enumerate(cut.templates.pieces, start=1)
    ]


def shopping_csv(cut: CutList) -> list[list[object]]:
    """Rows under `SHOPPING_HEADS`."""
    return [
        [
            purchase.item,
            specification(cut, purchase.item, "metric"),
            round(purchase.needed, 3),
            round(purchase.metres, 3),
            round(purchase.yards, 3),
        ]
        for purchase in cut.shopping
    ]


def specification(cut: CutList, item: str, system: System) -> str:
    """What to ask for in the shop, in words."""
    design, sewing = cut.design, cut.design.sewing
    words = {
        "cloth": (
            f"{show(design.canopy.cloth.areal_weight, 'areal_weight', system)}, "
            f"{show(sewing.cloth_width, 'length', system)} wide"
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


def length_csv(cut: CutList) -> list[list[object]]:
    """Rows under `LENGTH_HEADS`."""
    return [
        [item, where, count or "", round(length, 3)]
        for item, where, count, length in (*_lines(cut), *_runs("tape", cut.tape), *_runs("seam", cut.seams))
    ]


def _lines(cut: CutList) -> list[tuple[str, str, int, float]]:
    """Item, kind of line, pieces, length in all. [m]"""
    return [
        (
            "line",
            "brakes" if total.kind == "brake" else f"{total.group}, {LINE_KINDS[total.kind]}",
            total.count,
            total.cut,
        )
        for total in cut.line_sheet.totals
    ]


def _runs(item: str, runs: Sequence[Run], system: System = "metric") -> list[tuple[str, str, int, float]]:
    """Item, place, pieces, length in all. [m]"""
    return [
        (
            item,
            run.where + (f" of {show(run.each, 'small_length', system)}" if run.each else ""),
            run.count,
            run.length,
        )
        for run in runs
    ]


def mass_csv(cut: CutList) -> list[list[object]]:
    """Rows under `MASS_HEADS`."""
    return [[line.part, round(1e3 * line.pieces, 3), _grams(line)] for line in cut.budget]


def _grams(line: BudgetLine) -> float | None:
    return None if line.simulated is None else round(1e3 * line.simulated, 3)


PART_TABLE = ("part", "cut", "of them mirrored", "length", "width", "cloth of all")
SHOPPING_TABLE = ("", "needed", "to buy", "or")
MASS_TABLE = ("mass of", "by the pieces", "in the flight model")


def part_rows(cut: CutList, system: System) -> list[list[object]]:
    """Rows under `PART_TABLE`: size of one, with allowances; cloth of all."""
    return [
        [f"{number:2d}  {piece.title}", piece.count, piece.mirrored or "-", *_size(piece, system)]
        for number, piece in enumerate(cut.templates.pieces, start=1)
    ]


def _size(piece: Piece, system: System) -> list[str]:
    sides = (show(1e-3 * float(side), "small_length", system) for side in piece.size)
    return [*sides, show(1e-6 * piece.count * piece.cut_area, "area", system)]


def shopping_rows(cut: CutList, system: System) -> list[list[object]]:
    """Rows under `SHOPPING_TABLE`."""
    return [
        [
            f"{purchase.item}, {specification(cut, purchase.item, system)}",
            show(purchase.needed, "length", system),
            *(_both(purchase) if system == "metric" else reversed(_both(purchase))),
        ]
        for purchase in cut.shopping
    ]


def _both(purchase: Purchase) -> list[str]:
    return [f"{purchase.metres:.1f} m", f"{purchase.yards:.2f} yd"]


def length_rows(cut: CutList, system: System) -> list[list[object]]:
    """Line by type and tape by place: pieces and length."""
    return [
        [f"{item}: {where}", count or "-", show(length, "length", system)]
        for item, where, count, length in (*_lines(cut), *_runs("tape", cut.tape, system))
    ]


def mass_rows(cut: CutList, system: System) -> list[list[object]]:
    """Rows under `MASS_TABLE`, and all together."""
    lines = [*cut.budget, BudgetLine(part="all", pieces=cut.mass, simulated=cut.simulated_mass)]
    return [
        [line.part, show(line.pieces, "small_mass", system), show(line.simulated, "small_mass", system)]
        for line in lines
    ]


def packed_sentences(packed: Packed, system: System) -> list[str]:
    """How small it packs, in sentences."""
    low, high = packed.volume_range
    loose, pressed = PACKING_RANGE
    given = [
        f"Packed: {_liquid(packed.volume, system)} at {100 * packed.fraction:.0f} % solid; "
        f"{_liquid(low, system)} pressed hard ({100 * pressed:.0f} %) to "
        f"{_liquid(high, system)} loose ({100 * loose:.0f} %)."
    ]
    if packed.length is None or packed.length_range is None:
        return [*given, "Give packing.tube or packing.tray to see the length it takes there."]
    short, long = (show(side, "small_length", system) for side in packed.length_range)
    given.append(
        f"In its {packed.container}: {show(packed.length, 'small_length', system)} long, {short} to {long}."
    )
    if packed.filled is not None:
        room = show(packed.room, "small_length", system)
        given.append(f"It has {room} of length, {100 * packed.filled:.0f} % of it filled.")
    return given


def _liquid(volume: float, system: System) -> str:
    return show(volume, "volume", system, digits=2 if system == "metric" else 4)
