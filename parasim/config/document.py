"""YAML text to plain data that remembers its lines.

Only what a design file needs is read: mappings, lists, text, decimal numbers, true, false and null. Text
such as ``1:30`` or ``0x10`` stays text, so that no value changes behind the writer's back.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import yaml

from parasim.config.quantity import NUMBER
from parasim.errors import DesignError, Mistake

_DEEPEST = 12
_LONGEST_WHOLE = 15
_PLAIN_TAGS = {
    f"tag:yaml.org,2002:{name}"
    for name in ("null", "bool", "int", "float", "str", "map", "seq", "timestamp", "merge", "value")
}
_Place = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """Plain data and the line each key stands on.

    Parameters
    ----------
    name : str
        File name, given in messages.
    data : object
        Mappings, lists, text, numbers.
    lines : mapping
        Place (keys and list positions from the top) to line, counted from 1.
    """

    name: str
    data: Any
    lines: Mapping[tuple[str | int, ...], int]

    def line(self, place: _Place) -> int | None:
        """Line of a key, or of the nearest key above it."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place)

    def at(self, place: _Place) -> Any:
        """Value at a place, None when there is none."""
        value = self.data
        for part in place:
            try:
                value = value[part]
            except (LookupError, TypeError):
                return None
        return value


def read_document(text: str, name: str) -> Document:
    """Read YAML text.

    Parameters
    ----------
    text : str
        One YAML document with a mapping at the top.
    name : str
        File name, given in messages.

    Returns
    -------
    Document

    Raises
    ------
    DesignError
        When the text is no such document.
    """
    try:
        node = _Loader(text).get_single_node()
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else None
        problem, hint = _in_words(error, text, line)
        raise DesignError(Mistake(file=name, line=line, problem=problem, hint=hint)) from None
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        raise DesignError(
            Mistake(
                file=name, line=line, problem="holds a control character", hint="save it as plain UTF-8 text"
            )
        ) from None
    if node is None:
        raise DesignError(Mistake(file=name, problem="is empty", hint='start one with "parasim new"'))
    if not isinstance(node, yaml.MappingNode):
        raise DesignError(
            Mistake(
                file=name, line=1, problem="holds no keys at the top", hint="begin with name: and payload:"
            )
        )
    lines: dict[_Place, int] = {}
    data = _plain(node, (), lines, name)
    return Document(name=name, data=data, lines=lines)


class _Loader(yaml.SafeLoader):
    """Composes nodes; refuses aliases, so that a small file cannot grow, and deep nesting."""

    depth = 0

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        event = self.peek_event()  # type: ignore[no-untyped-call]
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise yaml.MarkedYAMLError(problem="anchor", problem_mark=event.start_mark)
        self.depth += 1
        if self.depth > _DEEPEST:
            raise yaml.MarkedYAMLError(problem="depth", problem_mark=event.start_mark)
        node = super().compose_node(parent, index)
        self.depth -= 1
        return node


def _in_words(error: yaml.MarkedYAMLError, text: str, line: int | None) -> tuple[str, str]:
    """Say what YAML's own message means to somebody who does not write YAML every day."""
    problem = error.problem or ""
    source = text.splitlines()[line - 1] if line and line <= len(text.splitlines()) else ""
    if problem == "anchor":
        return "anchors and aliases (& and *) are not used in design files", "write the value out"
    if problem == "depth":
        return "nested too deeply", "see the example designs"
    if "\\t" in problem or "\t" in source[: len(source) - len(source.lstrip())]:
        return "a tab", "indent with spaces"
    if "mapping values" in problem:
        return "a second colon on the line, or wrong indentation", "put text with a colon in quotes"
    if "single document" in (error.context or "") or "but found another document" in problem:
        return "holds a second document (---)", "keep one design in a file"
    if "%" in source and "cannot start any token" in problem:
        return "a value cannot begin with %", "write the number first, such as 15 %"
    return f"not YAML: {problem}", "check indentation, colons, quotes and brackets"


def _plain(node: yaml.Node, place: _Place, lines: dict[_Place, int], name: str) -> Any:
    line = node.start_mark.line + 1
    lines.setdefault(place, line)
    if node.tag not in _PLAIN_TAGS:
        raise DesignError(
            Mistake(
                file=name,
                line=line,
                problem="tags (!) are not used in design files",
                hint="write a plain value",
            )
        )
    if isinstance(node, yaml.MappingNode):
        return _mapping(node, place, lines, name)
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item, (*place, i), lines, name) for i, item in enumerate(node.value)]
    return _scalar(node)


def _mapping(node: yaml.MappingNode, place: _Place, lines: dict[_Place, int], name: str) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for key_node, value_node in node.value:
        line = key_node.start_mark.line + 1
        if not isinstance(key_node, yaml.ScalarNode):
            raise DesignError(
                Mistake(file=name, line=line, problem="a key that is no plain word", hint="write key: value")
            )
        key = str(key_node.value)
        here = (*place, key)
        if key in data:
            raise DesignError(
                Mistake(
                    file=name,
                    line=line,
                    key=".".join(map(str, here)),
                    problem=f"already given on line {lines[here]}",
                    hint="remove one",
                )
            )
        lines[here] = line
        data[key] = _plain(value_node, here, lines, name)
    return data


def _scalar(node: yaml.Node) -> str | int | float | bool | None:
    text, kind = str(node.value), node.tag.rpartition(":")[2]
    if kind == "null":
        return None
    if kind == "bool":
        return text.lower() in {"true", "yes", "on"}
    if kind == "int" and len(text) <= _LONGEST_WHOLE and text.lstrip("+-").isdecimal():
        return int(text)
    if kind in {"int", "float"} and NUMBER.fullmatch(text):
        return float(text)
    return text
