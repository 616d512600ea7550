"""YAML text to plain data with lines."""

import pytest

from parasim.config.document import read_document
from parasim.errors import DesignError


def test_keeps_lines_and_plain_values() -> None:
    document = read_document("a:\n  b: 1.5\n  c: [x, 2 m]\nd: true\ne:\n", "t.yaml")
    assert document.data == {"a": {"b": 1.5, "c": ["x", "2 m"]}, "d": True, "e": None}
    assert document.line(("a", "b")) == 2
    assert document.line(("a", "c", 1)) == 3
    assert document.line(("a", "b", "not there")) == 2
    assert document.at(("a", "c", 1)) == "2 m"
    assert document.at(("a", "zzz")) is None


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1:30", "1:30"),  # YAML 1.1 would read 90
        ("0x10", "0x10"),
        ("0b11", "0b11"),
        ("1_000", "1_000"),
        ("1e-3", "1e-3"),
        ("1.0e-3", 1e-3),
        ("010", 10),
        (".5", 0.5),
        (".nan", ".nan"),
        ("2024-01-01", "2024-01-01"),
        ("'5'", "5"),
        ("~", None),
        ("no", False),
        ("9" * 30, 1e30),
    ],
)
def test_no_value_changes_behind_the_writers_back(text: str, value: object) -> None:
    assert read_document(f"a: {text}", "t").data["a"] == value


def test_an_alias_bomb_is_refused() -> None:
    text = "a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n"
    with pytest.raises(DesignError, match="t:1: anchors and aliases"):
        read_document(text, "t")


def test_deep_nesting_is_refused_without_recursion_error() -> None:
    with pytest.raises(DesignError, match="nested too deeply"):
        read_document("a: " + "[" * 20000, "t")
