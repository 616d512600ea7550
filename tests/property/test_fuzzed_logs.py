"""Damaged logs of every kind, and arbitrary bytes: an answer or a refusal in words, never anything else."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parasim.cli.main import main
from parasim.config.log_columns import read_column_map
from parasim.config.segments import read_brakes, read_segments
from parasim.errors import ParasimError
from parasim.logs.track import track
from tests.flown import Flight, logged
from tests.log_files import WRITERS

FIXES = logged(Flight(straight=(15.0, 15.0), turns=2.5), "speeds", np.random.default_rng(0))
WHOLE = {kind: write(FIXES).encode() for kind, write in WRITERS.items()}
DAMAGES = 24


def damaged(whole: bytes, seed: int) -> bytes:
    """Cut off, bits turned over, a part taken out or doubled, lines shuffled."""
    draw = random.Random(seed)
    data = bytearray(whole)
    way = ("cut", "flip", "flips", "out", "double", "behead", "shuffle", "repeat")[seed % 8]
    if way == "cut":
        del data[draw.randrange(len(data)) :]
    elif way == "behead":
        del data[: draw.randrange(len(data))]
    elif way in ("flip", "flips"):
        for _ in range(1 if way == "flip" else draw.choice([10, 100, 1000])):
            data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
    elif way == "out":
        start = draw.randrange(len(data))
        del data[start : start + draw.randrange(500)]
    elif way == "double":
        start, at = draw.randrange(len(data)), draw.randrange(len(data))
        data[at:at] = data[start : start + draw.randrange(2000)]
    else:
        lines = bytes(data).splitlines()
        draw.shuffle(lines)
        data = bytearray(b"\n".join(lines[: draw.randrange(len(lines))] if way == "shuffle" else 2 * lines))
    return bytes(data)


@pytest.mark.parametrize("kind", WRITERS)
@pytest.mark.parametrize("seed", range(DAMAGES))
def test_damaged_logs(kind, seed, tmp_path, capsys):
    path = tmp_path / f"log.{kind}"
    path.write_bytes(damaged(WHOLE[kind], seed))
    code = main(["track", str(path)])
    printed = capsys.readouterr()
    assert code in (0, 2)
    if code == 2:
        assert printed.out == ""
        assert "Traceback" not in printed.err
        assert all(line.startswith(("log.", "and ")) for line in printed.err.splitlines())


@pytest.mark.parametrize("kind", ["csv", "gpx", "igc", "nmea", "txt"])
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.binary(max_size=400) | st.text(max_size=300).map(lambda text: text.encode("utf-8", "replace")))
def test_arbitrary_bytes(kind, data, tmp_path):
    path = Path(tmp_path) / f"log.{kind}"
    path.write_bytes(data)
    with pytest.raises(ParasimError) as error:
        track(path)
    assert str(error.value)


CELL = st.sampled_from(["", "nan", "1e309", "-1", "0", "12", "45.5", "x", "1_0", "180", "1e8", "9e99"])


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(st.lists(CELL, min_size=6, max_size=6), min_size=1, max_size=30))
def test_tables_of_odd_numbers(rows, tmp_path):
    path = Path(tmp_path) / "log.csv"
    text = "\n".join(",".join(row) for row in rows)
    path.write_text(f"time_s,height_m,lat_deg,lon_deg,speed_m_s,course_deg\n{text}\n")
    with pytest.raises(ParasimError):
        track(path)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(max_size=200))
def test_odd_maps_segments_and_brakes(text, tmp_path):
    path = Path(tmp_path) / "x.yaml"
    path.write_text(text, encoding="utf-8", errors="replace")
    for read in (read_column_map, read_segments):
        with pytest.raises(ParasimError):
            read(path)
    with pytest.raises(ParasimError):
        read_brakes(text)


SEGMENTS = """segments:
  - log: log.csv
    release: 10 s
    touchdown: 70 s
    stretches:
      - {kind: straight, from: 12 s, to: 24 s, left: 0 %, right: 0 %}
"""


@pytest.mark.parametrize("seed", range(60))
def test_damaged_segments(seed, tmp_path, capsys):
    (tmp_path / "log.csv").write_bytes(WHOLE["csv"])
    (tmp_path / "s.yaml").write_bytes(damaged(SEGMENTS.encode(), seed))
    code = main(["track", str(tmp_path / "log.csv"), "--segments", str(tmp_path / "s.yaml")])
    assert code in (0, 2)
    assert "Traceback" not in capsys.readouterr().err
