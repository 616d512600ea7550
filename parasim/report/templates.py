"""Templates as tables, CSV rows and a JSON document."""

from typing import Any

from parasim.drawing.style import CAUTIONS
from parasim.sewing.pieces import Piece
from parasim.sewing.templates import Templates
from parasim.units import System, show

CSV_HEADS = (
    "piece", "title", "kind", "count", "mirrored", "places", "mirrored_places", "sewn_area_m2", "cut_area_m2",
    "sewn_perimeter_mm", "cut_perimeter_mm", "length_mm", "width_mm", "edges_mm",
)  # fmt: skip
"""Heads of templates.csv; ``length_mm`` is along the warp, both with allowances; edges as ``name=length``."""

TABLE_HEADS = ("template", "cut", "mirrored", "length", "width", "cloth")


def template_document(templates: Templates) -> dict[str, Any]:
    """Document of ``parasim templates --json``.

    Returns
    -------
    dict
        - ``name``
        - ``pieces``: list of ``piece``, ``title``, ``kind``, ``count``, ``mirrored``, ``places``,
        ``mirrored_places``,
          ``sewn_area_m2`` and ``cut_area_m2`` of one, ``sewn_perimeter_mm``, ``cut_perimeter_mm``,
          ``length_mm`` along the warp, ``width_mm``, ``edges_mm`` (sewing line by edge),
          ``middle_rib_ease_mm``
        - ``piece_count``: all pieces to cut
        - ``cut_area_m2``: all of them, allowances included
        - ``cloth_width_m``, ``cloth_length_m``
        - ``seam_allowance_mm``, ``hem_mm``, ``billow_percent``
        - ``cautions``, ``caveats``
    """
    sewing = templates.design.sewing
    return {
        "name": templates.design.name,
        "pieces": [_piece(piece) for piece in templates.pieces],
        "piece_count": templates.n_pieces,
        "cut_area_m2": templates.cut_area,
        "cloth_width_m": sewing.cloth_width,
        "cloth_length_m": templates.cloth_length,
        "seam_allowance_mm": 1e3 * sewing.seam_allowance,
        "hem_mm": 1e3 * sewing.hem,
        "billow_percent": 100 * templates.billow,
        "cautions": list(CAUTIONS),
        "caveats": list(templates.caveats),
    }


def _piece(piece: Piece) -> dict[str, Any]:
    length, width = piece.size
    return {
        "piece": piece.name,
        "title": piece.title,
        "kind": piece.kind,
        "count": piece.count,
        "mirrored": piece.mirrored,
        "places": list(piece.places),
        "mirrored_places": list(piece.mirrored_places),
        "sewn_area_m2": 1e-6 * piece.sewn_area,
        "cut_area_m2": 1e-6 * piece.cut_area,
        "sewn_perimeter_mm": piece.sewn_perimeter,
        "cut_perimeter_mm": piece.cut_perimeter,
        "length_mm": float(length),
        "width_mm": float(width),
        "edges_mm": {edge.name: edge.length for edge in piece.edges},
        "middle_rib_ease_mm": piece.ease,
    }


def template_csv(templates: Templates) -> list[list[object]]:
    """Rows under `CSV_HEADS`."""
    return [[_cell(_piece(piece)[head]) for head in CSV_HEADS] for piece in templates.pieces]


def _cell(value: Any) -> object:
    if isinstance(value, dict):
        return " ".join(f"{name}={length:.2f}" for name, length in value.items())
    if isinstance(value, list):
        return " ".join(map(str, value))
    return round(value, 6) if isinstance(value, float) else value


def template_rows(templates: Templates, units: System) -> list[list[object]]:
    """Rows under `TABLE_HEADS`: sizes and area with allowances, area of one piece."""
    return [
        [
            piece.title,
            piece.count,
            piece.mirrored or "-",
            *(show(1e-3 * float(side), "small_length", units) for side in piece.size),
            show(1e-6 * piece.cut_area, "area", units),
        ]
        for piece in templates.pieces
    ]
