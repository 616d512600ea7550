"""Reach and plan of a release by hand, against an independent atmosphere, and against flown drops."""

from __future__ import annotations

from math import atan2, cos, degrees, hypot, pi, radians, sin
from pathlib import Path

import numpy as np
import pytest
from ambiance import Atmosphere

from parasim.config.design import Design
from parasim.config.loader import load_design, override
from parasim.dynamics.vehicle import Vehicle, assemble, in_wind
from parasim.environment.wind import Wind, measured_wind
from parasim.errors import DesignError, OptionError
from parasim.flight.drop import Release, drop
from parasim.flight.release.descent import Descent, descent
from parasim.flight.release.plan import Plan, build_plan, choose_circle, limit_factor
from parasim.flight.release.reach import measured_at
from parasim.flight.release.release import (
    ReleasePoint,
    left_turns,
    plan_limits_or_none,
    release,
    site_gust,
)
from parasim.flight.release.steering import brake_curve, way_home
from parasim.flight.trim import find_trims
from parasim.flight.turn.steady import SteadyTurn
from parasim.units import GRAVITY
from scripts.studies.steered_drops import distances

TOUCH = 0.27
"""Height of heron's confluence as its payload touches down. [m]"""


def uniform(*, forward: float, sink: float, height: float, wind: float) -> Descent:
    """The same glide and west wind at every height."""
    heights = np.linspace(0.0, height, 51)
    same = np.ones_like(heights)
    return Descent(
        heights=heights,
        airspeed=hypot(forward, sink) * same,
        angle=atan2(sink, forward) * same,
        wind=np.array([0.0 * same, wind * same]),
    )


def turn_of(*, brake: float, rate: float, forward: float, sink: float, bank: float = 10.0) -> SteadyTurn:
    return SteadyTurn(
        left=brake, right=0.0, rate=-radians(rate), bank=-radians(bank), pitch=0.0, sideslip=0.0, alpha=0.0,
        airspeed=hypot(forward, sink), sink=sink, growth=-1.0, pull=0.1 * brake,
    )  # fmt: skip


@pytest.fixture(scope="module")
def vehicle(heron: Design) -> Vehicle:
    return assemble(heron)


@pytest.fixture(scope="module")
def point(vehicle: Vehicle) -> ReleasePoint:
    return release(vehicle)


def test_a_hundred_metres_in_five_metres_a_second() -> None:
    """7.75 m/s forward, 3.1 m/s down: 100/3.1 s aloft, 250 m through the air, 161 m of drift, by hand."""
    glide = uniform(forward=7.75, sink=3.1, height=100.0, wind=5.0)
    (north, east), time = glide.landings(np.radians([270.0, 90.0, 0.0]))
    assert time == pytest.approx(100 / 3.1)
    assert east == pytest.approx([161.29 - 250, 161.29 + 250, 161.29], abs=0.01)
    assert north == pytest.approx([0.0, 0.0, 250.0], abs=1e-9)


def test_heron_in_the_same_wind_everywhere(heron: Design, vehicle: Vehicle) -> None:
    """Glide ratio times height, and height over sink; air 1 % thinner aloft makes 0.5 % of the speed."""
    trim = find_trims(vehicle, modes=False).chosen
    wind = Wind(speed=4.0, from_direction=radians(180), exponent=0.0)
    glide = descent(in_wind(vehicle, wind), touch=TOUCH, height=100.0)
    place, time = glide.landings(np.radians([180.0, 90.0]))
    lost = 100.0 - TOUCH
    assert time == pytest.approx(lost / trim.sink, rel=0.005)
    assert place[1, 1] == pytest.approx(trim.glide_ratio * lost, rel=1e-3)
    assert place[0, 0] == pytest.approx(4.0 * lost / trim.sink - trim.glide_ratio * lost, rel=0.005)


def test_time_by_another_atmosphere(heron: Design) -> None:
    """Sink goes by the root of the density: the time from 950 m with the densities of ambiance (ISO 2533).

    Besides, it slows down: that is worth (V² - V0²)/2g more height. Higher up Reynolds number has its part.
    """
    site = override(heron, {"site.ground_height": "0 m", "site.wind": None})
    vehicle, top = assemble(site), 950.0
    trim = find_trims(vehicle, modes=False).chosen
    heights = np.linspace(TOUCH, top, 20001)
    root = np.sqrt(Atmosphere(heights).density / Atmosphere(0.0).density)
    wanted = np.trapezoid(root / trim.sink, heights)
    slower = trim.airspeed**2 * (1 / root[-1] ** 2 - 1) / (2 * GRAVITY)
    _, (time,) = descent(vehicle, touch=TOUCH, height=top).landings(np.zeros(1))
    assert time == pytest.approx(wanted * (1 + slower / top), rel=1e-4)


WINDS = {
    "uniform": Wind(speed=4.0, from_direction=radians(270), exponent=0.0),
    "power law": Wind(speed=3.0, from_direction=radians(270)),
    "strong shear": Wind(speed=5.0, from_direction=radians(270), exponent=0.3),
    "rough ground": Wind(speed=5.0, from_direction=radians(270), roughness=0.3),
    "veering": Wind(speed=4.0, from_direction=radians(270), turn=radians(40)),
}


@pytest.mark.parametrize("name", WINDS)
@pytest.mark.parametrize("heading", [270.0, 90.0, 0.0])
def test_edges_of_the_reach_against_flown_drops(vehicle: Vehicle, name: str, heading: float) -> None:
    """Up-, down- and crosswind from 100 m, brakes released: within 1.7 % of the way flown through the air.

    That is 7 m of 403: across a strong shear the canopy itself turns off its heading a little, 1.6 %; up
    and down the wind it is 0.5 %. Without the lean of gravity by shear 3 % would be missing upwind.
    """
    windy = in_wind(vehicle, WINDS[name])
    place, time = descent(windy, touch=TOUCH, height=100.0).landings(np.radians([heading]))
    start = Release(height=100.0, start="steady", heading=radians(heading), velocity=np.zeros(3), brakes=())
    end = drop(windy, start).end
    allowed = 0.017 if heading == 0.0 else 0.012
    assert hypot(end.north - place[0, 0], end.east - place[1, 0]) < allowed * 403
    assert time[0] == pytest.approx(end.time, rel=0.013)


def plan_of(
    glide: Descent, circle: SteadyTurn, *, low: float = 2.5, share: float = 0.0, gust: float = 0.0
) -> Plan:
    return build_plan(glide, circle, low_glide=low, time_share=share, gust=gust, calm_heading=0.0)


def test_release_point_by_hand() -> None:
    """West wind 5 m/s, 100 m, 3.1 m/s down all the way: 161 m of drift, less a final of 10 s at 7.75 m/s."""
    circle = turn_of(brake=0.6, rate=20.0, forward=7.75, sink=3.1)
    plan = plan_of(uniform(forward=7.75, sink=3.1, height=100.0, wind=5.0), circle)
    assert plan.release == pytest.approx([0.0, -(161.29 - 77.5)], abs=0.01)
    assert plan.drift_per_height == pytest.approx(5.0 / 3.1)
    assert plan.drift_per_circle == pytest.approx(5.0 * 360 / 20)
    # One circle takes 18 s x 3.1 m/s, the final and its lag 12.5 s x 7.75 m/s over 2.5.
    assert plan.least_height == pytest.approx(55.8 + 38.75)
    assert plan.box == pytest.approx(2.5 * (100 - 55.8 - 38.75))
    assert plan.circles == 1


def test_the_low_end_and_the_gust_narrow_the_ring() -> None:
    """A tenth of the drift's band takes 16 m, 1 m/s of gust for the 10 s of the final 10 m."""
    circle = turn_of(brake=0.6, rate=20.0, forward=7.75, sink=3.1)
    glide = uniform(forward=7.75, sink=3.1, height=100.0, wind=5.0)
    wide = plan_of(glide, circle)
    assert wide.box - plan_of(glide, circle, share=0.1).box == pytest.approx(0.1 * 5 * 100 / 3.1)
    assert wide.box - plan_of(glide, circle, gust=1.0).box == pytest.approx(10.0)
    low = plan_of(glide, circle, low=2.4)
    assert low.box == pytest.approx(2.4 * (100 - 55.8 * 2.5 / 2.4 - 12.5 * 7.75 / 2.4))


def test_legs_are_the_whole_height(point: ReleasePoint) -> None:
    legs = point.legs
    assert legs[0].top == pytest.approx(point.height - TOUCH, abs=0.01)
    assert [leg.bottom for leg in legs[:-1]] == [leg.top for leg in legs[1:]]
    assert sum(leg.share for leg in legs) == pytest.approx(1.0)
    assert sum(leg.time for leg in legs) == pytest.approx(point.plan.time[-1])
    assert [leg.name for leg in legs][-2:] == ["straight into the wind", "flare"]
    assert legs[-1].top == point.flare_height == 2.76


@pytest.mark.parametrize(("gust", "limit"), [(0.0, 6.2), (1.2, 5.0)])
def test_limit_in_the_same_wind_everywhere(gust: float, limit: float) -> None:
    """Four fifths of 7.75 m/s, less the gust, whatever wind it is worked out in."""
    circle = turn_of(brake=0.6, rate=20.0, forward=7.75, sink=3.1)
    plan = plan_of(uniform(forward=7.75, sink=3.1, height=100.0, wind=2.0), circle, gust=gust)
    assert 2.0 * limit_factor(plan) == pytest.approx(limit)


def test_limit_by_the_height_where_it_is_measured(vehicle: Vehicle) -> None:
    """By the power law the wind at the height of the last turn counts: at 10 m it must be less by its power.

    The mean over the whole glide is weaker than that here, as it begins not far above.
    """
    low = release(in_wind(vehicle, Wind(speed=2.0, from_direction=0.0, exponent=0.2)), height=55.0)
    top = low.plan.final_height + low.plan.circle_height / 2 + TOUCH
    forward = find_trims(vehicle, height=top, modes=False).chosen.forward_speed
    assert low.limit == pytest.approx(0.8 * forward / (top / 10.0) ** 0.2, rel=0.01)


def test_more_wind_than_the_limit_has_no_release_point(vehicle: Vehicle, point: ReleasePoint) -> None:
    windy = release(in_wind(vehicle, vehicle.wind.scaled(1.01 * point.limit / 3.0)))
    assert not windy.advised
    assert windy.flown is None
    assert (windy.miss, windy.touchdown, windy.verdicts) == (None, None, ())
    gusty = release(vehicle, gust=3.0)
    assert gusty.limit < 3.0
    assert not gusty.advised


def test_table_of_winds_agrees_with_the_release_in_them(vehicle: Vehicle, point: ReleasePoint) -> None:
    other = release(in_wind(vehicle, vehicle.wind.scaled(2.0 / 3.0)))
    row = point.in_wind(2.0)
    assert row.upwind == pytest.approx(-other.plan.release[1])  # the wind blows from the west
    assert row.up == pytest.approx(other.reach.band("up").value)
    assert row.box == pytest.approx(other.plan.box, rel=0.01)
    calm = point.in_wind(0.0)
    assert (calm.up, calm.across) == pytest.approx((calm.down, calm.down))
    assert calm.upwind == pytest.approx(-point.plan.final_way)


def test_outlines_hold_each_other(point: ReleasePoint) -> None:
    reach = point.reach
    assert (reach.low < reach.middle).all()
    assert (reach.middle < reach.high).all()
    landed, _ = point.plan.descent.landings(np.radians([270.0, 47.0]))
    for place in landed.T:
        assert reach.beyond(place, "middle") == pytest.approx(0.0, abs=0.5)
        assert reach.beyond(place, "low") > 0 > reach.beyond(place, "high")
    assert reach.outline("middle")[1].min() == pytest.approx(-reach.band("up").value, abs=0.5)


def test_the_flown_plan_lands_near(point: ReleasePoint) -> None:
    assert point.miss is not None
    assert point.miss < point.radius == 25.0
    assert point.flown is not None
    assert degrees(point.flown.end.heading) % 360 == pytest.approx(270.0, abs=10.0)
    assert point.flown.seen[0].north == pytest.approx(point.plan.release[0])


@pytest.mark.parametrize("name", ["heron", "wren"])
def test_nine_of_ten_steered_drops_land_near(configs, name: str) -> None:
    """From anywhere in the ring: wind 20 %, 15 deg and height 3 m off, any heading, glide by its ranges."""
    answer = release(assemble(load_design(configs / f"{name}.yaml")))
    near = distances(answer, 60, seed=7) <= answer.radius
    assert near.mean() >= 0.9


def test_the_ring_lies_within_the_low_end_of_the_reach(point: ReleasePoint) -> None:
    """From all round it the target can be reached, with a circle's height to spare."""
    spare = point.plan.low_glide * point.plan.circle_height
    for bearing in np.radians(np.arange(0.0, 360.0, 15.0)):
        start = point.plan.release + point.plan.box * np.array([cos(bearing), sin(bearing)])
        assert point.reach.beyond(-start, "low") < -0.9 * spare


@pytest.mark.parametrize("side", [1, -1])
def test_the_way_home_ends_at_home(side: int) -> None:
    """Flown as an arc and a straight line it ends at the origin, from anywhere."""
    rng = np.random.default_rng(2)
    for _ in range(50):
        x, y, chi, radius = *rng.uniform(-200, 200, 2), rng.uniform(-pi, pi), rng.uniform(5, 60)
        arc, straight = way_home(x, y, chi, radius, side)
        if not np.isfinite(arc):
            center = (x - side * radius * sin(chi), y + side * radius * cos(chi))
            assert hypot(*center) <= radius
            continue
        turned = chi + side * arc / radius
        x += side * radius * (sin(turned) - sin(chi))
        y -= side * radius * (cos(turned) - cos(chi))
        assert (x + straight * cos(turned), y + straight * sin(turned)) == pytest.approx((0, 0), abs=1e-6)


def test_brakes_begin_where_they_turn_towards_themselves(configs) -> None:
    """The pelican turns away from less than 28 % of one brake: the least that is ever pulled is more."""
    turns = left_turns(assemble(load_design(configs / "pelican.yaml")))
    curve = brake_curve(turns)
    assert curve.brake[0] >= 0.28
    assert (np.diff(curve.rate) >= 0).all()
    assert curve.brakes(0.0) == (0.0, 0.0)
    assert curve.brakes(radians(5.0)) == tuple(reversed(curve.brakes(-radians(5.0))))
    assert curve.brakes(radians(5.0))[0] > 0.3


def test_choice_of_the_circle() -> None:
    """20 m above the final: a circle of at most 10 m in at most 20 s."""
    slow, wide, fits, steep = (
        turn_of(brake=0.5, rate=10.0, forward=8.0, sink=0.2),  # 36 s
        turn_of(brake=0.6, rate=20.0, forward=8.0, sink=2.0),  # 36 m
        turn_of(brake=0.7, rate=40.0, forward=8.0, sink=1.0),  # 9 s, 9 m
        turn_of(brake=0.8, rate=60.0, forward=8.0, sink=1.0, bank=50.0),
    )
    assert choose_circle((slow, wide, fits, steep), height=20.0) is fits
    assert choose_circle((slow, wide, steep), height=20.0) is slow  # the least height, where none fits
    assert choose_circle((steep,), height=20.0) is None


def test_gusts_of_the_site(heron: Design) -> None:
    assert site_gust(assemble(heron)) == 0.0
    gusty = override(heron, {"site.gust": {"speed": "-2 m/s", "length": "20 m"}})
    assert site_gust(assemble(gusty)) == pytest.approx(2.0)
    # MIL-F-8785C at 10 m: 1/(0.177 + 0.000823 x 32.81)^0.4 = 1.889 times the vertical deviation.
    rough = override(heron, {"site.turbulence": {"deviation": "0.5 m/s"}})
    assert site_gust(assemble(rough)) == pytest.approx(2 * 1.889 * 0.5, rel=1e-3)


def test_what_is_measured_of_a_wind(vehicle: Vehicle) -> None:
    wind = measured_at(vehicle)
    assert (wind.height, wind.speed, degrees(wind.comes_from)) == pytest.approx((10.0, 3.0, 270.0))
    calm = measured_at(in_wind(vehicle, Wind.calm()))
    assert (calm.speed, calm.law.speed, degrees(calm.comes_from)) == pytest.approx((0.0, 1.0, 270.0))
    # A table that is calm at 10 m goes by the height where it blows most.
    table = measured_wind([5.0, 20.0, 80.0], [0.0, 0.0, 4.0], [0.0, 0.0, pi / 2], exponent=0.2)
    aloft = measured_at(in_wind(vehicle, table))
    assert (aloft.height, aloft.speed, degrees(aloft.comes_from)) == pytest.approx((80.0, 4.0, 90.0))


def test_a_table_of_winds_is_planned_in(vehicle: Vehicle) -> None:
    table = measured_wind([2.0, 10.0, 100.0], [2.0, 3.0, 4.0], [pi, pi, 1.5 * pi], exponent=0.2)
    found = release(in_wind(vehicle, table))
    assert found.advised
    assert found.miss is not None
    assert found.miss < 25.0
    assert found.in_wind(found.wind.speed).upwind == pytest.approx(
        float(found.plan.release @ found.wind.upwind)
    )


def test_a_calm_is_planned_along_the_heading_of_the_drop(heron: Design) -> None:
    calm = release(assemble(override(heron, {"site.wind": None, "drop.heading": "90 deg"})))
    assert calm.plan.release == pytest.approx([0.0, -calm.plan.final_way], abs=1e-6)
    assert calm.advised
    assert calm.limit == pytest.approx(release(assemble(heron)).limit, rel=0.02)


def test_from_five_kilometres(vehicle: Vehicle) -> None:
    """It works at the end of the heights that a drop may have, and steers for most of an hour."""
    high = release(vehicle, height=5000.0)
    assert high.miss is not None
    assert high.miss < 25.0
    assert any("write measured or forecast winds" in caveat for caveat in high.caveats)


def test_too_low_for_the_plan(vehicle: Vehicle) -> None:
    with pytest.raises(
        DesignError, match=r"drop.height: given 40 m, too low for one circle at .*; release from"
    ):
        release(vehicle, height=40.0)
    with pytest.raises(DesignError, match="already on the ground"):
        release(vehicle, height=0.2)
    with pytest.raises(DesignError, match=r"or pull more \(--brake\)"):
        release(vehicle, brake=0.5)


def test_a_target_out_of_reach_and_one_in_it(vehicle: Vehicle, point: ReleasePoint) -> None:
    with pytest.raises(OptionError, match=r'--target: given "0 m, 900 m", \d+ m out of reach'):
        release(vehicle, target=(0.0, 900.0))
    there = (-point.plan.release).tolist()
    planned = release(vehicle, target=(there[0], there[1]))
    assert planned.off_plan == pytest.approx(0.0, abs=1e-6)
    assert planned.miss == pytest.approx(point.miss, abs=0.5)


@pytest.mark.parametrize("brake", [0.05, 0.2])
def test_a_brake_that_turns_it_away(configs, brake: float) -> None:
    with pytest.raises(OptionError, match=f"--brake: given {100 * brake:.0f} %, at which pelican"):
        release(assemble(load_design(configs / "pelican.yaml")), brake=brake)


def test_a_canopy_without_a_steady_turn(configs: Path) -> None:
    stubby = {"canopy.span": "0.2 m", "canopy.cloth.areal_weight": "5 g/m^2", "lines.diameter": "2.73 mm"}
    stub = assemble(override(load_design(configs / "wren.yaml"), stubby))
    with pytest.raises(DesignError, match="no brake"):
        release(stub)
    assert plan_limits_or_none(stub) is None
