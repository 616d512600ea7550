"""All templates of a design, and the cloth they take."""

from collections.abc import Sequence
from dataclasses import dataclass

from parasim.buildsheet.layout import cloth_length
from parasim.buildsheet.panels import billow_of, panel_pieces
from parasim.buildsheet.pieces import Piece
from parasim.buildsheet.ribs import patch_pieces, plan_ribs, rib_pieces, stabiliser_pieces
from parasim.config.design import Design
from parasim.geometry.canopy import Canopy, build_canopy

EASE_TOLD = 0.5
"""Ease of a middle rib from which on it is told. [mm]"""


@dataclass(frozen=True, kw_only=True, eq=False)
class Templates:
    """What to cut for a design.

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
    """

    design: Design
    canopy: Canopy
    pieces: tuple[Piece, ...]
    billow: float
    cloth_length: float
    caveats: tuple[str, ...]

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
    pieces = (
        *rib_pieces(plan),
        *panel_pieces(design, canopy),
        *stabiliser_pieces(plan),
        *patch_pieces(plan),
    )
    return Templates(
        design=design,
        canopy=canopy,
        pieces=pieces,
        billow=billow_of(design, canopy),
        cloth_length=1e-3 * cloth_length(pieces, 1e3 * design.sewing.cloth_width),
        caveats=_caveats(design, canopy, pieces),
    )


def _caveats(design: Design, canopy: Canopy, pieces: Sequence[Piece]) -> tuple[str, ...]:
    found = []
    lip = canopy.inlet.lower_lip
    for row, x in design.lines.rows.items():
        if x < lip:
            found.append(f"row {row} lies in the inlet ({x:.1%} of the chord): its tab is drawn at the lower lip")
    ease = max((piece.ease for piece in pieces), key=abs, default=0.0)
    if abs(ease) > EASE_TOLD:
        found.append(
            f"panels of a whole cell: an unloaded rib's edge is up to {abs(ease):.1f} mm "
            f"{'longer' if ease > 0 else 'shorter'} than the line it is sewn on; ease it in, or use panel: half cell"
        )
    return tuple(found)
