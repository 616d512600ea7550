"""What all answers have in common: each says itself in words, as data and as pictures.

What an answer says is written in `parasim.report`, above the physics; an answer finds its report by name when
it is asked, so that nothing below the reports depends on them.
"""

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, ClassVar

from parasim.units import System

if TYPE_CHECKING:
    from parasim.report.report import Report


class Answer:
    """Result of a question about a design.

    Attributes
    ----------
    REPORT : str
        Its report, as module and class.

    Examples
    --------
    >>> from parasim import assemble, glide, load_design
    >>> answer = glide(assemble(load_design("configs/heron.yaml")))
    >>> answer
    <Glide of heron>
    >>> answer.text().partition(":")[0]
    'heron glides 4.0 to 1 (3.8 to 4.2) with the brakes released'
    """

    __slots__ = ()

    REPORT: ClassVar[str] = ""

    @property
    def report(self) -> "Report[Any]":
        """The answer as text, data, tables and files."""
        module, _, name = self.REPORT.partition(":")
        made: Report[Any] = getattr(import_module(module), name)(self)
        return made

    def text(self, units: System = "metric") -> str:
        """As the command line prints it."""
        return self.report.text(units)

    def to_dict(self) -> dict[str, Any]:
        """As ``--json`` prints it; units in the names of the keys."""
        return self.report.document()

    def to_csv(self) -> Mapping[str, str]:
        """Its series as CSV texts, by the names that ``--out`` gives them."""
        return self.report.csv_texts()

    def figures(self, units: System = "metric") -> Mapping[str, Any]:
        """Its matplotlib figures, by the names that ``--out`` gives them."""
        return dict(self.report.figures(units))

    def __repr__(self) -> str:
        """What it is, and of which design."""
        return f"<{type(self).__name__} of {self.report.name}>"

    def _repr_html_(self) -> str:
        """Text and tables for a notebook."""
        return self.report.html()
