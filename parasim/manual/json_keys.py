"""Keys of every command's JSON document, from the docstring of the function that makes it."""

import inspect
import re
import textwrap
from collections.abc import Sequence
from importlib import import_module
from typing import Any

from parasim.errors import OptionError, plain

COMMANDS = (
    "build", "canopy", "card", "cut", "drag", "drop", "flare", "glide", "landing", "learn", "lines", "new",
    "opening", "release", "scatter", "servo", "size", "summary", "sweep", "templates", "track", "trouble",
    "turn",
)  # fmt: skip

SHARED = """# JSON documents

`--json` prints one document on stdout. The unit is in the name of every key: `sink_m_s`, `rigging_angle_deg`.
What has no unit in its name has none, is text, or stands below a key that has it. A number that does not
exist is `null`.

All commands:

- `parasim`: `command`, `version` and the `design` file as it was given.
- `name` of the design; `files` written, with `--out`.
- `warnings`: sentences: guard rails, models used beyond their sources; `caveats`: those of them that come
  from the models.
"""


def json_page(command: str = "") -> str:
    """Keys of one command's document, or of all.

    Raises
    ------
    OptionError
        If there is no such command.
    """
    check_command(command)
    names = [name for name in COMMANDS if command in ("", name)]
    parts = [f"`parasim {name}`:\n\n{documented_keys(name)}\n" for name in names]
    return "\n".join([SHARED, *parts])


def check_command(name: str) -> None:
    """Refuse a part of a page that is no command; nothing stands for all of them.

    Raises
    ------
    OptionError
        Naming the commands.
    """
    if name and name not in COMMANDS:
        raise OptionError(f'PART: given "{plain(name)[:60]}", not a command; use {", ".join(COMMANDS)}')


def documented_keys(command: str) -> str:
    """What the docstring of a command's document says that it returns, as Markdown."""
    report = import_module(f"parasim.report.{command}")
    made = [name for name in vars(report) if name.endswith("_document") and not name.startswith("_")]
    own = report.__name__.rpartition(".")[2]
    name = min(made, key=lambda name: (not own.startswith(name.removesuffix("_document")), name))
    text = (inspect.getdoc(getattr(report, name)) or "").partition("dict\n")[2].partition("\n\n")[0]
    text = re.sub(
        r"`([A-Z_]{4,})`", lambda found: _listed(getattr(report, found[1])), text.replace("``", "`")
    )
    text = re.sub(r"`(\w+)_document`", r"`parasim \1`", textwrap.dedent(text))
    entries = re.split(r"\n(?=- )", text) if text.startswith("- ") else [f"- {text}"]
    return "\n".join(textwrap.fill(" ".join(e.split()), 112, subsequent_indent="  ") for e in entries)


def _listed(columns: Sequence[Any]) -> str:
    """Names of columns, or of keys."""
    names = [getattr(column, "name", column) for column in columns]
    return ", ".join(f"`{name}`" for name in names if name)
