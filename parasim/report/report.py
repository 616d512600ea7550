"""What every command gives back, written once: text in blocks, one document, files."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from html import escape
from textwrap import fill
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from parasim.caveats import CAUTION, about, said
from parasim.report.column import WIDTH, Grid, Table, html_table, printed
from parasim.units import System

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Result = TypeVar("Result")

IN_FLIGHT = frozenset({"payload", "canopy", "flight", "rigging", "lines", "brakes", "fins"})
"""Parts of a design that a flight under brakes rests on, for `Report.TOUCHED`."""

Block = str | Grid | Table[Any]
"""A paragraph, or a table. The first block of a report is its answer in a sentence."""


class Report(Generic[Result]):
    """An answer in words, data and files. A command writes one below this class.

    Parameters
    ----------
    result : Result
        The answer.
    """

    COMMAND: ClassVar[str]
    """Word of the command; its document is written as ``COMMAND.json``."""

    CAUTIONS: ClassVar[Sequence[str]] = (CAUTION,)
    """Said below every text."""

    TOUCHED: ClassVar[frozenset[str] | None] = None
    """Parts of a design that the answer rests on: caveats about others are left out. None: all."""

    def __init__(self, result: Result) -> None:
        self.result = result

    @property
    def name(self) -> str:
        """Of the design."""
        return str(self.result.vehicle.design.name)  # type: ignore[attr-defined]

    @property
    def caveats(self) -> Sequence[str]:
        """What is doubtful about the answer; the command line prints it as warnings."""
        return tuple(self.result.caveats)  # type: ignore[attr-defined]

    @property
    def cautions(self) -> Sequence[str]:
        """`CAUTIONS`, or those that this answer needs."""
        return self.CAUTIONS

    def touches(self, caveat: str) -> bool:
        """Whether a caveat bears on this answer."""
        part = about(caveat)
        return not part or self.TOUCHED is None or part in self.TOUCHED

    def failures(self, units: System) -> Sequence[str]:
        """What the design fails at, in short: limits not kept, no glide, height short. Part of line one."""
        return ()

    def blocks(self, units: System) -> Iterator[Block]:
        """Paragraphs and tables, the answer first."""
        raise NotImplementedError

    def document(self) -> dict[str, Any]:
        """Plain data; units in the names of the keys."""
        raise NotImplementedError

    def figures(self, units: System) -> Iterator[tuple[str, "Figure"]]:
        """File names and figures; none by default."""
        yield from ()

    def tables(self) -> Iterator[tuple[str, str]]:
        """File names and CSV texts; none by default."""
        yield from ()

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """File names and contents of all other kinds; none by default."""
        yield from ()

    def to_fill_in(self, units: System) -> Iterator[tuple[str, str]]:
        """Names and contents of files that a person fills in: one that was changed since is kept."""
        yield from ()

    def unwritten(self) -> Sequence[str]:
        """Sentences about files that one would look for and that cannot be; none by default."""
        return ()

    def csv_texts(self) -> dict[str, str]:
        """CSV texts by file name."""
        return dict(self.tables())

    def first_line(self, units: System) -> str:
        """The answer in a sentence, and what fails."""
        answer, failures = str(next(self.blocks(units))), self.failures(units)
        return wrapped(f"{answer}. NOT KEPT: {'; '.join(failures)}" if failures else answer)

    def text(self, units: System = "metric", *, every: bool = False) -> str:
        """All blocks and cautions; long tables in full if `every`."""
        _, *others = self.blocks(units)
        blocks = [
            wrapped(block) if isinstance(block, str) else _table(block.grid(units), every=every)
            for block in others
            if every or isinstance(block, str) or block.brief != 0
        ]
        return "\n\n".join([self.first_line(units), *blocks, *map(wrapped, self._cautions())])

    def html(self, units: System = "metric") -> str:
        """All blocks and cautions for a notebook."""
        _, *others = self.blocks(units)
        return "\n".join(
            _paragraph(block) if isinstance(block, str) else html_table(block.grid(units))
            for block in (self.first_line(units), *others, *self._cautions())
        )

    def said_caveats(self, units: System) -> list[str]:
        """Caveats that bear on the answer, in units."""
        return [said(caveat, units) for caveat in self.caveats if self.touches(caveat)]

    def _cautions(self) -> list[str]:
        return ["\n".join(f"caution: {caution}" for caution in self.cautions)] if self.cautions else []


def _paragraph(text: str) -> str:
    return "<p>" + escape(text).replace("\n", "<br>") + "</p>"


def _table(grid: Grid, *, every: bool) -> str:
    """Printed, what stands above and below wrapped."""
    return printed(replace(grid, title=wrapped(grid.title), note=wrapped(grid.note)), every=every)


BOX = "[ ] "
"""Before what is to be ticked; where such a line goes on, it stands below its words."""

TIED = "\0"
"""Stands for the space between a number and its unit, where no line may end."""


def wrapped(text: str, begin: str = "") -> str:
    """Lines of a paragraph wrapped, each with its own indent, a little more where it goes on.

    Examples
    --------
    >>> wrapped("  a line that is short")
    '  a line that is short'
    >>> wrapped(77 * "x" + " 10 m").splitlines()[-1]
    '10 m'
    >>> wrapped("[ ] " + 75 * "x" + " on").splitlines()[-1]
    '    on'
    """
    return "\n".join(_wrapped_line(line, begin if i == 0 else "") for i, line in enumerate(text.split("\n")))


def _wrapped_line(line: str, begin: str) -> str:
    if not line.strip():
        return ""
    indent = line[: len(line) - len(line.lstrip())]
    further = len(BOX) * " " if line.startswith(BOX) else indent + "  " if indent or begin else ""
    filled = fill(
        re.sub(r"(?<=\d) (?=\S)", TIED, line.strip()),
        WIDTH,
        initial_indent=indent + begin,
        subsequent_indent=further,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return filled.replace(TIED, " ")
