"""What an answer rests on: the published sources named in the modules that it is worked out by."""

import ast
import re
from importlib import resources
from importlib.resources.abc import Traversable

from parasim.manual.json_keys import check_command
from parasim.references import REFERENCES

NAMED = re.compile(r"Sources?:\s((?:\[[\w\-]+\][^\[\n]*)+)")
KEY = re.compile(r"\[([A-Z][\w\-]*)\]")


def sources_page(command: str = "") -> str:
    """Bibliography of one command, or of all of parasim.

    Raises
    ------
    OptionError
        If there is no such command.
    """
    check_command(command)
    texts = _modules()
    wanted = _reached(f"parasim.cli.{command}", texts) if command else set(texts)
    used: dict[str, list[str]] = {}
    for name in sorted(wanted):
        for key in set(KEY.findall(" ".join(NAMED.findall(texts[name])))) & set(REFERENCES):
            used.setdefault(key, []).append(name)
    title = f"# Sources of parasim {command}" if command else "# Sources"
    rows = "\n".join(
        f"- **{key}**: {REFERENCES[key]} Used in {', '.join(f'`{name}`' for name in names)}."
        for key, names in sorted(used.items())
    )
    return (
        f"{title}\n\nPublished sources named in the modules that work it out, with how far each was read.\n"
        "Where a figure is common practice or our own choice, the warnings and the source code say so.\n\n"
        f"{rows}\n"
    )


def _modules() -> dict[str, str]:
    """Source of every module of parasim by its dotted name."""
    found: dict[str, str] = {}

    def walk(folder: Traversable, name: str) -> None:
        for entry in folder.iterdir():
            if entry.is_dir() and not entry.name.startswith("_"):
                walk(entry, f"{name}.{entry.name}")
            elif entry.name.endswith(".py"):
                module = name if entry.name == "__init__.py" else f"{name}.{entry.name[:-3]}"
                found[module] = entry.read_text(encoding="utf-8")

    walk(resources.files("parasim"), "parasim")
    return found


def _reached(begins: str, texts: dict[str, str]) -> set[str]:
    """Modules that one imports, and those that they import, at whatever moment."""
    # The package itself only hands names to scripts: it would lead everywhere.
    reached, waiting = {"parasim"}, [begins]
    while waiting:
        name = waiting.pop()
        if name in reached:
            continue
        reached.add(name)
        for node in ast.walk(ast.parse(texts[name])):
            if isinstance(node, ast.ImportFrom) and node.module and node.module in texts:
                waiting.append(node.module)
                waiting += [full for one in node.names if (full := f"{node.module}.{one.name}") in texts]
    return reached - {"parasim"}
