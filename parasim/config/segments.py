"""Segments of a logged flight as a person corrects them, and brakes as a person gives them."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from parasim.config.base import Quantity, percent_between, time_between
from parasim.config.document import Document, read_document
from parasim.config.loader import read_text
from parasim.config.quantity import InvalidValue
from parasim.errors import DesignError, Mistake, OptionError, plain

Kind = Literal["carried", "opening", "straight", "circles", "turn", "flare"]

KINDS: tuple[Kind, ...] = ("carried", "opening", "straight", "circles", "turn", "flare")
"""Stretches of a flight."""

TIME = time_between(0.0, 1e6)
BRAKE = percent_between(0.0, 100.0)

_BRAKES = re.compile(
    r"(?P<at>[^:]{1,30}):(?:\s*L\s+(?P<left>\S{1,20}(?: ?%)?))?(?:\s*R\s+(?P<right>\S{1,20}(?: ?%)?))?\s*"
)
_HOW = 'write "0s: L 0 R 0; 20s: R 50%": time after release, left and right part of the travel'


@dataclass(frozen=True, slots=True, kw_only=True)
class PulledBrakes:
    """Brakes from a moment on.

    Attributes
    ----------
    at : float
        After release. [s]
    left, right : float
        Parts of full travel. [-]
    """

    at: float
    left: float
    right: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenSegment:
    """A segment as a person wrote it.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    start, end : float
        After the log's first fix. [s]
    left, right : float or None
        Brakes, parts of full travel; None where they were left out.
    """

    kind: Kind
    start: float
    end: float
    left: float | None
    right: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenCourse:
    """What happened in one log, by a person.

    Attributes
    ----------
    log : str
        Name of the file.
    release, touchdown : float
        After the log's first fix. [s]
    segments : tuple of GivenSegment
        In order of time.
    file : str
        Where it is written, for messages.
    """

    log: str
    release: float
    touchdown: float
    segments: tuple[GivenSegment, ...]
    file: str = ""


def read_brakes(text: str) -> tuple[PulledBrakes, ...]:
    """Read brakes such as ``0s: L 0 R 0; 20s: R 50%``; a side that is left out stays as it was.

    Raises
    ------
    OptionError
        Naming what is wrong.

    Examples
    --------
    >>> [(pull.at, pull.left, pull.right) for pull in read_brakes("0s: L 0 R 0; 20s: R 50%")]
    [(0.0, 0.0, 0.0), (20.0, 0.0, 0.5)]
    """
    found: list[PulledBrakes] = []
    left = right = 0.0
    for part in text.split(";"):
        match = _BRAKES.fullmatch(part.strip())
        if match is None or not (match["left"] or match["right"]):
            raise OptionError(f'--brakes: given "{plain(part.strip())[:60]}", not brakes at a time; {_HOW}')
        try:
            at = TIME.read(match["at"].strip())
            left = BRAKE.read(match["left"]) if match["left"] else left
            right = BRAKE.read(match["right"]) if match["right"] else right
        except InvalidValue as invalid:
            raise OptionError(f'--brakes: given "{plain(part.strip())[:60]}", {invalid}') from None
        if found and at <= found[-1].at:
            raise OptionError(f'--brakes: given "{plain(text)[:60]}", times that do not rise; {_HOW}')
        found.append(PulledBrakes(at=at, left=left, right=right))
    return tuple(found)


def read_segments(path: str | Path) -> tuple[GivenCourse, ...]:
    """Read a file of segments, as ``--out`` writes it and a person corrects it.

    Raises
    ------
    DesignError
        With one line for each mistake.
    """
    path = Path(path)
    document = read_document(read_text(path), path.name)
    reader = _Reader(document)
    courses = reader.courses()
    if reader.mistakes:
        raise DesignError(*sorted(reader.mistakes, key=lambda mistake: mistake.line or 0))
    return courses


class _Reader:
    """Reads the document and gathers its mistakes."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.mistakes: list[Mistake] = []

    def courses(self) -> tuple[GivenCourse, ...]:
        data = self._mapping((), {"segments"}, {"segments"})
        logs = data.get("segments")
        if not isinstance(logs, list) or not logs:
            self._wrong(("segments",), "not a list of logs", "write one as --out DIR does")
            return ()
        found = [self._course(("segments", i)) for i in range(len(logs))]
        return tuple(course for course in found if course)

    def _course(self, place: tuple[Any, ...]) -> GivenCourse | None:
        keys = {"log", "release", "touchdown", "stretches"}
        data = self._mapping(place, keys, keys)
        listed = data.get("stretches")
        if not isinstance(listed, list):
            self._wrong((*place, "stretches"), "not a list", "give a list of stretches")
            listed = []
        release, touchdown = (self._time((*place, key)) for key in ("release", "touchdown"))
        segments = [self._segment((*place, "stretches", i)) for i in range(len(listed))]
        if release is not None and touchdown is not None and touchdown <= release:
            self._wrong((*place, "touchdown"), "not after the release", "let it be later")
        if self.mistakes or release is None or touchdown is None:
            return None
        whole = [segment for segment in segments if segment]
        return GivenCourse(
            log=str(data["log"]), release=release, touchdown=touchdown,
            segments=tuple(sorted(whole, key=lambda segment: segment.start)), file=self.document.name,
        )  # fmt: skip

    def _segment(self, place: tuple[Any, ...]) -> GivenSegment | None:
        data = self._mapping(place, {"kind", "from", "to"}, {"kind", "from", "to", "left", "right"})
        if not data:
            return None
        kind = data.get("kind")
        if kind not in KINDS:
            self._wrong((*place, "kind"), "not a kind of stretch", f"use {', '.join(KINDS)}")
        start, end = self._time((*place, "from")), self._time((*place, "to"))
        sides = [self._read((*place, side), BRAKE) if side in data else None for side in ("left", "right")]
        if start is None or end is None or kind not in KINDS:
            return None
        if end <= start:
            self._wrong((*place, "to"), "not after from", "let it be later")
        return GivenSegment(kind=kind, start=start, end=end, left=sides[0], right=sides[1])

    def _time(self, place: tuple[Any, ...]) -> float | None:
        return self._read(place, TIME) if self.document.at(place) is not None else None

    def _read(self, place: tuple[Any, ...], mark: Quantity) -> float | None:
        try:
            return mark.read(self.document.at(place))
        except InvalidValue as invalid:
            self._wrong(place, invalid.problem, invalid.hint)
            return None

    def _mapping(self, place: tuple[Any, ...], needed: set[str], known: set[str]) -> dict[str, Any]:
        data = self.document.at(place) if place else self.document.data
        if not isinstance(data, dict):
            self._wrong(place, "not a mapping", f"give the keys {', '.join(sorted(known))}")
            return {}
        for key in data.keys() - known:
            self._wrong((*place, key), "unknown key", f"use {', '.join(sorted(known))}", given=False)
        for key in sorted(key for key in needed if data.get(key) is None):
            self._wrong((*place, key), "missing", "add it", given=False)
        return data

    def _wrong(self, place: tuple[Any, ...], problem: str, hint: str, *, given: bool = True) -> None:
        value = self.document.at(place)
        shown = f'"{str(value)[:40]}"' if given and value is not None else ""
        mistake = Mistake(
            key=".".join(str(part)[:40] for part in place), given=shown, problem=problem, hint=hint,
            file=self.document.name, line=self.document.line(place),
        )  # fmt: skip
        if mistake not in self.mistakes:
            self.mistakes.append(mistake)


def of_log(courses: Sequence[GivenCourse], name: str) -> GivenCourse:
    """The course of a log.

    Raises
    ------
    DesignError
        If the file has none.
    """
    found = next((course for course in courses if course.log == name), None)
    if found is None:
        named = ", ".join(course.log for course in courses)
        raise DesignError(
            Mistake(
                file=courses[0].file, key="segments", problem=f"nothing for {name}", hint=f"it has {named}"
            )
        )
    return found
