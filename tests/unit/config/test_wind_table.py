"""Measured winds: what is read, in which units, and one line for each mistake."""

from __future__ import annotations

from math import radians
from pathlib import Path

import pytest

from parasim.config.wind_table import WindRow, read_wind_table
from parasim.errors import DesignError

GOOD = "height_m,speed_m_s,from_deg\n2,1.5,250\n10,3.0,270\n60,4.5,290\n"


def read(tmp_path: Path, text: str) -> tuple[WindRow, ...]:
    path = tmp_path / "wind.csv"
    path.write_text(text, encoding="utf-8")
    return read_wind_table(path)


def test_rows_in_si(tmp_path):
    rows = read(tmp_path, GOOD)
    assert [row.height for row in rows] == [2.0, 10.0, 60.0]
    assert [row.speed for row in rows] == [1.5, 3.0, 4.5]
    assert [row.from_direction for row in rows] == pytest.approx([radians(d) for d in (250, 270, 290)])


@pytest.mark.parametrize(
    ("head", "text", "metres_a_second"),
    [
        # Foot, statute mile and knot are exact by definition: 0.3048 m, 1609.344 m, 1852 m an hour.
        ("speed_m_s", "9", 9.0),
        ("speed_km_h", "18", 5.0),
        ("speed_kt", "10", 5.144444),
        ("speed_ft_s", "10", 3.048),
        ("speed_mph", "10", 4.4704),
    ],
)
def test_units_of_speed(tmp_path, head, text, metres_a_second):
    rows = read(tmp_path, f"from_deg,{head},height_ft\n90,{text},100\n80,{text},200\n")
    assert [row.height for row in rows] == pytest.approx([30.48, 60.96], rel=1e-12)
    assert rows[0].speed == pytest.approx(metres_a_second, rel=1e-6)


def test_any_order_other_columns_empty_lines_and_a_byte_order_mark_do_no_harm(tmp_path):
    text = "\ufeffwho, from_deg ,height_m,speed_m_s\nme,290,60,4.5\n\n,,,\nme,270, 10 ,3\nme,250,2,1.5,note\n"
    assert read(tmp_path, text) == read(tmp_path, GOOD)


BAD = {
    "text": (GOOD.replace("3.0", "calm"), 'wind.csv:3: speed_m_s: given "calm", not a number; use 0 to 120'),
    "nothing": (GOOD.replace("3.0", ""), "wind.csv:3: speed_m_s: missing; use 0 to 120"),
    "short row": (GOOD + "80,5\n", "wind.csv:5: from_deg: missing; use 0 to 360"),
    "negative": (GOOD.replace("1.5", "-1.5"), 'wind.csv:2: speed_m_s: given "-1.5", too small; use 0 to 120'),
    "below ground": (GOOD.replace("\n2,", "\n-2,"), 'wind.csv:2: height_m: given "-2", too small'),
    "too fast": (GOOD.replace("4.5", "450"), 'wind.csv:4: speed_m_s: given "450", too large; use 0 to 120'),
    "fast in knots": (
        GOOD.replace("speed_m_s", "speed_kt").replace("4.5", "450"),
        'wind.csv:4: speed_kt: given "450", too large; use 0 to 233',
    ),
    "direction": (GOOD.replace("290", "390"), 'wind.csv:4: from_deg: given "390", too large; use 0 to 360'),
    "infinite": (GOOD.replace("4.5", "inf"), 'given "inf", not a finite number'),
    "not a number": (GOOD.replace("4.5", "nan"), 'given "nan", not a finite number'),
    "twice": (GOOD + "10.0,4,280\n", 'wind.csv:5: height_m: given "10.0", listed twice; keep one row'),
    "one height": (
        "height_m,speed_m_s,from_deg\n10,3,270\n",
        "wind.csv: measured heights: 1; give at least 2, or speed and from in the design file",
    ),
    "heads only": ("height_m,speed_m_s,from_deg\n", "wind.csv: measured heights: 0"),
    "no heads": (
        "2,1.5,250\n10,3,270\n",
        "wind.csv: its first line lacks the height above ground; name one column height_m or height_ft",
    ),
    "empty": ("", "its first line lacks the height above ground"),
    "unknown unit": (
        GOOD.replace("speed_m_s", "speed_bft"),
        "its first line lacks the wind speed; name one column speed_m_s or speed_km_h or speed_kt",
    ),
    "two units": (
        "height_m,height_ft,speed_m_s,from_deg\n2,6.6,1.5,250\n",
        "columns with the height above ground: height_m, height_ft; keep one of them",
    ),
    "semicolons": (GOOD.replace(",", ";"), "separate columns by commas"),
    "zero byte": ("height_m,speed_m_s,from_deg\n\0", "not text"),
}


@pytest.mark.parametrize("case", BAD)
def test_mistakes_are_told(tmp_path, case):
    text, told = BAD[case]
    with pytest.raises(DesignError) as caught:
        read(tmp_path, text)
    assert told in str(caught.value)
    assert str(caught.value).startswith("wind.csv")
    assert len(caught.value.mistakes) == 1


def test_every_mistake_in_one_go(tmp_path):
    with pytest.raises(DesignError) as caught:
        read(tmp_path, "height_m,speed_m_s,from_deg\n2,x,400\n10,3,270\n10,3,270\n")
    assert [mistake.line for mistake in caught.value.mistakes] == [2, 2, 4]


@pytest.mark.parametrize(
    ("content", "told"),
    [(None, "no such file"), (b"\xff\xfe\x00", "not text in UTF-8"), (b"a" * 300_000, "larger than 256 kB")],
)
def test_files_that_are_none(tmp_path, content, told):
    path = tmp_path / "wind.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(DesignError, match=told):
        read_wind_table(path)
