"""Finished chunks of a long run kept on disk, so that it can go on after it was stopped.

Each chunk is a file of its own, written under another name and then renamed; beside them stands what they are
parts of. Parts of another design, seed or version are never mixed in.
"""

import hashlib
import io
import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np

from parasim.errors import OptionError, OutputError
from parasim.flight.scatter_members import OUTCOMES, Chunk, Members

DIRECTORY = "scatter_parts"
WHAT = "what.json"


def fingerprint(what: Mapping[str, Any]) -> str:
    """Short digest of what a run depends on."""
    return hashlib.sha256(json.dumps(what, sort_keys=True, default=str).encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptParts:
    """Parts of one run in a directory.

    Attributes
    ----------
    directory : Path
        Holds nothing else.
    """

    directory: Path

    @classmethod
    def open(cls, out: Path, what: Mapping[str, Any], *, resume: bool) -> "KeptParts":
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
            When asked to go on, and what is there belongs to another run or there is nothing.
        OutputError
            When nothing can be written there.
        """
        parts = cls(directory=out / DIRECTORY)
        label = parts.directory / WHAT
        if resume:
            parts._require(label, what)
            return parts
        parts.remove()
        parts._write(label, json.dumps({"fingerprint": fingerprint(what), **what}, default=str).encode())
        return parts

    def _require(self, label: Path, what: Mapping[str, Any]) -> None:
        try:
            there = json.loads(label.read_text(encoding="utf-8"))
            found = there.pop("fingerprint")
        except (OSError, ValueError, KeyError, AttributeError, TypeError):
            raise OptionError(
                f"--resume: nothing to go on with in {self.directory}; leave --resume out to begin anew"
            ) from None
        if found != fingerprint(what):
            now = json.loads(json.dumps(dict(what), default=str))
            other = [key for key in now if there.get(key) != now[key]] or ["what is kept"]
            raise OptionError(
                f"--resume: the parts in {self.directory} belong to another run ({', '.join(other)} differ); "
                "give the same design and options, another --out, or leave --resume out to begin anew"
            )

    def keep(self, chunk: Chunk, members: Members) -> None:
        """Write a finished chunk."""
        text = io.BytesIO()
        arrays: dict[str, Any] = {name: getattr(members, name) for name in OUTCOMES}
        arrays |= {f"input_{name}": values for name, values in members.inputs.items()}
        np.savez(text, **arrays)
        self._write(self._path(chunk), text.getvalue())

    def finished(self, chunk: Chunk) -> Members | None:
        """A chunk as it was kept; None if it was not, or cannot be read."""
        try:
            with np.load(io.BytesIO(self._path(chunk).read_bytes()), allow_pickle=False) as kept:
                arrays = {name: kept[name] for name in OUTCOMES}
                inputs = {
                    name.removeprefix("input_"): kept[name] for name in kept if name.startswith("input_")
                }
        except (OSError, ValueError, KeyError, EOFError, BadZipFile):
            return None
        if any(len(each) != chunk.count for each in (*arrays.values(), *inputs.values())):
            return None
        return Members(**arrays, inputs=inputs)

    def remove(self) -> None:
        """Take the parts away, once the whole is written."""
        shutil.rmtree(self.directory, ignore_errors=True)

    def _path(self, chunk: Chunk) -> Path:
        return self.directory / f"{chunk.first:09d}_{chunk.count}.npz"

    def _write(self, path: Path, content: bytes) -> None:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            os.replace(temporary, path)
        except OSError as error:
            raise OutputError(
                f"{path} cannot be written ({error.strerror}); choose another directory"
            ) from None
