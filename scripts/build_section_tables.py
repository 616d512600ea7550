"""Build parasim/aerodynamics/data/sections.npz and its provenance, sections.json.

Run once, with the extra `sections` installed: python scripts/build_section_tables.py
Families x thickness ratio x Reynolds number x trailing-edge deflection x angle of attack, float32.
"""

import json
import os
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

import numpy as np

from parasim.aerodynamics import section_network as network
from parasim.aerodynamics.section import TABLE_PATH, arrays_checksum
from parasim.geometry.airfoil import FAMILIES, NACA23015_THICKNESS, build_outline

SCRIPT_VERSION = 1
THICKNESS = np.arange(0.09, 0.2101, 0.02)


def family_arrays(family: str) -> dict[str, np.ndarray]:
    """Arrays of one family: thickness, and tables of shape (n_thickness, n_reynolds, n_slope, n_alpha)."""
    thickness = np.array([NACA23015_THICKNESS]) if family == "naca23015" else THICKNESS
    tables = [network.evaluate_section(build_outline(family, float(t))) for t in thickness]
    arrays = {"thickness": thickness}
    for name in ("cl", "cd", "cm", "confidence", "trusted"):
        arrays[name] = np.stack([getattr(table, name) for table in tables])
    return {f"{family}/{name}": array.astype(np.float32) for name, array in arrays.items()}


def provenance(arrays: dict[str, np.ndarray]) -> dict[str, object]:
    """What the tables were made from, and the checksum of what they hold."""
    return {
        "script": "scripts/build_section_tables.py",
        "script_version": SCRIPT_VERSION,
        "neuralfoil_version": version("neuralfoil"),
        "aerosandbox_version": version("aerosandbox"),
        "model_size": network.MODEL_SIZE,
        "n_crit": network.N_CRIT,
        "trip_chord_ratio": network.TRIP,
        "trust_confidence": network.TRUST_CONFIDENCE,
        "alpha_deg": [round(float(a), 6) for a in np.degrees(network.TABLE_ALPHA)],
        "trailing_edge_slope_deg": [round(float(s), 6) for s in np.degrees(network.TABLE_SLOPE)],
        "reynolds": [round(float(re), 3) for re in network.TABLE_REYNOLDS],
        "thickness": [round(float(t), 4) for t in THICKNESS],
        "date": datetime.now(UTC).date().isoformat(),
        "sha256_of_arrays": arrays_checksum(arrays),
    }


def main() -> None:
    """Write both files, each under a temporary name first."""
    arrays: dict[str, np.ndarray] = {}
    for family in FAMILIES:
        print(f"{family} ...", flush=True)
        arrays |= family_arrays(family)
    TABLE_PATH.parent.mkdir(parents=True, exist_ok=True)
    half_done = TABLE_PATH.with_suffix(".part.npz")
    np.savez_compressed(half_done, **arrays)  # type: ignore[arg-type]
    os.replace(half_done, TABLE_PATH)
    record: Path = TABLE_PATH.with_suffix(".json")
    half_done = record.with_suffix(".part")
    half_done.write_text(json.dumps(provenance(arrays), indent=2) + "\n", encoding="utf-8")
    os.replace(half_done, record)
    print(f"{TABLE_PATH}: {TABLE_PATH.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
