"""Variants of a design file: the same file with some keys changed, as data and as text with its comments."""

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from parasim.config.design import Design
from parasim.config.document import Document, read_document
from parasim.config.loader import read_text, set_key, validated

Written = str | int | float | bool
"""A value as it stands in a design file."""

Entry = Written | dict[str, Any]
"""A value, or a mapping of entries."""

PATHS = ("canopy.airfoil.coordinates", "site.wind.table")
"""Keys that name a file, as seen from the design file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignFile:
    """A design file as it was read.

    Attributes
    ----------
    text : str
        YAML.
    document : Document
        The same as plain data.
    directory : Path
        Where a coordinate file is looked for.
    """

    text: str
    document: Document
    directory: Path

    @property
    def name(self) -> str:
        """Of the file."""
        return self.document.name

    def has(self, key: str) -> bool:
        """Whether a dotted key stands in the file."""
        return self.at(key) is not None

    def at(self, key: str) -> Any:
        """What is written under a dotted key; None when it is not there."""
        return self.document.at(_place(key))

    def design(self, changes: Mapping[str, Written] | None = None) -> Design:
        """Design of the file with some keys changed, checked as any other.

        Parameters
        ----------
        changes : mapping, optional
            Dotted key to value, written as in the file.

        Raises
        ------
        DesignError
            When the changed file does not hold together.
        """
        data = deepcopy(self.document.data)
        for key, value in (changes or {}).items():
            set_key(data, key, value)
        changed = Document(name=self.name, data=data, lines=self.document.lines)
        return validated(changed, self.directory)

    def changed_text(self, changes: Mapping[str, Written]) -> str:
        """Text of the file with some keys changed in their place; files it names by their whole path.

        Comments and the order of keys stay. A key that is not there yet is put at the head of its section.
        """
        text = self.text
        named = {key: self.at(key) for key in PATHS if self.has(key)}
        changes = {key: str((self.directory / str(file)).absolute()) for key, file in named.items()} | dict(
            changes
        )
        for key, value in changes.items():
            text = with_entry(text, key, value)
        return text


def read_design_file(path: str | Path) -> DesignFile:
    """Read a design file, to be varied.

    Raises
    ------
    DesignError
        When the file cannot be read; whether it holds a design is seen by `DesignFile.design`.
    """
    path = Path(path)
    text = read_text(path)
    return DesignFile(text=text, document=read_document(text, path.name), directory=path.parent)


def _place(key: str) -> tuple[str | int, ...]:
    return tuple(int(part) if part.isdigit() else part for part in key.split("."))


def with_entry(text: str, key: str, entry: Entry) -> str:
    """Text with an entry put in place of what stands under a dotted key, or put in anew.

    A mapping over several lines keeps its lines and comments; what it lacks is put at its head.
    """
    node: yaml.Node = yaml.compose(text, Loader=yaml.SafeLoader)  # type: ignore[assignment]
    parts = key.split(".")
    for depth, part in enumerate(parts):
        below = _below(node, part)
        if below is None:
            return _inserted(text, node, parts[depth:], entry)
        node = below
    if isinstance(entry, dict) and isinstance(node, yaml.MappingNode) and not node.flow_style:
        for name, below_it in reversed(list(entry.items())):
            text = with_entry(text, f"{key}.{name}", below_it)
        return text
    start, end = node.start_mark.index, node.end_mark.index
    return text[:start] + on_one_line(entry) + text[end:]


def _below(node: yaml.Node, part: str) -> yaml.Node | None:
    if isinstance(node, yaml.SequenceNode) and part.isdigit():
        return node.value[int(part)] if int(part) < len(node.value) else None
    if isinstance(node, yaml.MappingNode):
        return next((below for name, below in node.value if name.value == part), None)
    return None


def _inserted(text: str, node: yaml.Node, parts: list[str], value: Entry) -> str:
    """Text with a new key at the head of a mapping, what lies below it in braces."""
    entry = on_one_line(value)
    for part in reversed(parts[1:]):
        entry = f"{{{part}: {entry}}}"
    entry = f"{parts[0]}: {entry}"
    start, column = node.start_mark.index, node.start_mark.column
    if isinstance(node, yaml.MappingNode) and node.flow_style:
        return text[: start + 1] + entry + (", " if node.value else "") + text[start + 1 :]
    return text[:start] + entry + "\n" + " " * column + text[start:]


def on_one_line(value: Entry) -> str:
    """An entry as YAML, braces and all."""
    dumped = yaml.safe_dump(value, default_flow_style=True, sort_keys=False, width=10_000, allow_unicode=True)
    return dumped.removesuffix("\n").removesuffix("\n...")
