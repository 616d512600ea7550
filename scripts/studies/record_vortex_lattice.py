"""Record lift, moments and rate derivatives of thin wings from a general-purpose vortex lattice.

The wings: flat rectangular plates, a rectangle bent to an arc, and the tunnel wing of tests/reference/ with
its twist, all with uncambered sections of no thickness. The lattice is that of the AeroSandbox package, which
the program itself does not need. Results go to tests/reference/vortex_lattice.json, with the package's
version and the signs turned into ours, for tests to compare our own lattice with.

    pip install aerosandbox
    python scripts/studies/record_vortex_lattice.py
"""

from __future__ import annotations

import csv
import datetime
import json
import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import aerosandbox as asb
import numpy as np

REFERENCE = Path(__file__).parents[2] / "tests" / "reference"
ALPHAS_DEG = [-2.0, 0.0, 2.0, 5.0, 8.0, 10.0]
DERIVATIVES_AT_DEG = [0.0, 5.0, 10.0]
STEPS = {"alpha": 0.5, "beta": 1.0, "p": 0.02, "q": 0.02, "r": 0.02}  # deg, deg, -, -, -
GRIDS = [(4, 20), (8, 40), (10, 60)]  # panels along the chord, along the span
FLAT_SECTION = asb.Airfoil("naca0012")  # only its mean line is meshed, and that is straight

CONVENTIONS = {
    "axes": "body axes x forward, y right, z down; alpha = atan2(w, u), beta = asin(v/V); rates p, q, r "
    "about x, y, z",
    "origin": "quarter chord of the centre rib: moments are about it, and the wing turns about it",
    "coefficients": "CL and CDi along the wind axes; CY along body y; Cl, Cm, Cn about body x, y, z; all on "
    "the flat area, Cm on the mean chord, Cl and Cn on the flat span",
    "derivatives": "central differences, per radian of alpha or beta, or by pb/2V, qc/2V, rb/2V",
    "induced drag": "near field: force on the bound vortices, not from the Trefftz plane",
    "left out by the package": "force on the chordwise legs of the vortices, though they lie on the wing",
    "wake": "leaves along body x whatever alpha and beta",
    "panels": "uniform along chord and arc, flat, corners on the surface; the outermost edge lies a quarter "
    "panel inside the tip",
}

Stations = tuple[np.ndarray, np.ndarray, np.ndarray]
"""Leading edges (n, 3) in the package's axes (x aft, y right, z up), chords (n,), twists (n,) in degrees."""


@dataclass(frozen=True, kw_only=True)
class ThinWing:
    """A wing told by its stations at any arc coordinate (n,), from left tip to right."""

    name: str
    description: str
    span: float
    area: float
    stations: Callable[[np.ndarray], Stations]

    def airplane(self, n_span: int) -> asb.Airplane:
        panel = self.span / (n_span + 0.5)
        tip = 0.5 * self.span - 0.25 * panel
        sections = [
            asb.WingXSec(xyz_le=list(edge), chord=float(chord), twist=float(twist), airfoil=FLAT_SECTION)
            for edge, chord, twist in zip(*self.stations(np.linspace(-tip, tip, n_span + 1)), strict=True)
        ]
        return asb.Airplane(
            wings=[asb.Wing(xsecs=sections)],
            xyz_ref=[0.0, 0.0, 0.0],
            s_ref=self.area,
            c_ref=self.area / self.span,
            b_ref=self.span,
        )


def rectangle(aspect: float) -> ThinWing:
    def stations(s: np.ndarray) -> Stations:
        zero = np.zeros_like(s)
        return np.stack([zero - 0.25, s, zero], axis=1), zero + 1.0, zero

    return ThinWing(
        name=f"rectangle_{aspect:g}",
        description=f"flat rectangular plate, chord 1 m, aspect ratio {aspect:g}",
        span=aspect,
        area=aspect,
        stations=stations,
    )


def arced_rectangle(span: float, chord: float, radius: float) -> ThinWing:
    def stations(s: np.ndarray) -> Stations:
        theta, zero = s / radius, np.zeros_like(s)
        y, z_up = radius * np.sin(theta), radius * (np.cos(theta) - 1.0)
        return np.stack([zero - 0.25 * chord, y, z_up], axis=1), zero + chord, zero

    return ThinWing(
        name="arced_rectangle",
        description=f"rectangular plate, span {span} m along the arc, chord {chord} m, arc radius {radius} "
        "m, tips down, chords all parallel to x",
        span=span,
        area=span * chord,
        stations=stations,
    )


def tunnel_wing() -> ThinWing:
    """Straight lines between the table's stations; twist about the 0.6 chord line, nose along the normal."""
    with (REFERENCE / "arced_wing_planform.csv").open(encoding="utf-8") as lines:
        rows = list(csv.reader(line for line in lines if not line.startswith("#")))[1:]
    y, z_down, chord, twist = np.array(rows, dtype=float).T
    z_up = z_down.min() - z_down
    root = float(chord[len(chord) // 2])
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(y), np.diff(z_up)))])
    arc -= 0.5 * arc[-1]

    def stations(s: np.ndarray) -> Stations:
        y_s, z_s, c, twist_s = (np.interp(s, arc, table) for table in (y, z_up, chord, twist))
        normal = np.stack([-np.gradient(z_s, s), np.gradient(y_s, s)], axis=1)
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        forward, up = 0.6 * c * np.cos(np.radians(twist_s)), 0.6 * c * np.sin(np.radians(twist_s))
        edges = np.stack([0.35 * root - forward, y_s, z_s], axis=1)
        edges[:, 1:] += up[:, np.newaxis] * normal
        return edges, c, twist_s

    return ThinWing(
        name="tunnel_wing",
        description="planform, arc and twist of arced_wing_planform.csv, straight lines between its "
        "stations, flat-plate sections: camber and thickness of the real NACA 23015 sections are left out",
        span=float(arc[-1] - arc[0]),
        area=float(np.sum(np.diff(arc) * 0.5 * (chord[1:] + chord[:-1]))),
        stations=stations,
    )


def coefficients(airplane: asb.Airplane, n_chord: int, **motion: float) -> np.ndarray:
    """(CL, CDi, CY, Cl, Cm, Cn); motion by alpha and beta in degrees, p, q, r as pb/2V, qc/2V, rb/2V."""
    lengths = {"p": airplane.b_ref, "q": airplane.c_ref, "r": airplane.b_ref}
    at_unit_speed = {
        key: 2.0 * value / lengths[key] if key in lengths else value for key, value in motion.items()
    }
    point = asb.OperatingPoint(velocity=1.0, **at_unit_speed)
    run = asb.VortexLatticeMethod(
        airplane,
        point,
        spanwise_resolution=1,
        chordwise_resolution=n_chord,
        chordwise_spacing_function=np.linspace,
    ).run()
    CY = run["F_b"][1] / (0.5 * point.atmosphere.density() * airplane.s_ref)
    return np.array([run["CL"], run["CD"], CY, run["Cl"], run["Cm"], run["Cn"]], dtype=float)


def derivatives(airplane: asb.Airplane, n_chord: int, alpha: float) -> dict[str, float]:
    def slopes(key: str) -> dict[str, float]:
        step = STEPS[key]
        plus, minus = ({"alpha": alpha} for _ in range(2))
        plus[key], minus[key] = plus.get(key, 0.0) + step, minus.get(key, 0.0) - step
        change = coefficients(airplane, n_chord, **plus) - coefficients(airplane, n_chord, **minus)
        unit = np.pi / 180.0 if key in ("alpha", "beta") else 1.0
        return dict(
            zip(("CL", "CDi", "CY", "Cl", "Cm", "Cn"), rounded(change / (2.0 * step * unit)), strict=True)
        )

    wanted = dict.fromkeys(("alpha", "q"), ("CL", "Cm")) | dict.fromkeys(
        ("beta", "p", "r"), ("CY", "Cl", "Cn")
    )
    return {
        f"{name}_{key}": slope
        for key, names in wanted.items()
        for name, slope in slopes(key).items()
        if name in names
    }


def converging(wing: ThinWing, n_chord: int, n_span: int) -> dict[str, float]:
    airplane = wing.airplane(n_span)
    induced_drag = rounded([coefficients(airplane, n_chord, alpha=5.0)[1]])[0]
    return derivatives(airplane, n_chord, 5.0) | {"CDi_near_field": induced_drag}


def record(wing: ThinWing) -> dict[str, object]:
    n_chord, n_span = GRIDS[-1]
    airplane = wing.airplane(n_span)
    sweep = np.array([coefficients(airplane, n_chord, alpha=alpha) for alpha in ALPHAS_DEG])
    return {
        "description": wing.description,
        "flat_area_m2": round(wing.area, 6),
        "flat_span_m": round(wing.span, 6),
        "mean_chord_m": round(wing.area / wing.span, 6),
        "alpha_deg": ALPHAS_DEG,
        "CL": rounded(sweep[:, 0]),
        "CDi_near_field": rounded(sweep[:, 1]),
        "Cm": rounded(sweep[:, 4]),
        "derivatives_at_alpha_deg": {f"{a:g}": derivatives(airplane, n_chord, a) for a in DERIVATIVES_AT_DEG},
        "convergence_at_alpha_5_deg": {f"{nc}x{ns}": converging(wing, nc, ns) for nc, ns in GRIDS},
    }


def rounded(values: Iterable[float]) -> list[float]:
    """Five figures; rounding noise is zero."""
    return [float(f"{value:.5g}") if abs(value) > 1e-9 else 0.0 for value in values]


def main() -> None:
    wings = [rectangle(aspect) for aspect in (1.0, 2.0, 3.0, 6.0)]
    wings += [arced_rectangle(1.10, 0.50, 0.75), tunnel_wing()]
    n_chord, n_span = GRIDS[-1]
    document = {
        "recorded_by": "scripts/studies/record_vortex_lattice.py",
        "recorded_on": datetime.date.today().isoformat(),
        "library": f"aerosandbox {asb.__version__}",
        "method": "VortexLatticeMethod, align_trailing_vortices_with_wind=False",
        "grid": f"{n_chord} panels along the chord, {n_span} along the span",
        "conventions": CONVENTIONS,
        "wings": {wing.name: record(wing) for wing in wings},
    }
    target = REFERENCE / "vortex_lattice.json"
    unfinished = target.with_suffix(".tmp")
    unfinished.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    os.replace(unfinished, target)
    print(f"wrote {target}")


if __name__ == "__main__":
    main()
