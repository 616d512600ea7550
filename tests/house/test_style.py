"""Style, types and layers, so that one command checks all."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

TOOLS = {
    "ruff check": [sys.executable, "-m", "ruff", "check", "."],
    "ruff format": [sys.executable, "-m", "ruff", "format", "--check", "."],
    "mypy": [sys.executable, "-m", "mypy"],
    "lint-imports": [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
}


@pytest.mark.parametrize("name", TOOLS)
def test_tool_is_content(name):
    done = subprocess.run(TOOLS[name], cwd=ROOT, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
