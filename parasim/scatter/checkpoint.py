"""Finished chunks of a long run kept on disk, so that it can go on after it was stopped.

Each chunk is a file of its own, written whole or not at all; beside them stands what they are
parts of. Every part carries the fingerprint of its run, in its name and inside, so that parts of another
design, seed or program are never mixed in, and several runs in one folder do not touch each other's.
"""

import hashlib
import io
import json
import zlib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np

import parasim
from parasim.config.design import Design
from parasim.errors import OptionError
from parasim.files import write_together
from parasim.scatter.members import ARRAYS, Chunk, Members

DIRECTORY = "scatter_parts"
WHAT = "what"


def run_contents(design: Design, *, seed: int) -> dict[str, Any]:
    """What a run of drops depends on: the whole design, the content of its files, seed and program."""
    found: dict[str, str] = {}
    whole = _without_paths(design.model_dump(by_alias=True), "", found)
    return {"design": whole, "files": found, "seed": seed, "program": program_digest()}


def _without_paths(value: Any, key: str, found: dict[str, str]) -> Any:
    """Put a digest of its content in the place of each file, so that it does not matter where it lies."""
    if isinstance(value, Path):
        found[key] = hashlib.sha256(value.read_bytes()).hexdigest()
        return found[key]
    if isinstance(value, Mapping):
        return {str(name): _without_paths(each, f"{key}.{name}", found) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_without_paths(each, f"{key}.{i}", found) for i, each in enumerate(value)]
    return value


@cache
def program_digest() -> str:
    """Digest of all of parasim's own files that a result can depend on, and of numpy's version."""
    digest = hashlib.sha256(f"{parasim.__version__} {np.__version__}".encode())
    home = Path(parasim.__file__).parent
    for path in sorted(home.rglob("*")):
        if path.suffix in (".py", ".npz"):
            digest.update(path.relative_to(home).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:16]


def fingerprint(what: Mapping[str, Any]) -> str:
    """Short digest of what a run depends on."""
    return hashlib.sha256(json.dumps(what, sort_keys=True, default=str).encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkpoint:
    """Parts of one run in a directory.

    Attributes
    ----------
    directory : Path
        May hold parts of other runs, and files of the user's own; both are left alone.
    mark : str
        Fingerprint of the run.
    """

    directory: Path
    mark: str

    @classmethod
    def open(cls, out: Path, what: Mapping[str, Any], *, resume: bool) -> "Checkpoint":
        """Parts below a directory for files.

        Parameters
        ----------
        out : Path
            Directory for the files of the command.
        what : Mapping
            What the run depends on, in words and numbers.
        resume : bool
            Go on with what is there; else begin anew.

        Raises
        ------
        OptionError
            When asked to go on, and what is there belongs to another run or there is nothing; or not asked
            to, and finished parts of this very run are there.
        OutputError
            When nothing can be written there.
        """
        parts = cls(directory=out / DIRECTORY, mark=fingerprint(what))
        if resume:
            parts._require(what)
            return parts
        if count := len(parts.own()):
            raise OptionError(
                f"--out: {parts.directory} holds finished parts of this very run: {count}; add --resume to "
                "go on with them, or remove that directory to begin anew"
            )
        write_together({parts._label: json.dumps(dict(what), default=str).encode()})
        return parts

    def own(self) -> list[Path]:
        """Finished parts of this run, whether they can be read or not."""
        return sorted(self.directory.glob(f"{self.mark}_*.npz"))

    def others(self) -> int:
        """Number of parts there that belong to other runs."""
        return len(list(self.directory.glob("*.npz"))) - len(self.own())

    @property
    def _label(self) -> Path:
        return self.directory / f"{self.mark}_{WHAT}.json"

    def _require(self, what: Mapping[str, Any]) -> None:
        if self._label.is_file():
            return
        labels = sorted(self.directory.glob(f"*_{WHAT}.json"), key=lambda path: path.stat().st_mtime)
        if not labels:
            raise OptionError(
                f"--resume: nothing to go on with in {self.directory}; leave --resume out to begin anew"
            )
        now, there = json.loads(json.dumps(dict(what), default=str)), _contents(labels[-1])
        other = [key for key in now if there.get(key) != now[key]] or ["what is kept"]
        raise OptionError(
            f"--resume: the parts in {self.directory} belong to another run ({', '.join(other)} differ); "
            "give the same design and options, another --out, or leave --resume out to begin anew"
        )

    def keep(self, chunk: Chunk, members: Members) -> None:
        """Write a finished chunk."""
        text = io.BytesIO()
        arrays: dict[str, Any] = {name: getattr(members, name) for name in ARRAYS}
        arrays |= {f"input_{name}": values for name, values in members.inputs.items()}
        np.savez(text, mark=np.array(self.mark), **arrays)
        write_together({self._path(chunk): text.getvalue()})

    def finished(self, chunk: Chunk) -> Members | None:
        """A chunk as it was kept; None if it was not, cannot be read, or is of another run."""
        try:
            with np.load(io.BytesIO(self._path(chunk).read_bytes()), allow_pickle=False) as kept:
                if str(kept["mark"]) != self.mark:
                    return None
                arrays = {name: kept[name] for name in ARRAYS}
                inputs = {
                    name.removeprefix("input_"): kept[name] for name in kept if name.startswith("input_")
                }
        except (OSError, ValueError, KeyError, EOFError, BadZipFile, zlib.error):
            return None
        if any(len(each) != chunk.count for each in (*arrays.values(), *inputs.values())):
            return None
        return Members(**arrays, inputs=inputs)

    def remove(self) -> None:
        """Take this run's parts away, once the whole is written, and the directory if it is empty then."""
        with suppress(OSError):
            for path in (*self.own(), self._label):
                path.unlink(missing_ok=True)
            self.directory.rmdir()

    def _path(self, chunk: Chunk) -> Path:
        return self.directory / f"{self.mark}_{chunk.first:09d}_{chunk.count}.npz"


def _contents(label: Path) -> dict[str, Any]:
    try:
        there = json.loads(label.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return there if isinstance(there, dict) else {}
