"""A design being changed: edits, each checked as a file is, undo and redo, saving under a new name."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from parasim.config.design import Design
from parasim.config.loader import parse_design, read_text
from parasim.config.variant import DesignFile, read_design_file, with_entry
from parasim.errors import DesignError, first_line
from parasim.files import write_new
from parasim.geometry.canopy import Canopy, build_canopy
from parasim.geometry.lines import LineSet, build_lines
from parasim.geometry.rigging import posed
from parasim.plotting.scene import Scene, build_scene

SUFFIXES = (".yaml", ".yml")
"""Endings of a design file; the first is put where none is given."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Built:
    """A valid design and what it looks like.

    Attributes
    ----------
    design, canopy, line_set, scene
        As of these names elsewhere.
    notes : tuple of str
        Guard rails that the design lies outside of.
    """

    design: Design
    canopy: Canopy
    line_set: LineSet
    scene: Scene
    notes: tuple[str, ...]


def build(design: Design) -> Built:
    """Geometry of a design.

    Raises
    ------
    DesignError
        If its rows or its inlet cannot be made.
    """
    notes = posed(design).warnings()
    canopy = build_canopy(design)
    line_set = build_lines(design, canopy)
    scene = build_scene(design, canopy, line_set)
    return Built(design=design, canopy=canopy, line_set=line_set, scene=scene, notes=notes)


@dataclass(frozen=True, kw_only=True, eq=False)
class Step:
    """Where the trial stands: keys changed against the file, as text; what that makes; by which stroke."""

    changes: Mapping[str, str]
    built: Built
    stroke: str = ""


class Trial:
    """One window's design.

    Parameters
    ----------
    path : Path
        Of the design file.

    Raises
    ------
    DesignError
        When it holds no valid design.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.refused: dict[str, tuple[str, str]] = {}
        """Key to the text that was refused and the reason, until it is corrected."""
        self.file, self.now = _opened(path)
        self._past: list[Step] = []
        self._future: list[Step] = []
        self._seen = self.file.text

    @property
    def built(self) -> Built:
        """The last valid design."""
        return self.now.built

    @property
    def can_undo(self) -> bool:
        """Whether there is a step back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether there is a step forward again."""
        return bool(self._future)

    def set(self, key: str, text: str, *, stroke: str = "", words: str = "") -> bool:
        """Change a key; the design stays as it is where the specs refuse that.

        Parameters
        ----------
        key : str
            Dotted key.
        text : str
            As it would stand in the file.
        stroke : str
            Changes of one name, one after another, are undone together: a handle's way from press to release.
        words : str
            What the key is called where it is changed.

        Returns
        -------
        bool
            Whether it was taken; else `refused` says why.
        """
        changes = {**self.now.changes, key: text.strip()}
        try:
            built = build(self.file.design(changes))
        except DesignError as error:
            self.refused[key] = (text, _reason(error, {key: words or key}))
            return False
        self.refused.pop(key, None)
        if not (stroke and stroke == self.now.stroke):
            self._past.append(self.now)
        self._future.clear()
        self.now = Step(changes=changes, built=built, stroke=stroke)
        return True

    def undo(self) -> bool:
        """Go a step back; False where there is none."""
        return self._move(self._past, self._future)

    def redo(self) -> bool:
        """Go that step forward again; False where there is none."""
        return self._move(self._future, self._past)

    def _move(self, source: list[Step], target: list[Step]) -> bool:
        self.refused.clear()
        if not source:
            return False
        target.append(replace(self.now, stroke=""))
        self.now = source.pop()
        return True

    def news(self) -> str:
        """What has happened to the file on disk since it was last looked at: changed, gone, or nothing."""
        try:
            text = read_text(self.path)
        except DesignError:
            text = ""
        if text == self._seen:
            return ""
        self._seen = text
        return "" if text == self.file.text else "changed" if text else "gone"

    def reload(self) -> None:
        """Begin again with the file as it is now.

        Raises
        ------
        DesignError
            When it holds no valid design; then the trial stays as it is.
        """
        self.file, self.now = _opened(self.path)
        self._seen = self.file.text
        self._past, self._future, self.refused = [], [], {}

    def text(self, name: str) -> str:
        """The design as a file, with the comments of the one it came from, under another name."""
        return with_entry(self.file.changed_text(dict(self.now.changes)), "name", name)

    def free_name(self, directory: Path) -> str:
        """Name of a design that is not in a directory yet: its own, numbered from two on."""
        stem = re.sub(r"_\d+$", "", self.built.design.name)[:50] or "design"
        names = (f"{stem}_{number}" for number in range(2, 10_000))
        return next(
            name for name in names if not any((directory / f"{name}{end}").exists() for end in SUFFIXES)
        )

    def save(self, name: str, directory: Path) -> Path:
        """Write the design as a new file.

        Parameters
        ----------
        name : str
            Of the design and of the file, with or without its ending.
        directory : Path
            Where it goes.

        Raises
        ------
        OptionError
            When that is no plain name.
        OutputError
            When a file of that name is there, or it cannot be written.
        """
        from parasim.study.new import check_name  # here, for it brings the physics, which takes a while

        given = Path(name.strip())
        stem, suffix = (given.stem, given.suffix) if given.suffix in SUFFIXES else (name.strip(), SUFFIXES[0])
        check_name(stem)
        path, text = directory / f"{stem}{suffix}", self.text(stem)
        parse_design(text, name=path.name, directory=self.file.directory)
        write_new(path, text.encode())
        return path


def _reason(error: DesignError, words: Mapping[str, str]) -> str:
    """The first mistake without file and line, which were not touched; keys in words where there are some."""
    first = error.mistakes[0]
    return first_line(DesignError(replace(first, file="", line=None, key=words.get(first.key, first.key))))


def _opened(path: Path) -> tuple[DesignFile, Step]:
    file = read_design_file(path)
    try:
        return file, Step(changes={}, built=build(file.design()))
    except DesignError as error:
        raise error.in_file(file.name) from None
