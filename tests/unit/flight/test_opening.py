"""Opening of the demonstration designs: bands, heights, strengths, what is said of them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.errors import DesignError
from parasim.flight.line_loads import line_loads
from parasim.flight.opening.opening import Opening, build_opener, open_case, opening
from parasim.flight.opening.settling import settle
from parasim.flight.opening.strength import SYMBOLS, Check, largest_shares, line_stiffness
from parasim.flight.trim import find_trims

G = 9.80665
SPEEDS = np.array([0.0, 10.0, 20.0, 30.0])


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def opened(vehicle: Vehicle) -> Opening:
    return opening(vehicle, release_speed=15.0, release_height=100.0, speeds=SPEEDS)


def changed(design: Design, **keys: object) -> Vehicle:
    return assemble(override(design, {f"opening.{key}": value for key, value in keys.items()}))


def test_peaks_rise_with_release_speed(opened: Opening) -> None:
    for peaks in zip(*((o.designed.peak, *o.peak_band, o.other.peak) for o in opened.speeds), strict=True):
        assert (np.diff(peaks) > 0).all()


def test_peaks_keep_under_both_bounds(opened: Opening) -> None:
    for one in opened.speeds:
        for case in (one.designed, one.quick, one.slow, one.other):
            assert case.peak <= case.model_bound
            assert case.peak <= case.bound


def test_slider_lowers_the_peak_and_takes_height(opened: Opening) -> None:
    for one in opened.speeds:
        assert one.held is one.other
        assert one.held.peak < one.plain.peak
        assert one.held.height_to_full > one.plain.height_to_full


def test_quick_filling_is_the_hard_end(opened: Opening) -> None:
    now = opened.now
    assert now.peak_band == (now.slow.peak, now.quick.peak)
    assert now.height_band == (now.quick.height_to_full, now.slow.height_to_full)


def test_heights_add_up(opened: Opening) -> None:
    case, lost = opened.now.designed, opened.settling.height_lost
    assert lost is not None
    assert 0 < case.height_to_stretch < case.height_to_full
    assert opened.height_to_glide == pytest.approx(case.height_to_full + lost)
    assert opened.minimum_release_height == pytest.approx(2 * (opened.now.height_band[1] + lost))


def test_opener_by_hand(vehicle: Vehicle) -> None:
    """Heron: 0.55 m2, D0 = sqrt(4 x 0.55 / pi) = 0.8368 m, six of them 5.021 m; pack 2 % of the area."""
    opener = build_opener(vehicle, height=100.0)
    assert opener.filling_distance == pytest.approx(5.021, abs=1e-3)
    assert opener.pack_drag_area == pytest.approx(0.011)
    assert opener.payload_mass == 1.2
    assert opener.payload_mass + opener.canopy_mass == pytest.approx(vehicle.mass)
    # A flat plate of aspect ratio 2 square to the flow has a drag coefficient near 1.2 (Hoerner, from
    # memory, unverified); the model's law may differ by a tenth.
    assert opener.open_drag_area / 0.55 == pytest.approx(1.2, rel=0.1)


def test_falling_free_for_the_delay(opened: Opening, heron: Design) -> None:
    """One second of almost free fall: g/2 less a few per cent of drag."""
    fallen = opened.now.designed.falling
    assert fallen.time[-1] == 1.0
    assert G / 2 * 0.9 < fallen.down[-1] < G / 2
    late = open_case(changed(heron, delay="2 s"), opened.now.designed.opener, 15.0)
    assert late.height_to_stretch > 2 * opened.now.designed.height_to_stretch


def test_downward_release_is_harder_than_level(heron: Design, opened: Opening) -> None:
    steep = changed(heron, release_angle="90 deg")
    case = open_case(steep, build_opener(steep, height=100.0), 15.0)
    assert case.stretch_speed > opened.now.designed.stretch_speed
    assert case.filling.forward[-1] == pytest.approx(0.0, abs=1e-9)


def test_reefing_stands_in_the_design(heron: Design) -> None:
    reefed = opening(
        changed(heron, reefing={"area": "30 %", "time": "1 s"}),
        release_speed=20.0,
        speeds=np.array([20.0]),
    )
    assert (reefed.held_by, reefed.compared_with) == ("reefing", "nothing")
    assert reefed.now.held is reefed.now.designed
    assert reefed.now.held.peak < reefed.now.plain.peak


def test_reefing_that_raises_the_peak_is_told(heron: Design) -> None:
    slow = changed(heron, reefing={"area": "4 %", "time": "3 s"}, pack="static line")
    found = opening(slow, release_speed=0.0, speeds=np.array([0.0]))
    assert found.now.held.peak > found.now.plain.peak
    assert any("raises the peak" in caveat for caveat in found.caveats)


def test_settling_ends_at_trim(configs: Path) -> None:
    """Handed over in the glide itself, nothing is lost; faster, some height is."""
    dipper = assemble(load_design(configs / "dipper.yaml"))
    trim = find_trims(dipper, modes=False).chosen
    own = np.array([trim.forward_speed, trim.sink])
    assert settle(dipper, trim, velocity=own, height=50.0).height_lost == pytest.approx(0.0, abs=0.5)
    fallen = settle(dipper, trim, velocity=np.array([0.0, 9.0]), height=50.0)
    assert fallen.nosed_under
    assert fallen.height_lost is None or fallen.height_lost > 10.0
    glides = settle(dipper, trim, velocity=np.array([7.0, 5.0]), height=50.0)
    assert not glides.nosed_under


def test_nosing_under_is_told(vehicle: Vehicle, opened: Opening) -> None:
    """Straight down, heron dives until its lines are slack: said, not hidden."""
    trim = find_trims(vehicle, modes=False).chosen
    found = settle(vehicle, trim, velocity=np.array([0.0, 8.0]), height=50.0)
    assert found.nosed_under
    assert any("tucks" in caveat for caveat in replace(opened, settling=found).caveats)
    held = replace(found, nosed_under=False)
    assert not any("tucks" in caveat for caveat in replace(opened, settling=held).caveats)


def test_stiffness_of_lines_side_by_side(heron: Design, configs: Path) -> None:
    """Measured line, 1000 N for its own length of stretch, without cascades: the sum of EA / L."""
    wren = load_design(configs / "wren.yaml")
    vehicle = changed(wren, line_stiffness="1000 N")
    given, (value, low, high) = line_stiffness(vehicle)
    lengths = [line.length for hold in vehicle.line_set.holds for line in hold.lines]
    assert given
    assert value == low == high == pytest.approx(sum(1000.0 / length for length in lengths))
    # A cascade is softer than its branches alone, stiffer than one line that runs all the way.
    cascaded = changed(heron, line_stiffness="1000 N")
    _, (k, *_) = line_stiffness(cascaded)
    holds = cascaded.line_set.holds
    whole = sum(1000.0 / (hold.lines[0].length + hold.uppers[0].length) for hold in holds)
    assert whole < k < 2 * whole


def test_unknown_fibre_gives_a_band(vehicle: Vehicle, heron: Design) -> None:
    given, (value, low, high) = line_stiffness(vehicle)
    assert not given
    # Of the fibre table: polyester 10, nylon 4.5, uhmwpe 100 N/tex; snatch goes with the root.
    assert (low / value, high / value) == pytest.approx((0.45, 10.0))
    known, (k, *_) = line_stiffness(assemble(override(heron, {"lines.material": "polyester"})))
    assert known
    assert k == pytest.approx(value)


def test_snatch_needs_speed_and_stiffness(heron: Design, opened: Opening) -> None:
    stiff = changed(heron, line_stiffness="4 kN")
    soft = changed(heron, line_stiffness="1 kN")
    opener = build_opener(stiff, height=100.0)
    loads = [open_case(vehicle, opener, 15.0).snatch[0] for vehicle in (soft, stiff)]
    assert loads[1] == pytest.approx(2 * loads[0])


def test_shares_are_no_less_than_uneven(vehicle: Vehicle) -> None:
    trim = find_trims(vehicle, modes=False).chosen
    line, tab = largest_shares(line_loads(vehicle, trim), vehicle.line_set, 1.2 * G)
    n_lines = len(vehicle.line_set.holds)
    n_tabs = sum(len(hold.uppers) for hold in vehicle.line_set.holds)
    assert 1.5 / n_lines <= line <= 1
    assert 1.5 / n_tabs <= tab <= line


@pytest.mark.parametrize(
    ("strength", "word", "symbol"),
    [(None, "not known", "?"), (5.0, "over", "x"), (15.0, "weak", "!"), (25.0, "holds", "+")],
)
def test_verdicts(strength: float | None, word: str, symbol: str) -> None:
    check = Check(part="line", event="opening", load=10.0, strength=strength, efficiency=0.5)
    assert (check.word, SYMBOLS[check.word]) == (word, symbol)
    assert check.wanted_strength == pytest.approx(2 * 10.0 / 0.5)


@pytest.mark.parametrize(
    ("strength", "word"), [(5.0, "over"), (15.0, "weak"), (35.0, "may be over"), (60.0, "may be weak"),
                           (85.0, "holds")],
)  # fmt: skip
def test_verdicts_by_the_high_end_of_the_load(strength: float, word: str) -> None:
    check = Check(part="tab", event="snatch", load=10.0, strength=strength, ends=(5.0, 40.0))
    assert check.word == word
    assert check.margin_band == (strength / 40, strength / 5)


def test_strength_reaches_the_checks(heron: Design) -> None:
    strong = opening(
        assemble(override(heron, {"lines.strength": "200 N", "opening.tab_strength": "35 N"})),
        release_speed=15.0,
        speeds=np.array([15.0]),
    )
    by_name = {(check.part, check.event): check for check in strong.checks}
    assert by_name["line", "opening"].strength == pytest.approx(100.0)  # half of it is left at a knot
    assert by_name["tab", "snatch"].strength == 35.0
    assert by_name["payload", "opening"].load == pytest.approx(strong.now.worst_peak)
    assert by_name["payload", "opening"].strength == pytest.approx(60 * 1.2 * G)  # landing.max_load


def test_pack_that_overtakes_is_refused(heron: Design) -> None:
    heavy = changed(heron, drag_area="0.0005 m^2")
    opener = replace(build_opener(heavy, height=50.0), canopy_mass=5.0)
    with pytest.raises(DesignError, match="too little for the pack to fall behind"):
        open_case(heavy, opener, 10.0)


def test_pack_larger_than_the_canopy_is_refused(heron: Design) -> None:
    with pytest.raises(DesignError, match="more than the open canopy has"):
        opening(changed(heron, drag_area="3 m^2"))


def test_low_release_is_told(opened: Opening) -> None:
    low, short = (replace(opened, release_height=height) for height in (10.0, 40.0))
    assert any("reaches the ground before" in caveat for caveat in low.caveats)
    assert any("less than the minimum" in caveat for caveat in short.caveats)
