"""Tables of which only the first rows are printed, or none."""

from __future__ import annotations

import pytest

from parasim.report.column import MOST_ROWS, SHOWN_ROWS, Grid, printed

ROWS = [[str(i), "x"] for i in range(MOST_ROWS + 1)]


@pytest.mark.parametrize(
    ("grid", "shown"),
    [
        (Grid(rows=ROWS), MOST_ROWS + 1),
        (Grid(rows=ROWS, long=True), SHOWN_ROWS),
        (Grid(rows=ROWS[:-1], long=True), MOST_ROWS),
        (Grid(rows=ROWS, brief=5), 5),
        (Grid(rows=ROWS[:3], brief=5), 3),
    ],
)
def test_rows_printed(grid: Grid, shown: int) -> None:
    """What is left out is said; with --all nothing is."""
    lines = printed(grid).splitlines()
    left = len(grid.rows) - shown
    assert len(lines) == shown + (left > 0)
    assert left <= 0 or lines[-1] == f"... {left} rows more: --all prints them, --out DIR writes them"
    assert len(printed(grid, every=True).splitlines()) == len(grid.rows)
