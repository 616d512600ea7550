"""Each computed cause, put into the design or on its measured lines, does what was seen.

Not by the search: lines go through a table as a maker fills it in and `parasim lines --measured`, other
errors through keys of the file, and what flies is asked of the glide, the turn, the opening or the flare.
Within a fifth of what was seen, or of the change that was seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import atan2, cos, degrees, pi, radians, sin, sqrt

import numpy as np
import pytest

from parasim.aerodynamics.drag import Bodies, join
from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.config.measured import read_measured
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.environment.atmosphere import GRAVITY
from parasim.errors import OptionError
from parasim.flight.flare.descent import build_flare_descent
from parasim.flight.flare.flare import flare
from parasim.flight.glide import stall_alpha, tuck_margin
from parasim.flight.lines import Remeasured, remeasured
from parasim.flight.opening.opening import opening
from parasim.flight.trim import find_trims
from parasim.flight.trouble.trouble import Trouble, trouble
from parasim.flight.trouble.turning import EVEN, _tip_drag
from parasim.flight.turn.steady import steady_turns
from parasim.flight.uneven import aside_coefficients, uneven_turn
from parasim.making.lines import line_sheet

pytestmark = pytest.mark.slow

A_FIFTH, A_TWENTIETH = 0.2, 0.05


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def dipper(configs) -> Vehicle:
    return assemble(load_design(configs / "dipper.yaml"))


@pytest.fixture
def measured(tmp_path):
    """Lines longer by so much, by label, as `parasim lines --measured` has them. [m]"""

    def lines(vehicle: Vehicle, change: Mapping[str, float]) -> Remeasured:
        sheet = line_sheet(vehicle, find_trims(vehicle, modes=False).chosen)
        rows = [f"{label},{1e3 * (sheet.finished[label] + size):.3f}" for label, size in change.items()]
        path = tmp_path / "measured.csv"
        path.write_text("\n".join(["line,measured_mm", *rows]))
        read = read_measured(path, sheet.finished, sheet.ways).lengths
        designed = sheet.finished
        return remeasured(vehicle, {label: read.get(label, size) - size for label, size in designed.items()})

    return lines


def by_name(found: Trouble) -> dict[str, object]:
    return {check.name: check for check in found.checks}


def needed(found: Trouble, name: str) -> float:
    size = by_name(found)[name].needed
    assert size is not None, name
    return size


def uppers(vehicle: Vehicle, *rows: str) -> dict[str, str]:
    """Lines at the tabs of some rows, or of all: label to side."""
    ends = [line for hold in vehicle.line_set.holds for line in hold.uppers]
    return {line.label: line.side for line in ends if not rows or line.rows[0] in rows}


def shorter(sides: Mapping[str, str], side: str, size: float) -> dict[str, float]:
    """Half the size off on one side, and on on the other. [m]"""
    return {label: -size / 2 if at == side else size / 2 for label, at in sides.items()}


# Turns


@pytest.fixture(scope="module")
def left(vehicle: Vehicle) -> Trouble:
    return trouble(vehicle, "turns left 10 deg/s")


def test_a_brake_line_turns_heron(vehicle, left, measured):
    trunk = next(line.label for line in vehicle.line_set.brakes if line.label == "L-brake-1+2+3")
    found = measured(vehicle, {trunk: -needed(left, "brake line")})
    assert degrees(found.turning.rate) == pytest.approx(-10, rel=A_FIFTH)


def test_lines_turn_heron(vehicle, left, measured):
    for name, sides in (("all lines", uppers(vehicle)), ("row A", uppers(vehicle, "A"))):
        found = measured(vehicle, shorter(sides, "L", needed(left, name)))
        assert degrees(found.turning.rate) == pytest.approx(-10, rel=A_FIFTH), name


def test_the_strongest_pair_turns_heron(vehicle, left, measured):
    short, long = by_name(left)["one pair"].words.error.removeprefix("line ").split(" shorter than ")
    assert (short[2], long[2]) == ("L", "R")
    found = measured(vehicle, shorter({short: "L", long: "R"}, "L", needed(left, "one pair")))
    assert degrees(found.turning.rate) == pytest.approx(-10, rel=A_FIFTH)


def test_a_payload_aside_turns_heron(vehicle, measured):
    """As lines do that are made for riser ends so far to the left."""
    size = needed(trouble(vehicle, "turns left 5 deg/s"), "payload aside")
    shift = np.array([0.0, -size, 0.0])
    change = {}
    for hold in vehicle.line_set.holds:
        lower = hold.lines[0]
        change[lower.label] = float(np.linalg.norm(lower.end - lower.start - shift)) - lower.length
    assert degrees(measured(vehicle, change).turning.rate) == pytest.approx(-5, rel=A_FIFTH)


def test_a_twist_turns_heron(vehicle, left, measured):
    """As lines do that hold every rib turned about its quarter chord, by the sine of its place on the arc."""
    words = by_name(left)["twist"].words.error
    sense = 1.0 if words.startswith("cloth twisted: left tip nose-down") else -1.0
    canopy = vehicle.canopy
    angles = canopy.rib_angle[canopy.loaded_ribs]
    change = {}
    for hold in vehicle.line_set.holds:
        angle = angles[hold.rib]
        quarter = canopy.point(np.array(angle), np.array(0.25), np.array(0.0))
        up = sense * needed(left, "twist") * sin(angle) / sin(canopy.half_arc)
        for line in hold.uppers:
            moved = np.cross(up * canopy.spanwise(np.array(angle)), line.end - quarter)
            along = (line.end - line.start) / line.length
            change[line.label] = float(moved @ along)
    assert degrees(measured(vehicle, change).turning.rate) == pytest.approx(-10, rel=A_FIFTH)


def test_drag_at_a_tip_turns_heron(vehicle, left):
    """As a body of that drag area does that is tied there."""
    tip = vehicle.canopy.point(np.array(-vehicle.canopy.half_arc), np.array(0.25), np.array(0.0))
    ball = replace(vehicle.bodies, **_one_body(vehicle.bodies, tip, needed(left, "drag")))
    hung = replace(vehicle, bodies=join(vehicle.bodies, ball))
    (turn,) = steady_turns(hung, left=0.0, right=1.0, brakes=np.zeros(1), growth=False)
    assert degrees(turn.rate) == pytest.approx(-10, rel=A_FIFTH)


def _one_body(bodies: Bodies, place, area: float) -> dict[str, object]:
    """Fields of one body like the payload, elsewhere."""
    at = list(bodies.name).index("payload")
    fields = {name: getattr(bodies, name)[at : at + 1] for name in bodies.__dataclass_fields__}
    return fields | {"name": ("ball",), "position": place[None], "drag_area": np.array([area])}


def test_turns_right_mirrors_turns_left(vehicle, left, measured):
    right = trouble(vehicle, "turns right 10 deg/s")
    assert [check.name for check in right.checks] == [check.name for check in left.checks]
    for name, check in by_name(left).items():
        other = by_name(right)[name]
        assert other.needed == (None if check.needed is None else pytest.approx(check.needed, rel=1e-6))
        if name not in ("one pair", "wind"):
            assert _swapped(check.words.error) == other.words.error
    found = measured(vehicle, shorter(uppers(vehicle), "R", needed(right, "all lines")))
    assert degrees(found.turning.rate) == pytest.approx(10, rel=A_FIFTH)


def _swapped(text: str) -> str:
    return text.replace("left", "#").replace("right", "left").replace("#", "right")


def test_dipper_turns_by_its_rows_and_brakes(dipper, measured):
    """Its row A goes the other way: on front and rear hooks it twists the cloth more than it leans it."""
    found = trouble(dipper, "turns left 3 deg/s")
    for name in ("row D", "all lines"):
        rows = uppers(dipper, *([] if name == "all lines" else [name[-1]]))
        turned = measured(dipper, shorter(rows, "L", needed(found, name)))
        assert degrees(turned.turning.rate) == pytest.approx(-3, rel=A_FIFTH), name
    turned = measured(dipper, {"L-brake-1+2+3": -needed(found, "brake line")})
    assert degrees(turned.turning.rate) == pytest.approx(-3, rel=A_FIFTH)
    assert by_name(found)["row A"].words.error == "row A shorter on the right"
    turned = measured(dipper, shorter(uppers(dipper, "A"), "R", needed(found, "row A")))
    assert degrees(turned.turning.rate) == pytest.approx(-3, rel=A_FIFTH)


def test_a_brake_that_turns_away_is_sought_on_the_other_side(heron):
    """From geometry alone a small brake turns the canopy away from it: then the right one turns it left."""
    bare = {"calibration.brake_lift_factor": 1.0, "calibration.brake_drag_factor": 1.0}
    away = assemble(override(heron, bare | {"calibration.yaw_damping": -0.1}))
    turns = steady_turns(away, left=0.0, right=1.0, growth=False)
    fastest = max(-turn.rate for turn in turns)
    assert degrees(fastest) > 1.0
    found = trouble(away, f"turns left {0.5 * degrees(fastest):.3f} deg/s")
    check = by_name(found)["brake line"]
    assert check.words.error.startswith("right brake line")
    assert check.doubt.startswith("ambiguous")


def test_moments_by_hand(vehicle):
    """A payload of weight W that hangs y aside rolls it by W y cos(pitch); drag D at a tip yaws it by D y."""
    trim = find_trims(vehicle, modes=False).chosen
    pressure = 0.5 * trim.air_density * trim.airspeed**2
    model = vehicle.model
    rolled = (
        aside_coefficients(vehicle, trim, replace(EVEN, shift=0.01))[3] * pressure * model.area * model.span
    )
    assert rolled == pytest.approx(1.2 * GRAVITY * 0.01 * cos(trim.pitch), rel=1e-9)
    _, _, added = _tip_drag(vehicle, trim, 0.001)
    yawed = added[5] * pressure * model.area * model.span
    tip = 0.75 * sin(0.55 / 0.75)
    assert yawed == pytest.approx(-pressure * 0.001 * tip * cos(trim.alpha), rel=1e-6)


def test_bank_and_rate_by_hand(vehicle, left):
    """tan(bank) = V rate / g but for the side force of the slip: under a brake it leans less than that."""
    pull = needed(left, "brake line") / vehicle.design.brakes.travel
    trim = find_trims(vehicle, modes=False).chosen
    turn = uneven_turn(vehicle, trim, EVEN, {"L": pull, "R": 0.0})
    by_hand = -atan2(trim.airspeed * radians(10), GRAVITY)
    assert turn.bank == pytest.approx(by_hand, rel=0.25)


# Trim


def test_rows_and_brakes_make_heron_dive_or_hang_back(vehicle, measured):
    designed = find_trims(vehicle, modes=False).chosen
    dives = trouble(vehicle, "dives 3 m/s")
    for name, sense in (("row A", -1), ("row C", 1), ("row D", 1)):
        assert by_name(dives)[name].words.error.endswith("short" if sense < 0 else "long")
        change = dict.fromkeys(uppers(vehicle, name[-1]), sense * needed(dives, name))
        assert measured(vehicle, change).trim.sink - designed.sink == pytest.approx(
            3 - designed.sink, rel=A_FIFTH
        )
    back = trouble(vehicle, "hangs back")
    change = dict.fromkeys(uppers(vehicle, "D"), -needed(back, "row D"))
    margin = measured(vehicle, change).stall_margin
    assert degrees(margin) == pytest.approx(4, rel=A_FIFTH)
    brake = needed(back, "brake lines") / vehicle.design.brakes.travel
    trim = find_trims(vehicle, brake=brake, modes=False).chosen
    assert degrees(stall_alpha(vehicle, brake) - trim.alpha) == pytest.approx(4, rel=A_FIFTH)


def test_heron_dives_to_the_tuck_edge(vehicle, measured):
    """Where its nose tucks its glide is about to cease, so that little beyond there is none."""
    found = trouble(vehicle, "dives")
    designed = found.findings.figure.designed
    for name, sense in (("row A", -1), ("row D", 1)):
        size = needed(found, name)
        before, beyond = (
            measured(vehicle, dict.fromkeys(uppers(vehicle, name[-1]), sense * part * size))
            for part in (1 - A_TWENTIETH, 1 + A_TWENTIETH)
        )
        assert designed - before.tuck_margin > (1 - A_FIFTH) * designed, name
        assert beyond.trim is None or beyond.tuck_margin < 0, name
    assert by_name(found)["payload's centre"].needed is None  # it hangs on one point, and only tilts
    assert abs(by_name(found)["payload's centre"].share) < 1e-3


def test_dipper_dives_by_risers_hooks_and_mass(dipper, measured):
    found = trouble(dipper, "dives 10 ft/s")
    designed = find_trims(dipper, modes=False).chosen.sink
    wanted = pytest.approx(3.048 - designed, rel=A_FIFTH)
    for name, rows, sense in (("rear risers", "CD", 1), ("front risers", "AB", -1)):
        change = dict.fromkeys(uppers(dipper, *rows), sense * needed(found, name))
        assert measured(dipper, change).trim.sink - designed == wanted
    forward, mass = 1e3 * needed(found, "payload's centre"), 1.1 + needed(found, "payload's mass")
    assert by_name(found)["payload's centre"].words.error.endswith("forward")
    for changes in (
        {"payload.suspension.front": f"{15 - forward} mm", "payload.suspension.rear": f"{-45 - forward} mm"},
        {"payload.mass": f"{mass} kg"},
    ):
        changed = assemble(override(dipper.design, changes))
        assert find_trims(changed, modes=False).chosen.sink - designed == wanted


def test_the_section_makes_heron_slow(vehicle):
    found = trouble(vehicle, "hangs back 7.7 m/s")
    shift = needed(found, "moment shift")
    assert by_name(found)["moment shift"].words.error.startswith("section's moment more nose-up")
    slow = assemble(override(vehicle.design, {"calibration.moment_shift": shift}))
    designed = find_trims(vehicle, modes=False).chosen.airspeed
    change = find_trims(slow, modes=False).chosen.airspeed - designed
    assert change == pytest.approx(7.7 - designed, rel=A_FIFTH)


@pytest.mark.parametrize(
    ("symptom", "said"),
    [
        ("dives 1.5 m/s", "heron has 1.92 m/s (6.3 ft/s) as designed; give more than that"),
        ("hangs back 9 m/s", "as designed; give less than that"),
        ("opens hard 100 N", "heron opens with 260 N"),
        ("will not flare 0.5 m/s", "of sink as designed; give more"),
    ],
)
def test_what_the_design_does_anyway_is_no_symptom(vehicle, symptom, said):
    with pytest.raises(OptionError) as caught:
        trouble(vehicle, symptom)
    assert said in str(caught.value)


def test_a_design_near_its_stall_is_its_own_cause(heron):
    stalled = assemble(override(heron, {"lines.rigging_angle": "-5.5 deg"}))
    found = trouble(stalled, "hangs back")
    assert found.checks[0].name == "design"
    assert "as designed, without any error: change the design first" in " ".join(found.text().split())
    assert "NOT KEPT: stall margin as designed may be" in " ".join(found.text().split())


# Swings, collapses, openings, flares


def test_less_roll_damping_keeps_heron_rocking(vehicle):
    found = trouble(vehicle, "rocks in roll")
    damping = vehicle.model.factors.roll_damping + needed(found, "roll damping")
    assert by_name(found)["roll damping"].words.error.endswith("above the model's")
    free = assemble(override(vehicle.design, {"calibration.roll_damping": damping}))
    growth = max(mode.eigenvalue.real for mode in find_trims(free).chosen.modes if mode.lateral)
    assert growth == pytest.approx(0.0, abs=A_FIFTH * abs(found.findings.figure.designed))


def test_the_swing_is_the_one_of_the_period_seen(vehicle):
    said = " ".join(trouble(vehicle, "rocks 3.8 s").text().split())
    assert "taken for the pitch swing of 3.8 s, which halves in 1.5 s" in said
    said = " ".join(trouble(vehicle, "rocks in roll 20 s").text().split())
    assert "None of them has a period near 20.0 s: such a swing is fed from outside" in said


def test_a_downward_gust_takes_the_margin_of_the_middle(vehicle):
    """The middle of the span loses most: there its own margin is gone."""
    gust = needed(trouble(vehicle, "left side collapses"), "gust down")
    trim = find_trims(vehicle, modes=False).chosen
    ahead, down = trim.airspeed * cos(trim.alpha), trim.airspeed * sin(trim.alpha)
    pushed = replace(trim, alpha=atan2(down - gust, ahead))
    assert tuck_margin(vehicle, pushed) == pytest.approx(0.0, abs=A_FIFTH * tuck_margin(vehicle, trim))


def test_sides_that_collapse_are_mirrored(vehicle):
    one, other = (trouble(vehicle, f"{side} side collapses") for side in ("left", "right"))
    for name, check in by_name(one).items():
        assert by_name(other)[name].needed == check.needed
        assert by_name(other)[name].words.error == _swapped(check.words.error)


def test_heron_opens_hard(vehicle):
    """F = v sqrt(k m): one and a half times the snatch takes 2.25 times the stiffness."""
    found = trouble(vehicle, "opens hard")
    assert needed(found, "stiff line") == pytest.approx(1.5**2 - 1, rel=1e-3)
    level = found.findings.figure.level
    for changes in (
        {"opening.delay": f"{1.0 + needed(found, 'delay')} s"},
        {"opening.release_speed": f"{needed(found, 'release speed')} m/s"},
    ):
        harder = opening(assemble(override(vehicle.design, changes)), speeds=np.zeros(0))
        assert harder.now.designed.snatch[0] == pytest.approx(level, rel=A_FIFTH)


def test_heron_will_not_flare(vehicle):
    found = trouble(vehicle, "will not flare")
    level = found.findings.figure.level
    best = flare(vehicle)
    play = 1e3 * (vehicle.design.free_play + needed(found, "free play"))
    slack = assemble(override(vehicle.design, {"brakes.free_play": f"{play} mm"}))
    gust = np.array([0.0, 0.0, needed(found, "gust down")])
    higher = needed(found, "too high")
    for flown, blown, off in (
        (slack, np.zeros(3), 0.0),
        (vehicle, gust, 0.0),
        (vehicle, np.zeros(3), higher),
    ):
        trim = find_trims(flown, modes=False).chosen
        start = best.start_height + off
        descent = build_flare_descent(flown, trim).descend(best.pull, 12.0, blown, depth=start + 1)
        gained = level - best.touchdown.sink
        assert descent.touchdown(start).sink - best.touchdown.sink == pytest.approx(gained, rel=A_FIFTH)


def test_a_circle_by_hand():
    assert 2 * pi / 36 == pytest.approx(radians(10))
    assert sqrt(2.25) == 1.5


def test_the_weakest_part_is_that_of_the_opening(vehicle, configs):
    """By the worst end of the band over the margin wanted: kingfisher's payload has less, and may have."""
    for flown in (vehicle, assemble(load_design(configs / "kingfisher.yaml"))):
        theirs = opening(flown, speeds=np.zeros(0))
        (told,) = [fact for fact in trouble(flown, "opens hard").findings.facts if "Least margin" in fact]
        assert f"the {theirs.weakest.part} at the {theirs.weakest.event};" in told
    known = [check for check in theirs.checks if check.margin is not None]
    assert theirs.weakest != min(known, key=lambda check: check.margin), "one rule would do as well"
