"""Measured lines: what is read, and one line for each mistake."""

from __future__ import annotations

from pathlib import Path

import pytest

from parasim.config.measured import Measured, read_measured
from parasim.errors import DesignError

DESIGNED = {"01L-A+B": 0.45, "01L-A": 0.25, "01L-B": 0.27, "L-brake-1": 0.85}
WAYS = {"01L-A": ("01L-A+B", "01L-A"), "01L-B": ("01L-A+B", "01L-B"), "L-brake-1": ("L-brake-1",)}
GOOD = "label,length_mm\n01L-A,248\n01L-B,271.5\nL-brake-1,850\n"


def measured(tmp_path: Path, text: str) -> Measured:
    path = tmp_path / "season.csv"
    path.write_text(text, encoding="utf-8")
    return read_measured(path, DESIGNED, WAYS)


def read(tmp_path: Path, text: str) -> dict[str, float]:
    return measured(tmp_path, text).lengths


def test_lengths_in_metres(tmp_path):
    assert read(tmp_path, GOOD) == {"01L-A": 0.248, "01L-B": 0.2715, "L-brake-1": 0.85}


def test_other_columns_empty_lines_and_a_byte_order_mark_do_no_harm(tmp_path):
    text = "\ufeffwho,label,length_mm\nme,01L-A,248\n\n,,\nme, 01L-B ,271.5\nme,L-brake-1,850\n"
    assert set(read(tmp_path, text)) == {"01L-A", "01L-B", "L-brake-1"}


def test_what_is_blank_or_missing_says_nothing(tmp_path):
    assert read(tmp_path, "line,measured_mm\n01L-A,\n01L-B,271\nL-brake-1\n") == {"01L-B": 0.271}


def test_an_untouched_table_measures_nothing(tmp_path):
    found = measured(tmp_path, "line,measured_mm\n01L-A,\n01L-B,\n")
    assert (found.given, found.lengths) == ({}, {})


TEN_INCHES = ["10", "10.0", "10 in", '"10"""', "9 16/16", "0 ft 10 in", '"0\' 10"""', "254 mm", "25.4 cm"]


@pytest.mark.parametrize("text", TEN_INCHES)
def test_inches_fractions_and_units_in_the_cell(tmp_path, text):
    """10 in are 254 mm by definition of the inch; a plain number is in the unit of the head."""
    assert read(tmp_path, f"line,measured_in\n01L-A,{text}\n") == {"01L-A": pytest.approx(0.254)}


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("10 5/8", 10.625),
        ("10 5/8 in", 10.625),
        ('10-5/8""', 10.625),
        ("10-5/8\u2033", 10.625),
        ("85/8", 10.625),
    ],
)
def test_fractions_of_an_inch(tmp_path, text, inches):
    found = read(tmp_path, f'line,measured_in\n01L-B,"{text}"\n')
    assert found == {"01L-B": pytest.approx(0.0254 * inches)}


def test_inches_may_stand_in_a_table_of_millimetres(tmp_path):
    found = read(tmp_path, "line,measured_mm\n01L-A,10 in\n01L-B,271\n")
    assert found == pytest.approx({"01L-A": 0.254, "01L-B": 0.271})


def test_a_whole_way_is_taken_up_by_the_line_at_the_tab(tmp_path):
    """450 + 250 mm as designed, 692 as measured: the upper line is 8 mm short."""
    found = measured(tmp_path, "line,measured_mm\n01L-A to riser,692\nL-brake-1 to riser,845\n")
    assert found.lengths == pytest.approx({"01L-A": 0.242, "L-brake-1": 0.845})
    assert found.given == pytest.approx({"01L-A to riser": 0.692, "L-brake-1 to riser": 0.845})


def test_a_whole_way_and_its_upper_line_give_the_lower_one_to_the_other_way_too(tmp_path):
    """692 - 250 = 442 mm below the joint; 442 + 271 = 713 mm is what is left for the other."""
    rows = ("01L-B to riser,713", "01L-A to riser,692", "01L-A,250")
    for order in (rows, rows[::-1]):
        found = read(tmp_path, "line,measured_mm\n" + "\n".join(order) + "\n")
        assert found == pytest.approx({"01L-A": 0.250, "01L-A+B": 0.442, "01L-B": 0.271})


def test_a_whole_way_may_stand_beside_all_its_pieces(tmp_path):
    found = read(tmp_path, "line,measured_mm\n01L-A to riser,701\n01L-A,249\n01L-A+B,451\n")
    assert found == pytest.approx({"01L-A": 0.249, "01L-A+B": 0.451})


def test_a_whole_way_that_contradicts_its_pieces_is_refused(tmp_path):
    with pytest.raises(DesignError) as caught:
        read(tmp_path, "line,measured_mm\n01L-A to riser,701\n01L-A,249\n01L-A+B,447\n")
    assert str(caught.value) == (
        "season.csv: 01L-A to riser: given 701 mm (27 5/8 in), its pieces 01L-A+B, 01L-A add to 696 mm "
        "(27 3/8 in) by the file; measure them again, or leave one of them blank"
    )


BAD = {
    "unknown": (GOOD + "99Z-Q,100\n", '5: line: given "99Z-Q", no such line; use the labels'),
    "near": (GOOD + "01la,100\n", "use the labels of the line sheet (nearest: 01L-A, 01L-A+B"),
    "no way": (GOOD + "01L-A+B to riser,450\n", 'given "01L-A+B to riser", no such line'),
    "twice": (GOOD + "01L-A,248\n", '5: line: given "01L-A", listed twice'),
    "twice blank": (GOOD + "01L-A,\n", '5: line: given "01L-A", listed twice'),
    "metres": (
        GOOD.replace("248", "0.248"),
        "2: length_mm of 01L-A: given 0.248, no line changes so far from 250 mm",
    ),
    "inches": (
        "line,measured_in\n01L-A,248\n",
        "given 248, no line changes so far from 9 13/16 in; measure it again, from loop end to loop end, "
        "without the tab; a number without unit is in inches",
    ),
    "absurd": (GOOD.replace("248", "2480"), "no line changes so far from 250 mm"),
    "negative": (GOOD.replace("248", "-248"), "no line changes so far"),
    "text": (
        GOOD.replace("248", "short"),
        'given "short", not a length; use one near 250 mm, such as "250 mm", "19 5/8 in" or "3 ft 8 in"',
    ),
    "grams": (GOOD.replace("248", "248 g"), 'given "248 g", not a length'),
    "slip of the keyboard": (GOOD.replace("248", "2_48"), "not a length"),
    "nan": (GOOD.replace("248", "nan"), "not a length"),
    "infinite": (GOOD.replace("248", "inf"), "not a length"),
    "no label": (GOOD + ",248\n", 'given "", no such line'),
    "no heads": (
        "01L-A,248\n",
        "its first line lacks the heads; begin it with line,measured_mm or line,measured_in",
    ),
    "empty": ("", "its first line lacks the heads"),
    "heads only": ("label,length_mm\n", "no lines in it"),
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
    assert len(caught.value.mistakes) == 2


@pytest.mark.parametrize(
    ("content", "told"),
    [(None, "no such file"), (b"\xff\xfe\x00", "not text in UTF-8"), (b"a" * 300_000, "larger")],
)
def test_files_that_are_none(tmp_path, content, told):
    path = tmp_path / "season.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(DesignError, match=told):
        read_measured(path, DESIGNED, WAYS)
    with pytest.raises(DesignError, match="no such file"):
        read_measured(tmp_path, DESIGNED, WAYS)
