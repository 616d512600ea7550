"""Statics of front and rear hooks, against strings that do not stretch: a model of its own."""

import re
from dataclasses import replace
from math import cos, degrees, pi, radians, sin
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize

from parasim.config.design import Design
from parasim.config.loader import parse_design
from parasim.dynamics.suspension import statics as suspension
from parasim.dynamics.suspension.statics import REACH, SLACK_SHARE, HookPath, hook_path
from parasim.geometry.canopy import Canopy, build_canopy
from parasim.geometry.lines import LineSet, build_lines
from parasim.geometry.risers import hook_middle, nominal_pitch, pitch_matrix
from parasim.mass.inventory import payload_center
from parasim.rotations import FloatArray

REFERENCE = Path(__file__).resolve().parents[2] / "data" / "reference.yaml"
Rigged = tuple[Design, Canopy, LineSet]
DEPTH = 0.3  # of the payload's centre below its hooks [m]


def rigged(
    text: str,
    *,
    spacing: float,
    riser: float = 0.05,
    cascades: bool = False,
    flat: bool = True,
    ahead: float = 0.0,
) -> Rigged:
    """Rows symmetric about the quarter chord, no rigging angle; `flat`: the centre rib's lines alone."""
    text = re.sub(r"  suspension: .*\n", "", text)  # its pole
    text = text.replace("cells: 7", "cells: 6").replace("half_cells: 14", "half_cells: 12")
    text = text.replace("rigging_angle: 6 deg", "rigging_angle: 0 deg")
    text = text.replace("A: 10 %, B: 35 %, C: 60 %, D: 85 %", "A: 4 %, B: 16 %, C: 34 %, D: 46 %")
    text = text.replace("length: 0.15 m, spread: 0.10 m", f"length: {riser} m, spread: 0 m")
    text = text.replace("load: [60 %, 40 %]", "load: [50 %, 50 %]")
    if not cascades:
        text = text.replace("  cascades:\n", "").replace("    - {rows", "    # {rows")
    hooks = (
        f"  suspension: {{hooks: front and rear, front: {spacing / 2 - ahead}, rear: {-spacing / 2 - ahead}, "
        f"height: {DEPTH}, front_rows: [A, B]}}\n"
    )
    design = parse_design(text.replace("  kind: rigid", hooks + "  kind: rigid"))
    canopy = build_canopy(design)
    line_set = build_lines(design, canopy)
    if flat:
        at_center = tuple(hold for hold in line_set.holds if abs(hold.tabs[0, 1]) < 1e-9)
        assert at_center
        line_set = replace(line_set, holds=at_center)
    return design, canopy, line_set


class Strings:
    """The right half as strings in the plane x, z: the farthest reach of the weight, by SLSQP."""

    def __init__(self, design: Design, line_set: LineSet, *, spacing: float, riser: float) -> None:
        self.hook = np.array([[spacing / 2, 0.0], [-spacing / 2, 0.0]])
        tops = [tuple(line_set.riser_ends[i]) for i in (1, 3)]
        self.nodes: list[tuple[float, ...]] = list(tops)
        self.strings = [("hook", i, i, riser) for i in range(2)]
        for hold in line_set.holds:
            if hold.side != "R":
                continue
            below = tops.index(tuple(hold.start))
            if hold.is_cascade:
                self.nodes.append(tuple(hold.lines[0].end))
                joint = len(self.nodes) - 1
                self.strings.append(("node", below, joint, hold.lines[0].length))
                below = joint
            self.strings += [("tab", below, line.end[[0, 2]], line.length) for line in hold.uppers]
        self.start = np.array(self.nodes)[:, [0, 2]].ravel()

    def workspace(self, v: np.ndarray) -> np.ndarray:
        """Straight length squared less the distance squared, for each string: none may be negative."""
        c, s = cos(v[2]), sin(v[2])
        hook = v[:2] + self.hook @ np.array([[c, -s], [s, c]])
        node = v[3:].reshape(-1, 2)
        found = []
        for kind, a, b, length in self.strings:
            lower, upper = (
                (hook[a], node[b]) if kind == "hook" else (node[a], node[b] if kind == "node" else b)
            )
            found.append(length**2 - ((upper - lower) ** 2).sum())
        return np.array(found)

    def pitch(self, center: np.ndarray, middle: np.ndarray) -> float:
        """Payload nose-up of the canopy when the weight hangs straight down of it. [rad]"""

        def height(v: np.ndarray) -> float:
            return -(v[1] + cos(v[2]) * center[1] - sin(v[2]) * center[0])

        start = np.concatenate([middle, [0.0], self.start]) + 1e-4
        found = minimize(
            height, start, method="SLSQP", constraints={"type": "ineq", "fun": self.workspace},
            options={"maxiter": 500, "ftol": 1e-13},
        )  # fmt: skip
        assert found.success, found.message
        return float(found.x[2])


@pytest.fixture
def taut(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines that hardly stretch, to be laid beside strings that do not."""
    monkeypatch.setattr(suspension, "TAKE_UP", 2e-5)
    monkeypatch.setattr(suspension, "_line_stiffness", lambda design: 3e5)
    monkeypatch.setattr(suspension, "RISER_STIFFNESS", 3e5)


class Pose(NamedTuple):
    """Payload nose-up of the canopy [rad], pull of front and rear over the load [-], rows without load."""

    theta: float
    front: float
    rear: float
    slack: set[str]


def static_pose(rigged: Rigged, forward: float) -> Pose:
    """Pose of least energy under a canopy held still, the weight from its quarter chord to the confluence."""
    rig, nominal, center = suspension._build_rig(*rigged), nominal_pitch(*rigged[:2]), [forward, 0.0, DEPTH]
    down = np.array([sin(nominal), 0.0, cos(nominal)])

    def energy(theta: FloatArray) -> FloatArray:
        rest = rig.rest(theta, np.broadcast_to(down, (len(theta), 3)))
        turned = np.array([pitch_matrix(float(angle)) @ center for angle in theta])
        return rest.energy / rig.load - rest.hook @ down[[0, 2]] - turned @ down

    theta, step = nominal + np.linspace(-REACH, REACH, 97), 2 * REACH / 96
    for _ in range(6):
        best = theta[int(np.argmin(energy(theta)))]
        theta, step = best + step * np.linspace(-1, 1, 41), step / 20
    rest = rig.rest(np.array([best]), down[None])
    slack = {row for row, share in zip(rig.rows, rest.row_share[0], strict=True) if share < SLACK_SHARE}
    return Pose(float(best), float(rest.front[0]), float(rest.rear[0]), slack)


def pitch_of(rig: Rigged, forward: float) -> float:
    return static_pose(rig, forward).theta


@pytest.mark.usefixtures("taut")
@pytest.mark.parametrize("cascades", [False, True])
@pytest.mark.parametrize("spacing", [0.03, 0.05])
@pytest.mark.parametrize("forward", [0.0, 0.01, -0.005])
def test_pitch_as_of_strings(reference_text: str, cascades: bool, spacing: float, forward: float) -> None:
    rig = rigged(reference_text, spacing=spacing, cascades=cascades)
    strings = Strings(rig[0], rig[2], spacing=spacing, riser=0.05)
    wanted = strings.pitch(np.array([forward, DEPTH]), hook_middle(*rig[:2])[[0, 2]])
    assert pitch_of(rig, forward) == pytest.approx(wanted, abs=radians(0.2))


@pytest.mark.usefixtures("taut")
@pytest.mark.parametrize("forward", [-0.03, -0.005, 0.0, 0.02])
def test_rows_tied_each_on_its_own_hold_the_payload_stiffly(reference_text: str, forward: float) -> None:
    """Both ends carry, so W(1/2 + x/d) and W(1/2 - x/d); the pitch stays within a tenth of a degree.

    What little the lines stretch shifts x by depth times pitch, which is counted.
    """
    found = static_pose(rigged(reference_text, spacing=0.1, riser=0.0), forward)
    assert found.theta == pytest.approx(0.0, abs=radians(0.1))
    forward = forward * cos(found.theta) + DEPTH * sin(found.theta)
    assert found.front == pytest.approx(0.5 + forward / 0.1, abs=1e-4)
    assert found.rear == pytest.approx(0.5 - forward / 0.1, abs=1e-4)


@pytest.mark.usefixtures("taut")
@pytest.mark.parametrize(("forward", "slack"), [(0.06, {"C", "D"}), (-0.06, {"A", "B"})])
def test_an_end_that_the_load_lies_beyond_hangs_slack(
    reference_text: str, forward: float, slack: set[str]
) -> None:
    """It tips until its centre of mass hangs below the other hooks: tan(pitch) = (x - d/2) / depth."""
    found = static_pose(rigged(reference_text, spacing=0.1, riser=0.002), forward)
    assert slack <= found.slack
    beyond = np.sign(forward) * (abs(forward) - 0.05)
    assert found.theta == pytest.approx(-np.arctan2(beyond, DEPTH), abs=radians(0.1))


def wide(text: str) -> str:
    """Rows far apart on a long chord, joined high up: joints that stay nearly where they are."""
    text = text.replace("chord: 0.50 m", "chord: 1.0 m").replace("height: 62 %", "height: 85 %")
    return text.replace("A: 10 %, B: 35 %, C: 60 %, D: 85 %", "A: 1 %, B: 24 %, C: 26 %, D: 49 %").replace(
        "height: 4 %", "height: 0.5 %"
    )


@pytest.mark.usefixtures("taut")
@pytest.mark.parametrize("spacing", [0.02, 0.04, 0.06])
def test_two_cascades_are_a_four_bar(reference_text: str, spacing: float) -> None:
    """With joints s apart and H over hooks d apart, the trunks cross v = H d / (s - d) below the hooks.

    About that point the payload turns, so its hooks move aft by v for each radian nose-up. The crossing moves
    aft too, by v (H + v) / H: under a canopy held still, a centre of mass h below the hooks and x ahead of
    their middle turns the payload by x / (h + v²/H), less than a payload on one hook, by x / h. Worked out by
    hand. Within 3 and 2 %: joints swing on ellipses round their tabs, and the nose's tab lies higher.
    """
    rig = rigged(wide(reference_text), spacing=spacing, riser=0.002, cascades=True)
    front, rear = (hold.lines[0].end for hold in rig[2].holds if hold.side == "R")
    apart, height = front[0] - rear[0], hook_middle(*rig[:2])[2] - (front[2] + rear[2]) / 2
    below = height * spacing / (apart - spacing)
    path = hook_path(*rig)
    level = float(np.interp(0.0, -path.load_ahead, path.theta))
    slopes = np.gradient(path.stretched[:, 0], path.theta)
    assert -np.interp(level, path.theta, slopes) == pytest.approx(below, rel=0.03)
    turned = pitch_of(rig, -0.002) - pitch_of(rig, 0.002)
    assert 0.004 / turned == pytest.approx(DEPTH + below**2 / height, rel=0.02)


@pytest.mark.usefixtures("taut")
@pytest.mark.parametrize("cascades", [False, True])
def test_hooks_that_meet_are_a_hinge(reference_text: str, cascades: bool) -> None:
    """While the load points into the fan of the lines, H stays at the confluence; no risers here."""
    path = hook_path(*rigged(reference_text, spacing=1e-4, riser=0.0, cascades=cascades, flat=False))
    within = np.abs(path.theta) < 0.1
    np.testing.assert_allclose(path.place[within], 0.0, atol=1e-3)
    assert np.abs(path.load_ahead).max() <= 0.5e-4 + 1e-9


@pytest.fixture(scope="module")
def path() -> HookPath:
    text = REFERENCE.read_text(encoding="utf-8")
    return hook_path(*rigged(text, spacing=0.06, flat=False))


def test_path_is_uniform_and_wide(path: HookPath) -> None:
    steps = np.diff(path.theta)
    np.testing.assert_allclose(steps, steps[0])
    assert steps[0] <= 0.02
    assert path.theta[0] <= path.nominal - 1.19
    assert path.theta[-1] >= path.nominal + 1.19


def test_the_ends_share_the_load(path: HookPath) -> None:
    np.testing.assert_allclose(path.front + path.rear, 1.0, atol=1e-5)
    assert path.front[0] == pytest.approx(1.0, abs=1e-5)
    assert path.rear[-1] == pytest.approx(1.0, abs=1e-5)
    assert path.slack[0].tolist() == [False, True, True, True]
    assert path.slack[-1].tolist() == [True, True, True, False]


def test_nose_up_loads_the_rear(path: HookPath) -> None:
    """So the pitch of a centre of mass is single: the load passes steadily farther back."""
    assert (np.diff(path.load_ahead) < 1e-6).all()


def test_slope_of_the_place_is_where_the_load_passes(path: HookPath) -> None:
    """Virtual work: a spline through the places gives the moment of the load, half a millimetre apart."""
    slope = CubicSpline(path.theta, path.place)(path.theta, 1)
    along = slope[:, 0] * np.sin(path.theta) + slope[:, 1] * np.cos(path.theta)
    miss = np.abs(along - path.load_ahead)[2:-2]
    assert np.median(miss) < 2e-5
    assert miss.max() < 1.5e-3


def test_a_stretched_rig_hangs_lower_by_its_energy(path: HookPath) -> None:
    lower = path.stretched - path.place
    along = lower[:, 0] * np.sin(path.theta) + lower[:, 1] * np.cos(path.theta)
    assert (along > 0).all()
    assert along.max() < 3e-3


def test_centre_of_mass_from_the_hooks(reference_text: str) -> None:
    design, _, _ = rigged(reference_text, spacing=0.06, ahead=0.01)
    np.testing.assert_allclose(payload_center(design), [0.01, 0.0, DEPTH])


def test_rig_turns_with_the_rigging_angle(reference_text: str) -> None:
    """The nominal pitch is the rigging angle, and the riser ends stand over their hooks there."""
    text = reference_text.replace("rigging_angle: 6 deg", "rigging_angle: 8 deg")
    design, canopy, line_set = rigged(text, spacing=0.06, flat=False)
    assert canopy.rigging_angle == pytest.approx(radians(8))
    path = hook_path(design, canopy, line_set)
    assert degrees(path.nominal) == pytest.approx(8)
    np.testing.assert_allclose(line_set.riser_ends.mean(axis=0), 0.0, atol=1e-15)
    np.testing.assert_allclose(
        hook_middle(design, canopy), 0.05 * np.array([sin(radians(8)), 0.0, cos(radians(8))])
    )
    assert path.theta[0] < -1.0 < 1.0 < path.theta[-1] < pi / 2
