"""A command that only loads the design, so that bad input is tested without any flight physics."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType

import pytest

from parasim.cli import main as command_line
from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption
from parasim.cli.output import Output
from parasim.cli.run import loaded

Run = Callable[..., int]


def probe(
    design: DesignArgument, out: OutOption = None, as_json: JsonOption = False, units: UnitsOption = "metric"
) -> None:
    """Load a design and say its name."""
    output = Output(command="probe", design=str(design), directory=out, as_json=as_json, units=units)
    name = loaded(design, output).name
    output.print(f"name  {name}")
    output.add("name.txt", name)
    output.finish({"name": name})


@pytest.fixture
def run(tmp_path: Path) -> Iterator[Run]:
    """Run the command line in an empty directory, with the command ``probe`` added."""
    module = ModuleType("parasim.cli.probe")
    module.probe = probe  # type: ignore[attr-defined]
    names = [*command_line.command_names(), "probe"]
    with pytest.MonkeyPatch.context() as changed:
        changed.setitem(sys.modules, "parasim.cli.probe", module)
        changed.setattr(command_line, "command_names", lambda: names)
        changed.chdir(tmp_path)
        yield lambda *arguments: command_line.main([str(argument) for argument in arguments])
