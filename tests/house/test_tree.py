"""The shape of the project: what lies at its top, how long a file may grow, what an import may drag in."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

TOP = {".ci", ".gitignore", "README.md", "DEVELOPERS.md", "pyproject.toml"}
TOP |= {"configs", "parasim", "scripts", "tests"}
LONGEST = 450
HEAVY = ("scipy", "matplotlib", "pint", "pydantic", "yaml", "typer", "rich", "numpy")
LEFT_FOR_LATER = ("scipy", "matplotlib", "pint")


def tracked() -> list[str]:
    """Paths that git knows of."""
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        pytest.skip("not a git checkout")
    return done.stdout.split("\n")[:-1]


def modules_after(statements: str) -> set[str]:
    """Top-level modules loaded by statements in a fresh interpreter."""
    told = "import sys; print(*{name.partition('.')[0] for name in sys.modules}, file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", f"{statements}\n{told}"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return set(done.stderr.split())


def test_top_level_is_what_it_should_be():
    assert {path.split("/")[0] for path in tracked()} <= TOP


def test_no_made_files_are_kept():
    """What a run leaves behind, and pictures but README's, belong nowhere in the repository."""
    made = re.compile(r"__pycache__|\.py[co]$|\.(png|svg|pdf|zip|whl)$|^out/|\.egg-info")
    pictures = {"parasim/manual/pages/heron.png"}
    assert {path for path in tracked() if made.search(path)} <= pictures
    assert all((ROOT / path).stat().st_size < 100_000 for path in pictures)


@pytest.mark.parametrize(
    "path", sorted((ROOT / "parasim").rglob("*.py")), ids=lambda p: str(p.relative_to(ROOT))
)
def test_no_file_holds_two_ideas(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST


def test_import_is_light():
    loaded = modules_after("import parasim")
    assert "parasim" in loaded
    assert loaded.isdisjoint(HEAVY)


def test_help_leaves_solvers_and_drawing_for_later():
    loaded = modules_after("from parasim.cli.main import main\nmain(['--help'])")
    assert "typer" in loaded
    assert loaded.isdisjoint(LEFT_FOR_LATER)


def test_every_public_name_is_where_it_is_said_to_be():
    import parasim

    for name in dir(parasim):
        assert getattr(parasim, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = parasim.nonsense
