"""Bands of the steady glide, by sums of changes, against canopies with all factors drawn at once.

Run as `python -m scripts.studies.band_draws [DRAWS]`: for each demonstration design and figure the worse miss
of the band's ends against the middle 95 % of the canopies that glide, over its width.
"""

import sys
from pathlib import Path

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.config.loader import load_design
from parasim.dynamics.vehicle import assemble
from parasim.flight.glide import GLIDE_FACTORS, headline_figures
from parasim.flight.uncertainty import MIDDLE, bands, draw

CONFIGS = Path(__file__).resolve().parents[2] / "configs"
FIGURES = ("airspeed", "sink", "glide_ratio", "alpha", "tuck_margin", "stall_margin")


def misses(path: Path, number: int) -> tuple[dict[str, float], float]:
    """Worse miss of each band over the width of the drawn one, and the share that does not glide. [-]"""
    vehicle = assemble(load_design(path))
    ranges = build_ranges(vehicle.design, GLIDE_FACTORS)
    closed = bands(vehicle, ranges, headline_figures)
    draws = draw(vehicle, ranges, headline_figures, number=number)
    found = {}
    for name in FIGURES:
        low, high = np.quantile(draws.figures[name], MIDDLE)
        band = closed.figures[name]
        found[name] = max(abs(band.low - low), abs(band.high - high)) / (high - low)
    return found, draws.lost_share


def main() -> None:
    """Print the table."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    for path in sorted(CONFIGS.glob("*.yaml")):
        found, lost = misses(path, number)
        worst = "  ".join(f"{name} {100 * miss:.0f} %" for name, miss in found.items())
        print(f"{path.stem:<8} {100 * lost:.1f} % without a glide; misses: {worst}")


if __name__ == "__main__":
    main()
