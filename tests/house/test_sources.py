"""Every source named in a docstring is listed, and every listed source is used."""

from __future__ import annotations

import re
from pathlib import Path

from parasim.references import REFERENCES

ROOT = Path(__file__).parents[2]
NAMED = re.compile(r"Sources?:(.*?)(?:\n\s*\n|\"\"\"|\Z)", re.DOTALL)
KEY = re.compile(r"\[([A-Z][A-Za-z0-9-]{4,})\]")
FILES = sorted((ROOT / "parasim").rglob("*.py"))


def keys_named(text: str) -> set[str]:
    """Keys in the paragraphs that begin with `Source:`."""
    return {key for paragraph in NAMED.findall(text) for key in KEY.findall(paragraph)}


def test_keys_all_have_the_shape_looked_for():
    assert keys_named("Source: " + " ".join(f"[{key}]" for key in REFERENCES)) == set(REFERENCES)


def test_named_sources_are_listed():
    unknown = {path: keys_named(path.read_text(encoding="utf-8")) - set(REFERENCES) for path in FILES}
    assert {path: keys for path, keys in unknown.items() if keys} == {}


def test_every_source_line_names_a_key():
    """`Source:` with nothing that can be looked up behind it would be decoration."""
    for path in FILES:
        for paragraph in NAMED.findall(path.read_text(encoding="utf-8")):
            assert KEY.search(paragraph), f"{path}: no [Key] after 'Source:' in{paragraph}"


def test_every_listed_source_is_used():
    used = set()
    for folder in ("parasim", "tests", "scripts"):
        for path in (ROOT / folder).rglob("*.py"):
            used |= keys_named(path.read_text(encoding="utf-8"))
    assert set(REFERENCES) - used == set(), "listed in references.py, but no docstring names them"


def test_every_entry_is_complete_and_in_order():
    assert list(REFERENCES) == sorted(REFERENCES, key=str.casefold)
    for reference in REFERENCES.values():
        assert all((reference.authors, reference.title, reference.where, reference.note))
        assert 1900 < reference.year < 2027
