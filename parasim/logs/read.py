"""Flights in: one reader a format, each through a well-kept library, imported when such a file is met."""

from pathlib import Path

from parasim.config.log_columns import OWN_HEADS, ColumnMap
from parasim.config.table import refused
from parasim.errors import ParasimError
from parasim.logs.fixes import Fixes

LARGEST_LOG = 64_000_000
"""[bytes]"""

FORMATS = ".gpx, .igc, .nmea (or .txt, .log, .nma) or .csv"
"""By the ends of file names."""


def read_fixes(path: Path, columns: ColumnMap = OWN_HEADS) -> Fixes:
    """Read a log; its name gives the format, or else how it begins.

    Parameters
    ----------
    path : Path
        GPX, IGC, NMEA or CSV file.
    columns : ColumnMap
        Heads of a CSV file.

    Raises
    ------
    DesignError
        When it cannot be read, in one line.
    """
    kind = _kind(path)
    try:
        if kind == "csv":
            from parasim.logs.table import read_csv

            return read_csv(path, columns)
        text = log_text(path)
        if kind == "gpx":
            from parasim.logs.gpx import read_gpx

            return read_gpx(text)
        if kind == "igc":
            from parasim.logs.igc import read_igc

            return read_igc(text)
        from parasim.logs.nmea import read_nmea

        return read_nmea(text)
    except ParasimError:
        raise
    except UnreadableLogError as error:
        raise refused(path, str(error), error.hint) from None


class UnreadableLogError(Exception):
    """A log that cannot be used, for the reader that knows the file's name to report.

    Parameters
    ----------
    problem, hint : str
        As in `Mistake`.
    """

    def __init__(self, problem: str, hint: str) -> None:
        self.hint = hint
        super().__init__(problem)


def log_text(path: Path) -> str:
    """Text of a log; a byte that is no UTF-8 becomes one that no reader takes for a digit.

    Raises
    ------
    DesignError
        When there is no such file, or it is far too large.
    """
    try:
        if path.is_dir() or not path.is_file():
            problem = "a directory" if path.is_dir() else "no such file"
            raise refused(path, problem, f"give a log: {FORMATS}")
        if path.stat().st_size > LARGEST_LOG:
            raise refused(path, f"larger than {LARGEST_LOG // 1_000_000} MB", "cut it down to the flight")
        return path.read_bytes().decode("utf-8-sig", errors="replace")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise refused(path, f"cannot be read ({reason})", f"give a log: {FORMATS}") from None


def _kind(path: Path) -> str:
    by_name = {
        ".gpx": "gpx", ".igc": "igc", ".nmea": "nmea", ".nma": "nmea", ".csv": "csv",
    }.get(path.suffix.lower())  # fmt: skip
    if by_name:
        return by_name
    text = log_text(path)[:4000].lstrip()
    if text.startswith("<"):
        return "gpx"
    if text.startswith("$") or "\n$G" in text:
        return "nmea"
    if text.startswith("A") and "\nHF" in text:
        return "igc"
    raise refused(path, "not a log known here", f"give {FORMATS}")
