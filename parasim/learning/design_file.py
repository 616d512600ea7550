"""A design file with the fitted calibration put in: what else stands in it, comments and all, stays."""

from collections.abc import Mapping, Sequence

import numpy as np
import yaml

from parasim.config.design import Design
from parasim.config.loader import design_document, parse_design
from parasim.config.variant import Entry, on_one_line, read_design_file, with_entry
from parasim.errors import DesignError
from parasim.learning.learned import Learned, Number
from parasim.rotations import FloatArray

DIGITS = 5
"""Of a number in the file, significant."""

HANG_DIGITS = 4
"""Decimals of a correlation in the file."""

NEGLIGIBLE = 0.005
"""Correlation that is not worth a place in the file. [-]"""

CHANGED = 1e-3
"""Part of its spread that a number must have lost to be written. [-]"""

SECTION = "calibration"


def fitted_file(learned: Learned) -> str:
    """Text of the design file as built, with the fitted numbers; from the design alone where it has no file.

    Keys that stand there are changed in their place; a file that cannot be changed so is written anew,
    without its comments.
    """
    numbers, hang = entries(learned) if learned.flights else ({}, {})
    try:
        text = _put(_source(learned), numbers, hang)
        if _holds(text, learned.vehicle.design, numbers):
            return text
    except (DesignError, yaml.YAMLError):
        pass
    return _put(_written_anew(learned.vehicle.design), numbers, hang)


def entries(learned: Learned) -> tuple[dict[str, Entry], dict[str, Entry]]:
    """Numbers that the fit changed, as they are written, and how they hang together.

    Once a design has correlations all numbers are written, so that none of an earlier fit is left over.
    """
    refit = bool(learned.vehicle.design.calibration.correlations)
    written = [each for each in learned.numbers if refit or each.kept < 1.0 - CHANGED]
    words = f"fitted to {len(learned.flights)} {'flight' if len(learned.flights) == 1 else 'flights'}"
    places = [learned.numbers.index(each) for each in written]
    hang = hanging_together(learned.posterior.hang[np.ix_(places, places)])
    names = [each.name for each in written]
    return {each.name: _entry(each, words) for each in written}, _pairs(names, hang)


def _entry(number: Number, words: str) -> Entry:
    after = number.after
    return {
        **{key: float(f"{getattr(after, key):.{DIGITS}g}") for key in ("value", "low", "high")},
        "from": words,
    }


def hanging_together(hang: FloatArray) -> FloatArray:
    """Correlations as they are written, weakened until rounding leaves them possible, shape (n, n). [-]"""
    weaker = 1.0
    while True:
        rounded = np.round(np.where(np.abs(hang) < NEGLIGIBLE, 0.0, weaker * hang), HANG_DIGITS)
        np.fill_diagonal(rounded, 1.0)
        if len(hang) == 0 or np.linalg.eigvalsh(rounded)[0] > 10.0**-HANG_DIGITS:
            return np.asarray(rounded)
        weaker -= 10.0**-HANG_DIGITS


def _pairs(names: Sequence[str], hang: FloatArray) -> dict[str, Entry]:
    found: dict[str, Entry] = {}
    for i, name in enumerate(names):
        others = {names[k]: float(hang[i, k]) for k in range(i + 1, len(names)) if hang[i, k]}
        if others:
            found[name] = others
    return found


def _source(learned: Learned) -> str:
    if not learned.design_file:
        return _written_anew(learned.vehicle.design)
    # Files that it names are found from wherever this one will stand.
    text = read_design_file(learned.design_file).changed_text({})
    for key, entry in (learned.built.changes if learned.built else {}).items():
        text = with_entry(text, key, entry)
    return text


def _written_anew(design: Design) -> str:
    return yaml.safe_dump(design_document(design), sort_keys=False, allow_unicode=True, width=100)


def _put(text: str, numbers: Mapping[str, Entry], hang: Mapping[str, Entry]) -> str:
    if not numbers:
        return text
    if SECTION not in (yaml.safe_load(text) or {}):
        return text.rstrip() + "\n\n" + _section(numbers, hang)
    for name, entry in (("correlations", dict(hang)), *reversed(list(numbers.items()))):
        if entry:
            text = with_entry(text, f"{SECTION}.{name}", entry)
    return text


def _section(numbers: Mapping[str, Entry], hang: Mapping[str, Entry]) -> str:
    lines = [f"{SECTION}:"]
    lines += [f"  {name}: {on_one_line(entry)}" for name, entry in numbers.items()]
    if hang:
        lines += ["  correlations:", *(f"    {name}: {on_one_line(entry)}" for name, entry in hang.items())]
    return "\n".join(lines) + "\n"


def _holds(text: str, design: Design, numbers: Mapping[str, Entry]) -> bool:
    """Whether the text is that design with those numbers."""
    found = parse_design(text, design.name)
    same = found.model_copy(update={SECTION: design.calibration}) == design
    wanted = {name: entry["value"] for name, entry in numbers.items() if isinstance(entry, dict)}
    return same and all(getattr(found.calibration, name).value == value for name, value in wanted.items())
