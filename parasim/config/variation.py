"""Read what a person needs varied: ``canopy.span=0.9..1.4 m`` or ``canopy.cells=5,7,9``."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import floor, log10

import numpy as np

from parasim.config.base import Quantity, WholeNumber
from parasim.config.keys import keys_below, look_up, near_keys
from parasim.config.quantity import (
    AREA,
    AREAL_WEIGHT,
    ENERGY,
    FORCE,
    LENGTH,
    LINEAR_DENSITY,
    MASS,
    NUMBER,
    PERMEABILITY,
    PRESSURE,
    RATIO,
    SPEED,
    TEMPERATURE_STEP,
    TORQUE,
    InvalidValue,
    Kind,
)
from parasim.config.variant import DesignFile, Written
from parasim.errors import DesignError, OptionError, plain

MOST_POINTS = 101
"""Values of one key."""

STEPS = 400
"""A search takes values no finer than a decimal step of about the range over this. [-]"""

POSE = ("lines.length", "lines.rigging_angle")
"""Keys that `lines.row_lengths` overrides."""

IMPERIAL_KINDS = {
    AREA: "area", AREAL_WEIGHT: "areal_weight", ENERGY: "energy", FORCE: "force",
    LINEAR_DENSITY: "linear_density", MASS: "mass", PERMEABILITY: "permeability", PRESSURE: "pressure",
    SPEED: "speed", TEMPERATURE_STEP: "temperature_difference", TORQUE: "moment",
}  # fmt: skip
"""Kind of a key to that of `parasim.units.UNITS`; lengths are by their size, all others as written."""

HEIGHT = 3.0
"""From there on a length that was varied is in feet, below it in inches. [m] Our choice."""

_SHOWN = 60
_USE = 'use KEY=LOW..HIGH UNIT or KEY=A,B,C UNIT, such as "canopy.span=0.9..1.4 m"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """One key and its values.

    Attributes
    ----------
    key : str
        Dotted.
    unit : str
        As it was written; empty for plain numbers and words.
    numbers : tuple of float
        Rising, in that unit; positions from zero for words.
    written : tuple
        The same as they would stand in the file.
    kind : Kind
        Of the quantity; a ratio for counts and words.
    factor : float
        One of the unit. [SI]
    shown : str
        Unit in which the design file gives the key's limits: a ratio may be shown in per cent.
    whole, words, is_range : bool
        Whether they are counts, words, the ends of a range.
    """

    key: str
    unit: str
    numbers: tuple[float, ...]
    written: tuple[Written, ...]
    kind: Kind
    factor: float
    shown: str
    whole: bool
    words: bool
    is_range: bool

    @property
    def low(self) -> float:
        """Minimum value, in the unit."""
        return self.numbers[0]

    @property
    def high(self) -> float:
        """Largest value, in the unit."""
        return self.numbers[-1]

    @property
    def step(self) -> float:
        """Decimal step that a search takes, in the unit."""
        return 1.0 if self.whole else float(10.0 ** floor(log10((self.high - self.low) / STEPS)))

    def rounded(self, number: float) -> float:
        """Nearest value a search takes, within the range; in the unit."""
        nearest = float(f"{round(number / self.step) * self.step:.10g}")
        return min(max(nearest, self.low), self.high)

    def write(self, number: float) -> Written:
        """A value in the unit as it would stand in the file."""
        if self.words:
            return self.written[round(number)]
        return _write(number, self.unit, self.whole)

    def text(self, number: float) -> str:
        """The same for people."""
        return str(self.write(float(f"{number:.5g}")))

    def imperial_kind(self, largest: float) -> str | None:
        """Kind of quantity by which imperial units show values up to one [SI]; None if as written."""
        if self.words:
            return None
        if self.kind is LENGTH:
            return "length" if largest >= HEIGHT else "small_length"
        return IMPERIAL_KINDS.get(self.kind)

    def own(self, file: DesignFile) -> float | None:
        """The file's own value, in the unit; None where the key is left out or is no such value."""
        given = file.at(self.key)
        if self.words:
            return float(self.written.index(given)) if given in self.written else None
        _, mark, _ = look_up(self.key)
        try:
            if isinstance(mark, Quantity):
                return mark.read(given) / self.factor if given is not None else None
        except InvalidValue:
            return None
        return float(given) if isinstance(given, int | float) else None


def read_variation(text: str, file: DesignFile, points: int) -> Variation:
    """Read one ``--vary``.

    Parameters
    ----------
    text : str
        ``KEY=LOW..HIGH UNIT`` or ``KEY=A,B,C UNIT``; a unit behind belongs to all, words have none.
    file : DesignFile
        What is varied.
    points : int
        Values in a range.

    Raises
    ------
    OptionError
        When it is no such thing, when there is no such key or it does not take such values.
    """
    key, mark, values = (part.strip() for part in text.partition("="))
    if not mark or not values:
        raise _refused(text, "not a key and its values", _USE)
    known, takes, choices = look_up(key)
    if not known:
        near = near_keys(key)
        raise _refused(key, "no such key", f"did you mean {' or '.join(near)}?" if near else _USE)
    if takes is None and not choices:
        below = keys_below(key)
        raise _refused(
            key, "not a single value", f"vary {below}" if below else "vary a key that holds a number"
        )
    _check_entry(key, file)
    if isinstance(file.at(key), Mapping):  # {value: ..., low: ..., high: ...}
        key += ".value"
    _check_pose(key, file)
    if choices:
        return _of_words(key, values, choices)
    assert takes is not None
    return _of_numbers(key, values, takes, points)


def _of_words(key: str, values: str, choices: Sequence[str]) -> Variation:
    words = [word.strip() for word in values.split(",")]
    for word in words:
        if word not in choices:
            raise _refused(f"{key}={word}", "not a choice here", f"use {', '.join(choices)}")
    _check_count(key, values, len(words), len(set(words)))
    written: list[Written] = [{"true": True, "false": False}.get(word, word) for word in words]
    return Variation(
        key=key,
        unit="",
        numbers=tuple(float(i) for i in range(len(words))),
        written=tuple(written),
        kind=RATIO,
        factor=1.0,
        shown="",
        whole=False,
        words=True,
        is_range=False,
    )


def _of_numbers(key: str, values: str, mark: Quantity | WholeNumber, points: int) -> Variation:
    is_range = ".." in values
    parts = [part.strip() for part in values.split(".." if is_range else ",")]
    found = [NUMBER.match(part) for part in parts]
    if not all(found) or (is_range and len(parts) != 2):
        raise _refused(f"{key}={values}", "not numbers", _USE)
    units = [part[match.end() :].strip() for part, match in zip(parts, found, strict=True) if match]
    unit = units[-1]
    if any(each not in ("", unit) for each in units):
        raise _refused(f"{key}={values}", "more than one unit", "write one unit, behind the last value")
    numbers = [float(match.group()) for match in found if match]
    whole = isinstance(mark, WholeNumber)
    factor = _check_values(key, numbers, unit, mark)
    if is_range:
        if numbers[0] >= numbers[1]:
            raise _refused(f"{key}={values}", "the range does not rise", _USE)
        numbers = np.linspace(numbers[0], numbers[1], points).tolist()
    if whole:
        numbers = [float(round(number)) for number in numbers]
    numbers = sorted({float(f"{number:.10g}") for number in numbers})
    _check_count(key, values, len(numbers), len(numbers))
    return Variation(
        key=key,
        unit=unit,
        numbers=tuple(numbers),
        written=tuple(_write(number, unit, whole) for number in numbers),
        kind=mark.kind if isinstance(mark, Quantity) else RATIO,
        factor=factor,
        shown=mark.shown if isinstance(mark, Quantity) else "",
        whole=whole,
        words=False,
        is_range=is_range,
    )


def _check_values(key: str, numbers: Sequence[float], unit: str, mark: Quantity | WholeNumber) -> float:
    """Refuse values that the key does not take; returns the size of the unit. [SI]"""
    for number in numbers:
        try:
            if isinstance(mark, WholeNumber):
                if unit:
                    raise InvalidValue("a count has no unit", f"use whole numbers, {mark.low} to {mark.high}")
                mark(int(number) if number == int(number) else number)
            else:
                mark.read(_write(number, unit, False))
        except InvalidValue as invalid:
            written = f"{number:g} {unit}".rstrip()
            raise OptionError(f'--vary {key}: given "{written}", {invalid}') from None
    if isinstance(mark, WholeNumber):
        return 1.0
    return Quantity(mark.kind, -1e12, 1e12, "").read(f"1 {unit}" if unit else 1.0)


def _check_count(key: str, values: str, count: int, different: int) -> None:
    if count != different:
        raise _refused(f"{key}={values}", "a value twice", "give each once")
    if not 2 <= count <= MOST_POINTS:
        raise _refused(f"{key}={values}", f"values: {count}", f"give 2 to {MOST_POINTS}")


def _check_entry(key: str, file: DesignFile) -> None:
    """Refuse an entry of a list that the file does not have."""
    if any(part.isdigit() for part in key.split(".")) and not file.has(key):
        raise OptionError(f"--vary {key}: {file.name} has no such entry; they are counted from 0")


def _check_pose(key: str, file: DesignFile) -> None:
    """Rigging is by length and angle or by row lengths: what the file does not use is no key."""
    if key in POSE and file.has("lines.row_lengths"):
        rows = file.at("lines.row_lengths")
        example = f"lines.row_lengths.{next(iter(rows))}" if isinstance(rows, Mapping) and rows else "a row"
        raise OptionError(
            f"--vary {key}: {file.name} fixes the rigging by lines.row_lengths; vary {example}, "
            "or give the file length and rigging_angle in place of the row lengths"
        )
    if key.startswith("lines.row_lengths.") and not file.has(key):
        if file.has("lines.row_lengths"):
            given = ", ".join(file.at("lines.row_lengths"))
            raise OptionError(f"--vary {key}: {file.name} gives the row lengths {given}; vary one of them")
        raise OptionError(
            f"--vary {key}: {file.name} fixes the rigging by lines.length and lines.rigging_angle; vary "
            "those, or give the file row_lengths in place of them"
        )


def check_together(file: DesignFile, variations: Sequence[Variation]) -> None:
    """Refuse variations that contradict the rest of the file at both ends, and a key given twice.

    Raises
    ------
    OptionError
        With the loader's own words on what contradicts.
    """
    keys = [variation.key for variation in variations]
    for variation in variations:
        if keys.count(variation.key) > 1:
            raise OptionError(f"--vary {variation.key}: given twice; give one range")
        refusals = []
        for number in (variation.low, variation.high):
            try:
                file.design({variation.key: variation.write(number)})
            except DesignError as error:
                refusals.append(str(error).splitlines()[0])
        if len(refusals) == 2:
            raise OptionError(
                f"--vary {variation.key}: no end of it goes with the rest of the file: {refusals[0]}"
            )


def _write(number: float, unit: str, whole: bool) -> Written:
    if whole:
        return int(number)
    return f"{number:.10g} {unit}" if unit else number


def _refused(given: str, problem: str, hint: str) -> OptionError:
    shown = plain(given)
    shown = shown if len(shown) <= _SHOWN else shown[: _SHOWN - 1] + "…"
    return OptionError(f'--vary: given "{shown}", {problem}; {hint}')
