"""``parasim card`` prints, writes and refuses; its page in a browser is tried in tests/card/."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    ("units", "other"), [("metric", r"\d (ft|kt|ft/s|ft lbf)\b"), ("imperial", r"\d (m(/s)?|mm|J|N)\b")]
)
def test_text_in_both_systems(
    run: Any, configs: Path, capsys: pytest.CaptureFixture[str], units: str, other: str
) -> None:
    """heron's circle at 60 % stays below the 62 % from which it may spiral."""
    options = ["--highest", "200 m", "--gust", "1 m/s", "--brake", "60 %", "--units", units]
    assert run("card", configs / "heron.yaml", *options, "--out", "out") == 0
    printed = capsys.readouterr()
    everything = printed.out + printed.err
    assert not re.search(other, everything)
    assert not [line for line in everything.splitlines() if len(line) > 100]
    assert printed.out.startswith("heron: card for releases from ")
    assert "may spiral" not in printed.out
    assert printed.out.count("caution: ") == 4
    assert "No gust is given" not in everything
    assert {path.name for path in Path("out").iterdir()} == {"heron_card.html", "heron_card.json"}
    document = json.loads(Path("out/heron_card.json").read_text(encoding="utf-8"))
    assert {row["brake_fraction"] for row in document["heights"]} == {0.6}
    assert {row["gust_m_s"] for row in document["winds"]} == {1.0}
    assert document["heights"][-1]["height_m"] == 200.0
    assert {len(row["cells"]) for row in document["heights"]} == {len(document["winds"])}


def test_landing_energy_is_that_of_the_speeds(run: Any, configs: Path, capsys: Any) -> None:
    """Half the mass times the square of the speeds, into the wind and with it; by hand from the document."""
    assert run("card", configs / "heron.yaml", "--highest", "60 m", "--json") == 0
    document = json.loads(capsys.readouterr().out)
    calm, windy = document["winds"][0], document["winds"][3]
    wind, forward = windy["ground_wind_m_s"], calm["ground_speed_into_m_s"]
    assert wind == pytest.approx(3.0 * 0.1**0.143, abs=1e-3)
    assert windy["ground_speed_into_m_s"] == pytest.approx(forward - wind, abs=1e-3)
    assert windy["ground_speed_with_m_s"] == pytest.approx(forward + wind, abs=1e-3)
    added = windy["energy_with_j"] - windy["energy_into_j"]
    assert added == pytest.approx(0.5 * 1.307 * 4 * forward * wind, rel=1e-3)


@pytest.mark.parametrize(
    ("option", "said"),
    [
        ("--highest=40 m", "too low for one circle and the final; make the card for up to 5"),
        ("--highest=5 km", "--highest: "),
        ("--gust=-1 m/s", "--gust: "),
        ("--brake=2 %", "--brake: "),
    ],
)
def test_refusals(run: Any, configs: Path, capsys: Any, option: str, said: str) -> None:
    assert run("card", configs / "heron.yaml", option, "--out", "out") == 2
    printed = capsys.readouterr()
    assert said in printed.err
    assert (printed.out, len(printed.err.splitlines())) == ("", 1)
    assert not Path("out").exists()
