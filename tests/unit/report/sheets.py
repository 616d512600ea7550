"""What every report keeps to, asked of each by its own tests."""

from __future__ import annotations

import csv
from html.parser import HTMLParser
from typing import Any

from parasim.answer import Answer
from parasim.units import System


class Tags(HTMLParser):
    """Tags that are open, and texts of cells."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.seen.append(tag)
        if tag != "br":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def check_answer(answer: Answer, systems: tuple[System, ...] = ("metric", "imperial")) -> None:
    """First line is a sentence of the design; cautions are in text and document; HTML is well formed."""
    report, document = answer.report, answer.to_dict()
    for units in systems:
        text = answer.text(units)
        assert text.startswith(f"{report.name}: ")
        assert text.startswith(report.first_line(units))
        assert all(f"caution: {caution}" in " ".join(text.split()) for caution in report.CAUTIONS)
        assert all(failure in " ".join(text.split()) for failure in report.failures(units))
    assert report.CAUTIONS
    assert document.get("cautions", list(report.CAUTIONS)) == list(report.CAUTIONS)
    assert document["name"] == report.name
    assert document["caveats"] == list(report.caveats)
    assert repr(answer) == f"<{type(answer).__name__} of {report.name}>"
    page = Tags()
    page.feed(answer._repr_html_())
    page.close()
    assert page.open == []
    assert "table" in page.seen


def rows_of(text: str) -> list[dict[str, str]]:
    """A CSV text read by Python's own reader."""
    return list(csv.DictReader(text.splitlines()))


def check_rows(
    rows: list[dict[str, str]], documents: list[dict[str, Any]], but: tuple[str, ...] = ()
) -> None:
    """A CSV file and the rows of a document say the same under the same names, to five digits."""
    assert len(rows) == len(documents) > 0
    for row, document in zip(rows, documents, strict=True):
        assert list(row) == list(document)
        for name, value in document.items():
            if name in but:
                continue
            if isinstance(value, float):
                assert abs(float(row[name]) - value) <= max(1e-4 * abs(value), 1e-12), name
            else:
                assert row[name] == ("" if value is None else str(value)), name
