"""Whether pieces fit across the cloth, and how much of it they take. Everything in millimetres."""

from collections.abc import Sequence

from parasim.drawing.layout import columns
from parasim.errors import DesignError, Mistake
from parasim.sewing.pieces import Piece


def cloth_length(pieces: Sequence[Piece], width: float) -> float:
    """Length of cloth of a width for every piece as often as it is cut, warp along the length. [mm]

    Pieces are piled up across the cloth, long ones first; a practised cutter gets by with less.

    Raises
    ------
    DesignError
        When a piece is wider than the cloth.
    """
    check_width(pieces, width)
    sizes = sorted(
        ((float(piece.size[0]), float(piece.size[1])) for piece in pieces for _ in range(piece.count)),
        reverse=True,
    )
    return columns(sizes, width)[1]


def check_width(pieces: Sequence[Piece], width: float) -> None:
    """See that every piece fits across the cloth. [mm]

    Raises
    ------
    DesignError
        When one does not.
    """
    widest = max(float(piece.size[1]) for piece in pieces)
    if widest > width:
        raise DesignError(
            Mistake(
                key="sewing.cloth_width",
                given=f"{width:.0f} mm",
                problem=f"the widest piece takes {widest:.0f} mm across the warp",
                hint="use wider cloth, or narrower panels",
            )
        )
