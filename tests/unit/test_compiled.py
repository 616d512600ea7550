"""Compiled functions do what they do as plain Python, and are kept apart by the state of the sources."""

import numpy as np

from parasim import compiled as module
from parasim.cache import cache_directory
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
    package = tmp_path / "parasim" / "dynamics"
    package.mkdir(parents=True)
    source = package / "motion.py"
    monkeypatch.setattr(module, "__file__", str(package.parent / "compiled.py"))
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
