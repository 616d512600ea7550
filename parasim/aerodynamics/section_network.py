"""Section coefficients from a general-purpose airfoil network, for building tables only.

The network (the PyPI package `neuralfoil`, the extra `parasim[sections]`) is never needed to fly a shipped
section family: those tables are in the package. It is asked here for plain closed outlines; the open inlet
of a ram-air nose is outside what it was trained on and its drag is added elsewhere.
Source: [SharpeHansman2025].
"""

import hashlib
import importlib
import io
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from parasim.cache import cache_directory
from parasim.errors import OutputError, ParasimError
from parasim.files import write_together
from parasim.geometry.airfoil import deflected_outline
from parasim.geometry.coordinates import read_coordinates
from parasim.rotations import FloatArray

TRIP = 0.05
"""Where transition is forced on both surfaces, in chords: sewn cloth is rough. [-] Our choice."""

N_CRIT = 9.0
"""Amplification exponent of free transition; the trip comes first almost everywhere. [-]"""

MODEL_SIZE = "xlarge"
"""Which of the network's trained sizes is used."""

TRUST_CONFIDENCE = 0.7
"""Network confidence below which its answer is not used. [-] Our choice."""

TRUST_LIMITS = (np.radians(-15.0), np.radians(20.0))
"""Widest range of angle of attack in which the network is used at all. [rad] Our choice."""

TABLE_ALPHA: FloatArray = np.radians(np.arange(-18.0, 25.0))
"""Angles of attack of a table. [rad]"""

TABLE_SLOPE: FloatArray = np.radians([0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0])
"""Trailing-edge deflections of a table. [rad]"""

TABLE_REYNOLDS: FloatArray = 5.5e4 * 1.5 ** np.arange(9.0)
"""Reynolds numbers of a table, 55 000 to 1.41 million. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionTable:
    """Coefficients of one section over Reynolds number, trailing-edge deflection and angle of attack.

    Parameters
    ----------
    cl, cd, cm, confidence : ndarray, shape (n_reynolds, n_slope, n_alpha)
        Lift, drag, moment about the quarter chord (nose-up positive), network confidence 0 to 1. [-]
    trusted : ndarray, shape (n_reynolds, n_slope, 2)
        Lowest and highest angle of attack with enough confidence. [rad]
    """

    cl: FloatArray
    cd: FloatArray
    cm: FloatArray
    confidence: FloatArray
    trusted: FloatArray


def evaluate_section(
    outline: FloatArray,
    *,
    slopes: FloatArray | Sequence[float] = TABLE_SLOPE,
    reynolds: FloatArray | Sequence[float] = TABLE_REYNOLDS,
    alpha: FloatArray | Sequence[float] = TABLE_ALPHA,
) -> SectionTable:
    """Ask the network for one outline with its trailing edge bent to each slope.

    Parameters
    ----------
    outline : ndarray, shape (n, 2)
        Unbraked outline of chord 1; coefficients and angles refer to its chord and x axis.
    slopes : sequence of float
        Trailing-edge deflections, positive down. [rad]
    reynolds : sequence of float
        Reynolds numbers on the unbraked chord. [-]
    alpha : sequence of float
        Angles of attack against the x axis. [rad]

    Raises
    ------
    ParasimError
        If neuralfoil is not installed.
    """
    alphas = np.asarray(alpha, dtype=np.float64)
    cases = [[_evaluate(deflected_outline(outline, s), alphas, re) for s in slopes] for re in reynolds]
    cl, cd, cm, confidence = (np.array([[case[i] for case in row] for row in cases]) for i in range(4))
    trusted = np.apply_along_axis(_trusted_range, -1, confidence, alphas)
    return SectionTable(cl=cl, cd=cd, cm=cm, confidence=confidence, trusted=trusted)


def table_of_file(path: Path | str, *, progress: Callable[[str], object] | None = None) -> SectionTable:
    """Table of a section whose outline stands in a coordinate file, kept in the user's cache.

    Parameters
    ----------
    path : Path or str
        File of coordinates; see `parasim.geometry.coordinates.read_coordinates`.
    progress : callable, optional
        Told in one sentence that the network is at work; the default writes to stderr.

    Raises
    ------
    DesignError
        If the file is no section outline.
    ParasimError
        If the table is not in the cache and neuralfoil is not installed.
    """
    path = Path(path)
    outline = read_coordinates(path)
    recipe = f"{TABLE_VERSION} {MODEL_SIZE} {N_CRIT} {TRIP} {TRUST_CONFIDENCE}".encode()
    directory = cache_directory("sections")
    name = f"{hashlib.sha256(recipe + path.read_bytes()).hexdigest()[:32]}.npz"
    kept = None if directory is None else directory / name
    table = None if kept is None else _read_kept(kept)
    if table is None:
        _network()
        (progress or sys.stderr.write)(f"{path.name}: working out the section's polars, some seconds, once\n")
        table = evaluate_section(outline)
        if kept is not None:
            _keep(kept, table)
    return table


TABLE_VERSION = 1
"""Raised when `evaluate_section` gives other numbers than before."""


def _read_kept(path: Path) -> SectionTable | None:
    """Table from the cache; none if it is missing or damaged."""
    try:
        with np.load(path) as file:
            return SectionTable(
                **{f.name: np.asarray(file[f.name], np.float64) for f in fields(SectionTable)}
            )
    except Exception:  # zipfile, zlib and numpy each have their own way of failing on a damaged file
        return None


def _keep(path: Path, table: SectionTable) -> None:
    """Write a table to the cache, whole or not at all; without a place to write, do without."""
    content = io.BytesIO()
    np.savez_compressed(content, **{f.name: getattr(table, f.name) for f in fields(table)})
    with suppress(OutputError):
        write_together({path: content.getvalue()})


def _evaluate(outline: FloatArray, alpha: FloatArray, reynolds: float) -> tuple[FloatArray, ...]:
    """Coefficients on the unbraked chord; the network sees the outline turned and scaled to chord 1."""
    network, shapes = _network()
    tail = 0.5 * (outline[0] + outline[-1])
    nose = outline[np.argmax(np.hypot(*(outline - tail).T))]
    chord = float(np.hypot(*(tail - nose)))
    turn = float(np.arctan2(tail[1] - nose[1], tail[0] - nose[0]))
    along, up = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    scaled = (outline - nose) @ np.column_stack([along, up]) / chord
    shape = shapes(name="section", coordinates=scaled).to_kulfan_airfoil(
        n_weights_per_side=8, normalize_coordinates=False
    )
    answer = network(
        kulfan_parameters=shape.kulfan_parameters,
        alpha=np.degrees(alpha - turn),
        Re=reynolds * chord,
        n_crit=N_CRIT,
        xtr_upper=TRIP,
        xtr_lower=TRIP,
        model_size=MODEL_SIZE,
    )
    cl, cd = answer["CL"] * chord, answer["CD"] * chord
    force_x = cd * np.cos(alpha) - cl * np.sin(alpha)
    force_z = cl * np.cos(alpha) + cd * np.sin(alpha)
    arm_x, arm_z = nose + 0.25 * chord * along - np.array([0.25, 0.0])
    cm = answer["CM"] * chord**2 - (arm_x * force_z - arm_z * force_x)
    return cl, cd, cm, answer["analysis_confidence"]


def _network() -> tuple[Any, Any]:
    """Return the network's evaluation function and the class that fits its shape parameters."""
    try:
        network = importlib.import_module("neuralfoil")
        shapes = importlib.import_module("aerosandbox")
    except ImportError as error:
        raise ParasimError(
            "sections from coordinates need the airfoil network, which is not installed: "
            "pip install 'parasim[sections]', or use one of the shipped families"
        ) from error
    return network.get_aero_from_kulfan_parameters, shapes.Airfoil


def _trusted_range(confidence: FloatArray, alpha: FloatArray) -> FloatArray:
    """Range of alpha around 0 in which confidence stays above TRUST_CONFIDENCE, inside TRUST_LIMITS."""
    limit = (alpha >= TRUST_LIMITS[0] - 1e-9) & (alpha <= TRUST_LIMITS[1] + 1e-9)
    good = (confidence >= TRUST_CONFIDENCE) & limit
    low = high = int(np.argmin(np.abs(alpha)))
    while low > 0 and good[low - 1]:
        low -= 1
    while high < len(alpha) - 1 and good[high + 1]:
        high += 1
    return np.array([alpha[low], alpha[high]])
