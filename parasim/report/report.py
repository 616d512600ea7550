"""What every command gives back, written once: text in blocks, one document, files."""

from collections.abc import Iterator, Sequence
from html import escape
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from parasim.report.column import Grid, Table, html_table, printed
from parasim.units import System

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Result = TypeVar("Result")

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

    CAUTIONS: ClassVar[Sequence[str]] = ()
    """Said below every text, and in the document."""

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
        """`CAUTIONS`, or those that this answer wants."""
        return self.CAUTIONS

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

    def unwritten(self) -> Sequence[str]:
        """Sentences about files that one would look for and that cannot be; none by default."""
        return ()

    def csv_texts(self) -> dict[str, str]:
        """CSV texts by file name."""
        return dict(self.tables())

    def first_line(self, units: System) -> str:
        """The answer in a sentence."""
        return str(next(self.blocks(units)))

    def text(self, units: System = "metric", *, every: bool = False) -> str:
        """All blocks and cautions; long tables in full if `every`."""
        blocks = [
            block if isinstance(block, str) else printed(block.grid(units), every=every)
            for block in self.blocks(units)
        ]
        return "\n\n".join([*blocks, *self._cautions()])

    def html(self, units: System = "metric") -> str:
        """All blocks and cautions for a notebook."""
        return "\n".join(
            f"<p>{escape(block)}</p>" if isinstance(block, str) else html_table(block.grid(units))
            for block in (*self.blocks(units), *self._cautions())
        )

    def _cautions(self) -> list[str]:
        return ["\n".join(f"caution: {caution}" for caution in self.cautions)] if self.cautions else []
