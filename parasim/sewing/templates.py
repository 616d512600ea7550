"""All templates of a design, and the cloth they take."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.design import Design
from parasim.drawing.drawing import Drawing
from parasim.drawing.layout import joined_box, sheet
from parasim.drawing.pdf import Listed, glued_strips, tiling
from parasim.drawing.style import KEY_HEIGHT, Paper, key
from parasim.geometry.canopy import Canopy, build_canopy
from parasim.geometry.seams import billow_of
from parasim.sewing.cloth import cloth_length
from parasim.sewing.panels import panel_pieces
from parasim.sewing.pieces import Piece
from parasim.sewing.ribs import (
    HOLE_CLEARANCE,
    RibPlan,
    crowded,
    patch_pieces,
    plan_ribs,
    rib_pieces,
    stabiliser_pieces,
)

_PATCH_COLUMN = 140.0  # [mm]
_KEY_WIDTH = 190.0  # [mm]
_KEY_GAP = 10.0  # [mm]

FORMATS = ("svg", "dxf", "pdf")
"""In which templates are drawn."""

EASE_TOLD = 0.5
"""Ease of a middle rib from which on it is reported. [mm]"""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Templates(Answer):
    """Answer to `parasim templates`: what to cut for a design.

    Attributes
    ----------
    design : Design
        As written.
    canopy : Canopy
        As inflated.
    pieces : tuple of Piece
        Every template once.
    billow : float
        Extra width of the panels at mid-chord over their width between ribs. [-]
    cloth_length : float
        Of cloth of the design's width, every piece laid in rows without turning it. [m]
    caveats : tuple of str
        What to know before cutting.
    paper : {"a4", "letter", "a3", "sheet"} or None
        Of the PDF; the last is one large page, None: as the units asked for have it.
    formats : tuple of str
        Of `FORMATS`, those that are drawn.
    """

    REPORT = "parasim.report.templates:TemplatesReport"

    design: Design
    canopy: Canopy
    pieces: tuple[Piece, ...]
    billow: float
    cloth_length: float
    caveats: tuple[str, ...]
    paper: Paper | None = None
    formats: tuple[str, ...] = FORMATS

    @property
    def cut_area(self) -> float:
        """Cloth in all pieces, allowances included. [m²]"""
        return 1e-6 * sum(piece.count * piece.cut_area for piece in self.pieces)

    @property
    def n_pieces(self) -> int:
        """Pieces to cut in all."""
        return sum(piece.count for piece in self.pieces)


def templates(design: Design) -> Templates:
    """Every piece of cloth of a design, at full size.

    Raises
    ------
    DesignError
        When the cross-ports do not fit the ribs, or a piece is wider than the cloth.
    """
    canopy = build_canopy(design)
    plan = plan_ribs(design, canopy)
    found = (
        *rib_pieces(plan),
        *panel_pieces(design, canopy),
        *stabiliser_pieces(plan),
        *patch_pieces(plan),
    )
    pieces = tuple(replace(piece, number=number) for number, piece in enumerate(found, start=1))
    return Templates(
        design=design,
        canopy=canopy,
        pieces=pieces,
        billow=billow_of(design, canopy),
        cloth_length=1e-3 * cloth_length(pieces, 1e3 * design.sewing.cloth_width),
        caveats=(*_port_caveats(plan, pieces), *_caveats(pieces)),
    )


def page_drawings(templates: Templates, paper: Paper) -> tuple[Drawing, ...]:
    """One drawing for each piece, text clear of the glue, and one for all patches: for pages."""
    name = templates.design.name
    single = tuple(
        piece.drawing(name, clear_of=glued_strips(tiling(piece.bounds, paper)))
        for piece in templates.pieces
        if piece.kind != "patch"
    )
    patches = [piece.drawing(name) for piece in templates.pieces if piece.kind == "patch"]
    if not patches:
        return single
    first, *others = sheet(patches, _PATCH_COLUMN)
    return (*single, replace(first.together(*others), title="patches at tabs"))


def listing(templates: Templates) -> tuple[Listed, ...]:
    """What is on each of `page_drawings`."""
    single = [piece for piece in templates.pieces if piece.kind != "patch"]
    return tuple(
        Listed(piece.title, piece.cutting_words, min(i, len(single)))
        for i, piece in enumerate(templates.pieces)
    )


def sheet_drawings(templates: Templates) -> tuple[Drawing, ...]:
    """Every piece placed on one sheet, as high as the cloth is wide."""
    name, width = templates.design.name, 1e3 * templates.design.sewing.cloth_width
    return sheet([piece.drawing(name) for piece in templates.pieces], width)


def sheet_key(templates: Templates, drawings: Sequence[Drawing]) -> Drawing:
    """Check bars, kinds of line and cautions, placed below a sheet."""
    box = joined_box(drawings)
    lines = (
        f"{templates.design.name}: all pieces",
        f"{len(templates.pieces)} templates, {templates.n_pieces} pieces to cut",
        "drawn in millimetres, true size",
    )
    return key(lines, max(box.width, _KEY_WIDTH)).moved(box.left, box.bottom - KEY_HEIGHT - _KEY_GAP)


def _port_caveats(plan: RibPlan, pieces: Sequence[Piece]) -> Iterator[Caveat]:
    """Cross-ports that are in the way of patches, row by row."""
    for row, ribs in crowded(plan, [piece for piece in pieces if piece.kind == "rib"]).items():
        yield Caveat(
            f"A cross-port cuts into the patch of row {row} on {'ribs' if len(ribs) > 1 else 'rib'} "
            f"{', '.join(map(str, ribs))}, or comes nearer than {{clear}}: use fewer or smaller cross-ports, "
            "or a smaller sewing.patch.",
            "fails",
            clear=(1e-3 * HOLE_CLEARANCE, "tape_length", 0),
        )


def _caveats(pieces: Sequence[Piece]) -> tuple[str, ...]:
    found: list[str] = []
    ease = max((piece.ease for piece in pieces), key=abs, default=0.0)
    if abs(ease) > EASE_TOLD:
        found.append(
            Caveat(
                "Panels of a whole cell: an unloaded rib's edge is up to {ease} "
                f"{'longer' if ease > 0 else 'shorter'} than the line it is sewn on; ease it in or use half "
                "cells.",
                ease=(1e-3 * abs(ease), "tape_length", 1),
            )
        )
    return tuple(found)
