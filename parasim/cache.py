"""Where parasim keeps what it worked out once and would not work out again.

What is kept is a convenience: without a place for it, or when it is damaged, everything is worked out anew.
"""

import os
import re
import shutil
import tempfile
import warnings
from multiprocessing import current_process
from pathlib import Path

KEPT_STATES = 8
"""Directories of other source states that stay beside the own one. Our choice. [-]"""


class CacheWarning(UserWarning):
    """Results are worked out anew in every run."""


def cache_directory(kind: str) -> Path | None:
    """Directory for one kind of kept results: in PARASIM_CACHE, or else in the system's cache directory.

    Returns
    -------
    Path or None
        None where the user has no home directory. Whether it can be written is not asked.
    """
    own = os.environ.get("PARASIM_CACHE")
    if own:
        return Path(own) / kind
    system = os.environ.get("LOCALAPPDATA") or os.environ.get("XDG_CACHE_HOME")
    try:
        return Path(system or Path.home() / ".cache") / "parasim" / kind
    except RuntimeError:
        return None


def usable(directory: Path | None) -> bool:
    """Whether files can be written there; makes the directory."""
    if directory is None:
        return False
    try:
        directory.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=directory).close()
    except (OSError, ValueError):
        return False
    return True


def without_cache(directory: Path | None, reason: str) -> None:
    """Warn that nothing is kept; worker processes leave it to the main one."""
    if current_process().name != "MainProcess":
        return
    where = "no home directory" if directory is None else f"{directory}: {reason}"
    text = f"nothing can be kept for the next run ({where}), so each run begins slowly"
    warnings.warn(f"{text}; set PARASIM_CACHE to a directory", CacheWarning, stacklevel=2)


def prune_states(own: Path) -> None:
    """Remove directories beside the own one that belong to other source states, but for the latest few.

    Parameters
    ----------
    own : Path
        Directory of this state, named by 16 hexadecimal digits; only such names are touched. It counts as
        used now.
    """
    try:
        os.utime(own)
        states = [path for path in own.parent.iterdir() if re.fullmatch(r"[0-9a-f]{16}", path.name)]
        others = sorted((path for path in states if path != own), key=lambda path: path.stat().st_mtime)
    except OSError:
        return
    for path in others[:-KEPT_STATES]:
        shutil.rmtree(path, ignore_errors=True)
