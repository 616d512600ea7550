"""Tables: a column is declared once, and printed, written to CSV and put into JSON from there."""

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from html import escape
from math import floor, isfinite, log10
from operator import itemgetter
from typing import Any, Generic, TypeVar, cast

import numpy as np

from parasim.units import System, in_degrees, show

Row = TypeVar("Row")
Part = TypeVar("Part")

Value = float | int | str | bool | None

IN_KEYS: dict[str, Callable[[float], float]] = {
    "angle": in_degrees,
    "angular_rate": in_degrees,
    "small_length": lambda length: 1e3 * length,
    "tape_length": lambda length: 1e3 * length,
    "small_mass": lambda mass: 1e3 * mass,
    "percent": lambda share: 100 * share,
}
"""Kinds of quantity whose unit in JSON keys and CSV heads is not SI: deg, deg/s, mm, g and per cent."""

CSV_DIGITS = 5
"""Decimals of a number in a CSV file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column(Generic[Row]):
    """One figure of a row.

    Parameters
    ----------
    name : str
        With its unit: JSON key and CSV head; empty where it is printed only.
    words : str
        Head of the printed column; empty where it is data only.
    kind : str
        Of quantity, a key of `parasim.units.UNITS`; empty for words, counts and what is shown as it is.
    read : callable
        From a row to the value: SI and radians, or a word. What is None or not finite counts as none.
    digits : int, optional
        Decimals printed, in place of the usual ones.
    missing : str
        Printed where there is no value.
    show : callable, optional
        How the value is printed, where no unit says so.
    """

    name: str
    words: str
    kind: str
    read: Callable[[Row], Value]
    digits: int | None = None
    missing: str = "-"
    show: Callable[[Any], str] | None = None

    def value(self, row: Row) -> Value:
        """For JSON and CSV, in the unit of the name."""
        found = self._read(row)
        if self.kind in IN_KEYS and isinstance(found, float | int):
            return IN_KEYS[self.kind](found)
        return found

    def cell(self, row: Row, system: System, *, part: float = 0.0) -> str:
        """For people, with its unit, in the digits that an error of such a part of it leaves."""
        found = self._read(row)
        if found is None:
            return self.missing
        if self.show is not None:
            return self.show(found)
        if isinstance(found, str) or not self.kind:
            return str(found)
        return show(found, self.kind, system, digits=self.digits, error=part * abs(found))

    def _read(self, row: Row) -> Value:
        found = self.read(row)
        return None if isinstance(found, float) and not isfinite(found) else found


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Cells as printed, for what has no columns of one kind.

    Parameters
    ----------
    rows : sequence of rows
        Texts.
    heads : sequence of str
        None for a plain list of names and values.
    title, note : str
        A line above, and what is said below.
    long : bool
        Whether only its first rows are printed unless all are asked for.
    brief : int or None
        How many are printed then, whether it is long or not; with none the table is left out.
    """

    rows: Sequence[Sequence[object]]
    heads: Sequence[str] = ()
    title: str = ""
    note: str = ""
    long: bool = False
    brief: int | None = None

    def grid(self, system: System) -> "Grid":
        """Itself; as `Table.grid`."""
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Table(Generic[Row]):
    """Rows of one kind under columns.

    Parameters
    ----------
    columns : tuple of Column
        From left to right.
    rows : sequence
        What the columns read.
    title, note, long, brief
        As for `Grid`.
    """

    columns: tuple[Column[Row], ...]
    rows: Sequence[Row]
    title: str = ""
    note: str = ""
    long: bool = False
    brief: int | None = None

    def grid(self, system: System) -> Grid:
        """As printed."""
        columns = [column for column in self.columns if column.words]
        return Grid(
            rows=[[column.cell(row, system) for column in columns] for row in self.rows],
            heads=[column.words for column in columns],
            title=self.title,
            note=self.note,
            long=self.long,
            brief=self.brief,
        )

    def document(self) -> list[dict[str, Value]]:
        """One dict a row."""
        return [row_document(self.columns, row) for row in self.rows]

    def csv(self, *, significant: int | None = None) -> str:
        """As a CSV text, empty where there is no value; rounded to decimals, or to significant digits."""
        columns = [column for column in self.columns if column.name]
        return csv_text(
            [column.name for column in columns],
            ([_rounded(column.value(row), significant) for column in columns] for row in self.rows),
        )


def picked(columns: Iterable[Column[Row]], *names: str) -> tuple[Column[Row], ...]:
    """Some of the columns, in the order of the names."""
    by_name = {column.name: column for column in columns}
    return tuple(by_name[name] for name in names)


def row_document(columns: Iterable[Column[Row]], row: Row) -> dict[str, Value]:
    """Values of one row by name."""
    return {column.name: column.value(row) for column in columns if column.name}


def csv_text(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as a CSV text; numpy's numbers as plain ones, None as nothing."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows([cell.item() if hasattr(cell, "item") else cell for cell in row] for row in rows)
    return text.getvalue()


def of_part(column: Column[Part], part: Callable[[Row], Part]) -> Column[Row]:
    """Column of rows that hold what it reads."""
    return replace(cast(Column[Any], column), read=lambda row: column.read(part(row)))


def of_pair(column: Column[Row]) -> Column[tuple[str, Row]]:
    """Column of rows that each have a name in front."""
    return of_part(column, itemgetter(1))


def of_array(name: str, kind: str, values: np.ndarray, *, words: str = "") -> Column[int]:
    """Column of an array, shape (n,), whose rows are the numbers from 0 to n - 1."""
    return Column(name=name, words=words, kind=kind, read=lambda row: values[row].item())


def text_last(rows: Iterable[Sequence[str]]) -> list[list[str]]:
    """Rows whose last cells begin one below the other."""
    listed = list(rows)
    longest = max(len(row[-1]) for row in listed)
    return [[*row[:-1], row[-1].ljust(longest)] for row in listed]


WIDTH = 79
"""Columns of paragraphs; tables may have up to 100."""

MOST_ROWS, SHOWN_ROWS = 40, 20
"""A long table of more rows than the first is cut after the second, unless all are asked for."""


def printed(grid: Grid, *, every: bool = False) -> str:
    """A table for people: first column to the left, the others to the right.

    Examples
    --------
    >>> print(printed(Grid(rows=[["sink", "3.10 m/s"], ["glide ratio", "2.5"]])))
    sink         3.10 m/s
    glide ratio       2.5
    """
    count = len(grid.rows)
    shown = SHOWN_ROWS if grid.long and count > MOST_ROWS else count
    shown = count if every else shown if grid.brief is None else grid.brief
    text = aligned(grid.rows[:shown], heads=grid.heads, title=grid.title)
    more, cut = f"... {count - shown} rows more: --all prints them, --out DIR writes them", shown < count
    return "\n".join([text, *([more] if cut else []), *([grid.note] if grid.note else [])])


def aligned(rows: Sequence[Sequence[object]], *, heads: Sequence[str] = (), title: str = "") -> str:
    """Lay out a table: first column to the left, the others to the right, under heads ruled off."""
    lines = [[str(cell) for cell in row] for row in rows]
    everything = [list(heads), *lines] if heads else lines
    count = max((len(line) for line in everything), default=0)
    widths = [max(len(line[i]) if i < len(line) else 0 for line in everything) for i in range(count)]
    texts = [_line(line, widths) for line in everything]
    if heads:
        texts.insert(1, "  ".join("-" * width for width in widths))
    return "\n".join([title, *texts] if title else texts)


def html_table(grid: Grid) -> str:
    """A table as HTML, all rows."""

    def cells(tag: str, row: Sequence[object]) -> str:
        return "<tr>" + "".join(f"<{tag}>{escape(str(cell))}</{tag}>" for cell in row) + "</tr>"

    caption = f"<caption>{escape(grid.title)}</caption>" if grid.title else ""
    heads = f"<thead>{cells('th', grid.heads)}</thead>" if grid.heads else ""
    body = "".join(cells("td", row) for row in grid.rows)
    note = f"<p>{escape(grid.note)}</p>" if grid.note else ""
    return f"<table>{caption}{heads}<tbody>{body}</tbody></table>{note}"


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    first, *others = [
        cell.ljust(width) if i == 0 else cell.rjust(width)
        for i, (cell, width) in enumerate(zip(cells, widths, strict=False))
    ] or [""]
    return "  ".join([first, *others]).rstrip()


def _rounded(value: Any, significant: int | None) -> Any:
    if not isinstance(value, float) or not isfinite(value):
        return value
    if significant is not None:
        return float(f"{value:.{significant}g}")
    # As many digits behind the first one of a number below one: an area of 7 cm² is not 0.0007 m².
    return round(value, CSV_DIGITS + max(0, -floor(log10(abs(value))) if value else 0))
