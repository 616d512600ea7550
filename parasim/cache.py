"""Where parasim keeps what it worked out once and would not work out again."""

import os
from pathlib import Path


def cache_directory(kind: str) -> Path:
    """Directory for one kind of kept results: in PARASIM_CACHE, or else in the system's cache directory."""
    own = os.environ.get("PARASIM_CACHE")
    if own:
        return Path(own) / kind
    system = os.environ.get("LOCALAPPDATA") or os.environ.get("XDG_CACHE_HOME")
    return Path(system or Path.home() / ".cache") / "parasim" / kind
