"""The manual as an answer: a page to read, or all of it as files."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from parasim.answer import Answer
from parasim.manual import SCHEMA, contents, page
from parasim.manual.html import manual_html
from parasim.report.report import Block, Report
from parasim.units import System


@dataclass(frozen=True, kw_only=True, repr=False)
class Manual(Answer):
    """Answer to `parasim manual`.

    Attributes
    ----------
    topic, part : str
        What was asked for; empty for the list of topics, and for a whole page.
    content : str
        Markdown, or JSON for the schema.
    """

    REPORT = "parasim.manual.manual:ManualReport"

    topic: str
    part: str
    content: str


class ManualReport(Report[Manual]):
    """A page of the manual."""

    COMMAND = "manual"
    CAUTIONS = ()

    @property
    def name(self) -> str:
        """Of the program: there is one manual."""
        return "parasim"

    @property
    def caveats(self) -> Sequence[str]:
        """None."""
        return ()

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`: the page as it stands."""
        yield self.result.content

    def first_line(self, units: System) -> str:
        """Its heading."""
        return self.result.content.partition("\n")[0]

    def text(self, units: System = "metric", *, every: bool = False) -> str:
        """As it stands: tables and examples are laid out already."""
        return self.result.content

    def document(self) -> dict[str, Any]:
        """`topic`, `part` and the `text` of the page."""
        return {"topic": self.result.topic, "part": self.result.part, "text": self.result.content}

    def others(self, units: System) -> Iterator[tuple[str, str | bytes]]:
        """As `Report.others`: the whole manual, and the schema."""
        yield "manual.html", manual_html()
        yield "design.schema.json", page(SCHEMA)


def manual(topic: str = "", part: str = "") -> Manual:
    """A page of the manual; the list of topics without one.

    Raises
    ------
    OptionError
        If there is no such topic or part.
    """
    content = (page(topic, part) if topic else contents()).rstrip()
    return Manual(topic=topic, part=part, content=content)
