"""Logs of every kind: what is read, counted, put right and refused."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from parasim.config.log_columns import read_column_map
from parasim.errors import DesignError
from parasim.logs.log import read_log
from parasim.logs.read import read_fixes
from tests.flown import GROUND, Flight, logged
from tests.log_files import WRITERS, csv_text, gpx_text, igc_text, nmea_text, with_sum

SAMPLES = Path(__file__).parents[2] / "data/flights"
FIXES = logged(Flight(straight=(15.0, 15.0), turns=1.5), "speeds", np.random.default_rng(0))


@pytest.fixture
def write(tmp_path):
    def write(name: str, text: str) -> Path:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return tmp_path / name

    return write


@pytest.mark.parametrize("kind", WRITERS)
def test_every_kind_gives_the_same_flight(write, kind):
    """Places within the digits of each kind, heights too; times as they were."""
    log = read_log(write(f"a.{kind}", WRITERS[kind](FIXES)))
    assert log.counts == {}
    assert len(log.place.time) == len(FIXES.time)
    off = log.place.value - np.array([FIXES.columns["north"], FIXES.columns["east"]])
    assert np.abs(off - np.median(off, axis=1)[:, None]).max() < (1.9 if kind == "igc" else 0.03)
    assert np.abs(log.height.value[0] - FIXES.columns["pressure_height"]).max() < (
        0.51 if kind == "igc" else 0.06
    )
    assert log.place.time == pytest.approx(FIXES.time - FIXES.time[0], abs=1e-3)


@pytest.mark.parametrize("kind", ["gpx", "igc", "nmea"])
def test_midnight_is_passed(write, kind):
    late = datetime(2026, 12, 31, 23, 59, 30, tzinfo=UTC)
    log = read_log(write(f"a.{kind}", WRITERS[kind](FIXES, late)))
    assert log.place.time == pytest.approx(FIXES.time - FIXES.time[0], abs=1e-3)
    assert log.start == "2026-12-31 23:59:30 UTC"


def test_time_zones_are_converted(write):
    text = gpx_text(FIXES).replace("Z</time>", "+02:00</time>")
    assert read_log(write("a.gpx", text)).start == "2026-05-03 10:00:00 UTC"


def test_times_in_words(write):
    rows = [f"2026-05-03T14:05:{i:02d}+02:00,{400 - 3 * i},{7 * i},0" for i in range(20)]
    log = read_log(write("a.csv", "\n".join(["time_utc,height_m,north_m,east_m", *rows])))
    assert log.start == "2026-05-03 12:05:00 UTC"
    assert log.place.step == pytest.approx(1.0)


def test_the_library_counts_the_same_gpx_points():
    """A sample of gpxpy's own tests (tests/data/flights/ORIGIN.md)."""
    import gpxpy

    path = SAMPLES / "track_with_speed.gpx"
    points = list(gpxpy.parse(path.read_text()).walk(only_points=True))
    fixes = read_fixes(path)
    assert len(fixes.time) == len(points) == 3
    assert fixes.columns["speed"].tolist() == [1.2, 2.2, 3.2]
    assert np.degrees(fixes.columns["latitude"][0]) == pytest.approx(points[0].latitude)


def test_the_library_reads_the_same_sentences():
    """A sample of pynmea2 (tests/data/flights/ORIGIN.md): one fix, one line that is none."""
    import pynmea2

    path = SAMPLES / "sentences.nmea"
    sentence = pynmea2.parse(path.read_text().splitlines()[0])
    fixes = read_fixes(path)
    assert len(fixes.time) == 1
    assert fixes.time[0] == pytest.approx(18 * 3600 + 43 * 60 + 53.07)
    assert np.degrees(fixes.columns["latitude"][0]) == pytest.approx(sentence.latitude)
    assert np.degrees(fixes.columns["longitude"][0]) == pytest.approx(sentence.longitude)
    assert fixes.columns["height"][0] == sentence.altitude
    assert fixes.counts["lines that are no sentences"] == 1


def test_the_library_reads_the_same_igc_fixes(write):
    from aerofiles.igc import Reader

    text = igc_text(FIXES)
    theirs = Reader().read(io.StringIO(text))["fix_records"][1]
    ours = read_fixes(write("a.igc", text))
    assert len(theirs) == len(ours.time)
    assert np.degrees(ours.columns["latitude"]) == pytest.approx([fix["lat"] for fix in theirs])
    assert ours.columns["pressure_height"].tolist() == [fix["pressure_alt"] for fix in theirs]


def test_the_library_writes_what_we_read(write):
    from aerofiles.igc import Writer

    file = io.BytesIO()
    writer = Writer(file)
    writer.write_headers(
        {
            "manufacturer_code": "XXX", "logger_id": "TBX", "date": datetime(2026, 5, 3).date(),
            "logger_type": "x", "gps_receiver": "x",
        }
    )  # fmt: skip
    writer.write_fix_extensions([("TDS", 1)])
    for i in range(12):
        writer.write_fix(
            datetime(2026, 5, 3, 12, 0, i // 2).time(), latitude=47.1 + i * 1e-4, longitude=11.2,
            valid=i != 5,
            pressure_alt=500 - i, gps_alt=540 - i, extensions=[str(5 * (i % 2))],
        )  # fmt: skip
    fixes = read_fixes(write("a.igc", file.getvalue().decode()))
    assert np.diff(fixes.time) == pytest.approx(0.5)
    assert fixes.counts["fixes marked V, without a GNSS height"] == 1
    assert np.isnan(fixes.columns["height"][5])
    assert fixes.columns["pressure_height"][5] == 495


def test_void_and_broken_sentences_are_left_out_and_counted(write):
    lines = nmea_text(FIXES).splitlines()
    void = [i for i, line in enumerate(lines) if "GGA" in line][10:13]
    for i in void:
        lines[i] = with_sum(lines[i][1:-3].replace(",1,09,", ",0,00,"))
        lines[i + 1] = with_sum(lines[i + 1][1:-3].replace(",A,47", ",V,47"))
    lines[40] = lines[40][:-2] + "00" if not lines[40].endswith("00") else lines[40][:-2] + "11"
    lines.insert(50, "half a sentence")
    log = read_log(write("a.nmea", "\n".join(lines)))
    assert log.counts["void fixes"] == 3
    assert log.counts["sentences with a wrong checksum"] == 1
    assert log.counts["lines that are no sentences"] == 1
    assert len(log.place.time) == len(FIXES.time) - 3


def test_duplicates_disorder_jumps_and_gaps_are_counted(write):
    head, *rows = csv_text(FIXES).splitlines()
    rows.insert(10, rows[9])
    rows.insert(21, rows[12])
    cells = rows[30].split(",")
    rows[30] = ",".join([*cells[:2], "47.1900000", *cells[3:]])
    del rows[50:58]
    log = read_log(write("a.csv", "\n".join([head, *rows])))
    assert log.counts["duplicate fixes"] == 1
    assert log.counts["fixes out of order"] == 1
    assert log.counts["fixes that jump"] == 1
    assert log.counts["gaps"] == 1
    assert "The longest gap is 9 s." in log.remarks


def test_several_logs_in_a_file_are_parted(write):
    head, *rows = csv_text(FIXES).splitlines()
    level = [f"{5000 + i}.00,960.000,47.1,11.2,0,0" for i in range(30)]
    log = read_log(write("a.csv", "\n".join([head, *rows, *level])))
    assert log.counts["fixes of other logs in the file, more than 10 min apart"] == 30


def test_pressure_height_goes_before_gnss_and_their_drift_is_said(write):
    rows = [f"{i},{400 - 3 * i},{450 - 3 * i + 0.1 * i},{7 * i},0" for i in range(60)]
    log = read_log(write("a.csv", "\n".join(["time_s,height_m,gnss_height_m,north_m,east_m", *rows])))
    assert log.height_from == "pressure"
    assert "a drift of -5.4 m" in log.remarks[0]
    still = [row.replace(row.split(",")[1], "400", 1) for row in rows]
    log = read_log(write("b.csv", "\n".join(["time_s,height_m,gnss_height_m,north_m,east_m", *still])))
    assert log.height_from == "GNSS"


def test_a_sensor_export_is_read_through_a_map(write):
    """Ten rows a second, a receiver that reads once a second, decimal commas, nanoseconds of 1970."""
    map_text = 'columns:\n  time_ns: t\n  pressure_hPa: "Druck (hPa)"\n  lat_deg: La\n  lon_deg: Lo\n'
    path = write("map.yaml", map_text + 'separator: ";"\ndecimal: ","\n')
    rows = []
    for i in range(400):
        lat = 47.1 + 6e-5 * (i // 10)
        cells = [str(1777809600000000000 + i * 10**8), f"{960 + 0.03 * i:.4f}", f"{lat:.7f}", "11.2000000"]
        rows.append(";".join(cells).replace(".", ","))
    log = read_log(write("a.csv", "\n".join(["t;Druck (hPa);La;Lo", *rows])), read_column_map(path))
    assert log.counts["places held between readings"] == 360
    assert log.place.step == pytest.approx(1.0)
    assert log.height.step == pytest.approx(0.1)
    assert log.start == "2026-05-03 12:00:00 UTC"


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("a.gpx", "<gpx>", "a.gpx: not GPX"),
        ("a.gpx", '<!DOCTYPE x [<!ENTITY a "b">]><gpx/>', "with a DOCTYPE or entities"),
        ("a.gpx", '<gpx version="1.1"></gpx>', "no track points"),
        ("a.igc", "AXXX001\nHFDTE030526\n", "no fixes (B records)"),
        ("a.nmea", "nothing\n", "no GGA or RMC sentences"),
        ("a.txt", "nothing\n", "a.txt: not a log known here"),
        ("a.csv", "", "its first line lacks a time"),
        ("a.csv", "time_s;height_m\n", "separate columns by commas, or give --columns"),
        ("a.csv", "time_s,height_m,north_m,east_m\n", "no rows in it"),
        ("a.csv", "time_s,time_ms,height_m\n1,1,1\n", "columns with one meaning: time_s, time_ms"),
        ("a.csv", "time_s,height_m,north_m,east_m\n1,x,1,1\n", 'a.csv:2: height_m: given "x", not a number'),
        ("a.csv", "time_utc,height_m\n2026-13-01,1\n", 'time_utc: given "2026-13-01", not a time'),
        ("a.csv", "time_s,height_m,north_m,east_m\n1,2,1,1\n", "fixes that can be used: 1"),
        ("a.csv", "time_s,height_m\n" + "\n".join(f"{i},{i}" for i in range(20)), "no places in it"),
        ("a.csv", "time_s,north_m,east_m\n" + "\n".join(f"{i},{i},0" for i in range(20)), "no heights in it"),
        (
            "a.csv",
            "time_s,height_m,lat_deg,lon_deg\n" + "\n".join(f"{i},{i},85,0" for i in range(20)),
            "too few places between 80 deg",
        ),
    ],
)
def test_what_cannot_be_used_is_one_line(write, name, text, said):
    with pytest.raises(DesignError) as error:
        read_log(write(name, text))
    assert said in str(error.value)
    assert len(str(error.value).splitlines()) == 1


@pytest.mark.parametrize("name", ["none.gpx", "none.csv", "none.igc", "."])
def test_no_file_is_one_line(tmp_path, name):
    with pytest.raises(DesignError, match=r"no such file|a directory"):
        read_log(tmp_path / name)


def test_a_row_cut_short_is_left_out(write):
    text = csv_text(FIXES).rstrip()
    log = read_log(write("a.csv", text[: text.rindex("\n") + 9]))
    assert log.counts["rows cut short at the end"] == 1


def test_density_is_that_of_standard_air(write):
    """[ISO2533] at 412 m, by interpolation of its table: 1.2250, 1.1673 at 0 and 500 m."""
    log = read_log(write("a.csv", csv_text(FIXES)))
    assert log.density(GROUND) == pytest.approx(1.1773, abs=0.002)
