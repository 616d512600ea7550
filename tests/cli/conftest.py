"""A command that only loads the design, so that bad input is tested without any flight physics."""

import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from parasim.cli import main as command_line
from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin

Run = Callable[..., int]


def probe(
    design: DesignArgument, out: OutOption = None, as_json: JsonOption = False, units: UnitsOption = "metric"
) -> None:
    """Load a design and say its name."""
    loaded, output = begin("probe", design, out=out, as_json=as_json, units=units)
    output.table([["name", loaded.name]])
    output.add_text("name.txt", loaded.name)
    output.finish({"name": loaded.name})


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Run the command line in an empty directory, with the command ``probe`` added."""
    module = ModuleType("parasim.cli.probe")
    module.probe = probe  # type: ignore[attr-defined]
    names = [*command_line.command_names(), "probe"]
    monkeypatch.setitem(sys.modules, "parasim.cli.probe", module)
    monkeypatch.setattr(command_line, "command_names", lambda: names)
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: command_line.main([str(argument) for argument in arguments])
