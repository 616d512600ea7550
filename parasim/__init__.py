"""parasim: glide, sink, trim and drops of a small sewn ram-air parafoil.

The names below are what a script needs; each is imported when it is first asked for, so that
``import parasim`` stays light. Nothing inside the package imports from here.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from parasim.config.design import Design
    from parasim.config.loader import load_design, override, parse_design
    from parasim.errors import ParasimError

__version__ = "0.1.0"

_HOME = {
    "Design": "parasim.config.design",
    "ParasimError": "parasim.errors",
    "load_design": "parasim.config.loader",
    "override": "parasim.config.loader",
    "parse_design": "parasim.config.loader",
}

__all__ = ["Design", "ParasimError", "__version__", "load_design", "override", "parse_design"]


def __getattr__(name: str) -> object:
    """Import a public name from the module that defines it."""
    if name not in _HOME:
        raise AttributeError(f"module 'parasim' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    """Names offered on completion."""
    return sorted(__all__)
