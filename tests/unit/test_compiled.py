"""Compiled functions do what they do as plain Python, and are kept apart by the state of the sources."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from parasim import compiled as module
from parasim.cache import KEPT_STATES, CacheWarning, cache_directory, prune_states, usable, without_cache
from parasim.compiled import compiled, source_digest


@compiled
def sum_of_squares(values, divisor):
    total = 0.0
    for value in values:
        total += value * value
    return total / divisor


def test_compiled_is_what_is_written():
    values = np.arange(5.0)
    assert sum_of_squares(values, 2.0) == sum_of_squares.py_func(values, 2.0) == 15.0
    assert sum_of_squares(values, 0.0) == np.inf


def test_a_changed_source_has_another_digest(tmp_path, monkeypatch):
    package = tmp_path / "parasim" / "dynamics" / "brakes"
    package.mkdir(parents=True)
    source = package / "motion.py"
    monkeypatch.setattr(module, "__file__", str(package.parents[1] / "compiled.py"))
    found = []
    for text in ("from parasim.compiled import compiled\n", "from parasim.compiled import compiled\nA = 1\n"):
        source.write_text(text)
        found.append(source_digest())
    (package / "other.py").write_text("nothing compiled here\n")
    assert found[0] != found[1] == source_digest()
    monkeypatch.setitem(module.OPTIONS, "nogil", False)
    assert found[1] != source_digest()


def test_cache_of_ones_own(monkeypatch, tmp_path):
    monkeypatch.setenv("PARASIM_CACHE", str(tmp_path))
    assert cache_directory("compiled") == tmp_path / "compiled"


ROOT = Path(__file__).parents[2]
KEPT = """
import json, sys, warnings
with warnings.catch_warnings(record=True) as told:
    warnings.simplefilter("always")
    if "moved" in sys.argv:
        sys.modules["parasim.kept_code"] = None  # imports of it fail
    if "other" in sys.argv:
        from parasim import kept_code
        kept_code._CheckedFile.__init__ = lambda self: None
    if "renamed" in sys.argv:
        from parasim import kept_code
        del kept_code._CheckedFile.__mro__[1]._open_for_write
    if "full" in sys.argv:
        from parasim import kept_code
        def full(self, *_):
            raise OSError(28, "No space left on device")
        kept_code._CheckedFile._save_data = full
    from tests.unit.compiled_sums import total, twice
    sums = [total(3.0), twice(3.0)]
hits = sum(sum(each.stats.cache_hits.values()) for each in (total, twice))
print(json.dumps({"sums": sums, "hits": hits, "told": [str(each.message) for each in told]}))
"""


def fresh(*arguments: str, cache: Path | str | None, home: str | None = None) -> dict:
    """What an interpreter of its own finds with two compiled functions."""
    taken = ("PARASIM_CACHE", "XDG_CACHE_HOME", "LOCALAPPDATA", "NUMBA_CACHE_DIR", "HOME")
    environment = {key: value for key, value in os.environ.items() if key not in taken}
    environment |= {"PYTHONPATH": str(ROOT)}
    environment |= {} if cache is None else {"PARASIM_CACHE": str(cache)}
    environment |= {} if home is None else {"HOME": home}
    done = subprocess.run(
        [sys.executable, "-c", KEPT, *arguments], env=environment, cwd=ROOT, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    return json.loads(done.stdout)


def test_a_damaged_cache_heals(tmp_path):
    assert fresh(cache=tmp_path) == {"sums": [9.0, 6.0], "hits": 0, "told": []}
    assert fresh(cache=tmp_path)["hits"] == 2
    for damage in (b"", b"garbage" * 9, None):
        for kind in ("nbc", "nbi"):
            for path in tmp_path.rglob(f"*.{kind}"):
                path.write_bytes(path.read_bytes()[:-9] if damage is None else damage)
            assert fresh(cache=tmp_path) == {"sums": [9.0, 6.0], "hits": 0, "told": []}
            assert fresh(cache=tmp_path)["hits"] == 2


def test_a_bit_that_flipped_is_noticed(tmp_path):
    fresh(cache=tmp_path)
    for path in tmp_path.rglob("*.nbc"):
        content = bytearray(path.read_bytes())
        content[len(content) // 2] ^= 1
        path.write_bytes(content)
    assert fresh(cache=tmp_path) == {"sums": [9.0, 6.0], "hits": 0, "told": []}


@pytest.mark.parametrize("how", ["moved", "other"])
def test_another_numba_keeps_the_code_itself(tmp_path, how):
    """Its names are no longer there, or one that takes other arguments."""
    assert fresh(how, cache=tmp_path) == {"sums": [9.0, 6.0], "hits": 0, "told": []}
    assert fresh(how, cache=tmp_path)["hits"] == 2


def test_another_numba_that_cannot_be_asked_to_write_runs_without(tmp_path):
    found = fresh("renamed", cache=tmp_path)
    assert found["sums"] == [9.0, 6.0]
    assert ["_open_for_write" in told for told in found["told"]] == [True]


@pytest.mark.parametrize("how", ["in the way", "no room"])
def test_without_a_place_it_runs_with_one_warning(tmp_path, how):
    """A file where the directory should be stands for a read-only home: root may write to either."""
    blocked = tmp_path / "file"
    blocked.write_text("")
    found = fresh(cache=blocked) if how == "in the way" else fresh("full", cache=tmp_path / "cache")
    assert found["sums"] == [9.0, 6.0]
    assert len(found["told"]) == 1
    assert found["told"][0].startswith("nothing can be kept for the next run (")
    assert "set PARASIM_CACHE" in found["told"][0]


def test_a_user_without_a_home(monkeypatch):
    for name in ("PARASIM_CACHE", "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)

    def homeless():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(Path, "home", homeless)
    assert cache_directory("compiled") is None
    assert not usable(None)
    with pytest.warns(CacheWarning, match="no home directory"):
        without_cache(None, "")


def test_old_states_are_pruned(tmp_path):
    for i in range(KEPT_STATES + 3):
        (tmp_path / f"{i:016x}").mkdir()
        os.utime(tmp_path / f"{i:016x}", (i, i))
    (tmp_path / "mine").mkdir()
    prune_states(tmp_path / f"{0:016x}")
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left == [f"{i:016x}" for i in (0, *range(3, KEPT_STATES + 3))] + ["mine"]
