"""Measured lines: what is read, and one line for each mistake."""

from __future__ import annotations

from pathlib import Path

import pytest

from parasim.config.measured import read_measured
from parasim.errors import DesignError

DESIGNED = {"01L-A": 0.7, "01L-B": 0.72, "L-brake-1": 0.85}
GOOD = "label,length_mm\n01L-A,698\n01L-B,721.5\nL-brake-1,850\n"


def read(tmp_path: Path, text: str) -> dict[str, float]:
    path = tmp_path / "season.csv"
    path.write_text(text, encoding="utf-8")
    return read_measured(path, DESIGNED)


def test_lengths_in_metres(tmp_path):
    assert read(tmp_path, GOOD) == {"01L-A": 0.698, "01L-B": 0.7215, "L-brake-1": 0.85}


def test_other_columns_empty_lines_and_a_byte_order_mark_do_no_harm(tmp_path):
    text = "\ufeffwho,label,length_mm\nme,01L-A,698\n\n,,\nme, 01L-B ,721.5\nme,L-brake-1,850\n"
    assert set(read(tmp_path, text)) == set(DESIGNED)


BAD = {
    "missing": (GOOD.replace("01L-B,721.5\n", ""), "label: no length for 01L-B; measure every line"),
    "unknown": (GOOD + "99Z-Q,100\n", '5: label: given "99Z-Q", no such line; use the labels'),
    "twice": (GOOD + "01L-A,698\n", '5: label: given "01L-A", listed twice'),
    "metres": (
        GOOD.replace("698", "0.698"),
        "2: length_mm of 01L-A: given 0.698, no line changes so far from 700 mm",
    ),
    "absurd": (GOOD.replace("698", "6980"), "no line changes so far from 700 mm"),
    "negative": (GOOD.replace("698", "-698"), "no line changes so far"),
    "text": (GOOD.replace("698", "short"), 'given "short", not a number; use millimetres, near 700'),
    "nan": (GOOD.replace("698", "nan"), "not a number"),
    "infinite": (GOOD.replace("698", "inf"), "not a number"),
    "blank": (GOOD.replace("698", ""), "not a number"),
    "short row": ("label,length_mm\n01L-A\n", "not a number"),
    "no heads": ("01L-A,698\n", "its first line lacks the heads; begin it with label,length_mm"),
    "empty": ("", "its first line lacks the heads"),
    "heads only": ("label,length_mm\n", "no lengths in it"),
    "zero byte": ("label,length_mm\n\0", "not text"),
}


@pytest.mark.parametrize("case", BAD)
def test_mistakes_are_told(tmp_path, case):
    text, told = BAD[case]
    with pytest.raises(DesignError) as caught:
        read(tmp_path, text)
    assert told in str(caught.value)
    assert str(caught.value).startswith("season.csv")


def test_every_mistake_in_one_go(tmp_path):
    with pytest.raises(DesignError) as caught:
        read(tmp_path, "label,length_mm\n01L-A,7\nx,1\n")
    assert len(caught.value.mistakes) == 3


def test_many_missing_lines_are_cut_short(tmp_path):
    path = tmp_path / "season.csv"
    path.write_text("label,length_mm\nline-0,500\n", encoding="utf-8")
    with pytest.raises(DesignError, match="line-6 and 13 more"):
        read_measured(path, {f"line-{i}": 0.5 for i in range(20)})


@pytest.mark.parametrize(
    ("content", "told"),
    [(None, "no such file"), (b"\xff\xfe\x00", "not text in UTF-8"), (b"a" * 300_000, "larger")],
)
def test_files_that_are_none(tmp_path, content, told):
    path = tmp_path / "season.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(DesignError, match=told):
        read_measured(path, DESIGNED)
    with pytest.raises(DesignError, match="no such file"):
        read_measured(tmp_path, DESIGNED)
