"""The log of heron's invented drop, as a receiver and a barometer would have kept it: configs/heron_log.csv.

Run ``python scripts/demo_log.py`` after a change that moves heron's flight. Computed, not flown: the motion
is that of `parasim drop`, the noise is that of 0.2 m/s of speed and 0.3 m of pressure height, from a fixed
seed.
"""

from pathlib import Path

import numpy as np

from parasim import assemble, drop, load_design, override
from parasim.environment.atmosphere import Atmosphere
from parasim.environment.position import latitude_longitude
from parasim.files import write_together

ROOT = Path(__file__).parents[1]
LOG = ROOT / "configs/heron_log.csv"

CHANGES: dict[str, object] = {
    "drop.height": "230 m",
    "drop.brakes": [
        "24s: L 0 R 0.85 over 1s", "84s: L 0 R 0 over 1s", "2.72m: L 0.93 R 0.93 over 1.6s",
    ],
    "site.wind.speed": "3 m/s",
    "site.wind.from": "250 deg",
    "site.wind.exponent": 0.02,
}  # fmt: skip
"""Straight, circles to the right, straight again, flare; hardly any change of the wind with height."""

WAIT, REST, STEP = 12, 15, 1.0
"""Hanging before the release, and lying after touchdown. [s]"""

LATITUDE, LONGITUDE = np.radians([47.1, 11.2])
SPEED_NOISE, HEIGHT_NOISE = 0.2, 0.3
"""[m/s], [m] Common for a small receiver and barometer, no source."""


def main(log: Path = LOG, seed: int = 7) -> None:
    """Fly, sample, add noise, write."""
    design = override(load_design(ROOT / "configs/heron.yaml"), CHANGES)
    track = drop(assemble(design)).track
    ground = design.site.ground_height
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, WAIT + track.time[-1] + REST, STEP)
    at = np.clip(time - WAIT, 0.0, track.time[-1])
    flying = (time >= WAIT) & (time <= WAIT + track.time[-1])

    def sampled(values: np.ndarray) -> np.ndarray:
        return np.interp(at, track.time, values)

    velocity = np.array([sampled(row) for row in track.velocity[:2]]) * flying
    velocity += SPEED_NOISE * rng.standard_normal(velocity.shape)
    wander = np.cumsum(SPEED_NOISE * rng.standard_normal(velocity.shape), axis=1)
    phi, lam = latitude_longitude(
        sampled(track.north) + wander[0],
        sampled(track.east) + wander[1],
        latitude=LATITUDE,
        longitude=LONGITUDE,
    )
    height = ground + sampled(track.height) + HEIGHT_NOISE * rng.standard_normal(len(time))
    columns = {
        "time_s": [f"{t:.0f}" for t in time],
        "pressure_hPa": [f"{p / 100:.3f}" for p in Atmosphere().pressure(height)],
        "lat_deg": [f"{x:.7f}" for x in np.degrees(phi)],
        "lon_deg": [f"{x:.7f}" for x in np.degrees(lam)],
        "speed_m_s": [f"{v:.2f}" for v in np.hypot(*velocity)],
        "course_deg": [f"{c:.1f}" for c in np.degrees(np.arctan2(velocity[1], velocity[0])) % 360],
        "left_percent": [f"{100 * b:.0f}" for b in sampled(track.left) * flying],
        "right_percent": [f"{100 * b:.0f}" for b in sampled(track.right) * flying],
    }
    rows = [",".join(columns), *(",".join(row) for row in zip(*columns.values(), strict=True))]
    print(*write_together({log: ("\n".join(rows) + "\n").encode()}))


if __name__ == "__main__":
    main()
