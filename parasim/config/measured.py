"""Lines as measured: a table that a maker fills in after a season, as far as there was time to measure.

A row holds a line by its label, or a whole way from the riser end to a tab by the label of the line at the
tab and `TO_RISER`. What is blank, or not in the table, is as designed.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path

from parasim.config.quantity import LENGTH, InvalidValue, read_quantity
from parasim.config.table import read_table, refused
from parasim.errors import DesignError, Mistake
from parasim.units import System, show

LABELS = ("line", "label")
"""Heads of the column of labels; the first that is there counts."""

LENGTHS = {"measured_mm": "mm", "measured_in": "in", "length_mm": "mm", "length_in": "in"}
"""Heads of the column of lengths, and the unit of a plain number in it; a unit in the cell goes before."""

HEADS = "line,measured_mm"
"""Shortest table, for messages."""

TO_RISER = " to riser"
"""Behind the label of a line at a tab: all from there down to the riser end."""

MOST_CHANGE = 0.20
"""Change of a line beyond which a length counts as a slip of the pen. Our choice, no source. [-]"""

AGREE = 0.003
"""Up to which a whole way and its measured pieces may differ: a tying error. Our choice, no source. [m]"""

_BARE = re.compile(r"[-+\d\s./eE]+")
_MARKS = str.maketrans({"\u2033": '"', "\u201d": '"', "\u2032": "'", "\u2019": "'"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What was measured.

    Attributes
    ----------
    given : dict of str to float
        As written: label of a line or of a whole way to its length; empty where nothing was filled in. [m]
    lengths : dict of str to float
        Label of every line that is known by that to its length. [m]
    """

    given: dict[str, float]
    lengths: dict[str, float]


def read_measured(
    path: str | Path, designed: Mapping[str, float], ways: Mapping[str, Sequence[str]]
) -> Measured:
    """Read measured line lengths.

    Parameters
    ----------
    path : str or Path
        CSV file with one head of `LABELS` and one of `LENGTHS`; other columns are left alone.
    designed : mapping
        Label to the length on the line sheet, for every line. [m]
    ways : mapping
        Label of the line at a tab to the lines from the riser end up to it, itself the last.

    Raises
    ------
    DesignError
        With one line for each mistake: an unknown line, one listed twice, a length that cannot be, a whole
        way that contradicts its pieces.
    """
    path = Path(path)
    heads, rows = read_table(path, HEADS)
    label_head = next((head for head in LABELS if head in heads), None)
    length_head = next((head for head in LENGTHS if head in heads), None)
    if label_head is None or length_head is None:
        raise refused(path, "its first line lacks the heads", f"begin it with {HEADS} or line,measured_in")
    if not rows:
        raise refused(path, "no lines in it", "give one row for each line measured")
    whole = {label + TO_RISER: sum(designed[piece] for piece in way) for label, way in ways.items()}
    reader = _Reader(expected={**designed, **whole}, unit=LENGTHS[length_head], head=length_head)
    for number, row in rows:
        reader.take(row[label_head], row[length_head], path, number)
    if reader.mistakes:
        raise DesignError(*reader.mistakes)
    spread = _Spread(designed=designed, ways=ways, given=reader.lengths)
    contradictions = [replace(mistake, file=path.name) for mistake in spread.contradictions()]
    if contradictions:
        raise DesignError(*contradictions)
    return Measured(given=reader.lengths, lengths=spread.lengths)


class _Reader:
    """Rows of the table, one by one."""

    def __init__(self, *, expected: Mapping[str, float], unit: str, head: str) -> None:
        self.expected, self.unit, self.head = expected, unit, head
        self.lengths: dict[str, float] = {}
        self.mistakes: list[Mistake] = []
        self._seen: set[str] = set()

    def take(self, label: str, text: str, path: Path, number: int) -> None:
        """Keep the length of a row, or what is wrong with it; a blank one says nothing."""
        if not label and not text:
            return
        try:
            self._take(label, text)
        except InvalidValue as invalid:
            self.mistakes.append(
                Mistake(
                    file=path.name,
                    line=number,
                    key=invalid.key,
                    given=invalid.given or "",
                    problem=invalid.problem,
                    hint=invalid.hint,
                )
            )
        self._seen.add(label)

    def _take(self, label: str, text: str) -> None:
        if label not in self.expected:
            raise InvalidValue(
                "no such line",
                f"use the labels of the line sheet ({self._near(label)})",
                key="line",
                given=f'"{label[:40]}"',
            )
        if label in self._seen:
            raise InvalidValue("listed twice", "keep one row for each line", key="line", given=f'"{label}"')
        if text:
            self.lengths[label] = self._length(label, text)

    def _near(self, label: str) -> str:
        """Labels that are written much alike, or one for an example."""
        labels = {each.lower(): each for each in self.expected}
        close = get_close_matches(label.lower(), labels, n=3)
        if not close:
            return f"such as {next(iter(self.expected))}"
        return f"nearest: {', '.join(labels[each] for each in close)}"

    def _length(self, label: str, text: str) -> float:
        key, expected = f"{self.head} of {label}", self.expected[label]
        system: System = "imperial" if self.unit == "in" else "metric"
        near = show(expected, "tape_length", system)
        try:
            length = read_quantity(self._with_unit(text), LENGTH)
        except InvalidValue:
            raise InvalidValue(
                "not a length",
                f'use one near {near}, such as "{near}", "19 5/8 in" or "3 ft 8 in"',
                key=key,
                given=f'"{text[:40]}"',
            ) from None
        if abs(length - expected) > MOST_CHANGE * expected:
            hint = "measure it again, from loop end to loop end, without the tab; "
            hint += "a number without unit is in "
            hint += {"mm": "millimetres", "in": "inches"}[self.unit]
            raise InvalidValue(f"no line changes so far from {near}", hint, key=key, given=text[:40])
        return length

    def _with_unit(self, text: str) -> str:
        text = text.translate(_MARKS)
        return f"{text} {self.unit}" if _BARE.fullmatch(text) else text


class _Spread:
    """Lengths of single lines from what is given of lines and of whole ways.

    What a whole way leaves over goes to its piece nearest to the tab that was not measured; ways with fewest
    such pieces come first, for they leave no choice.
    """

    def __init__(
        self, *, designed: Mapping[str, float], ways: Mapping[str, Sequence[str]], given: Mapping[str, float]
    ) -> None:
        self._given, self._ways = given, ways
        self.lengths = {label: length for label, length in given.items() if label in designed}
        settled = dict(self.lengths)
        waiting = [label for label in ways if label + TO_RISER in given]
        while waiting:
            label = min(waiting, key=lambda label: len(self._open(label, settled)))
            waiting.remove(label)
            open_pieces = self._open(label, settled)
            if open_pieces:
                piece = open_pieces[-1]
                settled |= {other: designed[other] for other in open_pieces if other != piece}
                others = sum(settled[other] for other in ways[label] if other != piece)
                settled[piece] = self.lengths[piece] = given[label + TO_RISER] - others
        self._settled = settled

    def _open(self, label: str, settled: Mapping[str, float]) -> list[str]:
        return [piece for piece in self._ways[label] if piece not in settled]

    def contradictions(self) -> list[Mistake]:
        """Whole ways that differ from the sum of their pieces by more than tying does."""
        found = []
        for label, way in self._ways.items():
            total = self._given.get(label + TO_RISER)
            if total is None:
                continue
            pieces = sum(self._settled[piece] for piece in way)
            if abs(total - pieces) > AGREE:
                both = [
                    f"{show(size, 'tape_length')} ({show(size, 'tape_length', 'imperial')})"
                    for size in (total, pieces)
                ]
                found.append(
                    Mistake(
                        key=label + TO_RISER,
                        given=both[0],
                        problem=f"its pieces {', '.join(way)} add to {both[1]} by the file",
                        hint="measure them again, or leave one of them blank",
                    )
                )
        return found
