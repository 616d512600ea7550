"""Column maps, segments and brakes as a person writes them, and what is said of mistakes."""

from __future__ import annotations

import pytest

from parasim.config.log_columns import QUANTITY_OF, SIZE_OF, read_column_map
from parasim.config.segments import read_brakes, read_segments
from parasim.errors import DesignError, OptionError

GOOD = """segments:
  - log: drop.csv
    release: 10 s
    touchdown: 70
    stretches:
      - {kind: straight, from: 12 s, to: 0.5 min, left: 0 %, right: 50 %}
"""


def test_every_head_has_a_unit_of_its_size():
    assert len(QUANTITY_OF) == len(SIZE_OF) > 40
    assert SIZE_OF["speed_kt"] == pytest.approx(0.514444, abs=1e-6)
    assert SIZE_OF["left_percent"] == 0.01


def test_a_map(tmp_path):
    (tmp_path / "m.yaml").write_text('columns: {time_s: "t (s)", height_m: alt}\nseparator: "\\t"\n')
    found = read_column_map(tmp_path / "m.yaml")
    assert dict(found.heads) == {"time_s": "t (s)", "height_m": "alt"}
    assert (found.separator, found.decimal) == ("\t", ".")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("columns: {time: t}", "m.yaml:1: columns.time: not a head known here; did you mean time_s?"),
        ("columns: {time_s: 3}", "m.yaml:1: columns.time_s: not the head of a column; put it in quotes"),
        ("columns: 3", "m.yaml:1: columns: missing, or no mapping"),
        ("cols: {}", "cols: unknown key; use columns, separator, decimal"),
        ('columns: {time_s: t}\nseparator: "x"', 'm.yaml:2: separator: given "x", not a choice here'),
        ("columns: {time_s: t}\ndecimal: x", 'm.yaml:2: decimal: given "x", not a choice here'),
        ("", "m.yaml: is empty"),
    ],
)
def test_mistakes_in_a_map(tmp_path, text, said):
    (tmp_path / "m.yaml").write_text(text)
    with pytest.raises(DesignError) as error:
        read_column_map(tmp_path / "m.yaml")
    assert said in str(error.value)


def test_segments(tmp_path):
    (tmp_path / "s.yaml").write_text(GOOD)
    (course,) = read_segments(tmp_path / "s.yaml")
    assert (course.log, course.release, course.touchdown) == ("drop.csv", 10.0, 70.0)
    (segment,) = course.segments
    assert (segment.kind, segment.start, segment.end) == ("straight", 12.0, 30.0)
    assert (segment.left, segment.right) == (0.0, 0.5)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "straight",
            "spiral",
            's.yaml:6: segments.0.stretches.0.kind: given "spiral", not a kind of stretch',
        ),
        (
            "to: 0.5 min",
            "to: 11 s",
            'segments.0.stretches.0.to: given "11 s", not after from; let it be later',
        ),
        ("from: 12 s, ", "", "segments.0.stretches.0.from: missing; add it"),
        ("50 %", "150 %", 'right: given "150 %", too large'),
        ("right:", "rigth:", "rigth: unknown key; use from, kind, left, right, to"),
        ("touchdown: 70", "touchdown: 7", "not after the release"),
        ("12 s", "12 kg", "a mass"),
        ("segments:\n", "segment:\n", "segment: unknown key"),
    ],
)
def test_mistakes_in_segments(tmp_path, old, new, said):
    (tmp_path / "s.yaml").write_text(GOOD.replace(old, new))
    with pytest.raises(DesignError) as error:
        read_segments(tmp_path / "s.yaml")
    assert said in str(error.value)


def test_brakes():
    found = read_brakes("0s: L 0 R 0; 20s: R 50%; 0.5 min: L 0.2")
    assert [(pull.at, pull.left, pull.right) for pull in found] == [
        (0.0, 0.0, 0.0), (20.0, 0.0, 0.5), (30.0, 0.2, 0.5),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not brakes at a time"),
        ("20s: 50%", "not brakes at a time"),
        ("20 kg: L 0", "a mass"),
        ("20s: L 300%", "too large"),
        ("20s: L 0; 10s: L 0", "times that do not rise"),
    ],
)
def test_mistakes_in_brakes(text, said):
    with pytest.raises(OptionError) as error:
        read_brakes(text)
    assert said in str(error.value)
    assert str(error.value).startswith("--brakes: given ")
