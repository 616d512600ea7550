"""Every seam between the parts of a canopy, and how much of it a machine does not reach."""

from collections.abc import Iterator
from itertools import chain

import numpy as np

from parasim.geometry.airfoil import lower_surface, upper_surface
from parasim.geometry.canopy import Canopy
from parasim.sewing.order.steps import Join
from parasim.sewing.pieces import Piece
from parasim.sewing.ribs import rib_edges
from parasim.sewing.templates import Templates

PRESSER_FOOT = 0.012
"""Height between the skins that a machine's foot needs. [m] Common practice, no source."""

_PLACES = np.linspace(0.3, 1.0, 1401)


def reach(canopy: Canopy) -> float:
    """Where the tip rib becomes lower than `PRESSER_FOOT`, over chord; 1 if nowhere, 0 if all of it. [-]

    The tip rib is the lowest; the others are marked at the same share. Looked for behind 30 % of the chord.
    """
    tip = canopy.root_chord * canopy.taper
    height = tip * (upper_surface(canopy.outline, _PLACES) - lower_surface(canopy.outline, _PLACES))
    if height[-1] >= PRESSER_FOOT:
        return 1.0
    high = np.flatnonzero(height >= PRESSER_FOOT)
    return float(_PLACES[high[-1]]) if len(high) else 0.0


def ribs_of(templates: Templates) -> tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]:
    """Numbers of end, inner loaded and unloaded ribs, from 1 at the left tip."""
    n = templates.canopy.n_ribs
    loaded = range(1, n + 1)[templates.canopy.loaded_ribs]
    inner = [i for i in loaded if 1 < i < n]
    return (1, n), tuple(inner), tuple(i for i in range(1, n + 1) if i not in loaded)


def panels_at(templates: Templates, rib: int) -> tuple[int, ...]:
    """Numbers of the panels, of either skin, that meet at a rib; one at the tips or inside a panel."""
    canopy = templates.canopy
    per_panel = 1
    if templates.design.sewing.panel == "cell":
        per_panel = canopy.n_half_cells // canopy.n_cells
    n = canopy.n_half_cells // per_panel
    place, inside = divmod(rib - 1, per_panel)
    return (place + 1,) if inside else tuple(i for i in (place, place + 1) if 1 <= i <= n)


def on_middle_line(templates: Templates, rib: int) -> bool:
    """Whether a rib is sewn on a line in the middle of a panel."""
    return len(panels_at(templates, rib)) == 1 and 1 < rib < templates.canopy.n_ribs


def skin_joins(templates: Templates, skin: str) -> tuple[Join, ...]:
    """Seams of every rib with a skin, "top" or "bottom", from the left tip; stabilisers in the latter."""
    return tuple(_skin_join(templates, skin, rib) for rib in range(1, templates.canopy.n_ribs + 1))


def _skin_join(templates: Templates, skin: str, rib: int) -> Join:
    canopy = templates.canopy
    chord = 1e3 * float(canopy.chord_at(canopy.rib_angle[rib - 1]))
    edge = next(edge for edge in rib_edges(canopy, chord, 1.0) if edge.name == skin)
    parts = [f"rib {rib}", *(f"{skin} panel {number}" for number in panels_at(templates, rib))]
    by_hand = 0.0
    if skin == "bottom":
        by_hand = 1e-3 * min(chord * (1.0 - reach(canopy)), edge.length)
        if canopy.stabiliser is not None and rib in (1, canopy.n_ribs):
            parts.append(f"{'left' if rib == 1 else 'right'} stabiliser")
    return Join(
        name=f"{skin} skin at rib {rib}", parts=tuple(parts), length=1e-3 * edge.length, by_hand=by_hand
    )


def trailing_joins(templates: Templates) -> tuple[Join, ...]:
    """Seams of top and bottom panels at the trailing edge, from the left tip."""
    widths = {number: piece.edge("rear").length for piece, number in _placed(templates, "bottom panel")}
    return tuple(
        Join(
            name=f"trailing edge at panel {number}",
            parts=(f"top panel {number}", f"bottom panel {number}"),
            length=1e-3 * widths[number],
        )
        for number in sorted(widths)
    )


def patch_joins(templates: Templates) -> tuple[Join, ...]:
    """Patches on loaded ribs, rib by rib."""
    rows = [piece.name.removeprefix("patch ") for piece in templates.pieces if piece.kind == "patch"]
    return tuple(
        Join(name=f"patch {row} on rib {rib}", parts=(f"patch {row} of rib {rib}", f"rib {rib}"))
        for rib in loaded_ribs(templates)
        for row in rows
    )


def tape_joins(templates: Templates) -> tuple[Join, ...]:
    """Tape along the lower edges of loaded ribs, rib by rib."""
    edges = {place: p.edge("bottom") for p in templates.pieces if p.kind == "rib" for place in p.places}
    return tuple(
        Join(
            name=f"tape on rib {rib}",
            parts=(f"tape of rib {rib}", f"rib {rib}"),
            length=1e-3 * edges[rib].length,
        )
        for rib in loaded_ribs(templates)
    )


def tab_joins(templates: Templates) -> tuple[Join, ...]:
    """Line tabs on loaded ribs, rib by rib."""
    return tuple(
        Join(name=f"tab {row} on rib {rib}", parts=(f"tab {row} of rib {rib}", f"rib {rib}"))
        for rib in loaded_ribs(templates)
        for row in templates.design.lines.rows
    )


def brake_joins(templates: Templates) -> tuple[Join, ...]:
    """Brake tabs, left then right, from the inside out, with the bottom panels that hold them."""
    held = dict(chain.from_iterable(map(_brake_panels, _panels(templates, "bottom panel"))))
    return tuple(
        Join(
            name=f"brake tab {number} {side}",
            parts=(f"brake tab {number} {side}", f"bottom panel {held[number][side == 'left']}"),
        )
        for side in ("left", "right")
        for number in sorted(held)
    )


def _brake_panels(piece: Piece) -> Iterator[tuple[int, tuple[int, int]]]:
    """Number of each brake tab on a panel, and the panels it is on, right and left."""
    for tag in piece.tags:
        if tag.text.startswith("brake tab "):
            right = piece.places[0]
            yield (
                int(tag.text.removeprefix("brake tab ")),
                (right, (piece.mirrored_places or piece.places)[0]),
            )


def loaded_ribs(templates: Templates) -> tuple[int, ...]:
    """Numbers of all ribs with line tabs, end ribs among them."""
    end, inner, _ = ribs_of(templates)
    return tuple(sorted((*end, *inner)))


def _panels(templates: Templates, start: str) -> Iterator[Piece]:
    return (piece for piece in templates.pieces if piece.name.startswith(start))


def _placed(templates: Templates, start: str) -> Iterator[tuple[Piece, int]]:
    for piece in _panels(templates, start):
        for number in (*piece.places, *piece.mirrored_places):
            yield piece, number
