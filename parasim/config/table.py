"""Tables that a person hands in as CSV files: read to rows of text, or refused in one line."""

import csv
import io
from collections.abc import Mapping
from pathlib import Path

from parasim.errors import DesignError, Mistake
from parasim.units import FOOT, KNOT

LARGEST_FILE = 256_000
"""[bytes]"""

LENGTHS = {"m": 1.0, "ft": FOOT}
SPEEDS = {"m_s": 1.0, "km_h": 1 / 3.6, "kt": KNOT, "ft_s": FOOT, "mph": 5280 * FOOT / 3600}
"""Units as the head of a column ends, and the size of each. [SI]"""


def heads_of(name: str, units: Mapping[str, float]) -> dict[str, float]:
    """Heads that a column may have, and the size of each one's unit.

    Examples
    --------
    >>> heads_of("height", LENGTHS)
    {'height_m': 1.0, 'height_ft': 0.3048}
    """
    return {f"{name}_{unit}": size for unit, size in units.items()}


def read_table(
    path: Path, example: str, *, largest: int = LARGEST_FILE, separator: str = ","
) -> tuple[list[str], list[tuple[int, dict[str, str]]]]:
    """Read a table whose first line names its columns.

    Parameters
    ----------
    path : Path
        CSV file in UTF-8.
    example : str
        Heads to show in messages.
    largest : int
        Size beyond which it is refused. [bytes]
    separator : str
        Between columns.

    Returns
    -------
    heads : list of str
        Without blanks around them.
    rows : list of tuple
        Line in the file, and text by head, for every row with any text in it; what is missing at the end of a
        row is empty.

    Raises
    ------
    DesignError
        When there is no such file or it is no table.
    """
    reader = csv.reader(io.StringIO(read_csv_text(path, example, largest), newline=""), delimiter=separator)
    try:
        heads = [head.strip() for head in next(reader, [])]
        rows = [(reader.line_num, [text.strip() for text in row]) for row in reader]
    except csv.Error as error:
        raise refused(path, f"not a table ({error})", f"write lines such as {example}") from None
    blanks = [""] * len(heads)
    return heads, [(line, dict(zip(heads, row + blanks, strict=False))) for line, row in rows if any(row)]


def number_in(text: str) -> float:
    """Number as ``float`` reads it, but for 4_6: that is a slip of the keyboard and not 46.

    Raises
    ------
    ValueError
        When it is none.
    """
    if "_" in text:
        raise ValueError(text)
    return float(text)


def refused(path: Path, problem: str, hint: str) -> DesignError:
    """What is wrong with a file as a whole."""
    return DesignError(Mistake(file=path.name or str(path), problem=problem, hint=hint))


def read_csv_text(path: Path, example: str, largest: int = LARGEST_FILE) -> str:
    """Text of a file.

    Raises
    ------
    DesignError
        When there is none, it is larger than `largest` [bytes], or no text.
    """
    hint = f"give a CSV file with {example}"
    try:
        if not path.is_file():
            raise refused(path, "no such file", hint)
        if path.stat().st_size > largest:
            raise refused(path, f"larger than {largest // 1000} kB", hint)
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refused(path, "not text in UTF-8", hint) from None
    except (OSError, ValueError) as error:
        raise refused(path, f"cannot be read ({getattr(error, 'strerror', None) or error})", hint) from None
    if "\0" in text:
        raise refused(path, "not text", hint)
    return text
