"""One flown result for all pictures."""

from pathlib import Path

import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.drop import Drop, drop
from parasim.flight.glide import Glide, glide


@pytest.fixture(scope="session")
def vehicle(heron: Design) -> Vehicle:
    """The heron, assembled."""
    return assemble(heron)


@pytest.fixture(scope="session")
def gliding(vehicle: Vehicle) -> Glide:
    """Its glide."""
    return glide(vehicle)


@pytest.fixture(scope="session")
def dropped(vehicle: Vehicle) -> Drop:
    """Its drop, as the design file has it."""
    return drop(vehicle)


@pytest.fixture(scope="session")
def finned(configs: Path) -> Vehicle:
    """The pelican: with stabilisers."""
    return assemble(load_design(configs / "pelican.yaml"))
