"""NMEA 0183 sentences, read by pynmea2."""

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np

from parasim.logs.channel import Mask
from parasim.logs.fixes import Fixes, clock, numbers, rolled_over
from parasim.logs.read import UnreadableLogError
from parasim.rotations import FloatArray
from parasim.units import KNOT

READ = ("GGA", "RMC")
"""Sentences that are read: place, height and quality; place, speed, course and date."""

BLANKS = ("",) * 9
"""As many fields as are read; shorter sentences are filled up."""


def read_nmea(text: str) -> Fixes:
    """Fixes of the sentences GGA and RMC, joined by their times.

    Raises
    ------
    UnreadableLogError
        When it holds none.

    Notes
    -----
    The library splits sentences and checks their sums; columns are converted all at once. A fix is void where
    GGA's quality is 0 or RMC's status is not A.
    """
    sentences, counts = _sentences(text)
    if not sentences["GGA"] and not sentences["RMC"]:
        raise UnreadableLogError("no GGA or RMC sentences that can be read", "give a receiver's NMEA output")
    both = [(line, data) for name in READ for line, data in sentences[name]]
    order = np.argsort([line for line, _ in both], kind="stable")
    whole = np.empty(len(both))
    whole[order] = rolled_over(clock([both[i][1][0] for i in order]))
    whole = np.round(whole, 3)
    time = np.unique(whole[np.isfinite(whole)])
    split = len(sentences["GGA"])
    rows = [_Rows(time, whole[:split], [d for _, d in sentences["GGA"]])]
    rows.append(_Rows(time, whole[split:], [d for _, d in sentences["RMC"]]))
    gga, rmc = rows
    good_gga, good_rmc = gga.numbers(5) > 0, rmc.texts(1, "A")
    columns = {
        "latitude": np.where(good_gga, gga.angle(1), np.where(good_rmc, rmc.angle(2), np.nan)),
        "longitude": np.where(good_gga, gga.angle(3), np.where(good_rmc, rmc.angle(4), np.nan)),
        "height": np.where(good_gga, gga.numbers(8), np.nan),
        "speed": np.where(good_rmc, rmc.numbers(6) * KNOT, np.nan),
        "course": np.where(good_rmc, np.radians(rmc.numbers(7)), np.nan),
    }
    counts["void fixes"] = int((~(good_gga | good_rmc)).sum())
    counts["sentences without a time"] = int((~np.isfinite(whole)).sum())
    start = _midnight(sentences["RMC"], whole[split:])
    return Fixes(
        kind="NMEA", time=time + (start or 0.0), columns=columns, dated=start is not None, timed=True,
        counts=counts,
    )  # fmt: skip


def _sentences(text: str) -> tuple[dict[str, list[tuple[int, tuple[str, ...]]]], dict[str, int]]:
    """Line and fields of every sentence that is read, and what could not be."""
    import pynmea2

    found: dict[str, list[tuple[int, tuple[str, ...]]]] = {name: [] for name in READ}
    bad_sum = other = unchecked = 0
    for number, line in enumerate(text.splitlines()):
        begin = line.find("$")
        name = line[begin + 3 : begin + 6]
        if begin < 0 or name not in found:
            other += begin < 0 and bool(line.strip())
            continue
        try:
            sentence = pynmea2.parse(line[begin:])
        except pynmea2.ChecksumError:
            bad_sum += 1
        except ValueError:
            other += 1
        else:
            unchecked += "*" not in line
            found[name].append((number, (*sentence.data, *BLANKS)[: len(BLANKS)]))
    counts = {
        "sentences with a wrong checksum": bad_sum,
        "lines that are no sentences": other,
        "sentences without a checksum, read all the same": unchecked,
    }
    return found, counts


class _Rows:
    """Sentences of one kind, laid on common times.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Rising, each once. [s]
    own : ndarray, shape (m,)
        Of each sentence; of several at one time the last counts. [s]
    data : sequence of lists of str
        Fields of each sentence.
    """

    def __init__(self, time: FloatArray, own: FloatArray, data: Sequence[Sequence[str]]) -> None:
        self._known = np.flatnonzero(np.isfinite(own))
        self._at = np.searchsorted(time, own[self._known])
        self._columns, self._length = list(zip(*data, strict=True)), len(time)

    def numbers(self, i: int) -> FloatArray:
        """One field, shape (n,)."""
        found = np.full(self._length, np.nan)
        if self._columns:
            found[self._at] = numbers(self._columns[i])[self._known]
        return found

    def texts(self, i: int, wanted: str) -> Mask:
        """Where a field is that text, shape (n,)."""
        found = np.zeros(self._length, dtype=bool)
        if self._columns:
            found[self._at] = (np.array(self._columns[i], dtype=np.str_) == wanted)[self._known]
        return found

    def angle(self, i: int) -> FloatArray:
        """Latitude or longitude of a field such as 4707.1234, its half of the globe in the next. [rad]"""
        degrees, minutes = np.divmod(self.numbers(i), 100.0)
        behind = self.texts(i + 1, "S") | self.texts(i + 1, "W")
        ahead = self.texts(i + 1, "N") | self.texts(i + 1, "E")
        sign = np.where(behind, -1.0, np.where(ahead, 1.0, np.nan))
        found: FloatArray = np.radians(sign * (degrees + minutes / 60.0))
        return np.where(minutes < 60.0, found, np.nan)


def _midnight(sentences: Sequence[tuple[int, tuple[str, ...]]], time: FloatArray) -> float | None:
    """Seconds of 1970 at the beginning of the first day, by the first date that can be read."""
    for (_, data), seconds in zip(sentences, time, strict=True):
        try:
            day = datetime.strptime(data[8], "%d%m%y").replace(tzinfo=UTC)
        except ValueError:
            continue
        if np.isfinite(seconds):
            return day.timestamp() - 86400.0 * float(seconds // 86400.0)
    return None
