"""What to buy and cut: pieces, cloth, line, tape, thread; and what all of it weighs.

Line lengths come from the line sheet; masses of the flight model are handed in as plain numbers, to be held
against those of the pieces. SI throughout, but for the nest, which is in millimetres.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.config.design import Design
from parasim.geometry.seams import TAB_TAPE, THREAD_PER_SEAM, tab_count
from parasim.sewing.line_sheet import LineSheet
from parasim.sewing.nesting import Nest, nest
from parasim.sewing.packing import Packed, packed
from parasim.sewing.pieces import Piece
from parasim.sewing.templates import Templates
from parasim.units import YARD

SPARE = 0.10
"""Bought over what is needed: flaws, trials, a piece cut twice. [-] Common practice, no source."""

CAUTIONS = (
    "The nest is estimated for flat cloth without flaws: lay all pieces out before the first cut.",
    "Untested design: prove it with dead weight away from people, by local rules. Falling loads can hurt.",
)
"""Told with every cut list."""

EDGE_TAPE, TABS_TAPE = "lower edges of loaded ribs", "tabs"
"""Places of tape."""

TAPE_RULE = "tape along the lower edge of every loaded rib and in the tabs; free edges have hems and no tape"
"""Common practice, no source."""

THREAD_RULE = (
    f"{THREAD_PER_SEAM:g} times as much thread as seam, one row of lockstitch, needle and bobbin, ends in it"
)
"""Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Tape or seams of one place.

    Attributes
    ----------
    where : str
        The place.
    length : float
        In all. [m]
    count : int
        Pieces cut to one length; 0 where it is not.
    """

    where: str
    length: float
    count: int = 0

    @property
    def each(self) -> float | None:
        """Length of a piece. [m]"""
        return self.length / self.count if self.count else None


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """Mass of one part: of the pieces, and as simulated; None where the flight model has none. [kg]"""

    part: str
    pieces: float
    simulated: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """Something bought by length.

    Attributes
    ----------
    item : str
        "cloth", "line", "tape" or "thread".
    needed : float
        Without spare. [m]
    step, yard_step : float
        Sold in steps of this. [m], [yd]
    """

    item: str
    needed: float
    step: float = 1.0
    yard_step: float = 1.0

    @property
    def metres(self) -> float:
        """To buy: with `SPARE`, in whole steps. [m]"""
        return _in_steps(self.needed * (1 + SPARE), self.step)

    @property
    def yards(self) -> float:
        """The same where it is sold by the yard. [yd]"""
        return _in_steps(self.needed * (1 + SPARE) / YARD, self.yard_step)


def _in_steps(length: float, step: float) -> float:
    return step * ceil(length / step - 1e-9)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CutList(Answer):
    """Answer to `parasim cut`: what to buy and cut for a design.

    Attributes
    ----------
    templates : Templates
        Every piece once.
    nest : Nest
        All of them on the cloth.
    line_sheet : LineSheet
        Every line.
    tape, seams : tuple of Run
        Where tape goes; where is sewn.
    tabs : int
        To sew in, those of the brakes too.
    budget : tuple of BudgetLine
        All that is sewn and tied, without the payload.
    packed : Packed
        How small it packs.
    """

    REPORT = "parasim.report.cut:CutReport"

    templates: Templates
    nest: Nest
    line_sheet: LineSheet
    tape: tuple[Run, ...]
    seams: tuple[Run, ...]
    tabs: int
    budget: tuple[BudgetLine, ...]
    packed: Packed

    @property
    def design(self) -> Design:
        """As written."""
        return self.templates.design

    @property
    def seam_length(self) -> float:
        """To sew. [m]"""
        return sum(run.length for run in self.seams)

    @property
    def has_thread(self) -> bool:
        """Whether thread is counted."""
        return self.design.sewing.thread > 0

    @property
    def shopping(self) -> tuple[Purchase, ...]:
        """What to buy; nothing of which none is needed."""
        wanted = (
            Purchase(item="cloth", needed=1e-3 * self.nest.length, step=0.1, yard_step=0.25),
            Purchase(item="line", needed=self.line_sheet.total_cut),
            Purchase(item="tape", needed=sum(run.length for run in self.tape)),
            Purchase(item="thread", needed=THREAD_PER_SEAM * self.seam_length if self.has_thread else 0.0),
        )
        return tuple(purchase for purchase in wanted if purchase.needed)

    @property
    def mass(self) -> float:
        """Of all pieces, tape, thread and lines. [kg]"""
        return sum(line.pieces for line in self.budget)

    @property
    def simulated_mass(self) -> float:
        """Of the same in the flight model. [kg]"""
        return sum(line.simulated or 0.0 for line in self.budget)

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to mind."""
        filled, found = self.packed.filled, list(self.templates.caveats)
        if filled is not None and filled > 1:
            found.append(
                Caveat(
                    f"Packed it takes {100 * filled:.0f} % of the length of its {self.packed.container}: too "
                    "long.",
                    "fails",
                )
            )
        return tuple(found)


def cut_list(templates: Templates, line_sheet: LineSheet, *, simulated: Mapping[str, float]) -> CutList:
    """Cut and shopping list.

    Parameters
    ----------
    templates : Templates
        Pieces of cloth.
    line_sheet : LineSheet
        Pieces of line.
    simulated : mapping
        Part to mass in the flight model; the payload, if it is in it, is left aside. [kg]
    """
    design = templates.design
    tape, seams = tape_runs(templates), seam_runs(templates.pieces)
    masses = part_masses(templates, line_sheet, tape, seams)
    flown = {part: mass for part, mass in simulated.items() if part != "payload"}
    parts = [*masses, *(part for part in flown if part not in masses)]
    return CutList(
        templates=templates,
        nest=nest(templates.pieces, 1e3 * design.sewing.cloth_width),
        line_sheet=line_sheet,
        tape=tape,
        seams=seams,
        tabs=tab_count(design, templates.canopy),
        budget=tuple(
            BudgetLine(part=part, pieces=masses.get(part, 0.0), simulated=flown.get(part)) for part in parts
        ),
        # What is weighed is given from one source, the flight model: here, when built and when packed.
        packed=packed(design, flown),
    )


def tape_runs(templates: Templates) -> tuple[Run, ...]:
    """Where tape goes, by `TAPE_RULE`; nowhere when the design's tape weighs nothing."""
    if not templates.design.sewing.tape:
        return ()
    pieces, n_tabs = templates.pieces, tab_count(templates.design, templates.canopy)
    return (
        Run(where=EDGE_TAPE, length=_edges(pieces, _is_loaded_rib, "bottom")),
        Run(where=TABS_TAPE, length=n_tabs * TAB_TAPE, count=n_tabs),
    )


def seam_runs(pieces: Sequence[Piece]) -> tuple[Run, ...]:
    """Where is sewn, each seam once."""
    runs = [
        Run(where="ribs to top skin", length=_edges(pieces, _is_rib, "top")),
        Run(where="ribs to bottom skin", length=_edges(pieces, _is_rib, "bottom")),
        Run(where="hems of the ribs' noses", length=_edges(pieces, _is_rib, "inlet")),
        Run(where="upper lips", length=_edges(pieces, _is_top, "front")),
        Run(where="lower lips", length=_edges(pieces, _is_bottom, "front")),
        Run(where="trailing edge", length=_edges(pieces, _is_bottom, "rear")),
        Run(
            where="hems of the stabilisers",
            length=sum(_edges(pieces, _is_stabiliser, edge) for edge in ("front", "lower", "rear")),
        ),
    ]
    return tuple(run for run in runs if run.length)


def _edges(pieces: Sequence[Piece], wanted: Callable[[Piece], bool], edge: str) -> float:
    """Length of one edge of all pieces wanted. [m]"""
    return 1e-3 * sum(piece.count * piece.edge(edge).length for piece in pieces if wanted(piece))


def _is_rib(piece: Piece) -> bool:
    return piece.kind == "rib"


def _is_loaded_rib(piece: Piece) -> bool:
    return piece.kind == "rib" and not piece.name.startswith("unloaded rib")


def _is_top(piece: Piece) -> bool:
    return piece.name.startswith("top panel")


def _is_bottom(piece: Piece) -> bool:
    return piece.name.startswith("bottom panel")


def _is_stabiliser(piece: Piece) -> bool:
    return piece.kind == "stabiliser"


def _is_patch(piece: Piece) -> bool:
    return piece.kind == "patch"


CLOTH_PARTS: tuple[tuple[str, Callable[[Piece], bool]], ...] = (
    ("upper skin", _is_top),
    ("lower skin", _is_bottom),
    ("ribs", _is_rib),
    ("stabilisers", _is_stabiliser),
    ("patches", _is_patch),
)
"""Parts of the mass budget that are cut from cloth, and their pieces."""


def part_masses(
    templates: Templates, line_sheet: LineSheet, tape: Sequence[Run], seams: Sequence[Run]
) -> dict[str, float]:
    """Mass of all that is cut, part by part, from the outlines of the pieces; without parts of none.

    Returns
    -------
    dict
        Part to mass. [kg]
    """
    design = templates.design
    sewing, areal_weight = design.sewing, design.canopy.cloth.areal_weight
    masses = {
        part: areal_weight * 1e-6 * sum(p.count * p.cut_area for p in templates.pieces if belongs(p))
        for part, belongs in CLOTH_PARTS
    }
    masses["tape"] = sewing.tape * sum(run.length for run in tape)
    masses["thread"] = sewing.thread * THREAD_PER_SEAM * sum(run.length for run in seams)
    masses["lines"] = line_sheet.linear_density * line_sheet.total_cut
    return {part: mass for part, mass in masses.items() if mass}
