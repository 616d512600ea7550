"""How quick logs are read and fitted to: an hour at ten fixes a second, of each kind; five flights of heron.

    python scripts/speed_logs.py

Prints the processor time of the best of three readings, and of `parasim track` on the same file; then that of
`parasim learn` from five invented flights, by their steady stretches and second by second.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from time import process_time

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from parasim import assemble, learn, load_design
from parasim.logs.log import read_log
from parasim.logs.track import track
from parasim.report.flight_notes import notes_yaml
from scripts import demo_log as invented
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
    five_flights()


def five_flights() -> None:
    """Invent the logs of five drops, learn from them, say how long that took."""
    vehicle = assemble(load_design(invented.ROOT / "configs/heron.yaml"))
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder) / f"flight{seed}.csv" for seed in range(5)]
        for seed, path in enumerate(paths):
            invented.main(path, seed)
        logs = track(*paths)
        notes = Path(folder) / "notes.yaml"
        notes.write_text(notes_yaml(logs), encoding="utf-8")
        for words, given in (("steady stretches", {"notes": [notes]}), ("whole logs", {"logs": logs})):
            start = process_time()
            learn(vehicle, **given)
            print(f"five flights, {words}: fitted in {process_time() - start:.1f} s")


if __name__ == "__main__":
    main()
