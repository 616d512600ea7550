"""What is printed hangs on no last bit: an older instruction set moves it by one unit of the last digit."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from scripts.other_processor import environment
from scripts.readme_tables import HERON, same

ROOT = Path(__file__).parents[2]
COMMANDS = {
    "glide": ["glide", HERON],
    "landing": ["landing", HERON],
    "release": ["release", HERON],
    "build": ["build", HERON],
    "drop in wind": ["drop", HERON, "--height", "60", "--wind", "3"],
    "scatter": ["scatter", HERON, "--drops", "100"],
}
LOOSE = {"scatter": 2e-3}
"""Part of a number that may move: areas end in zeros, whose last digit the comparison does not know."""
PRINTS = """
import json, sys
from scripts.readme_tables import printed
import numpy
lines = [numpy.linspace(0, 1, n) ** 3.3 for n in range(99, 999, 7)]
sums = [float(x).hex() for v in lines for x in (v @ v, numpy.exp(v).sum(), numpy.sin(9 * v).sum())]
told = {name: printed(*arguments) for name, arguments in json.loads(sys.argv[1]).items()}
print(json.dumps({**told, "sums": sums}))
"""


@pytest.fixture(scope="module")
def told() -> list[dict[str, str]]:
    """Texts of each command, here and there; both at once, in interpreters of their own."""
    order = [sys.executable, "-c", PRINTS, json.dumps(COMMANDS)]
    running = [
        subprocess.Popen(
            order, env={**env, "PYTHONPATH": str(ROOT)}, cwd=ROOT, text=True, stdout=subprocess.PIPE
        )
        for env in (os.environ, environment(compiled=False))
    ]
    return [json.loads(process.communicate(timeout=300)[0]) for process in running]


def test_it_is_another_arithmetic(told):
    """Where this processor is an old one itself, the comparison tells nothing."""
    if not environment()["NPY_DISABLE_CPU_FEATURES"]:
        pytest.skip("this processor has no wider vector units to hold back")
    one, two = (each["sums"] for each in told)
    assert one != two


@pytest.mark.parametrize("name", COMMANDS)
def test_the_same_is_printed(told, name):
    one, two = (each[name] for each in told)
    assert same(one, two, LOOSE.get(name, 0.0)), f"{one}\n----- on the other\n{two}"
