"""Lines as measured: a table of labels and lengths that a maker writes after a season."""

from collections.abc import Mapping
from math import isfinite
from pathlib import Path

from parasim.config.table import number_in, read_table, refused
from parasim.errors import DesignError, Mistake

HEADS = ("label", "length_mm")
"""Columns that the table has to have; others are left alone."""

MOST_CHANGE = 0.20
"""Change of a line beyond which a length counts as a slip of the pen. Our choice, no source. [-]"""

_SHOWN = 6


def read_measured(path: str | Path, designed: Mapping[str, float]) -> dict[str, float]:
    """Read measured line lengths.

    Parameters
    ----------
    path : str or Path
        CSV file with the heads `HEADS`; lengths in millimetres.
    designed : mapping
        Label to the length on the line sheet, for every line. [m]

    Returns
    -------
    dict of str to float
        Label to length, every line once. [m]

    Raises
    ------
    DesignError
        With one line for each mistake.
    """
    path = Path(path)
    heads, rows = read_table(path, ",".join(HEADS))
    if not set(HEADS) <= set(heads):
        raise refused(path, "its first line lacks the heads", f"begin it with {','.join(HEADS)}")
    if not rows:
        raise refused(path, "no lengths in it", "give one line for each label")
    lengths: dict[str, float] = {}
    mistakes: list[Mistake] = []
    for number, row in rows:
        label, text = (row[head] for head in HEADS)
        if not label and not text:
            continue
        mistake = _mistake_in(label, text, designed, lengths)
        if mistake is None:
            lengths[label] = float(text) / 1e3
        else:
            lengths.setdefault(label, 0.0)
            mistakes.append(_placed(mistake, path, number))
    missing = [label for label in designed if label not in lengths]
    if missing:
        more = f" and {len(missing) - _SHOWN} more" if len(missing) > _SHOWN else ""
        mistakes.append(
            Mistake(
                file=path.name,
                key="label",
                problem=f"no length for {', '.join(missing[:_SHOWN])}{more}",
                hint="measure every line of lines.csv",
            )
        )
    if mistakes:
        raise DesignError(*mistakes)
    return lengths


def _mistake_in(
    label: str, text: str, designed: Mapping[str, float], seen: Mapping[str, float]
) -> Mistake | None:
    if label not in designed:
        return Mistake(
            key="label", given=f'"{label[:40]}"', problem="no such line", hint="use the labels of lines.csv"
        )
    if label in seen:
        return Mistake(
            key="label", given=f'"{label}"', problem="listed twice", hint="keep one length for each line"
        )
    try:
        length = number_in(text)
    except ValueError:
        length = float("nan")
    key = f"length_mm of {label}"
    expected = 1e3 * designed[label]
    if not isfinite(length):
        return Mistake(
            key=key,
            given=f'"{text[:40]}"',
            problem="not a number",
            hint=f"use millimetres, near {expected:.0f}",
        )
    if abs(length - expected) > MOST_CHANGE * expected:
        return Mistake(
            key=key,
            given=f"{length:g}",
            problem=f"no line changes so far from {expected:.0f} mm",
            hint="measure it again, in millimetres from loop end to loop end, without the tab",
        )
    return None


def _placed(mistake: Mistake, path: Path, line: int) -> Mistake:
    return Mistake(
        file=path.name,
        line=line,
        key=mistake.key,
        given=mistake.given,
        problem=mistake.problem,
        hint=mistake.hint,
    )
