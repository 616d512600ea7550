"""Statistics of members of which some ended in the air."""

from __future__ import annotations

import numpy as np
import pytest

from parasim.scatter.statistics import QUANTILES, distribution


def test_members_that_nobody_knows_of_count_as_the_worst() -> None:
    """Of 60 landings at 1 to 60 m/s and 40 unknown: half lie below 50.5, and the 75 % one is not known."""
    found = distribution("sink", "speed", np.arange(1.0, 61.0), unknown=40)
    assert found.quantiles[QUANTILES.index(0.5)] == pytest.approx(50.5)
    assert found.quantiles[QUANTILES.index(0.25)] == pytest.approx(np.quantile(np.arange(1.0, 101.0), 0.25))
    assert found.quantiles[QUANTILES.index(0.75)] is None
    assert found.largest is None
    assert found.mean is None
    whole = distribution("sink", "speed", np.arange(1.0, 101.0))
    np.testing.assert_allclose(whole.quantiles, np.quantile(np.arange(1.0, 101.0), QUANTILES))
