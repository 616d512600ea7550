"""Two small compiled functions for tests of the cache of machine code."""

from parasim.compiled import compiled


@compiled
def total(x: float) -> float:
    """Three times."""
    return x + x + x


@compiled
def twice(x: float) -> float:
    """Two times."""
    return 2.0 * x
