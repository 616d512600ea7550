"""What a command gives back: text or one JSON document on stdout, files in a directory, warnings.

Files are gathered in memory and written together at the end (`parasim/files.py`), so that a run that fails
leaves nothing half-written and the old set whole.
"""

import json
import math
import sys
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

from parasim import __version__
from parasim.caveats import KINDS, Caveat, kind_of, said
from parasim.errors import OutputError, plain
from parasim.files import cannot_write, write_together
from parasim.report.report import wrapped
from parasim.units import System

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Output:
    """Output of one command.

    Parameters
    ----------
    command : str
        Name of the command.
    design : str
        The design file, as it was given.
    directory : Path, optional
        Where files go; without it files are dropped.
    as_json : bool
        Print one JSON document in place of text.
    units : {"metric", "imperial"}
        Units of printed text.
    quiet : bool
        Print the first line only.
    every : bool
        Print long tables in full.

    Raises
    ------
    OutputError
        When the directory is a file.
    """

    def __init__(
        self,
        *,
        command: str,
        design: str = "",
        directory: Path | None = None,
        as_json: bool = False,
        units: System = "metric",
        quiet: bool = False,
        every: bool = False,
    ) -> None:
        self.command, self.design = command, design
        self.directory, self.as_json, self.units = directory, as_json, units
        self.quiet, self.every = quiet, every
        self.warnings: list[str] = []
        self.caution = ""
        self.prefix = ""
        self._files: dict[str, bytes] = {}
        self._at_last: list[Callable[[], None]] = []
        self.until_end = ExitStack()
        if directory is not None:
            check_directory(directory)

    @property
    def wants_files(self) -> bool:
        """Whether files will be written; a command can save itself the drawing otherwise."""
        return self.directory is not None

    def warn(self, text: str) -> None:
        """Keep a warning: on stderr at the end, or in the JSON document. Said once only."""
        if text not in self.warnings:
            self.warnings.append(text)

    def at_last(self, act: Callable[[], None]) -> None:
        """Have something done once all is written and printed, such as to end with another exit code."""
        self._at_last.append(act)

    def keep_only(self, touches: Callable[[str], bool]) -> None:
        """Drop warnings that do not bear on the answer."""
        self.warnings = [text for text in self.warnings if touches(text)]

    def print(self, text: str = "") -> None:
        """Print text for people; silent with ``--json``."""
        if not self.as_json:
            print("\n".join(map(plain, text.split("\n"))))

    def add(self, name: str, content: str | bytes) -> None:
        """Gather a file."""
        self._files[self.prefix + name] = content.encode() if isinstance(content, str) else content

    def add_to_fill_in(self, name: str, text: str) -> None:
        """Gather a file that a person fills in, unless one of that name is there that reads otherwise."""
        there = None if self.directory is None else self.directory / (self.prefix + name)
        if there is None or not there.is_file() or there.read_bytes() == text.encode():
            self.add(name, text)
            return
        self.warn(
            Caveat(
                f"{there.name} was filled in, or is of another design, and is kept as it is: move it away to "
                "get a new one.",
                "lacks",
            )
        )

    def add_json(self, name: str, data: Mapping[str, Any]) -> None:
        """Gather a JSON file; numbers that are not finite become null."""
        self.add(name, as_json(self._document(data)))

    def add_figure(self, name: str, figure: "Figure") -> None:
        """Gather a figure, in the format of its name's suffix."""
        from parasim.plotting.style import picture_bytes

        self._files[self.prefix + name] = picture_bytes(figure, Path(name).suffix.lstrip("."))

    def finish(self, data: Mapping[str, Any]) -> None:
        """Write the files, then print the JSON document, or the warnings and the names of the files.

        Parameters
        ----------
        data : mapping
            Results; keys carry the unit in their name.

        Raises
        ------
        OutputError
            When a file cannot be written.
        """
        self._say(data, self._write_files())
        for act in self._at_last:
            act()

    def _say(self, data: Mapping[str, Any], written: list[str]) -> None:
        if self.as_json:
            files = {"files": written} if written else {}
            print(as_json(self._document(data) | {"warnings": self.warnings} | files))
            return
        for path in [] if self.quiet else written:
            print(plain(f"wrote {path}"))
        sys.stdout.flush()
        for kind, begin in KINDS.items():
            for warning in (text for text in self.warnings if kind_of(text) == kind):
                print(wrapped(plain(said(warning, self.units)), f"{begin}: "), file=sys.stderr)
        if self.caution:
            print(wrapped(self.caution, "caution: "), file=sys.stderr)

    def _document(self, data: Mapping[str, Any]) -> dict[str, Any]:
        return {"parasim": {"command": self.command, "version": __version__, "design": self.design}, **data}

    def _write_files(self) -> list[str]:
        if self.directory is None or not self._files:
            return []
        files = {self.directory / name: content for name, content in self._files.items()}
        return [str(path) for path in write_together(files)]


def as_json(data: Mapping[str, Any]) -> str:
    """Return data as JSON text; arrays become lists, numbers that are not finite become null."""
    return json.dumps(_plain(data), indent=2, allow_nan=False)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if value is None or isinstance(value, str | int | float):
        return value
    return str(value)


def _plain_number(cell: object) -> object:
    return cell.item() if hasattr(cell, "item") else cell


def check_directory(directory: Path) -> None:
    """Refuse a directory that is, or lies below, a file."""
    try:
        taken = [path for path in (directory, *directory.parents) if path.exists() and not path.is_dir()]
    except (OSError, ValueError) as error:
        raise OutputError(cannot_write(directory, error)) from None
    if taken:
        raise OutputError(f"--out: {taken[0]} is a file; give the name of a directory")
