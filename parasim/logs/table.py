"""CSV logs whose heads carry units, or whose heads a column map names."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from parasim.config.log_columns import EXAMPLE, QUANTITIES, QUANTITY_OF, SIZE_OF, TIME_TEXT, ColumnMap
from parasim.config.table import number_in, read_table, refused
from parasim.errors import DesignError, Mistake
from parasim.logs.fixes import Fixes
from parasim.logs.read import LARGEST_LOG
from parasim.rotations import FloatArray

EPOCH = 1e8
"""Plain times beyond it count from 1970. [s]"""

BLANK = {"", "nan", "null", "none", "na", "n/a", "-"}
"""Cells without a value."""


def read_csv(path: Path, columns: ColumnMap) -> Fixes:
    """Read a table of a flight.

    Parameters
    ----------
    path : Path
        Its first line names the columns; other ones are left alone, blank cells have no value.
    columns : ColumnMap
        The file's own heads, where they are not ours.

    Raises
    ------
    DesignError
        With one line for each mistake.
    """
    heads, rows = read_table(path, EXAMPLE, largest=LARGEST_LOG, separator=columns.separator)
    chosen = _chosen(path, heads, columns)
    counts = {}
    if rows and _cut_short(rows[-1][1], chosen):
        rows = rows[:-1]
        counts["rows cut short at the end"] = 1
    if not rows:
        raise refused(path, "no rows in it", f"give a table with {EXAMPLE}")
    cells = {name: [row[head] for _, row in rows] for name, (_, head) in chosen.items()}
    lines = [line for line, _ in rows]
    found: dict[str, FloatArray] = {}
    mistakes: list[Mistake] = []
    for name, (own, head) in chosen.items():
        values, wrong = _values(cells[name], own, columns.decimal)
        found[name] = values
        mistakes += [
            Mistake(
                file=path.name, line=lines[i], key=head, given=f'"{cells[name][i][:40]}"',
                problem="not a time" if own == TIME_TEXT else "not a number",
                hint="correct it or leave it blank",
            )
            for i in wrong
        ]  # fmt: skip
    if mistakes:
        raise DesignError(*sorted(mistakes, key=lambda mistake: mistake.line or 0))
    time = found.pop("time")
    dated = chosen["time"][0] == TIME_TEXT or float(np.nanmedian(np.append(time, 0.0))) > EPOCH
    return Fixes(kind="CSV", time=time, columns=found, dated=dated, timed=dated, counts=counts)


def _chosen(path: Path, heads: list[str], columns: ColumnMap) -> dict[str, tuple[str, str]]:
    """For each quantity our head, which gives the unit, and the file's own."""
    own = dict(columns.heads) or {head: head for head in heads if head in QUANTITY_OF}
    missing = [f'"{head[:40]}"' for head in own.values() if head not in heads]
    if missing:
        shown = ", ".join(heads)[:80]
        raise refused(path, f"lacks the column {', '.join(missing)}", f"its heads are {shown}")
    found: dict[str, tuple[str, str]] = {}
    for ours, theirs in own.items():
        name = QUANTITY_OF[ours]
        if name in found:
            raise refused(path, f"columns with one meaning: {found[name][1]}, {theirs}", "keep one of them")
        found[name] = (ours, theirs)
    if "time" not in found:
        hint = "separate columns by commas, or give --columns" if ";" in "".join(heads) else ""
        hint = hint or f"name one column {' or '.join(QUANTITIES['time'])}, or give --columns"
        raise refused(path, "its first line lacks a time", hint)
    return found


def _cut_short(row: dict[str, str], chosen: dict[str, tuple[str, str]]) -> bool:
    """Whether a row ends before its last column, as where the power went."""
    texts = list(row.values())
    return len(texts) > 1 and any(not row[head] for _, head in chosen.values()) and not texts[-1]


def _values(texts: list[str], head: str, decimal: str) -> tuple[FloatArray, list[int]]:
    """Values in SI, and the numbers of the rows that hold none and are not blank."""
    if decimal != "." and head != TIME_TEXT:
        texts = [text.replace(decimal, ".") for text in texts]
    try:
        if head != TIME_TEXT and not any("_" in text for text in texts):
            found = np.array([text or "nan" for text in texts], dtype=np.float64) * SIZE_OF[head]
            if not np.isinf(found).any():
                return found, []
    except ValueError:
        pass
    found, wrong = np.full(len(texts), np.nan), []
    for i, text in enumerate(texts):
        if text.lower() in BLANK:
            continue
        try:
            found[i] = _seconds(text) if head == TIME_TEXT else number_in(text) * SIZE_OF[head]
        except (ValueError, OverflowError):
            wrong.append(i)
    return np.where(np.isfinite(found), found, np.nan), wrong


def _seconds(text: str) -> float:
    """Seconds of 1970 of a time such as 2026-05-03T14:05:52Z."""
    moment = datetime.fromisoformat(text)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
