"""What `parasim scatter --replay` answers: one drop again, by itself."""

from collections.abc import Iterator, Mapping
from typing import Any

from parasim.flight.drop import CAUTIONS
from parasim.report.column import Column, Grid, row_document
from parasim.report.report import Block, Report
from parasim.report.scatter import in_unit, input_key
from parasim.report.scatter_words import input_words, show_input
from parasim.scatter.members import OUTCOMES
from parasim.scatter.replay import Replay
from parasim.units import System

TOUCHDOWN_COLUMNS: tuple[Column[Replay], ...] = (
    Column(
        name="ground_speed_m_s", words="speed over the ground", kind="speed", missing="not known",
        read=lambda replay: replay.ground_speed,
    ),
    Column(
        name="sink_m_s", words="sink", kind="speed", missing="not known", read=lambda replay: replay.sink
    ),
    Column(name="north_m", words="north", kind="length", digits=1, read=lambda replay: replay.place[0]),
    Column(name="east_m", words="east", kind="length", digits=1, read=lambda replay: replay.place[1]),
    Column(name="time_aloft_s", words="time aloft", kind="time", read=lambda replay: replay.time_aloft),
)  # fmt: skip
"""Where and how it came down; places are from the point below the nominal release."""


class ReplayReport(Report[Replay]):
    """One drop flown again."""

    COMMAND = "replay"
    CAUTIONS = CAUTIONS

    def blocks(self, units: System) -> Iterator[Block]:
        """As `Report.blocks`."""
        replay = self.result
        outcome = OUTCOMES[replay.outcome]
        yield f"{self.name}, drop number {replay.number} of seed {replay.seed}: {outcome}"
        yield Grid(rows=input_rows(replay, units), heads=["input", "value", "off by", "glide begins with"])
        yield Grid(
            rows=[[each.words, each.cell(replay, units)] for each in TOUCHDOWN_COLUMNS],
            heads=["touchdown", outcome],
        )

    def document(self) -> dict[str, Any]:
        """As `replay_document`."""
        return replay_document(self.result)


def replay_document(replay: Replay) -> dict[str, Any]:
    """One drop flown again, as plain data.

    Returns
    -------
    dict
        `name`; `number`; `outcome`; `inputs`: value of each input, with its unit; `glide_begins_with`: those
        that a late drop glides from instead; `ending`: how its glide ended, null where it only fell;
        `touchdown`: `ground_speed_m_s`, `sink_m_s` (null where they are not known), `north_m`, `east_m`,
        `time_aloft_s`; `cautions` and `caveats`: sentences. Places are from the point below the nominal
        release.
    """
    return {
        "name": replay.vehicle.design.name,
        "number": replay.number,
        "outcome": OUTCOMES[replay.outcome],
        "inputs": _keyed(replay.inputs),
        "glide_begins_with": _keyed(replay.glided),
        "ending": replay.drop and replay.drop.end.ending,
        "touchdown": row_document(TOUCHDOWN_COLUMNS, replay),
        "cautions": list(CAUTIONS),
        "caveats": list(replay.caveats),
    }


def _keyed(inputs: Mapping[str, float]) -> dict[str, float]:
    return {input_key(name): in_unit(name, value) for name, value in inputs.items()}


def input_rows(replay: Replay, system: System) -> list[list[str]]:
    """Every input of a drop, and how far it is off where it varies."""
    varied = {each.name: each for each in replay.varied}
    rows = []
    for name, value in replay.inputs.items():
        off = "" if name not in varied else _off(name, value - varied[name].nominal, system)
        glided = "" if name not in replay.glided else show_input(name, replay.glided[name], system)
        rows.append([input_words(name), show_input(name, value, system), off, glided])
    return rows


def _off(name: str, offset: float, system: System) -> str:
    text = show_input(name, offset, system)
    return text if text.startswith("-") else f"+{text}"
