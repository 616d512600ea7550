"""What `parasim templates` answers."""

from collections.abc import Iterator
from typing import Any

from parasim.drawing.dxf import dxf_text
from parasim.drawing.pdf import pdf_bytes
from parasim.drawing.printing import paper_of
from parasim.drawing.style import CAUTIONS
from parasim.drawing.svg import svg_text
from parasim.report.column import Column, Table, picked, row_document
from parasim.report.report import Block, Report
from parasim.sewing.line_sheet import zero_points
from parasim.sewing.pieces import Piece
from parasim.sewing.templates import Templates, listing, page_drawings, sheet_drawings, sheet_key
from parasim.units import System, show


def _numbers(numbers: tuple[int, ...]) -> str:
    return " ".join(map(str, numbers))


PIECE_COLUMNS: tuple[Column[Piece], ...] = (
    Column(name="number", words="number", kind="", read=lambda piece: piece.number),
    Column(name="piece", words="piece", kind="", read=lambda piece: piece.name),
    Column(name="title", words="template", kind="", read=lambda piece: piece.title),
    Column(name="kind", words="kind", kind="", read=lambda piece: piece.kind),
    Column(name="count", words="cut", kind="", read=lambda piece: piece.count),
    Column(
        name="mirrored", words="mirrored", kind="", read=lambda piece: piece.mirrored,
        show=lambda n: f"{n or '-'}",
    ),
    Column(name="places", words="places", kind="", read=lambda piece: _numbers(piece.places)),
    Column(
        name="mirrored_places", words="mirrored at", kind="",
        read=lambda piece: _numbers(piece.mirrored_places),
    ),
    Column(name="sewn_area_m2", words="sewn", kind="area", read=lambda piece: 1e-6 * piece.sewn_area),
    Column(name="cut_area_m2", words="cloth", kind="area", read=lambda piece: 1e-6 * piece.cut_area),
    Column(
        name="sewn_perimeter_mm", words="sewing line", kind="tape_length",
        read=lambda piece: 1e-3 * piece.sewn_perimeter,
    ),
    Column(
        name="cut_perimeter_mm", words="cut line", kind="tape_length",
        read=lambda piece: 1e-3 * piece.cut_perimeter,
    ),
    Column(
        name="length_mm", words="length", kind="tape_length", read=lambda piece: 1e-3 * float(piece.size[0])
    ),
    Column(
        name="width_mm", words="width", kind="tape_length", read=lambda piece: 1e-3 * float(piece.size[1])
    ),
    Column(
        name="edges_mm", words="edges", kind="",
        read=lambda piece: " ".join(f"{edge.name}={edge.length:.2f}" for edge in piece.edges),
    ),
    Column(
        name="middle_rib_ease_mm", words="ease", kind="tape_length", read=lambda piece: 1e-3 * piece.ease
    ),
)  # fmt: skip
"""Of one piece: length along the warp, both sizes with allowances; edges as ``name=length``."""

PRINTED = picked(PIECE_COLUMNS, "title", "count", "length_mm", "width_mm", "cut_area_m2")


class TemplatesReport(Report[Templates]):
    """Pieces of cloth, and their drawings at full size."""

    COMMAND = "templates"
    CAUTIONS = CAUTIONS
    TOUCHED = frozenset({"canopy"})

    @property
    def name(self) -> str:
        """As `Report.name`."""
        return self.result.design.name

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        found, sewing = self.result, self.result.design.sewing
        length = show(found.cloth_length, "run", units)
        width = show(sewing.cloth_width, "dimension", units)
        yield (
            f"{self.name}: {len(found.pieces)} templates, {found.n_pieces} pieces to cut from "
            f"{length} of cloth {width} wide, laid in rows; parasim cut nests them closer"
        )
        yield (
            f"seam allowance {show(sewing.seam_allowance, 'tape_length', units)}, hems "
            f"{show(sewing.hem, 'tape_length', units)}, panels by the {sewing.panel}, "
            f"{100 * found.billow:.2f} % wider at mid-chord for the bulge"
        )
        yield "\n".join(zero_points(units))
        yield Table(columns=PRINTED, rows=found.pieces, title="Sizes and cloth of one, allowances included")

    def document(self) -> dict[str, Any]:
        """As `template_document`."""
        return template_document(self.result)

    def tables(self) -> Iterator[tuple[str, str]]:
        """As `Report.tables`."""
        yield "templates.csv", Table(columns=PIECE_COLUMNS, rows=self.result.pieces).csv()

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """Drawings at full size, in the formats asked for."""
        found, placed = self.result, sheet_drawings(self.result)
        paper = found.paper or paper_of(units)
        with_key = (*placed, sheet_key(found, placed))
        if "svg" in found.formats:
            yield "templates.svg", svg_text(with_key, title=f"{self.name}: templates, true size")
        if "dxf" in found.formats:
            yield "templates.dxf", dxf_text(with_key)
        if "pdf" in found.formats:
            pages = placed if paper == "sheet" else page_drawings(found, paper)
            content = pdf_bytes(pages, title=self.name, paper=paper, index=listing(found))
            yield f"templates_{paper}.pdf", content


def template_document(templates: Templates) -> dict[str, Any]:
    """Document of ``parasim templates --json``.

    Returns
    -------
    dict
        - ``name``
        - ``pieces``: list of ``number``, ``piece``, ``title``, ``kind``, ``count``, ``mirrored``, ``places``,
          ``mirrored_places``, ``sewn_area_m2`` and ``cut_area_m2`` of one, ``sewn_perimeter_mm``,
          ``cut_perimeter_mm``, ``length_mm`` along the warp, ``width_mm``, ``edges_mm`` (sewing line by
          edge), ``middle_rib_ease_mm``
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
    """Its columns; lists where a CSV cell holds them in words."""
    return {
        **row_document(PIECE_COLUMNS, piece),
        "places": list(piece.places),
        "mirrored_places": list(piece.mirrored_places),
        "edges_mm": {edge.name: edge.length for edge in piece.edges},
    }
