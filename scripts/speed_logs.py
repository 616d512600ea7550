"""How quick logs are read: an hour at ten fixes a second, of each kind.

    python scripts/speed_logs.py

Prints the processor time of the best of three readings, and of `parasim track` on the same file.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from time import process_time

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from parasim.logs.log import read_log
from parasim.logs.track import track
from tests.flown import Flight, logged
from tests.log_files import WRITERS


def main() -> None:
    """Write an hour of each kind, read it, say how long that took."""
    flight = Flight(wait=3000.0, turns=20.0, rest=300.0)
    fixes = logged(flight, "speeds", np.random.default_rng(0), step=0.1)
    with tempfile.TemporaryDirectory() as folder:
        for kind, write in WRITERS.items():
            path = Path(folder) / f"hour.{kind}"
            path.write_text(write(fixes), encoding="utf-8")
            times = []
            for _ in range(3):
                start = process_time()
                log = read_log(path)
                times.append(process_time() - start)
            start = process_time()
            track(path)
            print(
                f"{kind}: {len(log.place.time)} fixes, {path.stat().st_size / 1e6:.1f} MB: read in "
                f"{min(times):.2f} s, track in {process_time() - start:.2f} s"
            )


if __name__ == "__main__":
    main()
