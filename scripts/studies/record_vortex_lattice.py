"""Record lift, moments and rate derivatives of thin wings from a general-purpose vortex lattice.

The wings: flat rectangular plates, a rectangle bent to an arc, and the tunnel wing of tests/reference/ with
its twist, all with uncambered sections of no thickness. The lattice is that of the AeroSandbox package,
which the program itself does not need. Results go to tests/reference/vortex_lattice.json, with the
package's version and the signs turned into ours, and are what tests/ compare our own lattice with.

    pip install aerosandbox
    python scripts/studies/record_vortex_lattice.py
"""

from __future__ import annotations

import csv
import datetime
import json
import os
from dataclasses import dataclass
from pathlib import Path

import aerosandbox as asb
import numpy as np

REFERENCE = Path(__file__).parents[2] / "tests" / "reference"
ALPHAS_DEG = [-2.0, 0.0, 2.0, 5.0, 8.0, 10.0]
DERIVATIVES_AT_DEG = [0.0, 5.0, 10.0]
BETA_STEP_DEG = 1.0
RATE_STEP = 0.02
GRIDS = [(4, 20), (8, 40), (10, 60)]
FLAT_SECTION = asb.Airfoil("naca0012")  # only its mean line is meshed, and that is straight

CONVENTIONS = {
    "axes": "body axes x forward, y right, z down; alpha = atan2(w, u), beta = asin(v/V); rates p, q, r
    about x, y, z", "origin": "quarter chord of the centre rib: moments are about it, and the wing turns
    about it", "coefficients": "CL and CDi along the wind axes; CY, Cl, Cm, Cn along body axes y; x, y, z;
    Cm on the mean chord, " "Cl and Cn on the flat span, all on the flat area", "derivatives": "per radian
    of alpha or beta; rates as pb/2V, qc/2V, rb/2V; central differences", "induced drag": "near field: force
    on the bound vortices, not Trefftz plane", "forces left out by the package": "none act on the chordwise
    legs of the vortices, though they lie on the wing", "wake": "leaves along body x whatever alpha and
    beta", "spacing": "uniform along chord and arc; outermost panel edge a quarter panel inside the tip.
    Each panel is flat, " "its corners on the surface",
}


@dataclass(frozen=True, kw_only=True)
class ThinWing:
    """Sections from left tip to right, as a function of the number of panels along the span."""

    name: str
    description: str
    span: float
    area: float
    stations: object  # function of arc coordinates (n,) -> leading edges (n, 3) in x aft, y right, z up;
    chords; twists

    def airplane(self, n_span: int) -> asb.Airplane:
        panel = self.span / (n_span + 0.5)
        s = np.linspace(-0.5 * self.span + 0.25 * panel, 0.5 * self.span - 0.25 * panel, n_span + 1)
        sections = [
            asb.WingXSec(xyz_le=list(edge), chord=float(chord), twist=float(twist), airfoil=FLAT_SECTION)
            for edge, chord, twist in zip(*self.stations(s), strict=True)
        ]
        return asb.Airplane(
            wings=[asb.Wing(xsecs=sections)], xyz_ref=[0.0, 0.0, 0.0],
            s_ref=self.area, c_ref=self.area / self.span, b_ref=self.span,
        )  # fmt: skip


def rectangle(aspect: float) -> ThinWing:
    def stations(s):
        zero = np.zeros_like(s)
        return np.stack([zero - 0.25, s, zero], axis=1), zero + 1.0, zero

    return ThinWing(
        name=f"rectangle_{aspect:g}", description=f"flat rectangular plate, chord 1 m, aspect ratio
        {aspect:g}", span=aspect, area=aspect, stations=stations,
    )  # fmt: skip


def arced_rectangle(span: float, chord: float, radius: float) -> ThinWing:
    def stations(s):
        theta, zero = s / radius, np.zeros_like(s)
        edges = np.stack([zero - 0.25 * chord, radius * np.sin(theta), radius * (np.cos(theta) - 1.0)],
        axis=1) return edges, zero + chord, zero

    return ThinWing(
        name="arced_rectangle",
        description=f"rectangular plate, span {span} m along the arc, chord {chord} m, arc radius {radius}
        m, tips " "down, chords all parallel to x", span=span, area=span * chord, stations=stations,
    )  # fmt: skip


def tunnel_wing() -> ThinWing:
    """Straight lines between the table's stations; twist about a line through 0.6 chord, across the chord."""
    with (REFERENCE / "arced_wing_planform.csv").open(encoding="utf-8") as lines:
        rows = list(csv.reader(line for line in lines if not line.startswith("#")))[1:]
    y, z_down, chord, twist_deg = np.array(rows, dtype=float).T
    z_up = -(z_down - z_down.min())
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(y), np.diff(z_up)))])
    arc -= 0.5 * arc[-1]
    area = float(np.sum(np.diff(arc) * 0.5 * (chord[1:] + chord[:-1])))
    root = chord[len(chord) // 2]

    def stations(s):
        y_s, z_s, c, t = (np.interp(s, arc, values) for values in (y, z_up, chord, np.radians(twist_deg)))
        slope = np.gradient(z_s, s), np.gradient(y_s, s)
        up = np.stack([-slope[0], slope[1]]) / np.hypot(*slope)
        ahead = 0.6 * c
        x_s = 0.35 * root - ahead * np.cos(t)
        return np.stack([x_s, y_s + ahead * np.sin(t) * up[0], z_s + ahead * np.sin(t) * up[1]], axis=1), c,
        np.degrees(t)

    return ThinWing(
        name="tunnel_wing",
        description="planform, arc and twist of arced_wing_planform.csv with straight lines between its
        stations and " "flat-plate sections: the real wing has NACA 23015 sections, whose camber and
        thickness are left out here", span=float(arc[-1] - arc[0]), area=area, stations=stations,
    )  # fmt: skip


def coefficients(airplane: asb.Airplane, n_chord: int, *, alpha=0.0, beta=0.0, p=0.0, q=0.0, r=0.0) -> np.ndarray:
    """(CL, CDi, CY, Cl, Cm, Cn) at unit airspeed; angles in degrees, rates as pb/2V, qc/2V, rb/2V."""
    b, c, S = airplane.b_ref, airplane.c_ref, airplane.s_ref
    point = asb.OperatingPoint(velocity=1.0, alpha=alpha, beta=beta, p=2 * p / b, q=2 * q / c, r=2 * r / b)
    run = asb.VortexLatticeMethod(
        airplane, point, spanwise_resolution=1,
        chordwise_resolution=n_chord, chordwise_spacing_function=np.linspace,
    ).run()  # fmt: skip
    CY = run["F_b"][1] / (0.5 * point.atmosphere.density() * S)
    return np.array([run["CL"], run["CD"], CY, run["Cl"], run["Cm"], run["Cn"]], dtype=float)


def derivatives(airplane: asb.Airplane, n_chord: int, alpha: float) -> dict[str, float]:
    def slope(step: float, unit: float, **motion) -> np.ndarray:
        plus, minus = ({k: sign * step for k in motion} for sign in (1.0, -1.0))
        at = {"alpha": alpha}
        return (
            coefficients(airplane, n_chord, **{k: at.get(k, 0.0) + plus.get(k, 0.0) for k in {*at, *plus}})
            - coefficients(airplane, n_chord, **{k: at.get(k, 0.0) + minus.get(k, 0.0) for k in {*at,
            *minus}})
        ) / (2.0 * step * unit)

    by_alpha = slope(0.5, np.pi / 180.0, alpha=None)
    by_beta = slope(BETA_STEP_DEG, np.pi / 180.0, beta=None)
    by_p, by_q, by_r = (slope(RATE_STEP, 1.0, **{rate: None}) for rate in "pqr")
    return rounded_dict(
        CL_alpha=by_alpha[0], Cm_alpha=by_alpha[4],
        CY_beta=by_beta[2], Cl_beta=by_beta[3], Cn_beta=by_beta[5],
        CY_p=by_p[2], Cl_p=by_p[3], Cn_p=by_p[5],
        CL_q=by_q[0], Cm_q=by_q[4],
        CY_r=by_r[2], Cl_r=by_r[3], Cn_r=by_r[5],
    )  # fmt: skip


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
        "derivatives_at_alpha_deg": {
            f"{alpha:g}": derivatives(airplane, n_chord, alpha) for alpha in DERIVATIVES_AT_DEG
        },
        "convergence_at_alpha_5_deg": {
            f"{nc}x{ns}": derivatives(wing.airplane(ns), nc, 5.0)
            | {"CDi_near_field": rounded([coefficients(wing.airplane(ns), nc, alpha=5.0)[1]])[0]}
            for nc, ns in GRIDS
        },
    }


def rounded(values) -> list[float]:
    return [float(f"{value:.5g}") if abs(value) > 1e-9 else 0.0 for value in values]


def rounded_dict(**values: float) -> dict[str, float]:
    return dict(zip(values, rounded(values.values()), strict=True))


def main() -> None:
    wings = [rectangle(a) for a in (1.0, 2.0, 3.0, 6.0)]
    wings += [arced_rectangle(1.10, 0.50, 0.75), tunnel_wing()]
    document = {
        "recorded_by": "scripts/studies/record_vortex_lattice.py",
        "recorded_on": datetime.date.today().isoformat(),
        "library": f"aerosandbox {asb.__version__}, VortexLatticeMethod,
        align_trailing_vortices_with_wind=False", "panels": "{} along the chord x {} along the
        span".format(*GRIDS[-1]), "conventions": CONVENTIONS, "wings": {wing.name: record(wing) for wing in
        wings},
    }
    target = REFERENCE / "vortex_lattice.json"
    unfinished = target.with_suffix(".tmp")
    unfinished.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    os.replace(unfinished, target)
    print(f"wrote {target}")


if __name__ == "__main__":
    main()
