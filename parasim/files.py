"""Files written whole or not at all: under temporary names beside them, all of them, then renamed."""

import os
import re
import signal
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from errno import EISDIR
from pathlib import Path
from secrets import token_hex
from typing import IO

from parasim.errors import OutputError, plain


def write_together(files: Mapping[Path, bytes]) -> list[Path]:
    """Write files under temporary names beside them, all of them, before the first is renamed.

    An interruption waits until all is done.

    Parameters
    ----------
    files : mapping of Path to bytes
        Path and content of each; directories above it are made.

    Returns
    -------
    list of Path
        The same paths.

    Raises
    ------
    OutputError
        When one cannot be written; then no file is new, and nothing is left behind. Only a rename that fails
        half-way, after all was written and nothing stood in the way, can leave some new and some old.
    """
    with uninterrupted():
        return _write_together(files)


def _write_together(files: Mapping[Path, bytes]) -> list[Path]:
    ready: list[tuple[Path, Path]] = []
    path = Path()
    try:
        for path, content in files.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            _refuse_directory(path)
            temporary = path.parent / f".{path.name[:80]}.{token_hex(4)}"
            handle = os.open(
                temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666
            )
            ready.append((temporary, path))
            with os.fdopen(handle, "wb") as file:
                file.write(content)
        for temporary, path in ready:
            os.replace(temporary, path)
    except (OSError, ValueError) as error:
        raise OutputError(cannot_write(path, error)) from None
    finally:
        for temporary, _ in ready:
            temporary.unlink(missing_ok=True)
    return list(files)


def cannot_write(path: Path, error: Exception) -> str:
    """Why a path cannot be written, in a line."""
    reason = getattr(error, "strerror", None) or str(error)
    return f"{path} cannot be written ({reason}); choose another directory"


def _refuse_directory(path: Path) -> None:
    if path.is_dir():
        raise IsADirectoryError(EISDIR, "a directory of that name is in the way")


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Put off an interruption until the block is done."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    asked: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: asked.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if asked:
        raise KeyboardInterrupt


def write_new(path: Path, content: bytes) -> None:
    """Write a file that is not there yet; whatever bears its name is left as it is.

    Raises
    ------
    OutputError
        When something is there already, or it cannot be written; then nothing is left behind.
    """
    with uninterrupted():
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("xb") as file:
                _fill(path, file, content)
        except FileExistsError:
            raise OutputError(f"{plain(str(path))} is already there; give another name") from None
        except (OSError, ValueError) as error:
            raise OutputError(cannot_write(path, error)) from None


def _fill(path: Path, file: IO[bytes], content: bytes) -> None:
    """Write all of it, or take the file away again."""
    try:
        file.write(content)
        file.flush()
    except OSError:
        path.unlink(missing_ok=True)
        raise


def file_stem(name: str, otherwise: str = "design") -> str:
    """A design's name as the beginning of file names; `otherwise` where nothing of it can be used.

    Examples
    --------
    >>> file_stem("sky / hook 2")
    'sky_hook_2'
    """
    return re.sub(r"[^\w.-]+", "_", name).strip("._") or otherwise
